"""Receipts, counts, leavings and movements as rows of files; what was taken back is left out of all but the movements.

Each of the first three is read again to the same lots, counts and leavings. This reads the whole ledger, so it is for
files, never for a page.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from sqlalchemy import Select, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.intake.csv_file import Column
from models.intake.stock.offer import from_milli
from models.intake.stock.place import place_word
from models.tables import BagCount, Item, Lot, Movement, Person, StockTransaction, Supplier
from models.trade.money import from_micros
from models.trade.vocabulary.ledger import ROUGH, SOLD

MOVEMENT_COLUMNS: Final = (
    Column("movement", "The movement's number.", holds="number"),
    Column("act", "The number of what was done; its movements belong together.", holds="number"),
    Column("done", "What was done."),
    Column("done_on", "The day on which it was done."),
    Column("booked_at", "When it was booked, in UTC."),
    Column("kind", "What kind of movement it is."),
    Column("reason", "Why it left, where it left without a build."),
    Column("item_id", "The stock item's number.", holds="number"),
    Column("item", "The stock item's name."),
    Column("lot_id", "The lot's number.", holds="number"),
    Column("place", "Where the bag lies."),
    Column("quantity", "What came in; below zero for what left.", holds="number"),
    Column("value", "What it is worth, in the shop's currency; below zero for what left.", holds="number"),
    Column("price", "What was paid for it, where it was sold.", holds="number"),
    Column("on_hand_after", "What was on hand after it, over all lots.", holds="number"),
    Column("build", "The build that it was for.", holds="number"),
    Column("takes_back", "The number of the movement that it takes back.", holds="number"),
    Column("words", "What was done, in a sentence."),
    Column("person", "Who did it."),
)
"""The columns of a file of movements, which is only handed out."""

_Undo = aliased(StockTransaction)


def export_receipts(session: Session) -> Iterable[dict[str, object]]:
    """Every lot that was received, in the shop's own currency, as rows of `RECEIPT_COLUMNS`."""
    rows = session.execute(
        _standing(
            (
                col(Item.name).label("item"), col(Item.kind), col(Item.unit), col(Lot.item_id), col(Lot.batch),
                col(Lot.received_on), col(Lot.received_milli), col(Lot.received_micros), col(Lot.freight_micros),
                col(Lot.provisional), col(Lot.note), col(Movement.place), col(Supplier.name).label("supplier"),
            ),
            "receive",
        )
        .join(Lot, col(Lot.id) == col(Movement.lot_id))
        .join(Item, col(Item.id) == col(Lot.item_id))
        .outerjoin(Supplier, col(Supplier.id) == col(Lot.supplier_id))
        .where(col(Movement.kind) == "receipt")
        .order_by(col(Movement.id))
    ).all()  # fmt: skip
    shared = _shared_names(session)
    for row in rows:
        paid = None if row.provisional else from_micros(row.received_micros - row.freight_micros)
        yield {
            "item": row.item,
            "item_id": row.item_id if row.item.casefold() in shared else None,
            "quantity": from_milli(row.received_milli),
            "total_cost": paid,
            "freight": from_micros(row.freight_micros) if row.freight_micros else None,
            "supplier": row.supplier,
            "received_on": row.received_on.isoformat(),
            "batch": row.batch,
            "place": row.place,
            "note": row.note,
            "opening": None if row.received_milli else "yes",
        }


def export_counts(session: Session) -> Iterable[dict[str, object]]:
    """Every count that stands, as rows of `COUNT_COLUMNS`."""
    rows = session.execute(
        select(
            col(BagCount.lot_id), col(BagCount.place), col(BagCount.found_milli), col(BagCount.rough),
            col(StockTransaction.done_on), col(Item.name).label("item"),
        )
        .join(StockTransaction, col(StockTransaction.id) == col(BagCount.act_id))
        .join(Lot, col(Lot.id) == col(BagCount.lot_id))
        .join(Item, col(Item.id) == col(Lot.item_id))
        .outerjoin(_Undo, col(_Undo.undoes_id) == col(StockTransaction.id))
        .where(col(_Undo.id).is_(None))
        .order_by(col(BagCount.id))
    )  # fmt: skip
    for row in rows:
        yield {
            "lot_id": row.lot_id,
            "item": row.item,
            "place": place_word(row.place),
            "found": f"{_before(row.rough)}{from_milli(row.found_milli):f}",
            "counted_on": row.done_on.isoformat(),
        }


