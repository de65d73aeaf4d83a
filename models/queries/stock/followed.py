"""The movements of an item as `models/trade/otherwise.py` follows them, and receipts whose cost was corrected.

This reads an item's movements from one receipt on, so it is for corrections, undos and checks, never for a list.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.tables import CostCorrection, Lot, Movement, StockTransaction
from models.trade.otherwise import Corrected, Otherwise, Step, Whose


@dataclass(frozen=True, slots=True)
class ReceiptOfLot:
    """The receipt that a lot came in with: the movement that booked it, and what was booked."""

    movement_id: int
    act_id: int
    item_id: int
    lot_id: int
    quantity_milli: int
    value_micros: int


def receipt_of_lot(session: Session, lot_id: int) -> ReceiptOfLot | None:
    """The movement by which a lot came in; None where it has none."""
    row = session.execute(
        select(
            col(Movement.id).label("movement_id"), col(Movement.act_id), col(Movement.item_id), col(Movement.lot_id),
            col(Movement.quantity_milli), col(Movement.value_micros),
        )
        .where(col(Movement.lot_id) == lot_id, col(Movement.kind) == "receipt")
        .order_by(col(Movement.id))
        .limit(1)
    ).first()  # fmt: skip
    return None if row is None else ReceiptOfLot(**row._asdict())


def levels_after(session: Session, item_id: int, movement_id: int) -> dict[int, tuple[int, int]]:
    """What each lot of an item held after a movement: thousandths and millionths."""
    rows = session.execute(
        select(col(Movement.lot_id), func.sum(Movement.quantity_milli), func.sum(Movement.value_micros))
        .where(col(Movement.item_id) == item_id, col(Movement.id) <= movement_id)
        .group_by(col(Movement.lot_id))
    )
    return {lot_id: (int(milli), int(micros)) for lot_id, milli, micros in rows}


def steps_after(session: Session, item_id: int, movement_id: int, *, before_act: int | None = None) -> list[Step]:
    """The movements of an item after one of them, in the order in which they were booked."""
    wanted = (
        select(
            col(Movement.id),
            col(Movement.act_id),
            col(StockTransaction.build_id),
            col(Movement.lot_id),
            col(Movement.kind),
            col(Movement.quantity_milli),
            col(Movement.value_micros),
            col(StockTransaction.valued_by),
            col(Movement.reverses_id),
        )
        .join(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .where(col(Movement.item_id) == item_id, col(Movement.id) > movement_id)
        .order_by(col(Movement.id))
    )
    if before_act is not None:
        wanted = wanted.where(col(Movement.act_id) < before_act)
    return [_step(row) for row in session.execute(wanted)]


def whose_doing(act_id: int, build_id: int | None) -> Whose:
    """By whose doing something left: a build's, or an act's own."""
    return ("act", act_id) if build_id is None else ("build", build_id)


def follow_receipt(
    session: Session, receipt: ReceiptOfLot, real_micros: int, *, before_act: int | None = None
) -> Otherwise:
    """A receipt followed from its booking to now (or to before an act), had it cost what it really did."""
    corrected = Corrected(receipt.lot_id, receipt.quantity_milli, receipt.value_micros, real_micros)
    levels = levels_after(session, receipt.item_id, receipt.movement_id)
    steps = steps_after(session, receipt.item_id, receipt.movement_id, before_act=before_act)
    return Otherwise.receipt_cost(levels, corrected).follow(steps)


def follow_without(session: Session, item_id: int, rows: Sequence[Movement]) -> Otherwise:
    """An item followed from an act's movements to now, had the act never been."""
    brought: dict[int, tuple[int, int]] = {}
    for row in rows:
        milli, micros = brought.get(row.lot_id, (0, 0))
        brought[row.lot_id] = (milli + row.quantity_milli, micros + row.value_micros)
    last = max(row.id or 0 for row in rows)
    levels = levels_after(session, item_id, last)
    return Otherwise.without(levels, brought).follow(steps_after(session, item_id, last))


def corrected_lots(session: Session, *, item_ids: Collection[int] = (), lot_ids: Collection[int] = ()) -> list[int]:
    """The lots of these items, or of these numbers, whose receipt has a correction of its cost that stands."""
    undo = aliased(StockTransaction)
    wanted = (
        select(col(CostCorrection.lot_id))
        .join(Lot, col(Lot.id) == col(CostCorrection.lot_id))
        .outerjoin(undo, col(undo.undoes_id) == col(CostCorrection.act_id))
        .where(col(undo.id).is_(None))
        .distinct()
        .order_by(col(CostCorrection.lot_id))
    )
    wanted = wanted.where(col(Lot.item_id).in_(item_ids) if item_ids else col(Lot.id).in_(lot_ids))
    return list(session.scalars(wanted))


def follow_corrected(session: Session, lot_ids: Iterable[int]) -> list[Otherwise]:
    """Corrected lots followed to now, each against what its receipt costs by today's word."""
    found = []
    for lot_id in lot_ids:
        receipt, lot = receipt_of_lot(session, lot_id), session.get(Lot, lot_id)
        if receipt is not None and lot is not None:
            found.append(follow_receipt(session, receipt, lot.received_micros))
    return found


def _step(row: Any) -> Step:
    return Step(
        id=row.id,
        whose=whose_doing(row.act_id, row.build_id),
        lot_id=row.lot_id,
        kind=row.kind,
        quantity_milli=row.quantity_milli,
        value_micros=row.value_micros,
        method=row.valued_by,
        reverses_id=row.reverses_id,
    )
