"""One day of a build becomes three: what is known of older builds is told apart, and comes back as the day it was."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from sqlalchemy import inspect, text
from sqlmodel import Session, col, select

from models.database import Store, alembic_config, migrate
from models.intake.builds.build import AbandonDraft, FinishDraft, TakeOutDraft
from models.operations.builds.finish import abandon_build, finish_build
from models.operations.builds.start import take_out
from models.operations.builds.undo import undo_build
from models.tables import Build
from tests.builds import a_bench, is_sound, made, started
from tests.ledgers import DAY
from tests.planted import planted

pytestmark = pytest.mark.long

LATER = DAY + timedelta(days=3)


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def days(session: Session) -> dict[int | None, tuple[date, date | None, date | None]]:
    """The three days of every build."""
    rows = session.exec(select(Build).order_by(col(Build.id)))
    return {row.id: (row.started_on, row.due_on, row.finished_on) for row in rows}


@pytest.fixture
def worked(store: Store) -> Store:
    """A build of every state: started (due one day), finished later, made at once, given up, and finished and undone."""
    bench = planted(store, a_bench)
    with store.writing() as session:
        started(session, bench, 1, due_on=LATER)
        later = started(session, bench, 1)
        take_out(session, later, TakeOutDraft(taken_on=DAY))
        finish_build(session, later, FinishDraft(finished_on=LATER))
        made(session, bench, 1)
        abandon_build(session, started(session, bench, 1), AbandonDraft())
        undone = started(session, bench, 1)
        finish_build(session, undone, FinishDraft(finished_on=LATER))
        undo_build(session, undone)
    return store


def test_what_is_known_of_older_builds_is_told_apart(worked: Store) -> None:
    with worked.reading() as session:
        before = days(session)
    assert before == {
        1: (DAY, LATER, None),
        2: (DAY, None, LATER),
        3: (DAY, None, DAY),
        4: (DAY, None, None),
        5: (DAY, None, None),
    }
    go(worked, "-0011")
    with worked.engine.connect() as connection:
        old = {row.id: row.made_on for row in connection.execute(text("SELECT id, made_on FROM build"))}
    assert [old[number] for number in (1, 2, 3)] == [str(DAY), str(LATER), str(DAY)]
    assert "ix_build_state_made_on" in {index["name"] for index in inspect(worked.engine).get_indexes("build")}
    go(worked, "head")
    with worked.reading() as session:
        # When a build is due is known to no older program.
        assert days(session) == {**before, 1: (DAY, None, None)}
        assert is_sound(session)


def test_a_finished_build_of_which_no_take_out_is_known_started_when_it_was_made(worked: Store) -> None:
    go(worked, "-0011")
    with worked.engine.begin() as connection:
        connection.execute(text("UPDATE act SET kind = 'finish' WHERE build_id = 2"))
    go(worked, "head")
    with worked.reading() as session:
        assert days(session)[2] == (LATER, None, LATER)
