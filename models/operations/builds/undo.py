"""Taking back the latest thing that was done with a build: made, started, taken out, finished, given up or unpicked."""

from __future__ import annotations

from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from models.errors import Conflict
from models.operations.builds.rows import build_row, line_rows, many_pieces, name_of
from models.operations.builds.start import BuildAct, acted
from models.operations.builds.work import forget_work
from models.operations.costing.timings import learn_timings
from models.operations.stock.ledger import release, reserve
from models.operations.stock.reservation import Hold, for_build, holds_of
from models.operations.undo import undo_act
from models.tables import Build, BuildLine, StockTransaction
from models.trade.vocabulary.bench import BUILD_STATES

ANY_STATE = BUILD_STATES.codes


def undo_build(session: Session, build_id: int, *, version: int | None = None) -> BuildAct:
    """Take the latest act of a build back, exactly; one that was only started is gone again.

    Raises: Missing, Stale; Conflict where later acts rest on what it did, or nothing is left to take back.
    """
    build = build_row(session, build_id, version, ANY_STATE, "take it back")
    act = latest_act(session, build_id)
    lines = line_rows(session, build_id)
    if build.state == "abandoned":
        return _undo_abandon(session, build, lines, act)
    if build.state == "started":
        return _undo_start(session, build, lines)
    if build.state == "making":
        return _undo_take_out(session, build, lines, act)
    if act is not None and act.kind == "unpick":
        undo_act(session, act.id or 0, build_id=build_id)
        return acted(build, act.id, f"Took back: {act.words}")
    return _undo_finish(session, build, lines, act)


def latest_act(session: Session, build_id: int) -> StockTransaction | None:
    """The latest act of a build that still holds."""
    undo = aliased(StockTransaction)
    return session.exec(
        select(StockTransaction)
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(StockTransaction.build_id == build_id, StockTransaction.kind != "undo", col(undo.id).is_(None))
        .order_by(col(StockTransaction.id).desc())
        .limit(1)
    ).first()


def _undo_start(session: Session, build: Build, lines: list[BuildLine]) -> BuildAct:
    """What was reserved is free again. A build that nothing else was done with leaves no trace."""
    build_id = build.id or 0
    words = f"Took back the start of {many_pieces(build.pieces)} of {name_of(session, build)}."
    build.state = "abandoned"
    session.flush()
    release(session, holds_of(session, for_build(build_id)))
    if session.exec(select(StockTransaction.id).where(StockTransaction.build_id == build_id).limit(1)).first() is None:
        for line in lines:
            session.delete(line)
        session.flush()
        session.delete(build)
        session.flush()
        return BuildAct(build_id, None, words, gone=True)
    for line in lines:
        line.planned_milli = 0
    session.flush()
    return acted(build, None, words)


def _undo_take_out(session: Session, build: Build, lines: list[BuildLine], act: StockTransaction | None) -> BuildAct:
    """The rings go back into their bags and are reserved again; rings that were taken first are just back."""
    words = f"Took back the rings of {name_of(session, build)}."
    if act is not None:
        words = f"Took back: {act.words}"
        undo_act(session, act.id or 0, build_id=build.id)
    for line in lines:
        line.taken_milli = 0
    build.state = "started" if _was_started(lines) or build.design_id is not None else "abandoned"
    session.flush()
    reserve(session, _planned(build, lines))
    return acted(build, act.id if act else None, words)


def _undo_finish(session: Session, build: Build, lines: list[BuildLine], act: StockTransaction | None) -> BuildAct:
    """The pieces are rings again that are out of their bags; of pieces that were booked as made, nothing is left."""
    words = f"Took back the finish of {name_of(session, build)}."
    if act is not None:
        words = f"Took back: {act.words}"
        undo_act(session, act.id or 0, build_id=build.id)
    earlier = latest_act(session, build.id or 0)
    at_once = earlier is None and any(line.taken_milli for line in lines)
    for line in lines:
        line.extra_milli = line.returned_milli = 0
        if at_once:
            line.taken_milli = 0
        if not (line.taken_milli or line.planned_milli) and not at_once:
            session.delete(line)
    build.state = "abandoned" if at_once else "making"
    build.good = build.spoiled = build.finished_on = None
    forget_work(session, build)
    learn_timings(session)
    return acted(build, act.id if act else None, words)


def _undo_abandon(session: Session, build: Build, lines: list[BuildLine], act: StockTransaction | None) -> BuildAct:
    """What was given up goes on: its rings are out again, or reserved again if they are still free."""
    if act is not None and act.kind == "abandon":
        undo_act(session, act.id or 0, build_id=build.id)
        for line in lines:
            line.returned_milli = 0
        build.state = "making"
        session.flush()
        return acted(build, act.id, f"Took back: {act.words}")
    if act is not None or not _was_started(lines):
        raise Conflict("This was taken back already. Book it anew instead.")
    build.state = "started"
    session.flush()
    reserve(session, _planned(build, lines))
    return acted(build, None, f"{many_pieces(build.pieces)} of {name_of(session, build)} goes on.")


def _planned(build: Build, lines: list[BuildLine]) -> list[Hold]:
    """What a build that goes on will take again."""
    holder = for_build(build.id or 0)
    return [Hold(line.lot_id, line.place, line.planned_milli, holder) for line in lines]


def _was_started(lines: list[BuildLine]) -> bool:
    return any(line.planned_milli for line in lines)
