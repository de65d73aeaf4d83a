"""Proving the ledger: every movement is played again from the first, and the first row that breaks a rule is named.

The rules are those of the ledger: balances equal the sum of movements, nothing below zero at any time, no value made or
lost, a reversal is the exact opposite. What else of the shop is checked stands in `check`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlmodel import Session, col

from models.operations.shop.breach import Breach
from models.operations.stock.check_acts import act_breaches
from models.operations.stock.check_corrections import correction_breaches
from models.operations.stock.ledger import MOVING_KINDS
from models.queries.stock.conservation import conservation
from models.queries.stock.lot import BagKey
from models.tables import BagCount, Item, ItemBalance, Lot, LotPlace, Movement, Reservation, StockTransaction
from models.trade.vocabulary.ledger import COMING, LEAVING, VALUE_ONLY

_BATCH = 5_000


def check_ledger(session: Session) -> tuple[Breach, ...]:
    """The first row that breaks each rule of the ledger; empty when all of them hold."""
    first: dict[str, Breach] = {}
    for breach in _breaches(session):
        first.setdefault(breach.rule, breach)
    return tuple(first.values())


def _breaches(session: Session) -> Iterator[Breach]:
    replay = _Replay(session)
    yield from replay.play(session)
    yield from _lots(replay)
    yield from _bags(session, replay)
    yield from _balances(session, replay)
    yield from _counts(session, replay)
    yield from _reserved(session)
    yield from act_breaches(session)
    yield from correction_breaches(session)
    sums = conservation(session)
    if not sums.holds:
        parts = ", ".join(f"{words} {micros}" for words, micros in sums.lines())
        yield Breach("value is conserved", "movement", "all", f"What came in is not what is there and left: {parts}.")


@dataclass(slots=True)
class _Touched:
    """What one act touched, and what must come to nothing within it."""

    lots: set[int] = field(default_factory=set)
    bags: set[BagKey] = field(default_factory=set)
    moved: dict[int, int] = field(default_factory=dict)
    shifted: dict[int, int] = field(default_factory=dict)
    last_id: int = 0


class _Replay:
    """The ledger played again: what every lot, bag and item holds after each movement."""

    def __init__(self, session: Session) -> None:
        self.acts = {
            row.id: row.done_on
            for row in session.execute(select(col(StockTransaction.id), col(StockTransaction.done_on)))
        }
        self.lots = {
            row.id: row for row in session.execute(select(col(Lot.id), col(Lot.item_id), col(Lot.quantity_milli),
                                                          col(Lot.value_micros)))
        }  # fmt: skip
        self.units = {row.id: row.unit for row in session.execute(select(col(Item.id), col(Item.unit)))}
        self.in_lot: dict[int, int] = {}
        self.worth: dict[int, int] = {}
        self.in_bag: dict[BagKey, int] = {}
        self.on_hand: dict[int, int] = {}
        self.moved_on: dict[int, date] = {}
        self.counted: dict[tuple[int, BagKey], tuple[int, int]] = {}
        """By act and bag: what a count moved, and what lay in the bag after it."""

    def play(self, session: Session) -> Iterator[Breach]:
        """Play every movement in order; answer what is wrong with single rows and with acts as a whole."""
        rows = session.execute(
            select(
                col(Movement.id), col(Movement.act_id), col(Movement.item_id), col(Movement.lot_id),
                col(Movement.place), col(Movement.kind), col(Movement.quantity_milli), col(Movement.value_micros),
                col(Movement.after_milli),
            ).order_by(col(Movement.id))
        ).yield_per(_BATCH)  # fmt: skip
        act_id, touched = 0, _Touched()
        for row in rows:
            if row.act_id != act_id:
                yield from self._end(touched)
                act_id, touched = row.act_id, _Touched()
            yield from self._row(row)
            self._count(row, touched)
            if row.after_milli != self.on_hand[row.item_id]:
                yield Breach(
                    "a movement says what is on hand after it", "movement", row.id,
                    f"It says {row.after_milli} thousandths, and the movements up to it add up to "
                    f"{self.on_hand[row.item_id]}.",
                )  # fmt: skip
        yield from self._end(touched)

    def _row(self, row: Any) -> Iterator[Breach]:
        """What is wrong with a movement by itself."""
        if row.act_id not in self.acts:
            yield Breach("a movement belongs to an act", "movement", row.id, f"There is no act {row.act_id}.")
        lot = self.lots.get(row.lot_id)
        if lot is None:
            yield Breach("a movement belongs to a lot", "movement", row.id, f"There is no lot {row.lot_id}.")
        elif lot.item_id != row.item_id:
            words = f"It moves item {row.item_id}, and lot {row.lot_id} is of item {lot.item_id}."
            yield Breach("a movement belongs to a lot", "movement", row.id, words)
        if (row.kind in LEAVING and max(row.quantity_milli, row.value_micros) > 0) or (
            row.kind in COMING and min(row.quantity_milli, row.value_micros) < 0
        ):
            words = f"This {row.kind} moves {row.quantity_milli} thousandths worth {row.value_micros} millionths."
            yield Breach("stock goes the way that its movement says", "movement", row.id, words)
        if row.quantity_milli % 1000 and self.units.get(row.item_id) == "piece":
            words = f"It moves {row.quantity_milli} thousandths of what is counted one by one."
            yield Breach("what is counted moves in whole pieces", "movement", row.id, words)
        if (row.kind in VALUE_ONLY and row.quantity_milli) or (row.kind == "transfer" and row.value_micros):
            words = f"This {row.kind} moves {row.quantity_milli} thousandths worth {row.value_micros} millionths."
            yield Breach("moving a bag moves no value, and shifting value moves no stock", "movement", row.id, words)

    def _count(self, row: Any, touched: _Touched) -> None:
        milli, micros, bag = row.quantity_milli, row.value_micros, (row.lot_id, row.place)
        self.in_lot[row.lot_id] = self.in_lot.get(row.lot_id, 0) + milli
        self.worth[row.lot_id] = self.worth.get(row.lot_id, 0) + micros
        self.in_bag[bag] = self.in_bag.get(bag, 0) + milli
        self.on_hand[row.item_id] = self.on_hand.get(row.item_id, 0) + milli
        if row.kind in MOVING_KINDS and row.act_id in self.acts:
            day = self.acts[row.act_id]
            self.moved_on[row.item_id] = max(self.moved_on.get(row.item_id, day), day)
        touched.lots.add(row.lot_id)
        touched.bags.add(bag)
        touched.last_id = row.id
        if row.kind == "transfer":
            touched.moved[row.lot_id] = touched.moved.get(row.lot_id, 0) + milli
        elif row.kind == "count":
            self.counted[(row.act_id, bag)] = (milli, self.in_bag[bag])
        elif row.kind == "revalue":
            touched.shifted[row.item_id] = touched.shifted.get(row.item_id, 0) + micros

    def _end(self, touched: _Touched) -> Iterator[Breach]:
        """What is wrong after an act: something below zero, or something that should have come to nothing."""
        for lot_id in touched.lots:
            milli, micros = self.in_lot[lot_id], self.worth[lot_id]
            if milli < 0 or micros < 0 or (milli == 0 and micros):
                words = f"After it lot {lot_id} holds {milli} thousandths worth {micros} millionths."
                yield Breach("no lot is ever below zero", "movement", touched.last_id, words)
        for bag in touched.bags:
            if self.in_bag[bag] < 0:
                words = f"After it lot {bag[0]} holds {self.in_bag[bag]} thousandths in “{bag[1]}”."
                yield Breach("no bag is ever below zero", "movement", touched.last_id, words)
        for lot_id, milli in touched.moved.items():
            if milli:
                words = f"Of lot {lot_id} {milli} thousandths more came to a place than left another."
                yield Breach("what leaves one place comes to another", "movement", touched.last_id, words)
        for item_id, micros in touched.shifted.items():
            if micros:
                words = f"Between the lots of item {item_id} {micros} millionths were made."
                yield Breach("shifting value makes none", "movement", touched.last_id, words)


def _lots(replay: _Replay) -> Iterator[Breach]:
    for lot_id, lot in sorted(replay.lots.items()):
        if lot.item_id not in replay.units:
            yield Breach("a lot belongs to an item", "lot", lot_id, f"There is no item {lot.item_id}.")
        if lot.quantity_milli != replay.in_lot.get(lot_id, 0):
            words = (
                f"It says {lot.quantity_milli} thousandths, and its movements add up to {replay.in_lot.get(lot_id, 0)}."
            )
            yield Breach("a lot holds what its movements add up to", "lot", lot_id, words)
        if lot.value_micros != replay.worth.get(lot_id, 0):
            words = f"It says {lot.value_micros} millionths, and its movements add up to {replay.worth.get(lot_id, 0)}."
            yield Breach("a lot is worth what its movements add up to", "lot", lot_id, words)


def _bags(session: Session, replay: _Replay) -> Iterator[Breach]:
    rows = session.execute(
        select(
            col(LotPlace.id), col(LotPlace.lot_id), col(LotPlace.place), col(LotPlace.quantity_milli),
            col(LotPlace.reserved_milli),
        ).order_by(col(LotPlace.id))
    )  # fmt: skip
    rule = "a bag holds what its movements add up to"
    known = set()
    for row in rows:
        bag = (row.lot_id, row.place)
        known.add(bag)
        if row.quantity_milli != replay.in_bag.get(bag, 0):
            words = (
                f"It says {row.quantity_milli} thousandths, and its movements add up to {replay.in_bag.get(bag, 0)}."
            )
            yield Breach(rule, "lot_place", row.id, words)
        if not 0 <= row.reserved_milli <= row.quantity_milli:
            words = f"{row.reserved_milli} thousandths of it are reserved, and it holds {row.quantity_milli}."
            yield Breach("no more is reserved than is there", "lot_place", row.id, words)
    for (lot_id, place), milli in replay.in_bag.items():
        if milli and (lot_id, place) not in known:
            words = f"Its movements leave {milli} thousandths in “{place}”, where it has no bag."
            yield Breach(rule, "lot", lot_id, words)


def _balances(session: Session, replay: _Replay) -> Iterator[Breach]:
    held: dict[int, int] = {}
    worth: dict[int, int] = {}
    for lot in replay.lots.values():
        held[lot.item_id] = held.get(lot.item_id, 0) + lot.quantity_milli
        worth[lot.item_id] = worth.get(lot.item_id, 0) + lot.value_micros
    reserved: dict[int, int] = {}
    for item_id, milli in session.execute(
        select(col(Lot.item_id), col(LotPlace.reserved_milli)).join(Lot, col(Lot.id) == col(LotPlace.lot_id))
    ):
        reserved[item_id] = reserved.get(item_id, 0) + milli
    found = {
        row.item_id: row
        for row in session.execute(
            select(
                col(ItemBalance.item_id), col(ItemBalance.on_hand_milli), col(ItemBalance.value_micros),
                col(ItemBalance.reserved_milli), col(ItemBalance.last_moved_on),
            )
        )
    }  # fmt: skip
    for item_id in sorted({*held, *found}):
        says = found.get(item_id)
        row = (says.on_hand_milli, says.value_micros, says.reserved_milli) if says else (0, 0, 0)
        lots = (held.get(item_id, 0), worth.get(item_id, 0), reserved.get(item_id, 0))
        if row != lots:
            words = (
                f"It says {row[0]} thousandths on hand worth {row[1]} millionths, {row[2]} of them reserved; "
                f"its lots and bags add up to {lots[0]}, {lots[1]} and {lots[2]}."
            )
            yield Breach("an item's balance is that of its lots", "item_balance", item_id, words)
        said, moved = says.last_moved_on if says else None, replay.moved_on.get(item_id)
        if said != moved:
            words = f"It says that it moved last on {said}, and its movements say {moved}."
            yield Breach("an item's balance says when it moved last", "item_balance", item_id, words)


def _counts(session: Session, replay: _Replay) -> Iterator[Breach]:
    """What a count found over what was expected is what its movement moved, and what lay in the bag after it."""
    for row in session.execute(
        select(
            col(BagCount.id), col(BagCount.act_id), col(BagCount.lot_id), col(BagCount.place),
            col(BagCount.expected_milli), col(BagCount.found_milli),
        ).order_by(col(BagCount.id))
    ):  # fmt: skip
        moved, after = replay.counted.get((row.act_id, (row.lot_id, row.place)), (None, row.found_milli))
        if moved != row.found_milli - row.expected_milli:
            words = (
                f"It found {row.found_milli} thousandths where {row.expected_milli} were expected; booked was {moved}."
            )
            yield Breach("a count moves what it found over what was expected", "bag_count", row.id, words)
        if after != row.found_milli:
            words = f"It found {row.found_milli} thousandths in “{row.place}”, and {after} lay there after it."
            yield Breach("a count brings its bag to what was found", "bag_count", row.id, words)


def _reserved(session: Session) -> Iterator[Breach]:
    """The counter of each bag is the sum of its reservations."""
    kept: dict[BagKey, int] = {}
    for lot_id, place, milli in session.execute(
        select(col(Reservation.lot_id), col(Reservation.place), col(Reservation.quantity_milli))
    ):
        kept[(lot_id, place)] = kept.get((lot_id, place), 0) + milli
    rule = "what is reserved is the sum of its reservations"
    for row in session.execute(
        select(col(LotPlace.id), col(LotPlace.lot_id), col(LotPlace.place), col(LotPlace.reserved_milli)).order_by(
            col(LotPlace.id)
        )
    ):
        due = kept.pop((row.lot_id, row.place), 0)
        if row.reserved_milli != due:
            words = f"{row.reserved_milli} thousandths are reserved, and its reservations add up to {due}."
            yield Breach(rule, "lot_place", row.id, words)
    for (lot_id, place), milli in kept.items():
        words = f"{milli} thousandths of it are reserved in “{place}”, where it has no bag."
        yield Breach(rule, "lot", lot_id, words)
