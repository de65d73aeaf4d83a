"""Lots: which of them to take from, and the exact value of what leaves, comes back or is found.

Quantities are whole thousandths of the item's unit, values whole millionths of the currency; nothing here is a float.
Not here: rows, places and reasons of the ledger (operations), and what an order of new rings costs (costing).

Two ways of valuing, chosen once by the shop:
- 'fifo', first in first out: what leaves carries the value of the lot that it leaves. Lots are offered oldest first. A
  lot chosen for another reason (one dye lot for a whole piece) leaves at its own value.
- 'average', weighted average at each movement: all lots of the item are one pool, and what leaves carries the pool's
  average.
Source: IAS 2 Inventories, paragraphs 23 to 27 (from memory).

Conservation: an issue of n out of q takes the value x n / q rounded half to even, the last issue takes the remainder,
and a reversal puts back the exact value. So what came in equals what is there plus what left, to the last millionth.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Context, Decimal

from models.trade.vocabulary.ledger import VALUATIONS, Valuation

Method = Valuation
METHODS: tuple[Method, ...] = VALUATIONS.codes

# A lot may lie this far from its exact share of the pool before the pool is spread anew: a hundredth of a cent, so that
# the roundings of a thousand issues do not write a thousand corrections into the ledger.
_SLACK_MICROS = 100
_CONTEXT = Context(prec=28)


@dataclass(frozen=True, slots=True)
class Lot:
    """What is left of one lot: thousandths of the item's unit, and its whole value in millionths.

    `held_milli` is reserved for something else and may not be taken. `id` is the caller's name of the lot.
    Raises: ValueError for what no lot can be: below zero, more held than there, or a value without a quantity.
    """

    id: int
    received_on: date
    quantity_milli: int
    value_micros: int
    held_milli: int = 0

    def __post_init__(self) -> None:
        for number in (self.quantity_milli, self.value_micros, self.held_milli):
            if isinstance(number, bool) or not isinstance(number, int):
                raise TypeError("a lot's quantity and value are whole numbers")
            if number < 0:
                raise ValueError("a lot is never below zero")
        if self.held_milli > self.quantity_milli:
            raise ValueError("no more can be held of a lot than there is")
        if self.quantity_milli == 0 and self.value_micros:
            raise ValueError("an empty lot has no value")

    @property
    def free_milli(self) -> int:
        """Return what may be taken: all but what is held."""
        return self.quantity_milli - self.held_milli

    @property
    def unit_value(self) -> Decimal | None:
        """Return the value of one unit in the currency to 28 digits, for display; None for an empty lot."""
        if not self.quantity_milli:
            return None
        return _CONTEXT.divide(Decimal(self.value_micros), Decimal(1000 * self.quantity_milli))


@dataclass(frozen=True, slots=True)
class Pick:
    """How much to take from which lot, in thousandths."""

    lot_id: int
    quantity_milli: int


@dataclass(frozen=True, slots=True)
class Picked:
    """What to take, and whether one lot covers the whole."""

    picks: tuple[Pick, ...]
    one_lot: bool


@dataclass(frozen=True, slots=True)
class Change:
    """What one movement does to one lot; what leaves is below zero."""

    lot_id: int
    quantity_milli: int
    value_micros: int


@dataclass(frozen=True, slots=True)
class Booking:
    """The movements of one act and the lots after it.

    `shifts` move value between the lots of one pool, without a quantity; they add up to zero, and 'fifo' has none.
    """

    changes: tuple[Change, ...]
    shifts: tuple[Change, ...]
    lots: tuple[Lot, ...]

    @property
    def quantity_milli(self) -> int:
        """Return what came in; below zero for what left."""
        return sum(change.quantity_milli for change in self.changes)

    @property
    def value_micros(self) -> int:
        """Return the value that came in; below zero for what left."""
        return sum(change.value_micros for change in self.changes)

    @property
    def cost_micros(self) -> int:
        """Return the cost of what left."""
        return -self.value_micros


class NotEnough(Exception):
    """More was asked for than may be taken. Quantities in thousandths; `held_milli` is there but reserved."""

    def __init__(self, needed_milli: int, free_milli: int, held_milli: int, lot_ids: tuple[int, ...]) -> None:
        super().__init__(f"needed {needed_milli}, free {free_milli}, held {held_milli} (thousandths)")
        self.needed_milli = needed_milli
        self.free_milli = free_milli
        self.held_milli = held_milli
        self.lot_ids = lot_ids

    @property
    def missing_milli(self) -> int:
        """Return how much is short."""
        return self.needed_milli - self.free_milli


class CannotReverse(Exception):
    """A movement cannot be taken back, because later movements used what it brought in."""

    def __init__(self, lot_id: int, quantity_milli: int, value_micros: int) -> None:
        super().__init__(
            f"lot {lot_id} would be left with {quantity_milli} thousandths worth {value_micros} millionths"
        )
        self.lot_id = lot_id
        self.quantity_milli = quantity_milli
        self.value_micros = value_micros


class UnknownLot(LookupError):
    """A lot was named that is not among the item's lots."""

    def __init__(self, lot_id: int) -> None:
        super().__init__(f"no lot {lot_id} here")
        self.lot_id = lot_id


