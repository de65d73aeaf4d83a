"""How long something took, as people type it: '95', '1:35', '1 h 35' or '1.5 h'."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final

from models.intake.raw import Reader
from models.trade.money import parse_amount
from models.trade.number_shape import NumberShape
from models.trade.typed import Unreadable

MOST_MINUTES: Final = 100_000
_CLOCK: Final = re.compile(r"(\d{1,4}):([0-5]\d)")
_WORDS: Final = re.compile(
    r"(?:(?P<hours>[\d.,]+)\s*(?:h|hr|hrs|hours?)\.?\s*)?(?:(?P<minutes>[\d.,]+)\s*(?:m|min|mins|minutes?)?\.?)?",
    re.IGNORECASE,
)


def work_time(reader: Reader, field: str) -> int | None:
    """Read a time in thousandths of minutes; empty is None. A bare number is minutes."""
    typed = reader.text(field, most=30)
    if not typed:
        return None
    try:
        minutes = _minutes(typed, reader.shape(field))
    except Unreadable:
        reader.fault(field, f"“{typed}” is not a time. Type minutes, such as 95, or hours, such as 1:35 or 1 h 35.")
        return None
    if minutes > MOST_MINUTES:
        reader.fault(field, f"Give {MOST_MINUTES:,} minutes or less.")
        return None
    return int((minutes * 1000).to_integral_value())


def _minutes(typed: str, shape: NumberShape) -> Decimal:
    """Raises: Unreadable."""
    clock = _CLOCK.fullmatch(typed)
    if clock:
        return Decimal(clock[1]) * 60 + Decimal(clock[2])
    words = _WORDS.fullmatch(typed)
    if words is None or not (words["hours"] or words["minutes"]):
        raise Unreadable("no time")
    return sum(
        (
            parse_amount(number, shape=shape, reads="measure") * factor
            for number, factor in ((words["hours"], 60), (words["minutes"], 1))
            if number is not None
        ),
        Decimal(0),
    )
