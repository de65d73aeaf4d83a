"""What a person typed, made readable: one tidy-up and one exact number reader for every size, mass and amount.

Not here: units (measures), gauges (gauges), money (money). Nothing here evaluates text; only plain digits, one decimal
separator and one fraction are understood.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cache

from models.trade.number_shape import PLAIN, NumberShape, Reads

MAX_CHARACTERS = 60
MAX_DIGITS = 24

_VULGAR = re.compile(r"(?<=\d)(?=[\u00bc-\u00be\u2150-\u215e])")
_SAME = str.maketrans(
    {
        "\u2044": "/",
        "\u2212": "-",
        "\u2013": "-",
        "\u201d": '"',
        "\u201c": '"',
        "\u2033": '"',
        "\u2019": "'",
        "\u2032": "'",
        # Marks of writing direction, which stand before the minus of some languages.
        "\u200e": None,
        "\u200f": None,
        "\u061c": None,
    }
)
_EVERYDAY = frozenset({"<wide>", "<narrow>", "<fraction>", "<noBreak>", "<compat>", "<square>"})
_SIGNED = re.compile(r"(?P<sign>[+-]?)\s*(?P<body>[0-9., ']*[0-9][0-9.,]*)")
_NAMES = {".": "point", ",": "comma"}
_FRACTION = re.compile(
    r"(?P<sign>[+-]?)\s*(?:(?P<whole>[0-9]+)(?:\s+|\s*-\s*))?(?P<top>[0-9]+)\s*/\s*(?P<bottom>[0-9]+)"
)
_EXPONENT = re.compile(r"[0-9][.,]?[0-9]*\s*[eE]\s*[+-]?[0-9]")


class Unreadable(ValueError):
    """Text that cannot be understood, with plain words for the person who typed it in `message`."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


def shown(text: str) -> str:
    """Return the typed text short enough to repeat in a message."""
    return text if len(text) <= 30 else text[:29] + "…"


def tidy(value: object, example: str, shape: NumberShape = PLAIN) -> str:
    """Return what was typed with plain signs, single spaces and written-out fractions ('3½' becomes '3 1/2').

    Numbers (int, Decimal) become their plain text. Raises: Unreadable for nothing, too much, or another type.
    """
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
        raise Unreadable(f"Type this as text, for example {example}.")
    if isinstance(value, Decimal):
        if not value.is_finite():
            raise Unreadable(f"This is not a number. Type something like {example}.")
        if abs(value.adjusted()) > MAX_DIGITS:
            raise Unreadable(f"This number is too long. Type something like {example}.")
        value = format(value, "f")
    elif isinstance(value, int):
        if abs(value) >= 10**MAX_DIGITS:
            raise Unreadable(f"This number is too long. Type something like {example}.")
        value = str(value)
    if len(value) > MAX_CHARACTERS:
        raise Unreadable(f"This is too long to be one value. Type something like {example}.")
    for sign, known in shape.own:
        value = value.replace(sign, known)
    if not value.isascii():
        value = "".join(_plain(character) for character in _VULGAR.sub(" ", value))
    text = value.translate(_SAME)
    text = " ".join(text.replace("''", '"').split())
    if not text:
        raise Unreadable(f"Nothing was typed. Type something like {example}.")
    return text


def _plain(character: str) -> str:
    """Return the everyday form of a wide digit, a written fraction or a hard space; leave '10²' as it is."""
    tag = unicodedata.decomposition(character).partition(" ")[0]
    return unicodedata.normalize("NFKC", character) if tag in _EVERYDAY else character


def is_fraction(text: str) -> bool:
    """Tell whether the number is written as a fraction, such as '5/32' or '3 1/2'."""
    return _FRACTION.fullmatch(text.strip()) is not None


