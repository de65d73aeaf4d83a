"""What people hand in when they list a design at a price at one outlet, or take it off again."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from models.intake.costing.cost_request import read_price
from models.intake.faults import Faults
from models.intake.raw import Raw, Reader


@dataclass(frozen=True, slots=True)
class ListedPriceDraft:
    """A price for one outlet; None takes the design off there."""

    outlet_id: int
    price: Decimal | None


def read_listed_price(raw: Raw, *, currency: str, may_be_empty: bool = False) -> ListedPriceDraft | Faults:
    """Read the fields `outlet` and `price`; an empty price is a fault unless it may take the design off."""
    reader = Reader(raw)
    outlet_id = reader.identity("outlet")
    price = read_price(reader, "price", currency=currency, required=not may_be_empty)
    faults = reader.faults()
    if faults is not None or outlet_id is None:
        return faults or Faults.of("outlet", "Say which outlet.")
    return ListedPriceDraft(outlet_id, price)
