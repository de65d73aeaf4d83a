"""Fills the invented studio's drawers by the operations of every day, day by day: received, counted, lost, built.

Each act is dated back to its day, as if somebody had booked it then, so that histories and graphs have something to
show. Only a demo does that: a real shop's acts keep the moment of their booking.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import partial
from typing import TypeVar

from sqlmodel import Session, col, select

from models.intake.faults import Faults
from models.intake.stock.count import CountDraft, read_count
from models.intake.stock.levels import LevelsDraft, read_levels
from models.intake.stock.receipt import ReceiptDraft, read_receipt
from models.intake.stock.stand_in import StandInDraft
from models.intake.stock.stock_out import StockOutDraft, read_stock_out
from models.operations.demo.builds import leave_under_way, made_acts
from models.operations.demo.buying import buy
from models.operations.demo.shelf import CHANGING, COUNTS, DELIVERIES, GONE, LEVELS, STAND_INS, Delivery, Found, Gone
from models.operations.shop.clock import today
from models.operations.stock.count import count_bag
from models.operations.stock.levels import set_levels
from models.operations.stock.receipt import receive_lots
from models.operations.stock.stand_in import declare_stand_in
from models.operations.stock.stock_out import remove_stock
from models.queries.stock.item import load_materials
from models.tables import Lot, StockTransaction
from models.trade.money import millionth

T = TypeVar("T")
_MORNING = time(9, 0, tzinfo=UTC)


def fill_drawers(session: Session, items: Mapping[str, int], time_zone: str) -> None:
    """Book the invented studio's stock; `items` are the numbers of its items by their keys."""
    now = today(time_zone)
    acts: list[tuple[int, Callable[[date], int]]] = [
        *((each.days, partial(_receive, session, items, each)) for each in DELIVERIES),
        *((each.days, partial(_count, session, items, each)) for each in COUNTS),
        *((each.days, partial(_leave, session, items, each)) for each in GONE),
        *made_acts(session),
    ]
    for place, (days, act) in enumerate(sorted(acts, key=lambda each: -each[0])):
        day = now - timedelta(days=days)
        _date_back(session, act(day), day, place)
    _levels(session, items)
    buy(session, items, now, lambda act_id, day: _date_back(session, act_id, day, len(acts)))
    for key, other, both_ways in STAND_INS:
        declare_stand_in(session, items[key], StandInDraft(items[other], both_ways))
    leave_under_way(session, now)


def _receive(session: Session, items: Mapping[str, int], delivery: Delivery, day: date) -> int:
    raw = {
        "supplier": delivery.supplier,
        "freight": delivery.freight,
        "received_on": day.isoformat(),
        "lines": [
            {"item_id": items[bag.item], "quantity": bag.much, "place": bag.place, "batch": bag.batch}
            for bag in delivery.bags
        ],
    }
    draft = _read(ReceiptDraft, read_receipt(raw), raw)
    priced = _paid(session, draft, Decimal(delivery.paid))
    return receive_lots(session, priced).act_id


def _paid(session: Session, draft: ReceiptDraft, share: Decimal) -> ReceiptDraft:
    """The same receipt with what was paid: a share of what the offer asks today for each unit."""
    known = load_materials(session, {line.item_id or 0 for line in draft.lines})
    lines = []
    for line in draft.lines:
        cost = known[line.item_id or 0].unit_cost
        if cost is None:
            raise ValueError(f"no cost of {known[line.item_id or 0].name}")
        lines.append(replace(line, unit_cost=millionth(cost.amount * share)))
    return replace(draft, lines=tuple(lines))


def _count(session: Session, items: Mapping[str, int], found: Found, day: date) -> int:
    lots = select(Lot.id).where(Lot.item_id == items[found.item], Lot.batch == found.batch).order_by(col(Lot.id))
    raw = {
        "lot_id": session.exec(lots).first() or 0,
        "place": found.place,
        "found": found.found,
        "counted_on": day.isoformat(),
    }
    return count_bag(session, _read(CountDraft, read_count(raw), raw)).act_id


def _leave(session: Session, items: Mapping[str, int], gone: Gone, day: date) -> int:
    raw = {
        "item_id": items[gone.item],
        "quantity": gone.much,
        "reason": gone.reason,
        "note": gone.note,
        "total_price": gone.price,
        "left_on": day.isoformat(),
    }
    return remove_stock(session, _read(StockOutDraft, read_stock_out(raw), raw)).act_id


def _levels(session: Session, items: Mapping[str, int]) -> None:
    for key, item_id in items.items():
        reorder, target = LEVELS.get(key, ("", ""))
        differs = key.endswith(CHANGING) and "rubber" not in key
        if reorder or differs:
            raw = {"reorder": reorder, "target": target, "batch_colour": differs}
            set_levels(session, item_id, _read(LevelsDraft, read_levels(raw), raw))


def _date_back(session: Session, act_id: int, day: date, place: int) -> None:
    moment = datetime.combine(day, _MORNING) + timedelta(minutes=place)
    session.get_one(StockTransaction, act_id).at = moment
    for lot in session.exec(select(Lot).where(Lot.received_on == day)):
        lot.created_at = moment
    session.flush()


def _read(_kind: type[T], read: T | Faults, raw: object) -> T:
    if isinstance(read, Faults):
        raise ValueError(f"{raw}: {read.by_field()}")
    return read
