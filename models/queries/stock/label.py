"""What stands on the labels of bags: which rings, of which lot, in which place; and which places there are."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import or_, select
from sqlmodel import Session, col

from models.intake.stock.label import MOST_LABELS, LabelRequest
from models.queries.stock.item import load_materials
from models.queries.stock.lot import Place, natural_order, places
from models.queries.stock.material import Material
from models.tables import Lot, LotPlace


@dataclass(frozen=True, slots=True)
class BagLabel:
    """One label. Of an item without a bag in stock it is the item's own: no lot, no place, no batch."""

    item: Material
    lot_id: int | None = None
    place: str = ""
    batch: str = ""


@dataclass(frozen=True, slots=True)
class LabelPage:
    """The page of labels: at most so many, how many there would be, and the places that others can be picked from."""

    labels: tuple[BagLabel, ...]
    found: int
    places: tuple[Place, ...]


def label_page(session: Session, asked: LabelRequest) -> LabelPage:
    """The labels of what was picked, place by place in the order of a well-kept drawer; unknown ones pick nothing."""
    labels = _bag_labels(session, asked) if asked.of_something else ()
    return LabelPage(labels[:MOST_LABELS], len(labels), () if asked.of_something else places(session))


def _bag_labels(session: Session, asked: LabelRequest) -> tuple[BagLabel, ...]:
    rows = session.execute(
        select(col(Lot.item_id), col(Lot.id).label("lot_id"), col(LotPlace.place), col(Lot.batch), col(Lot.received_on))
        .join(Lot, col(Lot.id) == col(LotPlace.lot_id))
        .where(
            or_(col(LotPlace.quantity_milli) > 0, col(LotPlace.rough) != ""),
            or_(col(Lot.item_id).in_(asked.items), col(Lot.id).in_(asked.lots), col(LotPlace.place).in_(asked.places)),
        )
        .order_by(col(Lot.received_on), col(Lot.id))
    ).all()
    items = load_materials(session, {*asked.items, *(row.item_id for row in rows)})
    order = {item_id: number for number, item_id in enumerate(items)}
    labels = [BagLabel(items[row.item_id], row.lot_id, row.place, row.batch) for row in rows]
    held = {row.item_id for row in rows}
    labels += [BagLabel(items[item_id]) for item_id in asked.items if item_id in items and item_id not in held]
    return tuple(sorted(labels, key=lambda label: (natural_order(label.place), order[label.item.id])))
