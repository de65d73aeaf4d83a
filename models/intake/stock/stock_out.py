"""What people hand in about stock that leaves without a build: spoiled, lost, given away, or sold as it is."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from models.intake.csv_file import Column
from models.intake.faults import Faults
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
from models.intake.stock.place import NO_PLACE, read_place
from models.trade.vocabulary.ledger import LEAVING_REASONS

LEAVING_COLUMNS: Final = (
    Column("reason", f"Why it left: {', '.join(LEAVING_REASONS)}.", required=True, example="lost", holds="choice"),
    Column("item", "The name of the stock item, where no lot is given.", example="Bronze ring 1.0 × 3.6 mm"),
    Column("item_id", "Its number, where two items have one name.", example="12", holds="number"),
    Column("lot_id", "The lot's number; empty takes the oldest first.", example="12", holds="number"),
    Column("place", f"Where it lay, or “{NO_PLACE}”; empty takes the fullest bag first.", example="drawer B4"),
    Column("quantity", "How much left: a count, about so many, a weight or a length.", required=True, example="30",
           holds="amount"),
    Column("total_price", "What was paid for all of it, when it was sold.", example="4.50", holds="number"),
    Column("left_on", "The day; empty means today.", example="2026-03-31"),
    Column("note", "Anything else.", example="Rolled under the bench."),
)  # fmt: skip
"""The columns of a CSV file of what left; their names are the fields that `read_leaving` reads."""


@dataclass(frozen=True, slots=True)
class StockOutDraft:
    """What left: how much of which item, from which lot and place where that was said, and why.

    `lot_id` None takes the oldest lots first, `place` None the fullest bags; '' is the bag that has no place. `price`
    is what was paid for all of it when it was sold, in the shop's own currency; `each` is the same for one unit.
    """

    how: HowMuch
    reason: str
    item_id: int | None = None
    item: str = ""
    lot_id: int | None = None
    place: str | None = None
    price: Decimal | None = None
    each: Decimal | None = None
    left_on: date | None = None
    note: str = ""


def read_stock_out(raw: Raw) -> StockOutDraft | Faults:
    """Read what left; a sale needs its price, of one or of all."""
    reader = Reader(raw)
    reason = reader.choice("reason", LEAVING_REASONS.codes)
    item_id, lot_id = reader.identity("item_id", required=False), reader.identity("lot_id", required=False)
    item = reader.text("item", most=120)
    if item_id is None and lot_id is None and not item:
        reader.fault("item_id", "Say what left.")
    how = how_much(reader, "quantity", missing="Say how much left, such as 30, about 30 or 2.5 g.")
    place = read_place(reader, "place")
    price, each = reader.money("total_price", required=False), reader.money("price_each", required=False)
    if reader.has("total_price") and reader.has("price_each"):
        reader.fault("price_each", "Give the price of one or of all, not both.")
    sold = LEAVING_REASONS.term(reason).act == "sell"
    if sold and not (reader.has("total_price") or reader.has("price_each")):
        reader.fault("total_price", "Say what was paid for it; 0 is an answer too.")
    if not sold and (reader.has("total_price") or reader.has("price_each")):
        reader.fault("total_price", "Only what was sold has a price.")
    left_on = reader.date("left_on", required=False)
    note = reader.text("note", most=500, lines=True)
    faults = reader.faults()
    if faults is not None or how is None:
        return faults or Faults.of("quantity", "Say how much left.")
    return StockOutDraft(
        how=how,
        reason=reason,
        item_id=item_id,
        item=item if item_id is None and lot_id is None else "",
        lot_id=lot_id,
        place=place,
        price=price,
        each=each,
        left_on=left_on,
        note=note,
    )
