"""What is on its way or about to be ordered, by item: packs of purchases that have not come, in the item's own unit."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import func, select
from sqlmodel import Session, col

from models.tables import Purchase, PurchaseLine
from models.trade.vocabulary.plans import ON_ORDER_STATES


def on_order_milli(session: Session, item_ids: Collection[int] | None = None) -> dict[int, int]:
    """What sent purchases still bring, in thousandths: of these items, or of all; those with nothing are left out."""
    return _coming(session, item_ids, ON_ORDER_STATES)


def drafted_milli(session: Session, item_ids: Collection[int] | None = None) -> dict[int, int]:
    """What purchases that are not sent yet would bring, in thousandths."""
    return _coming(session, item_ids, ("draft",))


def _coming(session: Session, item_ids: Collection[int] | None, states: tuple[str, ...]) -> dict[int, int]:
    rest = (col(PurchaseLine.packs) - col(PurchaseLine.received_packs)) * col(PurchaseLine.unit_milli)
    found = (
        select(col(PurchaseLine.item_id), func.sum(rest))
        .join(Purchase, col(Purchase.id) == col(PurchaseLine.purchase_id))
        .where(col(Purchase.state).in_(states), col(PurchaseLine.received_packs) < col(PurchaseLine.packs))
        .group_by(col(PurchaseLine.item_id))
    )
    if item_ids is not None:
        found = found.where(col(PurchaseLine.item_id).in_(item_ids))
    return {item_id: int(milli) for item_id, milli in session.execute(found)}
