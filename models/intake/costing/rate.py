"""What people hand in about how long a kind of work takes."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Annotated

from models.costing.rates import STARTING_RATES
from models.intake.faults import Fault, Faults
from models.intake.fields import ANY_NUMBER, Choice, Number, Own, read_fields
from models.intake.raw import Raw, Reader
from models.trade.measures import Unreadable
from models.trade.money import parse_amount
from models.trade.number_shape import PLAIN, NumberShape

LONGEST_SECONDS = Decimal(24 * 3600)
ONE = Decimal(1)
MOST_FACTOR = Decimal(10)

_SPAN = re.compile(r"(?P<number>[^a-z]*)(?P<unit>[a-z.]*)", re.IGNORECASE)
_CLOCK = re.compile(r"(?P<minutes>\d{1,4}):(?P<seconds>[0-5]\d)")
_SECONDS_PER = {
    "": 1, "s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1,
    "m": 60, "min": 60, "mins": 60, "minute": 60, "minutes": 60,
    "h": 3600, "hr": 3600, "hrs": 3600, "hour": 3600, "hours": 3600,
}  # fmt: skip


def parse_seconds(text: str, shape: NumberShape = PLAIN) -> Decimal:
    """The span that was typed, in seconds: '7', '7 s', '3 min', '1:30' (minutes and seconds), '0.5 h'.

    Rounded once to a thousandth of a second, half to even. Raises: Unreadable.
    """
    typed = text.strip()
    clock = _CLOCK.fullmatch(typed)
    if clock:
        return Decimal(int(clock["minutes"]) * 60 + int(clock["seconds"]))
    found = _SPAN.fullmatch(typed)
    unit = _SECONDS_PER.get(found["unit"].lower().rstrip(".")) if found else None
    if not typed or found is None or unit is None:
        raise Unreadable("Give a time, such as 7 s, 3 min or 1:30.")
    try:
        seconds = parse_amount(found["number"].strip(), shape=shape, reads="measure") * unit
    except Unreadable:
        raise Unreadable("Give a time, such as 7 s, 3 min or 1:30.") from None
    if seconds > LONGEST_SECONDS:
        raise Unreadable("That is more than a day for one piece of work; give a time, such as 7 s or 3 min.")
    return seconds.quantize(Decimal("0.001"), rounding=ROUND_HALF_EVEN).normalize() + 0


def read_seconds(reader: Reader, field: str) -> Decimal:
    """Read a span as `parse_seconds` does."""
    typed = reader.text(field, required="Give a time, such as 7 s, 3 min or 1:30.", most=40)
    try:
        return parse_seconds(typed, reader.shape(field)) if typed else Decimal(0)
    except Unreadable as unreadable:
        reader.fault(field, unreadable.message)
        return Decimal(0)


@dataclass(frozen=True, slots=True)
class RateDraft:
    """How long one unit of a kind of work takes: seconds, and the factors to its 10th and 90th of a hundred."""

    kind: Annotated[str, Choice(label="Kind of work", among=STARTING_RATES)]
    seconds: Annotated[Decimal, Own(label="Time", by=read_seconds, required=True, json=ANY_NUMBER)]
    low_factor: Annotated[Decimal, Number(label="Fast", most=ONE, places=3)]
    high_factor: Annotated[Decimal, Number(label="Slow", least=ONE, most=MOST_FACTOR, places=3)]


def read_rates(raw: Raw, kinds: Sequence[str]) -> tuple[RateDraft, ...] | Faults:
    """Read the rows `rates.N.kind, seconds, low_factor, high_factor`; every kind at most once, only known ones."""
    reader = Reader(raw)
    found = reader.each("rates", lambda row: _read_rate(row, kinds))
    faults = list(reader.faults() or ())
    names = [rate.kind for rate in found]
    faults += [
        Fault(f"rates.{place}.kind", "This kind of work stands here twice.")
        for place, name in enumerate(names)
        if name in names[:place]
    ]
    return Faults(tuple(faults)) if faults else found


def _read_rate(row: Reader, kinds: Sequence[str]) -> RateDraft:
    return read_fields(RateDraft, row, kind=row.choice("kind", kinds))
