"""A grown shop written at once: many items, lots and movements whose balances are consistent, for benchmarks.

The busiest item has a tenth of all movements. Everything follows from the seed. Rows are written straight into the
tables, in the way that the ledger would have: `check_ledger` finds nothing to say about them.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from itertools import chain
from typing import Any

from sqlalchemy import insert, update
from sqlmodel import Session

from models.tables import Item, ItemBalance, Lot, LotPlace
from models.trade.lots import share

FIRST_DAY = date(2024, 1, 1)
DAYS = 700
METALS = ("bronze-c220", "copper", "brass-c260", "sterling-925", "aluminium-5356", "titanium")
_BATCH = 20_000
_ACT_OF = {"receipt": "receive", "issue": "take_out", "scrap": "scrap", "sale": "sell", "count": "count"}


@dataclass(slots=True)
class _Lot:
    """A lot as it grows: thousandths and millionths, all in one bag."""

    id: int
    item_id: int
    place: str
    day: date
    milli: int = 0
    micros: int = 0
    received_milli: int = 0
    received_micros: int = 0


@dataclass(slots=True)
class _Shop:
    """Everything that is to be written, and the balances so far."""

    lots: list[_Lot]
    on_hand: dict[int, int] = field(default_factory=dict)
    moved_on: dict[int, date] = field(default_factory=dict)
    acts: list[tuple[Any, ...]] = field(default_factory=list)
    movements: list[tuple[Any, ...]] = field(default_factory=list)
    counts: list[tuple[Any, ...]] = field(default_factory=list)


def grow_shop(session: Session, *, movements: int, items: int = 500, lots: int = 2_000, seed: int = 20_240_101) -> int:
    """Write items, lots and movements into an empty founded shop; answer the busiest item's id.

    Every lot is received first; then rings are taken out, sold, lost and at times counted, as the seed has it.
    """
    if movements < lots:
        raise ValueError("every lot comes in by a movement")
    chance = random.Random(seed)
    session.execute(insert(Item), [_item(number, chance) for number in range(1, items + 1)])
    # The busiest item has a tenth of all movements, so it needs a tenth of the lots too.
    busy = lots // 10
    owners = [1] * busy + [2 + number % (items - 1) for number in range(lots - busy)]
    shop = _Shop(
        [
            _Lot(number, owner, f"drawer {'ABCDEFGH'[number % 8]}{number % 40}", _day(chance, number, lots))
            for number, owner in enumerate(owners, 1)
        ]
    )
    steps = chain(_receipts(shop), _uses(shop, chance, movements - lots))
    session.execute(insert(Lot), [_lot_row(lot) for lot in shop.lots])
    for number, step in enumerate(steps, 1):
        _book(shop, number, step)
        if len(shop.movements) >= _BATCH:
            _write(session, shop)
    _write(session, shop)
    _write_balances(session, shop)
    return 1


_Step = tuple[str, _Lot, int, int, date]


def _receipts(shop: _Shop) -> Iterator[_Step]:
    """Every lot comes in with rings enough for all that will be taken."""
    for lot in shop.lots:
        lot.received_milli, lot.received_micros = 1_000_000_000, 35_000_000_000 + lot.id
        yield "receipt", lot, lot.received_milli, lot.received_micros, lot.day


def _uses(shop: _Shop, chance: random.Random, number: int) -> Iterator[_Step]:
    busy = [lot for lot in shop.lots if lot.item_id == 1]
    others = [lot for lot in shop.lots if lot.item_id != 1]
    last = max(lot.day for lot in shop.lots)
    for step in range(number):
        lot = chance.choice(busy if step % 10 == 0 else others)
        kind = chance.choices(("issue", "scrap", "sale", "count"), (80, 8, 4, 8))[0]
        rings = chance.randint(1, 90) * 1000
        yield kind, lot, -rings, 0, last + timedelta(days=step * 60 // max(number, 1))


def _book(shop: _Shop, number: int, step: _Step) -> None:
    """Write one movement in an act of its own; what leaves takes its share of the lot."""
    kind, lot, milli, micros, day = step
    if milli < 0:
        micros = -share(lot.micros, -milli, lot.milli)
    if kind == "count":
        shop.counts.append((number, lot.id, lot.place, lot.milli, lot.milli + milli))
    else:
        shop.moved_on[lot.item_id] = max(shop.moved_on.get(lot.item_id, day), day)
    lot.milli += milli
    lot.micros += micros
    shop.on_hand[lot.item_id] = shop.on_hand.get(lot.item_id, 0) + milli
    at = datetime(day.year, day.month, day.day, 9) + timedelta(milliseconds=number)  # noqa: DTZ001  (UTC, as it is kept)
    shop.acts.append((number, _ACT_OF[kind], f"{at:%Y-%m-%d %H:%M:%S.%f}", day.isoformat(), f"Entry {number}."))
    shop.movements.append(
        (
            number, number, lot.item_id, lot.id, lot.place, kind, milli, micros, shop.on_hand[lot.item_id],
            10_000 if kind == "sale" else None, "lost" if kind == "scrap" else "",
        )
    )  # fmt: skip


def _write(session: Session, shop: _Shop) -> None:
    """Write what has gathered, straight through the driver: the program's own types would take most of the time."""
    raw = session.connection().exec_driver_sql
    if shop.acts:
        raw("INSERT INTO act (id, kind, at, done_on, words) VALUES (?, ?, ?, ?, ?)", shop.acts)
        raw(
            "INSERT INTO movement (id, act_id, item_id, lot_id, place, kind, quantity_milli, value_micros, after_milli, "
            "price_micros, reason, labour_micros) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, 0)",
            shop.movements,
        )
    if shop.counts:
        raw(
            "INSERT INTO bag_count (act_id, lot_id, place, expected_milli, found_milli, rough, rough_before) "
            "VALUES (?, ?, ?, ?, ?, '', '')",
            shop.counts,
        )
    shop.acts, shop.movements, shop.counts = [], [], []


