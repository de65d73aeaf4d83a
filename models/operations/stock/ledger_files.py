"""Files of receipts, counts and leavings: their rows booked one after the other, wrong ones told by their place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from sqlmodel import Session

from models.intake.faults import Faults
from models.intake.stock.count import read_count
from models.intake.stock.receipt import ReceiptRow, gather_receipts, read_receipt_row
from models.intake.stock.stock_out import read_stock_out
from models.operations.shop.import_rows import Cells, Wrong, each_row, within
from models.operations.stock.count import count_bag
from models.operations.stock.lot_state import valuation
from models.operations.stock.receipt import receive_lots
from models.operations.stock.stock_out import remove_stock
from models.queries.shop.gathering import gathering_in
from models.queries.stock.lot import hold_lots
from models.queries.stock.measured import names_of_items
from models.tables import Item, Lot

MOST_DIGITS = 19
"""A number that is longer is that of no row of any database."""


def revaluations_of_receipts(session: Session, rows: Sequence[Cells]) -> int:
    """Return how often receiving the rows would value lots anew; each receipt of an item adds one more of its lots."""
    return sum(lines * (lots + lines // 2) for lines, lots in _pooled(session, rows))


def revaluations_of_bags(session: Session, rows: Sequence[Cells]) -> int:
    """Return how often counting bags or taking stock out would value lots anew.

    Most of it leaves the other lots as they are, which takes about a quarter of the work.
    """
    return sum(lines * lots for lines, lots in _pooled(session, rows)) // 4


def _pooled(session: Session, rows: Sequence[Cells]) -> list[tuple[int, int]]:
    """By item how many rows are of it, and how many lots it has that hold anything; nothing for lots valued apart."""
    gathering = gathering_in(session)
    if gathering is None or valuation(session) != "average":
        return []
    _hold_what_is_named(session, rows)
    named = names_of_items(session, {cells.get("item", "").strip() for cells in rows})
    lots = gathering.held(Lot)
    lines: Counter[int] = Counter()
    for cells in rows:
        typed, lot_id = _number(cells, "item_id"), _number(cells, "lot_id")
        if lot_id is not None and lot_id in lots:
            lines[lots[lot_id].item_id] += 1
        elif typed is not None:
            lines[typed] += 1
        else:
            lines.update(named.get(cells.get("item", "").strip().casefold(), ())[:1])
    holding = Counter(lot.item_id for lot in lots.values() if lot.quantity_milli > 0)
    return [(number, holding[item_id]) for item_id, number in lines.items()]


def take_receipts(session: Session, rows: Sequence[Cells], _context: object) -> tuple[int, Wrong]:
    """Receive the rows, those with one word in `receipt` as one; answer how many receipts, and what is wrong."""
    _hold_what_is_named(session, rows)
    groups: dict[str, list[int]] = {}
    for place, cells in enumerate(rows):
        word = cells.get("receipt", "").strip().casefold()
        groups.setdefault(word or f"\n{place}", []).append(place)
    wrong: Wrong = {}
    good = 0
    for places in groups.values():
        read = {place: read_receipt_row(rows[place]) for place in places}
        unread = {place: row.items for place, row in read.items() if isinstance(row, Faults)}
        wrong |= unread
        if unread:
            continue
        lines = [row for row in read.values() if isinstance(row, ReceiptRow)]
        faults = within(session, partial(_receive, session, lines))
        good += 0 if faults else 1
        for fault in faults or ():
            place, field = _place_of(fault.field, places)
            wrong[place] = (*wrong.get(place, ()), replace(fault, field=field))
    return good, wrong


def take_counts(session: Session, rows: Sequence[Cells], _context: object) -> tuple[int, Wrong]:
    """Book the counts; answer how many, and what is wrong."""
    _hold_what_is_named(session, rows)

    def add(cells: Cells) -> Faults | None:
        draft = read_count(cells)
        if isinstance(draft, Faults):
            return draft
        count_bag(session, draft)
        return None

    return each_row(session, rows, add)


def take_stock_outs(session: Session, rows: Sequence[Cells], _context: object) -> tuple[int, Wrong]:
    """Book what left; answer how many rows, and what is wrong."""
    _hold_what_is_named(session, rows)

    def add(cells: Cells) -> Faults | None:
        draft = read_stock_out(cells)
        if isinstance(draft, Faults):
            return draft
        remove_stock(session, draft)
        return None

    return each_row(session, rows, add)


def _hold_what_is_named(session: Session, rows: Sequence[Cells]) -> None:
    """Read at once the lots that the rows of a file may come to: of the items named, and of scrap."""
    gathering = gathering_in(session)
    if gathering is None:
        return
    named = names_of_items(session, {cells.get("item", "").strip() for cells in rows})
    items = {item_id for ids in named.values() for item_id in ids} | _numbers(rows, "item_id")
    items |= {item_id for item_id, item in gathering.held(Item).items() if item.kind == "scrap"}
    hold_lots(gathering, items, _numbers(rows, "lot_id"))


def _numbers(rows: Sequence[Cells], column: str) -> set[int]:
    return {number for cells in rows if (number := _number(cells, column)) is not None}


def _number(cells: Cells, column: str) -> int | None:
    typed = cells.get(column, "").strip()
    return int(typed) if typed.isascii() and typed.isdigit() and len(typed) < MOST_DIGITS else None


def _receive(session: Session, rows: Sequence[ReceiptRow]) -> Faults | None:
    drafts = gather_receipts(rows)
    if isinstance(drafts, Faults):
        return drafts
    for draft in drafts:
        receive_lots(session, draft)
    return None


def _place_of(field: str, places: Sequence[int]) -> tuple[int, str]:
    """The row that a fault belongs to: 'lines.2.quantity' is the third of its receipt; anything else the first."""
    group, _, rest = field.partition(".")
    number, _, column = rest.partition(".")
    if group in {"lines", "rows"} and number.isdigit() and int(number) < len(places):
        return places[int(number)], column
    return places[0], field
