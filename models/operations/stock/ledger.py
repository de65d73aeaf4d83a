"""The ledger: the only place that appends movements and keeps lots, bags and balances in step with them.

What a person does (receive, count, scrap, sell, move, undo) stands in a file of its own; how values are worked out in
`models/trade/lots.py`. Nothing here reads the clock for a business date, and nothing is ever deleted.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from models.errors import Missing
from models.operations.shop.acting import acting_person
from models.operations.shop.clock import now
from models.operations.stock.come_back import ComeBack
from models.operations.stock.lot_state import LotState
from models.operations.stock.reservation import Hold
from models.tables import Lot, Movement, StockTransaction
from models.trade.vocabulary.ledger import COMING, LEAVING, MOVEMENT_KINDS, VALUE_ONLY

MOVING_KINDS = COMING | LEAVING
"""The movements by which stock comes in or is used, so that it does not count as lying dead."""


@dataclass(frozen=True, slots=True)
class TransactionHeader:
    """What a person does, before it is written down; `words` say it in a plain sentence."""

    kind: str
    done_on: date
    words: str = ""
    build_id: int | None = None


@dataclass(frozen=True, slots=True)
class Posting:
    """One change of one bag, in thousandths of the unit; what leaves is below zero.

    `value_micros` is left out for what leaves (the shop's valuation answers it) and for a transfer (which moves none);
    it must be given for what comes in. `labour_micros` is the part of it that did not come from the stock: work,
    overhead, and parts at a guessed price.
    """

    lot_id: int
    place: str
    kind: str
    quantity_milli: int
    value_micros: int | None = None
    labour_micros: int = 0
    price_micros: int | None = None
    reason: str = ""


@dataclass(frozen=True, slots=True)
class PostedMovement:
    """One movement as it was written: signed thousandths and millionths."""

    id: int
    item_id: int
    lot_id: int
    place: str
    kind: str
    quantity_milli: int
    value_micros: int
    reason: str = ""


@dataclass(frozen=True, slots=True)
class PostedTransaction:
    """One act as it was written, with its movements in order; value shifted between lots comes last."""

    act_id: int
    movements: tuple[PostedMovement, ...]

    @property
    def value_micros(self) -> int:
        """The value that came in; below zero for what left."""
        return sum(each.value_micros for each in self.movements)

    @property
    def cost_micros(self) -> int:
        """The cost of what left."""
        return -sum(each.value_micros for each in self.movements if each.quantity_milli < 0)

    @property
    def quantity_milli(self) -> int:
        """What came in, over all items; below zero for what left."""
        return sum(each.quantity_milli for each in self.movements)


def post(
    session: Session, deed: TransactionHeader, postings: Sequence[Posting], *, releases: Iterable[Hold] = ()
) -> PostedTransaction:
    """Write one act with its movements, in order, and bring every balance into step with them.

    `releases` give up what was reserved before anything leaves, so that the one for whom it was kept can take it.
    Raises: NotEnoughStock where a bag would go below zero or into what is reserved; Missing for an unknown lot;
    ValueError for what no caller should ask: a fraction of a thing that is counted, a receipt without a value.
    """
    releases = tuple(releases)
    shelf = LotState(session, [*(each.lot_id for each in postings), *(each.lot_id for each in releases)])
    for hold in releases:
        shelf.release(hold)
    back = ComeBack(session, deed.build_id, shelf.method)
    written: list[Movement] = []
    for posting in postings:
        written.append(_apply(shelf, posting))
        if posting.kind == "return":
            written += _corrected(shelf, back.with_return(shelf.item_of(posting.lot_id), posting))
    shelf.shift({each.lot_id: each.value_micros for each in written if each.kind == "revalue"})
    shelf.correct(_sums(each for each in postings if each.kind in ("correction", "carried")))
    written += [_shift(shelf, lot_id, micros) for lot_id, micros in shelf.take_shifts().items()]
    return _write(session, shelf, deed, written)


def costs_of(session: Session, postings: Sequence[Posting], *, releases: Iterable[Hold] = ()) -> tuple[int, ...]:
    """What every posting would cost, in millionths, if they were posted now in this order; nothing is written.

    For what is made in the same act from what it takes, and for telling a cost beforehand. Raises: as `post`.
    """
    releases = tuple(releases)
    shelf = LotState(session, [*(each.lot_id for each in postings), *(each.lot_id for each in releases)])
    for hold in releases:
        shelf.release(hold)
    return tuple(-_apply(shelf, posting).value_micros for posting in postings)


def reverse(session: Session, act_id: int, deed: TransactionHeader) -> PostedTransaction:
    """Write an act that takes an earlier one back at its exact values.

    What comes back at a cost that was corrected since is brought to the corrected one by a movement of its own.
    Whether it may be taken back is decided in `undo`. Raises: Missing; NotEnoughStock where what came in is no longer
    there or is reserved; CannotReverse (of `models/trade/lots.py`) where its value is no longer there.
    """
    rows = list(session.exec(select(Movement).where(Movement.act_id == act_id).order_by(col(Movement.id))))
    if not rows:
        raise Missing("act", act_id)
    shelf = LotState(session, [row.lot_id for row in rows])
    corrects = ComeBack(session, deed.build_id, shelf.method).with_reversal(rows)
    shelf.put_back(rows, corrects)
    shifts = shelf.take_shifts()
    # What comes back first, so that no balance dips below zero on the way.
    back = [row for row in reversed(rows) if row.kind != "revalue"]
    written = [_opposite(shelf, row) for row in sorted(back, key=lambda row: row.quantity_milli > 0)]
    for row in rows:
        if row.kind == "revalue" and shifts.get(row.lot_id) == -row.value_micros:
            written.append(_opposite(shelf, row))
            del shifts[row.lot_id]
    written += [_carried(shelf, lot_id, micros) for lot_id, micros in corrects.items()]
    written += [_shift(shelf, lot_id, micros) for lot_id, micros in shifts.items()]
    return _write(session, shelf, deed, written, undoes_id=act_id)


def reserve(session: Session, holds: Iterable[Hold]) -> None:
    """Keep stock for whoever will take it. Raises: NotEnoughStock, Missing."""
    holds = tuple(holds)
    shelf = LotState(session, [hold.lot_id for hold in holds])
    for hold in holds:
        shelf.hold(hold)
    shelf.settle()
    session.flush()


def release(session: Session, holds: Iterable[Hold]) -> None:
    """Give up what was reserved. Raises: Missing; ValueError for more than is reserved."""
    holds = tuple(holds)
    shelf = LotState(session, [hold.lot_id for hold in holds])
    for hold in holds:
        shelf.release(hold)
    shelf.settle()
    session.flush()


def open_lot(session: Session, lot: Lot) -> int:
    """Write a new lot with nothing in it yet, ready for its first movement; answer its id."""
    if lot.quantity_milli or lot.value_micros:
        raise ValueError("a lot is filled by movements only")
    lot.created_at = now()
    session.add(lot)
    session.flush()
    if lot.id is None:
        raise RuntimeError("a flushed row has its id")
    return lot.id


def lots_worth(session: Session, lot_ids: Collection[int]) -> dict[int, tuple[int, int]]:
    """What lots hold now, as (thousandths, millionths)."""
    rows = session.exec(select(Lot.id, Lot.quantity_milli, Lot.value_micros).where(col(Lot.id).in_(lot_ids)))
    return {lot_id: (milli, micros) for lot_id, milli, micros in rows if lot_id is not None}


def _apply(shelf: LotState, posting: Posting) -> Movement:
    """Move one bag and its lot on the shelf, and answer the movement that says so."""
    milli, micros = posting.quantity_milli, posting.value_micros
    sign = MOVEMENT_KINDS.term(posting.kind).sign
    if sign * milli < 0 or posting.kind == "reversal":
        raise ValueError(f"“{posting.kind}” does not go this way")
    shelf.must_be_whole(posting.lot_id, milli)
    if posting.kind in VALUE_ONLY:
        if milli or micros is None:
            raise ValueError("a revaluation moves a value and nothing else")
    elif posting.kind == "transfer":
        micros = 0
        shelf.move(posting.lot_id, posting.place, milli)
    elif milli < 0:
        if micros is not None:
            raise ValueError("what leaves has the value that the valuation says")
        shelf.move(posting.lot_id, posting.place, milli)
        micros = -shelf.take(posting.lot_id, -milli)
    else:
        if micros is None:
            raise ValueError("what comes in has its value")
        shelf.move(posting.lot_id, posting.place, milli)
        if milli:
            shelf.put_in(posting.lot_id, milli, micros)
        elif micros:
            raise ValueError("nothing is worth nothing")
    return _movement(shelf, posting, micros)


def _movement(shelf: LotState, posting: Posting, micros: int) -> Movement:
    return Movement(
        act_id=0,
        item_id=shelf.item_of(posting.lot_id),
        lot_id=posting.lot_id,
        place=posting.place,
        kind=posting.kind,
        quantity_milli=posting.quantity_milli,
        value_micros=micros,
        after_milli=shelf.count_on(posting.lot_id, posting.quantity_milli),
        labour_micros=posting.labour_micros,
        price_micros=posting.price_micros,
        reason=posting.reason,
    )


def _opposite(shelf: LotState, row: Movement) -> Movement:
    return Movement(
        act_id=0,
        item_id=row.item_id,
        lot_id=row.lot_id,
        place=row.place,
        kind="reversal",
        quantity_milli=-row.quantity_milli,
        value_micros=-row.value_micros,
        after_milli=shelf.count_on(row.lot_id, -row.quantity_milli),
        labour_micros=-row.labour_micros,
        reason=row.reason,
        reverses_id=row.id,
    )


def _shift(shelf: LotState, lot_id: int, micros: int) -> Movement:
    return _movement(shelf, Posting(lot_id, "", "revalue", 0), micros)


def _carried(shelf: LotState, lot_id: int, micros: int) -> Movement:
    return _movement(shelf, Posting(lot_id, "", "carried", 0), micros)


def _corrected(shelf: LotState, micros_by_lot: Mapping[int, int]) -> list[Movement]:
    """Bring what just came back at an old cost to the corrected one."""
    shelf.correct(micros_by_lot)
    return [_carried(shelf, lot_id, micros) for lot_id, micros in micros_by_lot.items()]


def _sums(postings: Iterable[Posting]) -> dict[int, int]:
    """What each lot is worth more by these postings."""
    found: dict[int, int] = {}
    for each in postings:
        found[each.lot_id] = found.get(each.lot_id, 0) + (each.value_micros or 0)
    return found


def _write(
    session: Session,
    shelf: LotState,
    deed: TransactionHeader,
    written: Sequence[Movement],
    *,
    undoes_id: int | None = None,
) -> PostedTransaction:
    """Write the act with its movements, and the balances."""
    act = StockTransaction(
        kind=deed.kind,
        at=now(),
        done_on=deed.done_on,
        words=deed.words,
        build_id=deed.build_id,
        undoes_id=undoes_id,
        person_id=acting_person(),
        valued_by=shelf.method,
    )
    session.add(act)
    session.flush()
    act_id = act.id or 0
    for row in written:
        row.act_id = act_id
    session.add_all(written)
    shelf.settle(deed.done_on, {row.item_id for row in written if row.kind in MOVING_KINDS})
    session.flush()
    return PostedTransaction(
        act_id,
        tuple(
            PostedMovement(
                id=row.id or 0,
                item_id=row.item_id,
                lot_id=row.lot_id,
                place=row.place,
                kind=row.kind,
                quantity_milli=row.quantity_milli,
                value_micros=row.value_micros,
                reason=row.reason,
            )
            for row in written
        ),
    )
