"""Words that are no longer listed in the database: rows survive both ways, and an older program gets words it knows."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from models.database import Store, alembic_config, migrate
from tests.operations.buying.test_purchase_postage import EURO, a_purchase
from tests.shops import a_ring, an_outlet

OPEN = (
    ("shop", "ending", "x.00"),
    ("outlet", "kind", "online"),
    ("outlet", "ending", ""),
    ("outlet_fee", "base", "price"),
    ("offer", "pack_unit", "piece"),
    ("purchase_line", "pack_unit", "piece"),
)


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


@pytest.fixture
def filled(store: Store) -> Store:
    """A shop with an outlet, its fee, an offer and a purchase."""
    with store.writing() as session:
        an_outlet(session)
        a_ring(session)
        a_purchase(session, [4], [4 * EURO], 3 * EURO, "1")
    return store


def checks(store: Store) -> set[str]:
    found = inspect(store.engine)
    return {str(one["name"]) for table, _, _ in OPEN for one in found.get_check_constraints(table)}


def say(session: Session, table: str, column: str, word: str) -> None:
    """Keep a word past the program, as a later one would."""
    session.connection().execute(text(f"UPDATE {table} SET {column} = :word"), {"word": word})  # noqa: S608


def words(store: Store) -> dict[tuple[str, str], set[str]]:
    with store.reading() as session:
        return {
            (table, column): set(session.connection().execute(text(f"SELECT {column} FROM {table}")).scalars())  # noqa: S608
            for table, column, _ in OPEN
        }


def everything(store: Store) -> list[str]:
    """Every row of the tables that the migration makes anew, and what stands around them, as SQL."""
    with closing(sqlite3.connect(store.folder / "shop.db")) as connection:
        dump = [statement for statement in connection.iterdump() if "alembic_version" not in statement]
    # The lines of a table's definition may change their places when the table is made anew.
    return sorted("\n".join(sorted(line.strip(" ,\t") for line in statement.splitlines())) for statement in dump)


def test_rows_survive_both_ways_and_all_else_stays_as_it_was(filled: Store) -> None:
    before, kept = everything(filled), words(filled)
    names = {f"ck_{table}_{column}_known" for table, column, _ in OPEN}
    assert not names & checks(filled)
    go(filled, "-0008")
    assert names <= checks(filled)
    assert words(filled) == kept
    go(filled, "head")
    assert not names & checks(filled)
    assert everything(filled) == before


@pytest.mark.parametrize(("table", "column", "usual"), OPEN)
def test_the_older_tables_refuse_what_the_newer_ones_take(filled: Store, table: str, column: str, usual: str) -> None:
    assert words(filled)[table, column] <= {usual, "x.00", "any"}
    with filled.writing() as session:
        say(session, table, column, "a later word")
        session.rollback()
    go(filled, "-0008")
    with pytest.raises(IntegrityError, match=f"{column}_known"), filled.writing() as session:
        say(session, table, column, "a later word")


def test_an_older_program_gets_kinds_and_endings_that_it_knows(filled: Store) -> None:
    with filled.writing() as session:
        for table, column in (("shop", "ending"), ("outlet", "kind"), ("outlet", "ending")):
            say(session, table, column, "a later word")
    go(filled, "-0008")
    found = words(filled)
    assert found["shop", "ending"] == {"any"}
    assert found["outlet", "kind"] == {"direct"}
    assert found["outlet", "ending"] == {""}


@pytest.mark.parametrize(
    ("table", "column"), [("outlet_fee", "base"), ("offer", "pack_unit"), ("purchase_line", "pack_unit")]
)
def test_a_word_that_counts_money_is_never_turned_into_another(filled: Store, table: str, column: str) -> None:
    with filled.writing() as session:
        say(session, table, column, "a later word")
    before = everything(filled)
    with pytest.raises(ValueError, match=rf"does not know 'a later word', which {table}\.{column} holds"):
        go(filled, "-0008")
    assert everything(filled) == before
