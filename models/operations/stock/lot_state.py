"""The lots, bags and balances that one act touches, read at once, changed in memory, and written back at the end.

Only the ledger uses it. Nothing reaches the database before `settle`, so an act that is refused leaves no trace.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import cast

from sqlmodel import Session, col, or_, select

from models.errors import Missing, NotEnoughStock
from models.operations.stock.reservation import Hold, Reservations
from models.queries.shop.gathering import Gathering, gathering_in
from models.queries.shop.shop import SHOP_ID
from models.queries.stock.item_words import item_words
from models.queries.stock.lot import held_bags, held_lots
from models.queries.stock.material import ItemWords
from models.tables import CostCorrection, ItemBalance, Lot, LotPlace, Movement, Shop
from models.trade import lots as trade


@dataclass(slots=True)
class _Bag:
    """What lies in one place of one lot, and how much of it is reserved, in thousandths."""

    quantity_milli: int = 0
    reserved_milli: int = 0


class LotState:
    """What one act works on: the lots named, with all others of their items where the valuation pools them."""

    def __init__(self, session: Session, lot_ids: Collection[int]) -> None:
        """Read what the lots named need. Raises: Missing."""
        self.session = session
        self.method = valuation(session)
        self._rows = self._lot_rows(set(lot_ids))
        self._pools: dict[int, dict[int, trade.Lot]] = {}
        for row in sorted(self._rows.values(), key=lambda row: (row.received_on, row.id or 0)):
            self._pools.setdefault(row.item_id, {})[row.id or 0] = trade.Lot(
                row.id or 0, row.received_on, row.quantity_milli, row.value_micros
            )
        self._bag_rows = {(bag.lot_id, bag.place): bag for bag in _bags_of(session, set(lot_ids))}
        self._bags = {key: _Bag(bag.quantity_milli, bag.reserved_milli) for key, bag in self._bag_rows.items()}
        self._balances = {balance.item_id: balance for balance in _balances_of(session, self._pools)}
        self._words = item_words(session, self._pools)
        self._on_hand = {
            item_id: self._balances[item_id].on_hand_milli if item_id in self._balances else 0
            for item_id in self._pools
        }
        self._reserved = dict.fromkeys(self._pools, 0)
        self._shifts: dict[int, int] = {}
        self._reservations = Reservations(session)

    def _lot_rows(self, lot_ids: set[int]) -> dict[int, Lot]:
        if (gathering := gathering_in(self.session)) is not None:
            return self._held_rows(gathering, lot_ids)
        named = {row.id or 0: row for row in self.session.exec(select(Lot).where(col(Lot.id).in_(lot_ids)))}
        for lot_id in lot_ids - named.keys():
            raise Missing("lot", lot_id)
        if self.method == "fifo":
            return named
        # The average is that of all lots of an item which hold anything; a lot whose cost was corrected stands for its
        # receipt even when it is empty.
        item_ids = {row.item_id for row in named.values()}
        corrected = select(col(CostCorrection.lot_id))
        pooled = select(Lot).where(
            col(Lot.item_id).in_(item_ids),
            or_(col(Lot.quantity_milli) > 0, col(Lot.id).in_(lot_ids), col(Lot.id).in_(corrected)),
        )
        return {row.id or 0: row for row in self.session.exec(pooled)}

    def _held_rows(self, gathering: Gathering, lot_ids: set[int]) -> dict[int, Lot]:
        held = gathering.held(Lot)
        named = {lot_id: held[lot_id] for lot_id in lot_ids if lot_id in held}
        for lot_id in lot_ids - named.keys():
            raise Missing("lot", lot_id)
        if self.method == "fifo":
            return named
        pools = (held_lots(gathering, item_id) for item_id in {row.item_id for row in named.values()})
        return {lot.id or 0: lot for pool in pools for lot in pool if lot.quantity_milli > 0 or lot.id in lot_ids}

    # --- questions ---

    def item_of(self, lot_id: int) -> int:
        """The item that a lot is of."""
        return self._rows[lot_id].item_id

    def must_be_whole(self, lot_id: int, quantity_milli: int) -> None:
        """Refuse a fraction of what is counted one by one. Raises: ValueError."""
        if quantity_milli % 1000 and self._item(lot_id).unit == "piece":
            raise ValueError("what is counted one by one moves in whole pieces")

    def count_on(self, lot_id: int, quantity_milli: int) -> int:
        """Count a movement and answer what the item has on hand after it."""
        self._on_hand[self.item_of(lot_id)] += quantity_milli
        return self._on_hand[self.item_of(lot_id)]

    # --- bags ---

    def move(self, lot_id: int, place: str, quantity_milli: int) -> None:
        """Put something into a bag, or take it out if it is free. Raises: NotEnoughStock."""
        bag = self._bags.setdefault((lot_id, place), _Bag())
        if bag.quantity_milli + min(quantity_milli, 0) < bag.reserved_milli:
            raise self._short(lot_id, place, -quantity_milli)
        bag.quantity_milli += quantity_milli

    def hold(self, hold: Hold) -> None:
        """Reserve something in a bag. Raises: NotEnoughStock."""
        if hold.quantity_milli < 0:
            raise ValueError("what is reserved is above zero")
        bag = self._bags.setdefault((hold.lot_id, hold.place), _Bag())
        if bag.reserved_milli + hold.quantity_milli > bag.quantity_milli:
            raise self._short(hold.lot_id, hold.place, hold.quantity_milli)
        self._reservations.add(hold)
        self._reserve(hold.lot_id, bag, hold.quantity_milli)

    def release(self, hold: Hold) -> None:
        """Give up what is reserved in a bag. Raises: ValueError for more than is reserved for its holder."""
        self._reservations.take_away(hold)
        bag = self._bags.get((hold.lot_id, hold.place))
        if bag is not None:
            self._reserve(hold.lot_id, bag, -hold.quantity_milli)

    def _reserve(self, lot_id: int, bag: _Bag, quantity_milli: int) -> None:
        bag.reserved_milli += quantity_milli
        self._reserved[self.item_of(lot_id)] += quantity_milli

    # --- lots and their values ---

    def take(self, lot_id: int, quantity_milli: int) -> int:
        """Take something out of a lot, and answer its cost in millionths."""
        pool = self._pool(lot_id)
        picks = [trade.Pick(lot_id, quantity_milli)]
        booking = trade.take(tuple(pool.values()), quantity_milli, self.method, picks=picks)
        self._book(pool, booking)
        return booking.cost_micros

    def put_in(self, lot_id: int, quantity_milli: int, value_micros: int) -> None:
        """Put something of a known value into a lot."""
        pool = self._pool(lot_id)
        self._book(pool, trade.put_in(tuple(pool.values()), lot_id, quantity_milli, value_micros, self.method))

    def shift(self, micros_by_lot: Mapping[int, int]) -> None:
        """Move value between the lots of an item; all of it stays. Raises: ValueError where it does not."""
        left: dict[int, int] = {}
        for lot_id, micros in micros_by_lot.items():
            pool = self._pool(lot_id)
            lot = pool[lot_id]
            pool[lot_id] = trade.Lot(lot.id, lot.received_on, lot.quantity_milli, lot.value_micros + micros)
            left[self.item_of(lot_id)] = left.get(self.item_of(lot_id), 0) + micros
        if any(left.values()):
            raise ValueError("shifting value between lots neither makes nor loses any")

    def correct(self, micros_by_lot: Mapping[int, int]) -> None:
        """Let lots, or the pools that they are part of, be worth more or less. Raises: CannotReverse."""
        for pool in self._pools.values():
            changes = {lot_id: micros for lot_id, micros in micros_by_lot.items() if lot_id in pool and micros}
            if changes:
                self._book(pool, trade.revalue(tuple(pool.values()), changes, self.method))

    def put_back(self, rows: Sequence[Movement], corrects: Mapping[int, int] | None = None) -> None:
        """Take earlier movements back, in bags and lots alike; `corrects` are lots that are worth more by it.

        Raises: NotEnoughStock, CannotReverse.
        """
        back: dict[tuple[int, str], int] = {}
        for row in rows:
            key = (row.lot_id, row.place)
            back[key] = back.get(key, 0) - row.quantity_milli
        for (lot_id, place), milli in back.items():
            if milli:
                self.move(lot_id, place, milli)
        for pool in self._pools.values():
            changes = [
                trade.Change(row.lot_id, row.quantity_milli, row.value_micros)
                for row in rows
                if row.lot_id in pool and row.kind not in {"transfer", "revalue"}
            ]
            changes += [
                trade.Change(lot_id, 0, -micros) for lot_id, micros in (corrects or {}).items() if lot_id in pool
            ]
            shifts = [
                trade.Change(row.lot_id, 0, row.value_micros)
                for row in rows
                if row.lot_id in pool and row.kind == "revalue"
            ]
            earlier = trade.Booking(tuple(changes), tuple(shifts), ())
            self._book(pool, trade.reverse(tuple(pool.values()), earlier, self.method))

    def take_shifts(self) -> dict[int, int]:
        """The value that came to lie elsewhere by the pooling so far, by lot, without those that came to nothing."""
        shifts = {lot_id: micros for lot_id, micros in self._shifts.items() if micros}
        self._shifts = {}
        return shifts

    def _book(self, pool: dict[int, trade.Lot], booking: trade.Booking) -> None:
        pool.update({lot.id: lot for lot in booking.lots})
        for shift in booking.shifts:
            self._shifts[shift.lot_id] = self._shifts.get(shift.lot_id, 0) + shift.value_micros

    def _pool(self, lot_id: int) -> dict[int, trade.Lot]:
        return self._pools[self.item_of(lot_id)]

    # --- writing ---

    def settle(self, done_on: date | None = None, moved: Iterable[int] = ()) -> None:
        """Write lots, bags, balances and reservations.

        `moved` are the items of which something came in or was used on that day.
        """
        for item_id, pool in self._pools.items():
            balance = self._balances.get(item_id) or ItemBalance(item_id=item_id)
            for lot_id, lot in pool.items():
                row = self._rows[lot_id]
                if (row.quantity_milli, row.value_micros) == (lot.quantity_milli, lot.value_micros):
                    continue
                balance.value_micros += lot.value_micros - row.value_micros
                row.quantity_milli, row.value_micros = lot.quantity_milli, lot.value_micros
            balance.on_hand_milli = self._on_hand[item_id]
            balance.reserved_milli += self._reserved[item_id]
            if item_id in moved and done_on is not None:
                balance.last_moved_on = max(balance.last_moved_on or done_on, done_on)
            self.session.add(balance)
        for (lot_id, place), bag in self._bags.items():
            kept = self._bag_rows.get((lot_id, place)) or LotPlace(lot_id=lot_id, place=place)
            kept.quantity_milli, kept.reserved_milli = bag.quantity_milli, bag.reserved_milli
            self.session.add(kept)
        self._reservations.settle()

    def _item(self, lot_id: int) -> ItemWords:
        return self._words[self.item_of(lot_id)]

    def _short(self, lot_id: int, place: str, needed_milli: int) -> NotEnoughStock:
        item, bag = self._item(lot_id), self._bags[(lot_id, place)]
        return NotEnoughStock(
            needed_milli=needed_milli,
            available_milli=bag.quantity_milli - bag.reserved_milli,
            item=item.name,
            item_id=self.item_of(lot_id),
            unit=item.unit_words,
            lot_id=lot_id,
            place=place,
            reserved_milli=bag.reserved_milli,
        )


def valuation(session: Session) -> trade.Method:
    """How the shop values what leaves."""
    shop = session.get(Shop, SHOP_ID)
    return cast(trade.Method, shop.valuation if shop else "fifo")


def _bags_of(session: Session, lot_ids: Collection[int]) -> Iterable[LotPlace]:
    if (gathering := gathering_in(session)) is not None:
        return [bag for lot_id in lot_ids for bag in held_bags(gathering, lot_id)]
    return session.exec(select(LotPlace).where(col(LotPlace.lot_id).in_(lot_ids)))


def _balances_of(session: Session, item_ids: Collection[int]) -> Iterable[ItemBalance]:
    if (gathering := gathering_in(session)) is not None:
        held = gathering.held(ItemBalance)
        return [held[item_id] for item_id in item_ids if item_id in held]
    return session.exec(select(ItemBalance).where(col(ItemBalance.item_id).in_(item_ids)))