def half_even(number: int, divisor: int) -> int:
    """Return number / divisor as a whole number, rounded half to even; the divisor is above zero."""
    quotient, rest = divmod(number, divisor)
    if 2 * rest > divisor or (2 * rest == divisor and quotient % 2):
        return quotient + 1
    return quotient


def share(value_micros: int, part_milli: int, whole_milli: int) -> int:
    """Return the value of a part: value x part / whole rounded half to even; the whole takes all.

    Raises: ValueError unless 0 <= part <= whole.
    """
    if not 0 <= part_milli <= whole_milli:
        raise ValueError("a part is between nothing and the whole")
    return value_micros if part_milli == whole_milli else half_even(value_micros * part_milli, whole_milli)


def next_share(value_micros: int, whole_milli: int, before_milli: int, part_milli: int) -> int:
    """Return the value of the next part when `before_milli` already went, so that all parts add up exactly.

    For what comes back from an issue, or leaves a build, piece by piece.
    Raises: ValueError when the parts are more than the whole.
    """
    after = share(value_micros, before_milli + part_milli, whole_milli)
    return after - share(value_micros, before_milli, whole_milli)


def spread(total: int, weights: Sequence[int]) -> tuple[int, ...]:
    """Return a total split over lines in proportion to their weights, adding up exactly.

    Every line gets the whole part of its share; the units left go one each to the largest remainders, the earlier line
    first among equals. Lines that weigh nothing together share equally. A total below zero mirrors the split.
    Raises: ValueError for no lines or a weight below zero.
    Source: the largest-remainder method (Hamilton), from memory.
    """
    if not weights or min(weights) < 0:
        raise ValueError("a total is spread over at least one line, and no line weighs below zero")
    if total < 0:
        return tuple(-part for part in spread(-total, weights))
    if not any(weights):
        weights = [1] * len(weights)
    whole = sum(weights)
    parts = [total * weight // whole for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda line: (-(total * weights[line] % whole), line))
    for line in by_remainder[: total - sum(parts)]:
        parts[line] += 1
    return tuple(parts)


def spread_by_value(total_micros: int, values_micros: Sequence[int]) -> tuple[int, ...]:
    """Return freight, duty or a discount spread over the lines of a receipt by their value, to the last millionth."""
    return spread(total_micros, values_micros)


def oldest_first(lots: Iterable[Lot]) -> list[Lot]:
    """Return the lots in the order in which they are used up."""
    return sorted(lots, key=lambda lot: (lot.received_on, lot.id))


def _must_cover(lots: Sequence[Lot], quantity_milli: int) -> None:
    if quantity_milli <= 0:
        raise ValueError("what is taken is above zero")
    free = sum(lot.free_milli for lot in lots)
    if free < quantity_milli:
        held = sum(lot.held_milli for lot in lots)
        raise NotEnough(quantity_milli, free, held, tuple(lot.id for lot in lots))


def pick_oldest(lots: Sequence[Lot], quantity_milli: int) -> tuple[Pick, ...]:
    """Return what to take, oldest lot first. Raises: NotEnough; ValueError for nothing or less."""
    _must_cover(lots, quantity_milli)
    picks, left = [], quantity_milli
    for lot in oldest_first(lots):
        part = min(left, lot.free_milli)
        if part:
            picks.append(Pick(lot.id, part))
            left -= part
    return tuple(picks)


def pick_one_lot(lots: Sequence[Lot], quantity_milli: int) -> Picked:
    """Return what to take when batches differ: the oldest lot that covers the whole, else the fewest lots.

    The fewest are the largest ones, and for what is then left the oldest lot that covers it.
    Raises: NotEnough; ValueError for nothing or less.
    """
    _must_cover(lots, quantity_milli)
    picks: list[Pick] = []
    rest, left = oldest_first(lots), quantity_milli
    while left:
        covering = next((lot for lot in rest if lot.free_milli >= left), None)
        # max keeps the first of equals, so the oldest.
        lot = covering or max(rest, key=lambda each: each.free_milli)
        part = min(left, lot.free_milli)
        picks.append(Pick(lot.id, part))
        rest.remove(lot)
        left -= part
    return Picked(tuple(picks), one_lot=len(picks) == 1)


def take(lots: Sequence[Lot], quantity_milli: int, method: Method, *, picks: Sequence[Pick] | None = None) -> Booking:
    """Return the movements that take a quantity out, with the cost of what leaves.

    `lots` are all lots of the item with something in them: the average is theirs. `picks` say which lots (default:
    oldest first) and must add up to the quantity. Raises: NotEnough, UnknownLot, ValueError.
    """
    if picks is None:
        picks = pick_oldest(lots, quantity_milli)
    leaving = _by_lot(lots, picks)
    if sum(leaving.values()) != quantity_milli:
        raise ValueError("the picks do not add up to the quantity")
    picked = [lot for lot in lots if lot.id in leaving]
    for lot in picked:
        if lot.free_milli < leaving[lot.id]:
            raise NotEnough(leaving[lot.id], lot.free_milli, lot.held_milli, (lot.id,))
    if method == "fifo":
        costs = [share(lot.value_micros, leaving[lot.id], lot.quantity_milli) for lot in picked]
    else:
        pool_milli = sum(lot.quantity_milli for lot in lots)
        cost = share(sum(lot.value_micros for lot in lots), quantity_milli, pool_milli)
        costs = list(spread(cost, [leaving[lot.id] for lot in picked]))
    changes = [Change(lot.id, -leaving[lot.id], -cost) for lot, cost in zip(picked, costs, strict=True)]
    return _book(lots, changes, method)


def _by_lot(lots: Sequence[Lot], picks: Sequence[Pick]) -> dict[int, int]:
    """Return the picked quantity of each lot, a lot named twice added up."""
    known = {lot.id for lot in lots}
    leaving: dict[int, int] = {}
    for pick in picks:
        if pick.lot_id not in known:
            raise UnknownLot(pick.lot_id)
        if pick.quantity_milli <= 0:
            raise ValueError("what is taken is above zero")
        leaving[pick.lot_id] = leaving.get(pick.lot_id, 0) + pick.quantity_milli
    return leaving


def put_in(lots: Sequence[Lot], lot_id: int, quantity_milli: int, value_micros: int, method: Method) -> Booking:
    """Return the movements that put a quantity of a known value into a lot: a receipt, a return, a surplus.

    A new lot is passed among `lots` with nothing in it. Raises: UnknownLot, ValueError.
    """
    if quantity_milli <= 0 or value_micros < 0:
        raise ValueError("what is put in is above zero and worth nothing or more")
    if lot_id not in {lot.id for lot in lots}:
        raise UnknownLot(lot_id)
    return _book(lots, [Change(lot_id, quantity_milli, value_micros)], method)


def revalue(lots: Sequence[Lot], micros_by_lot: Mapping[int, int], method: Method) -> Booking:
    """Return the movements that make lots worth more or less, as when a receipt's cost is corrected; nothing moves.

    Under 'average' the pool is worth that much more, whichever lot is named. Raises: UnknownLot, CannotReverse.
    """
    for lot_id in micros_by_lot:
        if lot_id not in {lot.id for lot in lots}:
            raise UnknownLot(lot_id)
    return _book(lots, [Change(lot_id, 0, micros) for lot_id, micros in micros_by_lot.items()], method)


def worth_of(lots: Sequence[Lot], lot_id: int, quantity_milli: int, method: Method) -> int | None:
    """Return the value in millionths at which a surplus found in a lot is put in; half to even.

    It is the lot's own unit value, or the pool's. None when nothing is left to value it by: the caller takes the last
    known unit cost. Raises: UnknownLot.
    """
    own = [lot for lot in lots if lot.id == lot_id]
    if not own:
        raise UnknownLot(lot_id)
    base = own if method == "fifo" else lots
    whole_milli = sum(lot.quantity_milli for lot in base)
    if not whole_milli:
        return None
    return half_even(sum(lot.value_micros for lot in base) * quantity_milli, whole_milli)


def reverse(lots: Sequence[Lot], booking: Booking, method: Method) -> Booking:
    """Return the movements that take an earlier act back at its exact value.

    Its shifts are taken back too, so that with nothing in between each lot is as it was; where later movements leave no
    room for that, the pool is spread anew. Raises: CannotReverse, UnknownLot, and NotEnough where what came in is held.
    """
    changes = [Change(each.lot_id, -each.quantity_milli, -each.value_micros) for each in booking.changes]
    shifts = [Change(each.lot_id, 0, -each.value_micros) for each in booking.shifts]
    known = {lot.id: lot for lot in lots}
    for change in (*changes, *shifts):
        if change.lot_id not in known:
            raise UnknownLot(change.lot_id)
    for change in changes:
        lot = known[change.lot_id]
        if lot.quantity_milli >= -change.quantity_milli > lot.free_milli:
            raise NotEnough(-change.quantity_milli, lot.free_milli, lot.held_milli, (lot.id,))
    levels = _levels(lots, (*changes, *shifts))
    if all(_possible(*level) for level in levels.values()):
        return Booking(tuple(changes), tuple(shifts), _at(lots, levels))
    if method == "average":
        return _book(lots, changes, method)
    lot_id, level = next((lot_id, level) for lot_id, level in levels.items() if not _possible(*level))
    raise CannotReverse(lot_id, *level)


def even_out(lots: Sequence[Lot]) -> Booking:
    """Return the shifts that bring every lot to its share of the pool's average; the pool's value stays the same."""
    return _book(lots, [], "average", anew=True) if lots else Booking((), (), ())


def _possible(quantity_milli: int, value_micros: int) -> bool:
    return quantity_milli >= 0 and value_micros >= 0 and (quantity_milli > 0 or value_micros == 0)


def _levels(lots: Sequence[Lot], changes: Iterable[Change]) -> dict[int, tuple[int, int]]:
    """Return quantity and value of every lot after the changes, possible or not."""
    levels = {lot.id: (lot.quantity_milli, lot.value_micros) for lot in lots}
    for change in changes:
        quantity_milli, value_micros = levels[change.lot_id]
        levels[change.lot_id] = (quantity_milli + change.quantity_milli, value_micros + change.value_micros)
    return levels


def _at(lots: Sequence[Lot], levels: dict[int, tuple[int, int]]) -> tuple[Lot, ...]:
    # Of a large pool most lots stay as they are.
    return tuple(
        lot
        if levels[lot.id] == (lot.quantity_milli, lot.value_micros)
        else replace(lot, quantity_milli=levels[lot.id][0], value_micros=levels[lot.id][1])
        for lot in lots
    )


def _book(lots: Sequence[Lot], changes: Sequence[Change], method: Method, *, anew: bool = False) -> Booking:
    """Return the booking of changes; under 'average' with the shifts that keep every lot near its share of the pool."""
    levels = _levels(lots, changes)
    if method == "fifo":
        for lot_id, level in levels.items():
            if not _possible(*level):
                raise CannotReverse(lot_id, *level)
        return Booking(tuple(changes), (), _at(lots, levels))
    pool = (sum(level[0] for level in levels.values()), sum(level[1] for level in levels.values()))
    short = [lot_id for lot_id, level in levels.items() if level[0] < 0]
    if short or not _possible(*pool):
        lot_id = short[0] if short else changes[0].lot_id
        raise CannotReverse(lot_id, levels[lot_id][0], pool[1])
    values = None if anew else _nearly_settled(levels, pool, [change.lot_id for change in changes])
    if values is None:
        values = dict(zip(levels, spread(pool[1], [level[0] for level in levels.values()]), strict=True))
    shifts = tuple(
        Change(lot_id, 0, values[lot_id] - level[1]) for lot_id, level in levels.items() if values[lot_id] != level[1]
    )
    return Booking(
        tuple(changes), shifts, _at(lots, {lot_id: (levels[lot_id][0], values[lot_id]) for lot_id in levels})
    )


def _nearly_settled(
    levels: dict[int, tuple[int, int]], pool: tuple[int, int], touched: Sequence[int]
) -> dict[int, int] | None:
    """Return the lots' values with as little shifted as can be, or None when a lot would lie too far from its share.

    What an emptied lot was short or over goes to the lot with most left, one that was touched if there is one.
    """
    pool_milli, pool_micros = pool
    if not pool_milli:
        return None
    values = {lot_id: value if quantity else 0 for lot_id, (quantity, value) in levels.items()}
    largest = max(
        (lot_id for lot_id in levels),
        key=lambda lot_id: (lot_id in touched and levels[lot_id][0] > 0, levels[lot_id][0]),
    )
    values[largest] += pool_micros - sum(values.values())
    for lot_id, (quantity_milli, _) in levels.items():
        off = abs(values[lot_id] * pool_milli - pool_micros * quantity_milli)
        if values[lot_id] < 0 or off > _SLACK_MICROS * pool_milli:
            return None
    return values
