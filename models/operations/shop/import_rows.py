"""Rows of a file taken in one after the other, each within a savepoint, with what is wrong by the row's place."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial

from sqlmodel import Session

from models.errors import Conflict, Missing, Unfit
from models.intake.faults import Fault, Faults
from models.queries.shop.gathering import Gathering, gathering_in

Cells = Mapping[str, str]
Wrong = dict[int, tuple[Fault, ...]]
"""What is wrong, by the place of the row in the file."""


def each_row(session: Session, rows: Sequence[Cells], add: Callable[[Cells], Faults | None]) -> tuple[int, Wrong]:
    """Add row by row, each within a savepoint, so that a wrong one leaves nothing and the next ones are still tried."""
    wrong: Wrong = {}
    for place, cells in enumerate(rows):
        faults = within(session, partial(add, cells))
        if faults:
            wrong[place] = faults.items
    return len(rows) - len(wrong), wrong


def within(session: Session, act: Callable[[], Faults | None]) -> Faults | None:
    """Do something within a savepoint, and take it back with its faults when it is refused."""
    if (gathering := gathering_in(session)) is not None:
        return _within_gathering(gathering, act)
    savepoint = session.begin_nested()
    faults = _faults_of(session, act)
    if faults:
        savepoint.rollback()
    else:
        savepoint.commit()
    return faults


def _within_gathering(gathering: Gathering, act: Callable[[], Faults | None]) -> Faults | None:
    mark = gathering.mark()
    faults = _faults_of(gathering, act)
    if faults:
        gathering.back_to(mark)
    return faults


def _faults_of(session: Session, act: Callable[[], Faults | None]) -> Faults | None:
    try:
        faults = act()
        session.flush()
    except Unfit as unfit:
        return unfit.faults
    except (Conflict, Missing) as refused:
        return Faults.of("", str(refused))
    return faults
