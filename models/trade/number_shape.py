"""How a shop writes its numbers: its decimal mark, what stands between its thousands; and text that knows its writer.

The data is CLDR's, from Babel. How a text is read by a shape stands in `typed`; how numbers are shown stands in webapp.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, Literal, Self

from babel import Locale, UnknownLocaleError
from babel.numbers import get_currency_symbol, get_decimal_symbol, get_group_symbol

Reads = Literal["count", "measure", "small"]
"""What a number is of, which decides where a mark before three digits may stand between thousands.

'count' is a quantity or money: a grouping point is one ('1.250' is 1250 in a shop that writes so). 'measure' is a
weight, a length, a percentage or a rate, as scales and labels print them with a point in any country: it is asked.
'small' is a ring's wire or opening, where a thousand is beyond any bound: the mark is decimal.
"""

_MARK = {"\u00a0": " ", "\u202f": " ", "\u2009": " ", "\u2019": "'"}
_THREE_DECIMALS = re.compile(r"(?<![0-9.,])[1-9][0-9]{0,2}\.[0-9]{3}(?![0-9])")
_POINT = re.compile(r"(?<=[0-9])\.(?=[0-9])")


@dataclass(frozen=True, slots=True)
class NumberShape:
    """How numbers are written; marks are as they are after tidying, `mark` is the decimal mark as it is shown.

    `groups` are the marks that may stand between thousands, `pairs` tells that above a thousand they part hundreds, as
    in India. `own` are signs of a script of its own. `wary` asks about the decimal mark too, where three digits follow.
    `signs` are what may stand beside money. `spaced` tells that a space is what the shop itself puts between thousands.
    """

    decimal: str = "."
    groups: frozenset[str] = frozenset()
    pairs: bool = False
    mark: str = "."
    own: tuple[tuple[str, str], ...] = ()
    wary: bool = False
    signs: tuple[str, ...] = ()
    spaced: bool = False

    @property
    def other(self) -> str:
        """The one of point and comma that is not the decimal mark."""
        return "," if self.decimal == "." else "."

    @property
    def plain(self) -> bool:
        """Whether this is how programs write: nothing between thousands."""
        return not self.groups


PLAIN: Final = NumberShape()
"""How programs write numbers, and how the shop itself writes them down: a decimal point, nothing between thousands."""


class Typed(str):
    """A text whose writer's shape of numbers is known. What is cut out of it is a plain text again."""

    __slots__ = ("shape",)
    shape: NumberShape

    def __new__(cls, text: str, shape: NumberShape) -> Self:
        """Keep the shape beside the text."""
        made = super().__new__(cls, text)
        made.shape = shape
        return made

    def __getnewargs__(self) -> tuple[str, NumberShape]:  # type: ignore[override]
        """What a copy is made of."""
        return str(self), self.shape


def shape_of(text: object) -> NumberShape:
    """Return how the writer of a text writes numbers: as programs do, unless the text knows better."""
    return text.shape if isinstance(text, Typed) else PLAIN


@lru_cache(maxsize=64)
def locale_of(name: str) -> Locale:
    """Return the CLDR data of a locale; an unknown one counts as English rather than break every page."""
    try:
        return Locale.parse(name.replace("-", "_"))
    except (UnknownLocaleError, ValueError):
        return Locale("en")


@lru_cache(maxsize=64)
def number_shape(locale_name: str, currency: str = "") -> NumberShape:
    """Return how a shop of this locale writes numbers. Spaces and apostrophes part thousands everywhere."""
    locale = locale_of(locale_name)
    mark, group = get_decimal_symbol(locale), get_group_symbol(locale)
    own = []
    decimal, between = mark, _MARK.get(group, group)
    if mark not in ".,":
        own.append((mark, "."))
        decimal = "."
    if between not in ".,' ":
        own.append((group, "'"))
        between = "'"
    signs = (get_currency_symbol(currency, locale), currency) if currency else ()
    return NumberShape(
        decimal=decimal,
        groups=frozenset({between, " ", "'"}),
        pairs=grouping_of(locale)[1] == 2,
        mark=mark,
        own=tuple(own),
        signs=signs,
        spaced=between == " ",
    )


def grouping_of(locale: Locale) -> tuple[int, int]:
    """Return how many digits stand in the last group and in those before it; three where CLDR has less in the last."""
    last, before = locale.decimal_formats[None].grouping
    return (last, before) if last == 3 else (3, 3)


def undoubted(text: str) -> str:
    """Return a text of plain numbers in which none could be a thousand to anybody: '1.125' becomes '1.1250'."""
    return _THREE_DECIMALS.sub(r"\g<0>0", text)


def in_shape(text: str, shape: NumberShape) -> str:
    """Return a text of plain numbers ('2.5', '0.8 mm', '5 at 3.20') as the shop writes them; what was typed stays."""
    return text if isinstance(text, Typed) else _POINT.sub(shape.mark, text)
