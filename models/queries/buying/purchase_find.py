"""Finding purchases by any words of their supplier, number or notes. Lists by state or item are in `purchase`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import select
from sqlmodel import Session, col

from models.tables import Purchase, Supplier
from models.trade.vocabulary.plans import PURCHASE_STATES


@dataclass(frozen=True, slots=True)
class FoundPurchase:
    """One purchase as the finder names it; `supplier` is empty where nobody is named."""

    id: int
    supplier: str
    state: str
    sent_on: date | None
    created_at: datetime

    @property
    def state_words(self) -> str:
        """Its state in words."""
        return PURCHASE_STATES.term(self.state).says


def find_purchases(session: Session, words: str, most: int) -> tuple[tuple[FoundPurchase, ...], int]:
    """The latest purchases, at most so many, in whose words all of these stand, and how many there are in all.

    Their words are 'purchase', their number, supplier, the supplier's own number for them, and what was noted.
    """
    asked = words.casefold().split()
    rows = session.execute(
        select(
            col(Purchase.id), col(Supplier.name), col(Purchase.state), col(Purchase.sent_on), col(Purchase.created_at),
            col(Purchase.reference), col(Purchase.note),
        )
        .outerjoin(Supplier, col(Supplier.id) == col(Purchase.supplier_id))
        .order_by(col(Purchase.id).desc())
    )  # fmt: skip
    found = [
        FoundPurchase(row.id, row.name or "", row.state, row.sent_on, row.created_at)
        for row in rows
        if _says(f"purchase {row.name or ''} {row.reference} {row.note}".casefold(), str(row.id), asked)
    ]
    return tuple(found[:most]), len(found)


def _says(text: str, number: str, asked: list[str]) -> bool:
    return all(word in text or word == number for word in asked)
