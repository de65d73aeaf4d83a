"""Taking an act back: exact reversals are appended, never anything deleted, unless later acts rest on what it did."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from models.errors import Conflict, NotEnoughStock
from models.intake.stock.offer import from_milli
from models.operations.buying.receipt import put_back_on_order
from models.operations.shop.day import resolve_day
from models.operations.stock.bag import bag_of, carry_marks
from models.operations.stock.come_back import ComeBack
from models.operations.stock.cost_undo import VALUE_GONE, put_costs_back, why_corrected, why_false
from models.operations.stock.ledger import PostedTransaction, TransactionHeader, reverse
from models.operations.stock.lot_state import LotState
from models.queries.fetch import fetch
from models.tables import BagCount, Movement, StockTransaction
from models.trade.days import day_words
from models.trade.lots import CannotReverse


@dataclass(frozen=True, slots=True)
class Undoable:
    """Whether an act can be taken back now, and if not, why; `words` say what it was."""

    act_id: int
    possible: bool
    reason: str
    words: str


def undoable(session: Session, act_id: int, *, build_id: int | None = None) -> Undoable:
    """Whether an act can be taken back; nothing is written. `build_id` is the build that asks. Raises: Missing."""
    act = _act(session, act_id)
    reason = _why_not(session, act, build_id)
    if not reason:
        rows = _movements(session, act_id)
        shelf = LotState(session, [row.lot_id for row in rows])
        try:
            shelf.put_back(rows, ComeBack(session, act.build_id, shelf.method).with_reversal(rows))
        except NotEnoughStock as short:
            reason = _gone(short)
        except CannotReverse:
            reason = why_false(session, act, rows, shelf.method) or VALUE_GONE
        else:
            reason = why_false(session, act, rows, shelf.method)
    return Undoable(act_id, not reason, reason, act.words)


def undo_act(session: Session, act_id: int, *, build_id: int | None = None) -> PostedTransaction:
    """Take an act back at its exact values, with the marks of the bags that it counted or moved.

    An act of a build is taken back by that build (`build_id`), which knows what else goes with it. Raises: Missing;
    Conflict with the reason when it cannot be taken back, as when it was taken back already.
    """
    act = _act(session, act_id)
    told = undoable(session, act_id, build_id=build_id)
    if not told.possible:
        raise Conflict(told.reason)
    deed = TransactionHeader(
        "undo", resolve_day(session, None, "done_on"), f"Took back: {act.words}", build_id=act.build_id
    )
    posted = reverse(session, act_id, deed)
    if act.kind == "correct_cost":
        put_costs_back(session, act_id)
    _put_marks_back(session, act)
    return posted


def _act(session: Session, act_id: int) -> StockTransaction:
    return fetch(session, StockTransaction, act_id, "entry")


def _why_not(session: Session, act: StockTransaction, build_id: int | None) -> str:
    """Why an act is never taken back, or not here; empty when only the stock can say."""
    if act.kind == "undo":
        return "This took something back itself. Do that anew instead."
    if act.kind == "revalue":
        return "This came with another way of valuing. Choose the former way in the settings instead."
    if act.build_id is not None and act.build_id != build_id:
        return f"This belongs to build {act.build_id}. Take it back there."
    undo = session.exec(select(StockTransaction).where(StockTransaction.undoes_id == act.id)).first()
    if undo is not None:
        return f"This was taken back already, on {day_words(undo.done_on)}."
    if act.build_id is not None and _has_later(session, act):
        return f"More was done for build {act.build_id} since. Take that back first, the latest thing first."
    return why_corrected(session, act)


def _has_later(session: Session, act: StockTransaction) -> bool:
    """Whether the act's build went on after it: what was returned then would come back twice."""
    undo = aliased(StockTransaction)
    later = (
        select(StockTransaction.id)
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(
            StockTransaction.build_id == act.build_id,
            col(StockTransaction.id) > act.id,
            StockTransaction.kind != "undo",
            col(undo.id).is_(None),
        )
    )
    return session.exec(later).first() is not None


def _movements(session: Session, act_id: int) -> list[Movement]:
    return list(session.exec(select(Movement).where(Movement.act_id == act_id).order_by(col(Movement.id))))


def _gone(short: NotEnoughStock) -> str:
    there = short.available_milli + short.reserved_milli
    where = f"lot {short.lot_id}" + (f", {short.place}" if short.place else "")
    if there >= short.needed_milli:
        kept, needed = from_milli(short.reserved_milli), from_milli(short.needed_milli)
        return (
            f"{kept} {short.unit} of “{short.item}” in {where} are reserved for builds, "
            f"and taking this back would need {needed}. Abandon or change those builds first."
        )
    return (
        f"Taking this back would need {from_milli(short.needed_milli)} {short.unit} of “{short.item}” in {where}, "
        f"and only {from_milli(there)} are still there. Take back what was done with them since, first."
    )


def _put_marks_back(session: Session, act: StockTransaction) -> None:
    """Let the bags be marked as before the act, where nothing marked them since."""
    if act.kind == "move":
        gone, came = _movements(session, act.id or 0)[:2]
        carry_marks(session, came.lot_id, came.place, gone.place, came.quantity_milli)
    elif act.kind == "receive":
        for row in _movements(session, act.id or 0):
            if row.kind == "receipt":
                bag = bag_of(session, row.lot_id, row.place)
                bag.rough, bag.counted_on = "", None
        put_back_on_order(session, act.id or 0)
    for count in session.exec(select(BagCount).where(BagCount.act_id == act.id)):
        bag = bag_of(session, count.lot_id, count.place)
        bag.rough, bag.counted_on = _marks_that_hold(session, count)
    session.flush()


def _marks_that_hold(session: Session, count: BagCount) -> tuple[str, date | None]:
    """How sure a bag's count is and from when, by its last count that was not taken back, else as before its first."""
    undo = aliased(StockTransaction)
    counts = (
        select(BagCount, col(StockTransaction.done_on))
        .join(StockTransaction, col(StockTransaction.id) == col(BagCount.act_id))
        .where(BagCount.lot_id == count.lot_id, BagCount.place == count.place)
    )
    last = session.exec(
        counts.outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(col(undo.id).is_(None))
        .order_by(col(BagCount.id).desc())
    ).first()
    if last is not None:
        return last[0].rough, last[1]
    first = session.exec(counts.order_by(col(BagCount.id))).first()
    return (first[0].rough_before, first[0].counted_before) if first else ("", None)
