"""The coming of planning: an older shop's items survive, and go back again with stand-ins declared and plans asked for."""

from __future__ import annotations

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select

from models.database import Store, alembic_config, migrate
from models.tables import Item, MakePlan, StandIn
from tests.shops import NOON, a_ring

pytestmark = pytest.mark.long

TABLES = {"stand_in", "make_plan"}


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def planned(session: Session) -> None:
    """One row in every table of planning."""
    one, other = a_ring(session, name="One"), a_ring(session, name="Other")
    session.add(StandIn(item_id=one, stand_in_id=other, both_ways=True, created_at=NOON))
    session.add(MakePlan(question="{}", value=2**40, created_at=NOON, beat_at=NOON))
    session.flush()


def test_plans_go_and_come_back_and_items_stay(store: Store) -> None:
    with store.writing() as session:
        planned(session)
    go(store, "-0005")
    assert not TABLES & set(inspect(store.engine).get_table_names())
    go(store, "head")
    with store.writing() as session:
        assert [item.name for item in session.exec(select(Item))] == ["One", "Other"]
        assert session.exec(select(MakePlan)).all() == []
        planned(session)
        assert session.exec(select(MakePlan)).one().beat_at == NOON


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE make_plan SET state = 'dreaming'",
        "UPDATE make_plan SET limits_state = 'dreaming'",
        "UPDATE make_plan SET searched_ms = -1",
        "UPDATE stand_in SET stand_in_id = item_id",
        "UPDATE stand_in SET stand_in_id = 99",
    ],
)
def test_the_new_tables_refuse_what_makes_no_sense(store: Store, statement: str) -> None:
    with store.writing() as session:
        planned(session)
    with pytest.raises(IntegrityError), store.writing() as session:
        session.connection().execute(text(statement))
