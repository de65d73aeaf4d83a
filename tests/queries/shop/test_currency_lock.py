"""What fixes the shop's currency: any amount in any column of money, wherever it stands, and no row without one."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from typing import Any

import pytest
from sqlalchemy import Column, Integer

from models.database import Store
from models.queries.shop.shop import currency_lock
from models.tables import metadata
from tests.counting import queries_of

MONEY = [
    (table.name, column.name)
    for table in metadata.sorted_tables
    for column in table.columns
    if column.name.endswith("_micros") or column.name == "currency"
]
FOLLOW = {
    ("shop", "currency"),
    ("shop", "wage_micros"),
    ("shop", "overhead_micros"),
    *(pair for pair in MONEY if pair[0] in {"design_figure", "price_figure"}),
}
"""What is set together with the currency, or worked out anew."""


def nothing_in(column: Column[Any]) -> object:
    """A value that says as little as a column takes, as SQLite keeps it."""
    if column.nullable:
        return None
    if column.primary_key:
        return 1 if isinstance(column.type, Integer) else "x"
    kind = str(column.type)
    if kind in {"DATE", "DATETIME"}:
        return {"DATE": "2026-03-02", "DATETIME": "2026-03-02 12:00:00.000000"}[kind]
    return 0 if kind in {"INTEGER", "BIGINT", "BOOLEAN"} else ""


def put(store: Store, table: str, **said: object) -> None:
    """Put a row into a table as it may never come about, with these values, or give the shop's own row these."""
    columns = metadata.tables[table].columns
    row = {column.name: nothing_in(column) for column in columns} | said
    store.close()
    with closing(sqlite3.connect(store.file)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = on")
        if table == "shop":
            for name, value in said.items():
                connection.execute(f"UPDATE shop SET {name} = ?", (value,))  # noqa: S608
        else:
            marks = ", ".join("?" for _ in row)
            connection.execute(f"INSERT INTO {table} VALUES ({marks})", in_order(connection, table, row))  # noqa: S608
        connection.commit()


def in_order(connection: sqlite3.Connection, table: str, row: dict[str, object]) -> list[object]:
    """The values of a row in the order of the table's columns in the file."""
    return [row[name] for _, name, *_ in connection.execute(f"PRAGMA table_info({table})")]


def lock(store: Store) -> str:
    with store.reading() as session:
        return currency_lock(session)


@pytest.mark.parametrize(("table", "column"), [pair for pair in MONEY if pair not in FOLLOW])
def test_an_amount_in_any_column_fixes_the_currency(store: Store, table: str, column: str) -> None:
    put(store, table, **{column: "USD" if column == "currency" else 5})
    assert "The currency is fixed" in lock(store)


@pytest.mark.parametrize("table", sorted({table for table, _ in MONEY} - {"shop"}))
def test_a_row_without_an_amount_leaves_the_currency_open(store: Store, table: str) -> None:
    put(store, table)
    assert lock(store) == ""


@pytest.mark.parametrize(("table", "column"), sorted(FOLLOW))
def test_what_follows_the_currency_leaves_it_open(store: Store, table: str, column: str) -> None:
    put(store, table, **{column: "USD" if column == "currency" else 5})
    assert lock(store) == ""


def test_it_is_asked_in_one_query(store: Store) -> None:
    with store.reading() as session, queries_of(store) as asked:
        currency_lock(session)
    assert len(asked) == 1
