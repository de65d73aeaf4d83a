"""What a person typed, made readable: one tidy-up and one exact number reader for every size, mass and amount.

Not here: units (measures), gauges (gauges), money (money). Nothing here evaluates text; only plain digits, one decimal
separator and one fraction are understood.
"""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal
from fractions import Fraction

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
    }
)
_EVERYDAY = frozenset({"<wide>", "<narrow>", "<fraction>", "<noBreak>", "<compat>", "<square>"})
_DECIMAL = re.compile(r"(?P<sign>[+-]?)\s*(?P<whole>[0-9]*)(?:[.,](?P<part>[0-9]*))?")
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


def tidy(value: object, example: str) -> str:
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
    text = "".join(_plain(character) for character in _VULGAR.sub(" ", value)).translate(_SAME)
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


def read_number(text: str, example: str) -> Fraction:
    """Return the exact value of a decimal ('1.0', '.16', '3,97') or of a fraction ('5/32', '3 1/2').

    Raises: Unreadable for anything else, such as exponents, two separators, a zero divisor or too many digits.
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
    decimal = _DECIMAL.fullmatch(text)
    if decimal and (decimal["whole"] or decimal["part"]):
        part = decimal["part"] or ""
        value = Fraction(int((decimal["whole"] or "0") + part), 10 ** len(part))
        return -value if decimal["sign"] == "-" else value
    if _EXPONENT.search(text):
        raise Unreadable(f"Write “{shown(text)}” out in plain digits, for example {example}.")
    if re.fullmatch(r"[+-]?[0-9][0-9.,' ]*", text):
        raise Unreadable(f"“{shown(text)}” has more than one separator. Leave out those for thousands: {example}.")
    raise Unreadable(f"“{shown(text)}” is not a number. Type something like {example}.")
