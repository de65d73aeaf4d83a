"""Files of offers: each row is one supplier's price of one item's pack, wrong ones told by their place."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session

from models.errors import Unfit
from models.intake.faults import Faults
from models.intake.stock.offer import OfferRow, read_offer_row
from models.operations.shop.import_rows import Cells, Wrong, each_row
from models.operations.stock.offer import add_offer
from models.queries.stock.measured import names_of_items
from models.tables import Item


def take_offers(session: Session, rows: Sequence[Cells], currency: str) -> tuple[int, Wrong]:
    """Take the offers down one after the other; answer how many, and what is wrong with which row."""

    def add(cells: Cells) -> Faults | None:
        row = read_offer_row(cells, currency=currency)
        if isinstance(row, Faults):
            return row
        add_offer(session, item_meant(session, row), row.offer)
        return None

    return each_row(session, rows, add)


def item_meant(session: Session, row: OfferRow) -> int:
    """The item that a row names. Raises: Unfit where there is none, or where several have this name."""
    if row.item_id is not None:
        if session.get(Item, row.item_id) is None:
            raise Unfit(Faults.of("item_id", f"There is no stock item {row.item_id}."))
        return row.item_id
    found = names_of_items(session, {row.item})[row.item.casefold()]
    if not found:
        raise Unfit(Faults.of("item", f"There is no stock item called “{row.item}”. Put it in stock first."))
    if len(found) > 1:
        shown = ", ".join(str(number) for number in found)
        words = f"Several stock items are called “{row.item}”. Say which by its number: {shown}."
        raise Unfit(Faults.of("item_id", words))
    return found[0]
