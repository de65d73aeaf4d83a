"""The words that quick entry knows: kinds of part, units of quantity, colours, and words that say nothing.

How a line is read stands in `part_text`. The words are those of the trade; common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType

from models.trade.colours import COLOUR_TINTS
from models.trade.vocabulary.things import ITEM_KINDS, PART_KINDS

SOLD_BY_LENGTH = frozenset(ITEM_KINDS.those(lambda kind: "piece" not in kind.units and kind.added))

QUANTITY_UNITS: Mapping[str, tuple[str, Fraction]] = MappingProxyType(
    {
        **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), ("m", Fraction(1))),
        "cm": ("m", Fraction(1, 100)),
        "mm": ("m", Fraction(1, 1000)),
        **dict.fromkeys(("in", "inch", "inches"), ("m", Fraction(254, 10_000))),
        **dict.fromkeys(("ft", "foot", "feet"), ("m", Fraction(3048, 10_000))),
        **dict.fromkeys(("g", "gram", "grams", "gramme", "grammes"), ("g", Fraction(1))),
        "mg": ("g", Fraction(1, 1000)),
        "kg": ("g", Fraction(1000)),
        **dict.fromkeys(("oz", "ounce", "ounces"), ("g", Fraction("28.349523125"))),
        **dict.fromkeys(("pair", "pairs", "pr"), ("piece", Fraction(2))),
        "dozen": ("piece", Fraction(12)),
        **dict.fromkeys(("pc", "pcs", "piece", "pieces"), ("piece", Fraction(1))),
    }
)
"""What a word after the number turns it into: the unit that is kept, and how many of it. Exact."""


def _plural(word: str) -> str:
    if word.endswith(("s", "x", "ch")):
        return f"{word}es"
    return f"{word}s"


KIND_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "wire": "wire",
        **{
            form: kind
            for kind in PART_KINDS
            for word in filter(None, ITEM_KINDS.term(kind).heard.split(", "))
            for form in (word, _plural(word))
        },
    }
)
"""The kind of part that a word, or two words together, name."""

COLOUR_WORDS = frozenset({*COLOUR_TINTS, "dark", "light", "deep", "pale", "pastel", "clear", "coloured", "colored"})
METAL_COLOURS = frozenset({"gold", "silver", "copper", "bronze"})
"""Colours that, where no other metal is named, are the metal."""

_NOUNS = (
    "aluminium aluminum alu copper brass bronze silver gold steel iron stainless sterling titanium niobium tantalum "
    "platinum palladium nickel rubber epdm silicone latex"
)
METAL_NOUNS = frozenset(_NOUNS.split())
"""Words that name a metal by themselves. Others that begin its name ('fine', 'bright', 'mild') also say how a thing
looks or is made, so that they name one only where nothing else on the line does."""

NOISE_WORDS = frozenset(
    "of the a an and with x ring rings jump jumpring jumprings inside inner id".split()  # noqa: SIM905 (reads better)
)
"""Words that say nothing that a match could go by; 'ring' is heard as the kind before."""

_SIZE_IN_NAME = re.compile(r"(\d)\s+(mm|cm|m|g|in)\b")
_WORD = re.compile(r"\w+(?:[./']\w+)*")


def words_of(text: str) -> tuple[str, ...]:
    """The words of a line or of an item's name in lower case; a number and its unit are one word ('4mm')."""
    return tuple(_WORD.findall(_SIZE_IN_NAME.sub(r"\1\2", text.casefold())))
