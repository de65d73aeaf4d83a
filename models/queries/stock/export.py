"""What is in stock of every item as rows of a file, which is only handed out."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from sqlalchemy import select
from sqlmodel import Session, col

from models.intake.csv_file import Column
from models.intake.stock.offer import from_milli
from models.queries.stock.balance import Balance, balances
from models.queries.stock.room import Levels, is_low
from models.tables import Item
from models.trade.money import from_micros

STOCK_COLUMNS: Final = (
    Column("item_id", "The stock item's number.", holds="number"),
    Column("item", "Its name."),
    Column("kind", "What kind of thing it is."),
    Column("unit", "What it is counted in."),
    Column("on_hand", "What is there.", holds="number"),
    Column("reserved", "What started builds will take of it.", holds="number"),
    Column("free", "What is there and not reserved.", holds="number"),
    Column("on_order", "What sent purchases still bring.", holds="number"),
    Column("value", "What is on hand is worth, in the shop's currency.", holds="number"),
    Column("rough", "How sure the count is: empty when counted, else about or plenty."),
    Column("reorder_point", "From how few on to buy again.", holds="number"),
    Column("low", "Whether no more is free than that: yes, or empty."),
    Column("target", "Up to how much.", holds="number"),
    Column("places", "Where it lies."),
)
"""The columns of a file of stock."""


def export_stock(session: Session) -> Iterable[dict[str, object]]:
    """Every item that is in use, or of which something is there, by number."""
    held = balances(session)
    rows = session.execute(
        select(
            col(Item.id), col(Item.name), col(Item.kind), col(Item.unit), col(Item.retired), col(Item.reorder_milli),
            col(Item.target_milli),
        ).order_by(col(Item.id))
    )  # fmt: skip
    for row in rows:
        balance = held.get(row.id, Balance(row.id))
        if row.retired and not balance.on_hand_milli and not balance.on_order_milli:
            continue
        yield {
            "item_id": row.id,
            "item": row.name,
            "kind": row.kind,
            "unit": row.unit,
            "on_hand": from_milli(balance.on_hand_milli),
            "reserved": from_milli(balance.reserved_milli),
            "free": from_milli(balance.free_milli),
            "on_order": from_milli(balance.on_order_milli),
            "value": from_micros(balance.value_micros),
            "rough": balance.rough,
            "reorder_point": None if row.reorder_milli is None else from_milli(row.reorder_milli),
            "low": "yes" if is_low(balance, Levels(row.reorder_milli), retired=row.retired) else "",
            "target": None if row.target_milli is None else from_milli(row.target_milli),
            "places": "; ".join(balance.places),
        }
