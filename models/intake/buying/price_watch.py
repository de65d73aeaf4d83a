"""What people ask of the price watch: how far back to look, or what a metal's price would do."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader

MOST_DAYS: Final = 1_825
USUAL_DAYS: Final = 90


@dataclass(frozen=True, slots=True)
class PriceWatchRequest:
    """Look back over `days`; or suppose that everything of `metal` costs `percent` more (less below zero)."""

    days: int = USUAL_DAYS
    metal: str = ""
    percent: Decimal = Decimal(0)


def read_watch_request(raw: Raw) -> PriceWatchRequest | Faults:
    """Read a question to the price watch."""
    reader = Reader(raw)
    ask = PriceWatchRequest(
        days=reader.integer("days", least=1, most=MOST_DAYS, default=USUAL_DAYS) or USUAL_DAYS,
        metal=reader.text("metal", most=60),
        percent=reader.decimal("percent", least=Decimal(-90), most=Decimal(900), places=2, default=Decimal(0))
        or Decimal(0),
    )
    return reader.faults() or ask
