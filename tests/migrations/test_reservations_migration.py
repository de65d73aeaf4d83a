"""The coming of reservations: what older started builds keep is written down, and goes away without a trace."""

from __future__ import annotations

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from models.database import Store, alembic_config, migrate
from models.operations.builds.undo import undo_build
from models.tables import Reservation
from tests.builds import a_bench, bags, is_sound, made, making, started
from tests.planted import planted

pytestmark = pytest.mark.long


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def kept(session: Session) -> list[tuple[int, int, str, int]]:
    """What is reserved, as (build, lot, place, thousandths), in order."""
    rows = session.exec(select(Reservation).order_by(col(Reservation.id)))
    return [(row.holder_id, row.lot_id, row.place, row.quantity_milli) for row in rows]


@pytest.fixture
def two_started(store: Store) -> Store:
    """A shop with two builds that keep rings, one whose rings are out, and pieces that were made."""
    bench = planted(store, a_bench)
    with store.writing() as session:
        started(session, bench, 1)
        making(session, bench, 1)
        started(session, bench, 1)
        made(session, bench, 1)
    return store


def test_what_started_builds_keep_is_the_same_after_both_ways(two_started: Store) -> None:
    with two_started.reading() as session:
        before, lying = kept(session), bags(session)
    assert {build for build, *_ in before} == {1, 3}
    go(two_started, "-0008")
    assert "reservation" not in inspect(two_started.engine).get_table_names()
    go(two_started, "head")
    with two_started.writing() as session:
        assert (kept(session), bags(session)) == (before, lying)
        assert is_sound(session)
        undo_build(session, 2)
        assert {build for build, *_ in kept(session)} == {1, 2, 3}
        assert is_sound(session)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE reservation SET quantity_milli = 0",
        "UPDATE reservation SET holder_kind = 'wish'",
        "UPDATE reservation SET lot_id = 99",
        "UPDATE reservation SET holder_id = 1, lot_id = 1, place = 'tin'",
    ],
)
def test_the_new_table_refuses_what_makes_no_sense(two_started: Store, statement: str) -> None:
    with pytest.raises(IntegrityError), two_started.writing() as session:
        session.connection().execute(text(statement))
