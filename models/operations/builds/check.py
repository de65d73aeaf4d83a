"""Proving builds: their lines say what their movements took, their pieces are worth what went in, rates are as taught.

What holds for every movement, whoever made it, is proved in `check_ledger`.
"""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.operations.costing.timings import taught_rates
from models.operations.shop.breach import Breach
from models.tables import Build, BuildLine, Item, LearnedRate, Movement, Reservation, StockTransaction
from models.trade.vocabulary.ledger import BUILD_ACTS, BUILD_MOVEMENTS

BagKey = tuple[int, int, str]


def check_builds(session: Session) -> tuple[Breach, ...]:
    """The first row that breaks each rule of builds; empty when all of them hold."""
    first: dict[str, Breach] = {}
    for breach in (*_lines(session), *_reserved(session), *_days(session), *_pieces(session), *_rates(session)):
        first.setdefault(breach.rule, breach)
    return tuple(first.values())


def _lines(session: Session) -> Iterator[Breach]:
    moved: dict[BagKey, int] = {}
    for build_id, lot_id, place, milli, _ in _ring_sums(session):
        moved[(build_id, lot_id, place)] = -milli
    rows = session.execute(
        select(
            col(BuildLine.id), col(BuildLine.build_id), col(BuildLine.lot_id), col(BuildLine.place),
            col(BuildLine.taken_milli), col(BuildLine.extra_milli), col(BuildLine.returned_milli),
        ).order_by(col(BuildLine.id))
    )  # fmt: skip
    rule = "a build's line says what its movements took"
    for row in rows:
        used = row.taken_milli + row.extra_milli - row.returned_milli
        took = moved.pop((row.build_id, row.lot_id, row.place), 0)
        if used != took:
            words = f"It says that {used} thousandths are used, and the movements of build {row.build_id} took {took}."
            yield Breach(rule, "build_line", row.id, words)
    for (build_id, lot_id, place), took in sorted(moved.items()):
        if took:
            words = f"{took} thousandths of lot {lot_id} in “{place}” left for it, and it has no line for them."
            yield Breach(rule, "build", build_id, words)


def _reserved(session: Session) -> Iterator[Breach]:
    """What is reserved for builds is what those that are started plan to take, bag by bag."""
    planned: dict[BagKey, int] = {}
    for build_id, lot_id, place, milli in session.execute(
        select(col(BuildLine.build_id), col(BuildLine.lot_id), col(BuildLine.place), col(BuildLine.planned_milli))
        .join(Build, col(Build.id) == col(BuildLine.build_id))
        .where(col(Build.state) == "started", col(BuildLine.planned_milli) > 0)
    ):
        planned[(build_id, lot_id, place)] = planned.get((build_id, lot_id, place), 0) + milli
    rule = "what is reserved is what started builds will take"
    rows = session.execute(
        select(
            col(Reservation.id), col(Reservation.holder_id), col(Reservation.lot_id), col(Reservation.place),
            col(Reservation.quantity_milli),
        )
        .where(col(Reservation.holder_kind) == "build")
        .order_by(col(Reservation.id))
    )  # fmt: skip
    for row in rows:
        due = planned.pop((row.holder_id, row.lot_id, row.place), 0)
        if row.quantity_milli != due:
            words = f"{row.quantity_milli} thousandths are reserved, and build {row.holder_id} will take {due}."
            yield Breach(rule, "reservation", row.id, words)
    for (build_id, lot_id, place), milli in sorted(planned.items()):
        words = f"It will take {milli} thousandths of lot {lot_id} from “{place}”, and none of it is reserved."
        yield Breach(rule, "build", build_id, words)


def _days(session: Session) -> Iterator[Breach]:
    """A build has a day of finishing just while it is finished."""
    odd = select(col(Build.id), col(Build.state), col(Build.finished_on)).where(
        (col(Build.state) == "finished") == col(Build.finished_on).is_(None)
    )
    for row in session.execute(odd.order_by(col(Build.id))):
        words = f"It is {row.state}, and its day of finishing is {row.finished_on}."
        yield Breach("a build has a day of finishing while it is finished", "build", row.id, words)


def _pieces(session: Session) -> Iterator[Breach]:
    spent: dict[int, int] = {}
    for build_id, _, _, _, micros in _ring_sums(session):
        spent[build_id] = spent.get(build_id, 0) - micros
    undo = aliased(StockTransaction)
    received = {
        build_id: (int(milli), int(micros))
        for build_id, milli, micros in session.execute(
            select(col(StockTransaction.build_id), func.sum(Movement.quantity_milli), func.sum(Movement.value_micros))
            .join(Movement, col(Movement.act_id) == col(StockTransaction.id))
            .join(Item, col(Item.id) == col(Movement.item_id))
            .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
            .where(
                col(StockTransaction.kind) == "finish",
                col(undo.id).is_(None),
                col(Movement.kind) == "receipt",
                col(Item.kind) == "piece",
            )
            .group_by(col(StockTransaction.build_id))
        )
    }
    rows = session.execute(
        select(
            col(Build.id), col(Build.good), col(Build.materials_micros), col(Build.labour_micros),
            col(Build.overhead_micros), col(Build.guessed_micros),
        )
        .where(col(Build.state) == "finished", col(Build.good) > 0)
        .order_by(col(Build.id))
    )  # fmt: skip
    for row in rows:
        milli, micros = received.get(row.id, (0, 0))
        cost = (row.materials_micros or 0) + (row.labour_micros or 0) + (row.overhead_micros or 0)
        cost += row.guessed_micros or 0
        if milli != row.good * 1000 or micros != cost or row.materials_micros != spent.get(row.id, 0):
            words = (
                f"It says {row.good} good pieces for {cost} millionths, {row.materials_micros} of them rings; "
                f"{milli} thousandths worth {micros} came in, and rings worth {spent.get(row.id, 0)} went out."
            )
            yield Breach("good pieces are worth what went into them", "build", row.id, words)


def _rates(session: Session) -> Iterator[Breach]:
    kept = {row.kind: (row.seconds, row.low_factor, row.high_factor) for row in session.scalars(select(LearnedRate))}
    due = {rate.kind: (rate.seconds, rate.low_factor, rate.high_factor) for rate in taught_rates(session)}
    for kind in sorted({*kept, *due}):
        if kept.get(kind) != due.get(kind):
            words = f"It is kept as {kept.get(kind)}, and the builds teach {due.get(kind)}."
            yield Breach("a learned rate is what the builds teach", "learned_rate", kind, words)


def _ring_sums(session: Session) -> list[tuple[int, int, str, int, int]]:
    """By build, lot and place what moved in thousandths and millionths, of acts that still hold, pieces left out."""
    undo = aliased(StockTransaction)
    rows = session.execute(
        select(
            col(StockTransaction.build_id),
            col(Movement.lot_id),
            col(Movement.place),
            func.sum(Movement.quantity_milli),
            func.sum(Movement.value_micros),
        )
        .join(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(
            col(StockTransaction.build_id).is_not(None),
            col(StockTransaction.kind).in_(BUILD_ACTS),
            col(undo.id).is_(None),
            col(Movement.kind).in_(BUILD_MOVEMENTS),
        )
        .group_by(col(StockTransaction.build_id), col(Movement.lot_id), col(Movement.place))
    )
    return [(build_id, lot_id, place, int(milli), int(micros)) for build_id, lot_id, place, milli, micros in rows]
