"""Reads raw fields one at a time and collects what is wrong with them.

A page's form and a CSV row hand in text; a JSON body hands in text, whole numbers, Decimals, booleans and lists. All go
through the same readers, so all get the same messages. A text that knows how its writer writes numbers (`Typed`) is
read so; any other as programs write them.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence, Sized
from datetime import date
from decimal import Decimal
from functools import partial
from typing import TypeVar

from models.intake.faults import Fault, Faults
from models.trade.measures import Length, Unreadable, parse_inner, parse_length, parse_mass, parse_wire
from models.trade.money import parse_amount
from models.trade.number_shape import NumberShape, Reads, in_shape, shape_of

T = TypeVar("T")
Raw = Mapping[str, object]

LARGEST_MONEY = Decimal(10_000_000)
LARGEST_COUNT = 10_000_000
MOST_LISTED = 2_000
"""How many rows of a list are read at once; a longer one is none that a person has typed."""
YES = {"1", "true", "yes", "on", "y"}
NO = {"", "0", "false", "no", "off", "n"}


class Reader:
    """Reads the fields of one raw mapping; `prefix` stands before field names of nested rows ('parts.3.')."""

    def __init__(
        self, raw: Raw, *, prefix: str = "", length_unit: str = "mm", faults: list[Fault] | None = None
    ) -> None:
        self.raw = raw
        self.prefix = prefix
        self.length_unit = length_unit
        self._faults: list[Fault] = [] if faults is None else faults

    # --- outcome ---

    def fault(self, field: str, message: str) -> None:
        """Say that a field is wrong."""
        self._faults.append(Fault(self.prefix + field, message))

    def faults(self) -> Faults | None:
        """All faults so far, or None when there are none."""
        return Faults(tuple(self._faults)) if self._faults else None

    def has(self, field: str) -> bool:
        """Whether the field was handed in with anything in it."""
        return self._text(field) != ""

    def shape(self, field: str) -> NumberShape:
        """How whoever handed in the field writes numbers, for what is cut out of its text."""
        return shape_of(self.raw.get(field))

    # --- readers: each answers a value that is safe to use, and collects a fault when the field was wrong ---

    def text(self, field: str, *, required: str = "", most: int = 200, lines: bool = False) -> str:
        """Trimmed text; `required` is the message when it is empty. Control characters are refused."""
        value = self._text(field)
        if not value:
            if required:
                self.fault(field, required)
            return ""
        if len(value) > most:
            self.fault(field, f"Keep this to {most} characters; it has {len(value)}.")
            return ""
        if any(unicodedata.category(sign) == "Cc" and not (lines and sign in "\n\r\t") for sign in value):
            self.fault(field, "This has characters that cannot be shown; type it again without them.")
            return ""
        return value.replace("\r\n", "\n") if lines else value

    def choice(self, field: str, allowed: Sequence[str], *, default: str | None = None) -> str:
        """One of a few words."""
        value = self._text(field)
        if not value and default is not None:
            return default
        if value not in allowed:
            shown = ", ".join(word or "(empty)" for word in allowed)
            self.fault(field, f"Choose one of: {shown}." if value else f"Choose one: {shown}.")
            return default if default is not None else allowed[0]
        return value

    def flag(self, field: str, *, default: bool = False) -> bool:
        """Yes or no; a box that is not ticked hands in nothing, so nothing means `default`."""
        if field not in self.raw:
            return default
        value = self._text(field).lower()
        if value in YES:
            return True
        if value not in NO:
            self.fault(field, "Say yes or no.")
        return False

    def integer(
        self,
        field: str,
        *,
        least: int = 0,
        most: int = LARGEST_COUNT,
        default: int | None = None,
        required: bool = True,
    ) -> int | None:
        """A whole number within bounds."""
        value = self._number(field, "whole number, such as 12", required=required and default is None, reads="count")
        if value is None:
            return default
        if value != value.to_integral_value():
            self.fault(field, f"Give a whole number; {self._plain(field, value)} has a fraction.")
            return default
        return int(value) if self._within(field, value, Decimal(least), Decimal(most)) else default

    def decimal(
        self,
        field: str,
        *,
        least: Decimal = Decimal(0),
        most: Decimal = LARGEST_MONEY,
        default: Decimal | None = None,
        required: bool = True,
        places: int = 6,
        reads: Reads = "measure",
        strip: tuple[str, ...] = (),
    ) -> Decimal | None:
        """A decimal number within bounds, with at most `places` decimals; `reads` tells what it is of."""
        needed = required and default is None
        value = self._number(field, "number, such as 2.5", required=needed, strip=strip, reads=reads)
        if value is None:
            return default
        if not self._within(field, value, least, most):
            return default
        exponent = value.normalize().as_tuple().exponent
        if isinstance(exponent, int) and -exponent > places:
            self.fault(field, f"Give at most {places} decimals.")
            return default
        return value

    def quantity(
        self,
        field: str,
        *,
        least: Decimal = Decimal(0),
        most: Decimal = Decimal(LARGEST_COUNT),
        default: Decimal | None = None,
        required: bool = True,
    ) -> Decimal | None:
        """So many of something, to a thousandth."""
        return self.decimal(field, least=least, most=most, default=default, required=required, places=3, reads="count")

    def money(
        self, field: str, *, default: Decimal | None = None, required: bool = True, least: Decimal = Decimal(0)
    ) -> Decimal | None:
        """An amount in the shop's currency, exact to a millionth; the currency's own sign may stand beside it."""
        signs = self.shape(field).signs
        return self.decimal(field, least=least, default=default, required=required, reads="count", strip=signs)

    def percent(
        self,
        field: str,
        *,
        most: Decimal = Decimal(100),
        default: Decimal | None = None,
        required: bool = True,
        below: bool = False,
    ) -> Decimal | None:
        """A percentage as a number like 6.5 (a typed per cent sign is taken off); `below` refuses `most` itself."""
        value = self._number(field, "percentage, such as 6.5", required=required and default is None, strip=("%",))
        if value is None:
            return default
        if value < 0:
            self.fault(field, "A percentage cannot be negative; give 0 or more.")
            return default
        if value > most or (below and value == most):
            self.fault(
                field,
                f"Give a percentage {'under' if below else 'of at most'} {most}; this is {self._plain(field, value)}.",
            )
            return default
        return value

    def wire(self, field: str, *, required: bool = True) -> Length | None:
        """A wire diameter: millimetres, inches, or a gauge with its system."""
        read = partial(parse_wire, default_unit=self.length_unit, shape=self.shape(field))
        return self._parsed(field, read, required=required)

    def inner(self, field: str, *, required: bool = True) -> Length | None:
        """An inner diameter: millimetres or inches."""
        read = partial(parse_inner, default_unit=self.length_unit, shape=self.shape(field))
        return self._parsed(field, read, required=required)

    def length(self, field: str, *, required: bool = True) -> Length | None:
        """Any other length, such as a finished width."""
        read = partial(parse_length, default_unit=self.length_unit, shape=self.shape(field))
        return self._parsed(field, read, required=required)

    def mass(self, field: str, *, required: bool = True) -> int | None:
        """A mass in whole micrograms."""
        read = partial(parse_mass, shape=self.shape(field))
        return self._parsed(field, read, required=required, missing="Give a weight.")

    def date(self, field: str, *, required: bool = True) -> date | None:
        """A calendar day, written as 2026-03-31."""
        value = self._text(field)
        if not value:
            if required:
                self.fault(field, "Give a day, such as 2026-03-31.")
            return None
        try:
            return date.fromisoformat(value)
        except ValueError:
            self.fault(field, f"'{_short(value)}' is not a day; write it as 2026-03-31.")
            return None

    def identity(self, field: str, *, required: bool = True) -> int | None:
        """The number of a row that must exist; existence is checked where the database is."""
        return self.integer(field, least=1, most=2**31 - 1, required=required)

    def each(self, field: str, read: Callable[[Reader], T]) -> tuple[T, ...]:
        """A list of nested rows, each read with the faults' fields prefixed by its place ('parts.0.quantity')."""
        rows = self.raw.get(field, ())
        if not isinstance(rows, Iterable) or isinstance(rows, (str, bytes, Mapping)):
            self.fault(field, "This must be a list.")
            return ()
        if isinstance(rows, Sized) and len(rows) > MOST_LISTED:
            self.fault(field, f"At most {MOST_LISTED:,} can be listed at once; this has {len(rows):,}.")
            return ()
        found: list[T] = []
        for place, row in enumerate(rows):
            if not isinstance(row, Mapping):
                self._faults.append(Fault(f"{self.prefix}{field}.{place}", "This must be an object with named fields."))
                continue
            inside = Reader(
                row, prefix=f"{self.prefix}{field}.{place}.", length_unit=self.length_unit, faults=self._faults
            )
            found.append(read(inside))
        return tuple(found)

    # --- helpers ---

    def _text(self, field: str) -> str:
        value = self.raw.get(field)
        if value is None:
            return ""
        if isinstance(value, bool):
            return "true" if value else "false"
        if isinstance(value, (str, int, Decimal)):
            return str(value).strip()
        self.fault(field, "This must be plain text or a number.")
        return ""

    def _number(
        self, field: str, what: str, *, required: bool, strip: tuple[str, ...] = (), reads: Reads = "measure"
    ) -> Decimal | None:
        value = self._text(field)
        for sign in strip:
            value = value.replace(sign, "", 1).strip()
        if not value:
            if required:
                self.fault(field, f"Give a {what}.")
            return None
        try:
            # Bounds are checked by the caller, who can say which ones.
            return parse_amount(value, negative=True, shape=self.shape(field), reads=reads)
        except Unreadable as unreadable:
            # What is made of digits and separators has a question of its own, such as 'Do you mean 1234 or 1.234?'.
            close = not value.strip("+-0123456789.,' \u00a0\u202f\u2019")
            self.fault(field, unreadable.message if close else f"'{_short(value)}' is not a number; give a {what}.")
            return None

    def _within(self, field: str, value: Decimal, least: Decimal, most: Decimal) -> bool:
        if value < least:
            self.fault(field, f"Give {self._plain(field, least)} or more; {self._plain(field, value)} is too small.")
            return False
        if value > most:
            self.fault(field, f"Give {self._plain(field, most)} or less; {self._plain(field, value)} is too large.")
            return False
        return True

    def _parsed(
        self,
        field: str,
        parse: Callable[[str], T],
        *,
        required: bool,
        missing: str = "Give a size, such as 1.2 mm or 3/64 in.",
    ) -> T | None:
        value = self._text(field)
        if not value:
            if required:
                self.fault(field, missing)
            return None
        try:
            return parse(value)
        except Unreadable as unreadable:
            self.fault(field, unreadable.message)
            return None

    def _plain(self, field: str, value: Decimal) -> str:
        return in_shape(format(value.normalize(), "f"), self.shape(field))


def _short(value: str) -> str:
    return value if len(value) <= 40 else value[:37] + "…"
