"""What people hand in about stock that leaves without a build: spoiled, lost, given away, or sold as it is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Annotated, Final

from models.intake.csv_file import in_order
from models.intake.faults import Faults
from models.intake.fields import Choice, Day, Money, Own, Text, columns_of, read_fields
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
from models.intake.stock.naming import ITEM, ITEM_ID, LOT_ID, QUANTITY
from models.intake.stock.place import NO_PLACE, read_place
from models.trade.vocabulary.ledger import LEAVING_REASONS


@dataclass(frozen=True, slots=True)
class StockOutDraft:
    """What left: how much of which item, from which lot and place where that was said, and why.

    `lot_id` None takes the oldest lots first, `place` None the fullest bags; '' is the bag that has no place. `price`
    is what was paid for all of it when it was sold, in the shop's own currency; `each` is the same for one unit.
    """

    how: Annotated[
        HowMuch,
        replace(
            QUANTITY, says="How much left: a count, about so many, a weight or a length.", example="30", required=True
        ),
    ]
    reason: Annotated[str, Choice(label="Reason", says="Why it left.", example="lost", among=LEAVING_REASONS)]
    item_id: Annotated[int | None, ITEM_ID] = None
    item: Annotated[str, replace(ITEM, says="The name of the stock item, where no lot is given.")] = ""
    lot_id: Annotated[int | None, replace(LOT_ID, says="The lot's number; empty takes the oldest first.")] = None
    place: Annotated[
        str | None,
        Own(
            label="Place",
            says=f"Where it lay, or “{NO_PLACE}”; empty takes the fullest bag first.",
            example="drawer B4",
            by=read_place,
        ),
    ] = None
    price: Annotated[
        Decimal | None,
        Money(
            label="Paid for all",
            says="What was paid for all of it, when it was sold.",
            example="4.50",
            typed="total_price",
            required=False,
        ),
    ] = None
    each: Annotated[
        Decimal | None,
        Money(
            label="Paid for one",
            says="The same for one unit; one of both is enough.",
            typed="price_each",
            required=False,
            in_file=False,
        ),
    ] = None
    left_on: Annotated[
        date | None, Day(label="Day", says="The day; empty means today.", example="2026-03-31", required=False)
    ] = None
    note: Annotated[
        str, Text(label="Note", says="Anything else.", example="Rolled under the bench.", most=500, lines=True)
    ] = ""


def read_stock_out(raw: Raw) -> StockOutDraft | Faults:
    """Read what left; a sale needs its price, of one or of all."""
    reader = Reader(raw)
    how = how_much(reader, "quantity", missing="Say how much left, such as 30, about 30 or 2.5 g.")
    draft = read_fields(StockOutDraft, reader, how=how)
    numbered = draft.item_id is not None or draft.lot_id is not None
    if not numbered and not draft.item:
        reader.fault("item_id", "Say what left.")
    if reader.has("total_price") and reader.has("price_each"):
        reader.fault("price_each", "Give the price of one or of all, not both.")
    sold = LEAVING_REASONS.term(draft.reason).act == "sell"
    if sold and not (reader.has("total_price") or reader.has("price_each")):
        reader.fault("total_price", "Say what was paid for it; 0 is an answer too.")
    if not sold and (reader.has("total_price") or reader.has("price_each")):
        reader.fault("total_price", "Only what was sold has a price.")
    return reader.faults() or replace(draft, item="" if numbered else draft.item)


LEAVING_COLUMNS: Final = in_order(columns_of(StockOutDraft), "reason", "item", "item_id", "lot_id", "place")
"""The columns of a CSV file of what left; their names are the fields that `read_stock_out` reads."""