def read_number(text: str, example: str, shape: NumberShape = PLAIN, reads: Reads = "measure") -> Fraction:
    """Return the exact value of a decimal ('1.0', '.16', '3,97', '1.250,50') or of a fraction ('5/32', '3 1/2').

    Raises: Unreadable for anything else, such as exponents, marks that the shape does not know, a zero divisor or too
    many digits; and for what may mean two numbers, as a question.
    """
    text = text.strip()
    if sum(character.isdigit() for character in text) > MAX_DIGITS:
        raise Unreadable(f"“{shown(text)}” has too many digits. Type something like {example}.")
    fraction = _FRACTION.fullmatch(text)
    if fraction:
        top, bottom = int(fraction["top"]), int(fraction["bottom"])
        if bottom == 0:
            raise Unreadable(f"“{shown(text)}” divides by zero. Type something like {example}.")
        value = Fraction(int(fraction["whole"] or 0)) + Fraction(top, bottom)
        return -value if fraction["sign"] == "-" else value
    signed = _SIGNED.fullmatch(text)
    plain = _plain_digits(signed["sign"], signed["body"], shape, reads) if signed else None
    if signed and plain is not None:
        value = Fraction(plain)
        return -value if signed["sign"] == "-" else value
    if _EXPONENT.search(text):
        raise Unreadable(f"Write “{shown(text)}” out in plain digits, for example {example}.")
    if re.fullmatch(r"[+-]?[0-9][0-9.,' ]*", text):
        raise Unreadable(f"“{shown(text)}” has more than one separator. Leave out those for thousands: {example}.")
    raise Unreadable(f"“{shown(text)}” is not a number. Type something like {example}.")


def _plain_digits(sign: str, body: str, shape: NumberShape, reads: Reads) -> str | None:
    """Return digits with at most one decimal point; None where the shape does not write so. Raises: Unreadable."""
    forms = _forms(shape)
    mark = shape.other if shape.other in body else shape.decimal
    if not forms.single.fullmatch(body):
        grouped = forms.grouped.fullmatch(body)
        return f"{re.sub('[^0-9]', '', grouped['whole'])}.{grouped['part'] or '0'}" if grouped else None
    digits, point = body.replace(mark, ""), body.replace(mark, ".")
    if mark not in body or reads == "small" or not _MAY_GROUP.fullmatch(body):
        return f"0{point}0" if point.endswith(".") else f"0{point}"
    if mark == shape.decimal:
        if not shape.wary:
            return point
        raise Unreadable(
            f"Do you mean {sign}{digits} or {sign}{body}? Type it without a {_NAMES[mark]}, or as {sign}{body}0."
        )
    # A comma may be the decimal mark of whoever types it, also in a shop that puts it between thousands.
    if reads == "count" and mark == "." and mark in shape.groups:
        return digits
    if reads == "measure" and shape.plain:
        return point
    raise Unreadable(
        f"Do you mean {sign}{digits} or {sign}{body.replace(mark, shape.decimal)}? "
        f"Type it with a {_NAMES[shape.decimal]}, or without a {_NAMES[mark]}."
    )


_MAY_GROUP = re.compile(r"[1-9][0-9]{0,2}[.,][0-9]{3}")


@dataclass(frozen=True, slots=True)
class _Forms:
    """What a number of one shape looks like: `single` has one mark at most, `grouped` has its thousands parted."""

    single: re.Pattern[str]
    grouped: re.Pattern[str]


@cache
def _forms(shape: NumberShape) -> _Forms:
    every = [r"[0-9]{1,3}(?:G[0-9]{3})+", *([r"[0-9]{1,2}(?:G[0-9]{2})*G[0-9]{3}"] if shape.pairs else [])]
    groups = [each.replace("G", re.escape(mark)) for mark in sorted(shape.groups) for each in every]
    decimal = re.escape(shape.decimal)
    return _Forms(
        single=re.compile(r"[0-9]+|[0-9]+[.,][0-9]*|[.,][0-9]+"),
        grouped=re.compile(rf"(?P<whole>{'|'.join(groups) or '(?!)'})(?:{decimal}(?P<part>[0-9]*))?"),
    )