def _lot_row(lot: _Lot) -> dict[str, Any]:
    return {
        "id": lot.id,
        "item_id": lot.item_id,
        "received_on": lot.day,
        "batch": f"batch {lot.id % 17}",
        "quantity_milli": 0,
        "value_micros": 0,
        "received_milli": lot.received_milli,
        "received_micros": lot.received_micros,
        "created_at": datetime(2024, 1, 1, tzinfo=UTC),
    }


def _write_balances(session: Session, shop: _Shop) -> None:
    session.execute(
        update(Lot),
        [{"id": lot.id, "quantity_milli": lot.milli, "value_micros": lot.micros} for lot in shop.lots],
    )
    session.execute(
        insert(LotPlace),
        [
            {"lot_id": lot.id, "place": lot.place, "quantity_milli": lot.milli, "counted_on": lot.day}
            for lot in shop.lots
        ],
    )
    worth: dict[int, int] = {}
    for lot in shop.lots:
        worth[lot.item_id] = worth.get(lot.item_id, 0) + lot.micros
    session.execute(
        insert(ItemBalance),
        [
            {
                "item_id": item_id,
                "on_hand_milli": milli,
                "value_micros": worth[item_id],
                "last_moved_on": shop.moved_on[item_id],
            }
            for item_id, milli in shop.on_hand.items()
        ],
    )
    session.flush()


def _item(number: int, chance: random.Random) -> dict[str, Any]:
    wire = chance.choice((800_000, 1_000_000, 1_200_000, 1_600_000))
    return {
        "id": number,
        "kind": "ring",
        "name": f"Ring {number}",
        "metal": chance.choice(METALS),
        "wire_nm": wire,
        "inner_nm": wire * 3 + number * 10_000,
        "reorder_milli": chance.choice((None, 200_000, 2_000_000_000)),
        "created_at": datetime(2024, 1, 1, tzinfo=UTC),
    }


def _day(chance: random.Random, number: int, lots: int) -> date:
    return FIRST_DAY + timedelta(days=number * DAYS // lots)
