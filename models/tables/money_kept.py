"""Which rows keep money, as the metadata of all tables says: once there are any, the shop's currency stands."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Column, ColumnElement, Table, or_
from sqlalchemy.sql.schema import ScalarElementColumnDefault

from models.tables import metadata


def money_kept() -> tuple[tuple[str, ColumnElement[bool]], ...]:
    """For every table that keeps money for good, what that is in words and which of its rows do keep some.

    That is an amount that is not what a new row begins with, or the name of a currency. It follows from the names of
    the columns (`…_micros`, `currency`), so that no new table can be forgotten.
    """
    tables = sorted(metadata.sorted_tables, key=lambda table: (not table.info.get("first"), "money" not in table.info))
    return tuple(
        (str(table.info.get("money", "an amount")), or_(*(_is_said(column) for column in columns)))
        for table in tables
        if not table.info.get("computed") and (columns := _money_columns(table))
    )


def _money_columns(table: Table) -> tuple[Column[Any], ...]:
    return tuple(
        column
        for column in table.columns
        if (column.name.endswith("_micros") or column.name == "currency") and not column.info.get("with_currency")
    )


def _is_said(column: Column[Any]) -> ColumnElement[bool]:
    if column.name == "currency":
        return column != ""
    begins = column.default.arg if isinstance(column.default, ScalarElementColumnDefault) else None
    return column != (begins or 0)
