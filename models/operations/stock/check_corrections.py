"""Proving corrections of what receipts cost: what they say is what the ledger booked, and lots say what stands.

Part of `check_ledger`; that their value is conserved follows from the movements, which it adds up with all others.
"""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import and_, func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.operations.shop.breach import Breach
from models.tables import CostCorrection, Lot, Movement, StockTransaction


def correction_breaches(session: Session) -> Iterator[Breach]:
    """What is wrong with corrections: their movements, the order of what they changed, and what lots cost now."""
    yield from _movements(session)
    yield from _unwritten(session)
    yield from _lots(session)


def _movements(session: Session) -> Iterator[Breach]:
    """A correction books what the receipt cost more, and never on a lot without a receipt."""
    booked = func.coalesce(func.sum(Movement.value_micros), 0).label("booked")
    rows = session.execute(
        select(
            col(CostCorrection.id), col(CostCorrection.act_id), col(CostCorrection.received_before),
            col(CostCorrection.received_after), col(StockTransaction.kind), booked,
        )
        .outerjoin(StockTransaction, col(StockTransaction.id) == col(CostCorrection.act_id))
        .outerjoin(
            Movement,
            and_(
                col(Movement.act_id) == col(CostCorrection.act_id),
                col(Movement.lot_id) == col(CostCorrection.lot_id),
                col(Movement.kind) == "correction",
            ),
        )
        .group_by(
            col(CostCorrection.id), col(CostCorrection.act_id), col(CostCorrection.received_before),
            col(CostCorrection.received_after), col(StockTransaction.kind),
        )
        .order_by(col(CostCorrection.id))
    )  # fmt: skip
    for row in rows:
        more = row.received_after - row.received_before
        if row.booked != more or row.kind != "correct_cost":
            words = f"It says that the receipt cost {more} millionths more, and act {row.act_id} booked {row.booked}."
            yield Breach("a correction books what a receipt cost more", "cost_correction", row.id, words)


def _unwritten(session: Session) -> Iterator[Breach]:
    """Every movement that corrects says what stood before."""
    said = (
        select(col(CostCorrection.id))
        .where(col(CostCorrection.act_id) == col(Movement.act_id), col(CostCorrection.lot_id) == col(Movement.lot_id))
        .exists()
    )
    rows = session.execute(
        select(col(Movement.id)).where(col(Movement.kind) == "correction", ~said).order_by(col(Movement.id)).limit(1)
    )
    for row in rows:
        yield Breach("a correction says what stood before", "movement", row.id, "Nobody wrote down what stood before.")


def _lots(session: Session) -> Iterator[Breach]:
    """A corrected lot cost what its receipt booked and the corrections that stand."""
    undo, receipt = aliased(StockTransaction), aliased(Movement)
    came = (
        select(func.sum(receipt.value_micros))
        .where(col(receipt.lot_id) == col(Lot.id), col(receipt.kind) == "receipt")
        .correlate(Lot)
        .scalar_subquery()
    )
    more = (
        select(func.coalesce(func.sum(col(CostCorrection.received_after) - col(CostCorrection.received_before)), 0))
        .outerjoin(undo, col(undo.undoes_id) == col(CostCorrection.act_id))
        .where(col(CostCorrection.lot_id) == col(Lot.id), col(undo.id).is_(None))
        .correlate(Lot)
        .scalar_subquery()
    )
    rows = session.execute(
        select(col(Lot.id), col(Lot.received_micros), came.label("came"), more.label("more"))
        .where(col(Lot.id).in_(select(col(CostCorrection.lot_id))))
        .order_by(col(Lot.id))
    )
    for row in rows:
        if row.came is None or row.received_micros != row.came + row.more:
            words = (
                f"It says that it cost {row.received_micros} millionths; booked were {row.came}, "
                f"and corrections that stand add {row.more}."
            )
            yield Breach("a lot cost what its receipt and its corrections say", "lot", row.id, words)