def _before(rough: str) -> str:
    """What stands before a rough figure."""
    return ROUGH.term(rough).before if rough else ""


def export_stock_outs(session: Session) -> Iterable[dict[str, object]]:
    """Every leaving that stands, bag by bag, as rows of `LEAVING_COLUMNS`."""
    rows = session.execute(
        _standing(
            (
                col(Movement.kind), col(Movement.reason), col(Movement.lot_id), col(Movement.place),
                col(Movement.quantity_milli), col(Movement.price_micros), col(StockTransaction.done_on),
                col(Item.name).label("item"),
            ),
            "scrap", "give", "sell",
        )
        .join(Item, col(Item.id) == col(Movement.item_id))
        .where(col(Movement.kind).in_(("scrap", "sale")))
        .order_by(col(Movement.id))
    )  # fmt: skip
    for row in rows:
        yield {
            "reason": row.reason or SOLD,
            "item": row.item,
            "lot_id": row.lot_id,
            "place": place_word(row.place),
            "quantity": from_milli(-row.quantity_milli),
            "total_price": None if row.price_micros is None else from_micros(row.price_micros),
            "left_on": row.done_on.isoformat(),
        }


def export_movements(session: Session) -> Iterable[dict[str, object]]:
    """The whole ledger as rows of `MOVEMENT_COLUMNS`, the first movement first."""
    rows = session.execute(
        select(
            col(Movement.id),
            col(Movement.act_id),
            col(Movement.kind),
            col(Movement.reason),
            col(Movement.item_id),
            col(Movement.lot_id),
            col(Movement.place),
            col(Movement.quantity_milli),
            col(Movement.value_micros),
            col(Movement.price_micros),
            col(Movement.after_milli),
            col(Movement.reverses_id),
            col(StockTransaction.kind).label("done"),
            col(StockTransaction.done_on),
            col(StockTransaction.at),
            col(StockTransaction.build_id),
            col(StockTransaction.words),
            col(Person.name).label("person"),
            col(Item.name).label("item"),
        )
        .join(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .join(Person, col(Person.id) == col(StockTransaction.person_id))
        .join(Item, col(Item.id) == col(Movement.item_id))
        .order_by(col(Movement.id))
    ).yield_per(2_000)
    for row in rows:
        yield {
            "movement": row.id,
            "act": row.act_id,
            "done": row.done,
            "done_on": row.done_on.isoformat(),
            "booked_at": row.at.isoformat(),
            "kind": row.kind,
            "reason": row.reason,
            "item_id": row.item_id,
            "item": row.item,
            "lot_id": row.lot_id,
            "place": row.place,
            "quantity": from_milli(row.quantity_milli),
            "value": from_micros(row.value_micros),
            "price": None if row.price_micros is None else from_micros(row.price_micros),
            "on_hand_after": from_milli(row.after_milli),
            "build": row.build_id,
            "takes_back": row.reverses_id,
            "words": row.words,
            "person": row.person,
        }


def _standing(columns: tuple[Any, ...], *kinds: str) -> Select[Any]:
    """Movements of acts of these kinds that were not taken back."""
    return (
        select(*columns)
        .select_from(Movement)
        .join(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .outerjoin(_Undo, col(_Undo.undoes_id) == col(StockTransaction.id))
        .where(col(StockTransaction.kind).in_(kinds), col(_Undo.id).is_(None))
    )


def _shared_names(session: Session) -> set[str]:
    """The names that several items have, in lower case."""
    seen: set[str] = set()
    shared: set[str] = set()
    for name in session.scalars(select(col(Item.name))):
        (shared if name.casefold() in seen else seen).add(name.casefold())
    return shared
