"""Why an act may not be taken back because of what things cost: it would leave a false cost on what is still there.

Under 'fifo' a lot of which something left is refused by its quantity alone. Under 'average' the rings of a receipt may
all be there while what left since took a part of its cost along. Whether a thing may be taken back at all, and whether
its rings are still there, stands in `undo`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from models.queries.stock.followed import follow_without, steps_after
from models.queries.stock.item_words import item_words
from models.tables import CostCorrection, Lot, Movement, StockTransaction
from models.trade.lots import Method
from models.trade.otherwise import Step
from models.trade.vocabulary.ledger import VALUE_ONLY

VALUE_GONE = (
    "What came in then has gone on since at an average cost, so it cannot be taken back exactly. "
    "Take back what left since, the latest thing first. Or count the bag, or write off what is too much, instead."
)
_BRINGING = frozenset({"receipt", "count"})
_NEVER_LEFT = VALUE_ONLY | {"transfer", "receipt"}


def why_corrected(session: Session, act: StockTransaction) -> str:
    """Why a receipt, or a correction of it, must wait for a later correction; empty when none stands."""
    undo = aliased(StockTransaction)
    lots = select(Movement.lot_id).where(Movement.act_id == act.id, col(Movement.kind).in_(("receipt", "correction")))
    later = session.exec(
        select(StockTransaction)
        .join(CostCorrection, col(CostCorrection.act_id) == col(StockTransaction.id))
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(col(CostCorrection.lot_id).in_(lots), col(StockTransaction.id) > act.id, col(undo.id).is_(None))
        .order_by(col(StockTransaction.id).desc())
    ).first()
    if later is None:
        return ""
    return f"What this receipt cost was corrected since, by entry {later.id}. Take that back first."


def why_false(session: Session, act: StockTransaction, rows: Sequence[Movement], method: Method) -> str:
    """Why taking an act back would leave a false cost; empty when it leaves none."""
    if act.kind == "correct_cost":
        return _why_not_uncorrected(session, rows, method)
    if method == "fifo":
        return ""
    for item_id in dict.fromkeys(row.item_id for row in rows):
        own = [row for row in rows if row.item_id == item_id]
        # Only what brought a value of its own can have been false. What left may always come back, and what came back
        # leave again: it was truly there, and moves at the value that it left with. Moving a bag brings nothing in.
        if sum(row.quantity_milli for row in own if row.kind in _BRINGING) <= 0:
            continue
        if follow_without(session, item_id, own).leaves_false_costs:
            return _false_words(session, act, item_id)
    return ""


def put_costs_back(session: Session, act_id: int) -> None:
    """Let lots say again what they cost before a correction that was just taken back."""
    for one in session.exec(select(CostCorrection).where(CostCorrection.act_id == act_id)):
        lot = session.get_one(Lot, one.lot_id)
        lot.received_micros, lot.freight_micros = one.received_before, one.freight_before
        lot.paid_micros, lot.provisional = one.paid_before, one.provisional_before
    session.flush()


def _why_not_uncorrected(session: Session, rows: Sequence[Movement], method: Method) -> str:
    """A correction stays once something of what it re-valued came or went at the corrected cost."""
    last = max(row.id or 0 for row in rows)
    for item_id in dict.fromkeys(row.item_id for row in rows):
        lots = None if method == "average" else {row.lot_id for row in rows if row.item_id == item_id}
        if _moved(steps_after(session, item_id, last), lots):
            name = item_words(session, (item_id,))[item_id].name
            return (
                f"Some of “{name}” came back or left since at the corrected cost, "
                "so this cannot be taken back exactly. "
                "Correct what the receipt cost once more instead, to what it was."
            )
    return ""


def _moved(steps: Sequence[Step], lots: Collection[int] | None) -> bool:
    """Whether anything came or went that was not taken back again; receipts and moves of bags do not matter."""
    standing: set[int] = set()
    for step in steps:
        if step.reverses_id is not None and step.reverses_id in standing:
            standing.discard(step.reverses_id)
        elif step.quantity_milli and step.kind not in _NEVER_LEFT and (lots is None or step.lot_id in lots):
            standing.add(step.id)
    return bool(standing)


def _false_words(session: Session, act: StockTransaction, item_id: int) -> str:
    name = item_words(session, (item_id,))[item_id].name
    why = (
        f"Some of “{name}” left since, at an average cost that this had a part in, "
        "so taking it back would leave a false cost on what is still there."
    )
    if act.kind == "receive":
        return (
            f"{why} If only its cost is wrong, correct what the receipt cost instead. "
            "If less of it came, count the bag, or take back what left since first, the latest thing first."
        )
    return f"{why} Take back what left since first, the latest thing first, or count the bag instead."
