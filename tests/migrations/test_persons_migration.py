"""The coming of persons: whatever was done before was done by the owner, and goes back as it was."""

from __future__ import annotations

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select

from models.database import Store, alembic_config, migrate
from models.operations.shop import sign_in as operations
from models.operations.shop.clock import now
from models.queries.shop.sign_in import visitor
from models.tables import FIRST_PERSON, Person, ProgramKey, SignedIn, StockTransaction
from tests.builds import a_bench, is_sound, made, whole_state
from tests.planted import planted

pytestmark = pytest.mark.long

TABLES = ("act", "signed_in", "program_key")


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def whose(session: Session) -> set[int]:
    return {row.person_id for table in (StockTransaction, SignedIn, ProgramKey) for row in session.exec(select(table))}


def test_acts_sign_ins_and_keys_stay_and_are_the_owners(store: Store) -> None:
    bench = planted(store, a_bench)
    with store.writing() as session:
        made(session, bench, 1)
        operations.set_password(session, "seven kettles by the door")
        token, key = operations.open_session(session, "Firefox"), operations.make_key(session, "till")
        acts, state = len(session.exec(select(StockTransaction)).all()), whole_state(session)
    go(store, "-0012")
    tables = inspect(store.engine)
    assert "person" not in tables.get_table_names()
    assert not any("person_id" in {each["name"] for each in tables.get_columns(table)} for table in TABLES)
    go(store, "head")
    with store.reading() as session:
        assert [(person.id, person.name) for person in session.exec(select(Person))] == [(FIRST_PERSON, "Owner")]
        assert whose(session) == {FIRST_PERSON}
        assert (len(session.exec(select(StockTransaction)).all()), whole_state(session)) == (acts, state)
        assert is_sound(session)
        assert visitor(session, token=token, key="", at=now()).may_enter
        assert visitor(session, token="", key=key, at=now()).may_enter


@pytest.mark.parametrize("table", TABLES)
def test_nobody_unknown_did_anything(store: Store, table: str) -> None:
    bench = planted(store, a_bench)
    with store.writing() as session:
        made(session, bench, 1)
        operations.set_password(session, "seven kettles by the door")
        operations.open_session(session, "Firefox")
        operations.make_key(session, "till")
    with pytest.raises(IntegrityError), store.writing() as session:
        session.connection().execute(text({
            "act": "UPDATE act SET person_id = 9",
            "signed_in": "UPDATE signed_in SET person_id = 9",
            "program_key": "UPDATE program_key SET person_id = 9",
        }[table]))  # fmt: skip
