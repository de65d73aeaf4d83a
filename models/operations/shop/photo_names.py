"""Which photos a shop's rows name: in the shop itself, and in a copy of it that may be older than today's tables.

The columns are those that the tables declare as `PhotoName`, so that a new table is asked as soon as it is there.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path

from sqlalchemy import Connection, text
from sqlmodel import Session

from models.database import known_revisions
from models.operations.shop.photo import PHOTO_NAME
from models.shop_folder import copies_in, damaged_in
from models.sqlite_file import is_alone, reading_only, tables_of
from models.tables.columns import metadata, photo_columns


class UnreadableCopy(Exception):
    """A copy of a shop cannot be asked; the message says why."""


def photos_named(session: Session) -> frozenset[str]:
    """The names of all photos that some row of the shop has."""
    return frozenset(name for _table, _row, name in photo_rows(session.connection()))


def photo_rows(connection: Connection) -> list[tuple[str, str, str]]:
    """The table, what its row is called and the photo's name, of every row of the shop that names a photo."""
    rows = []
    for table, column in photo_columns():
        if table not in metadata.tables or column not in metadata.tables[table].columns:
            continue
        called = "name" if "name" in metadata.tables[table].columns else f'CAST("{_key(table)}" AS TEXT)'
        asked = f'SELECT {called}, "{column}" FROM "{table}" WHERE "{column}" <> \'\' ORDER BY "{_key(table)}"'  # noqa: S608
        rows += [(table, str(row), str(name)) for row, name in connection.execute(text(asked))]
    return rows


def photos_named_in(file: Path) -> frozenset[str]:
    """The names of all photos that a copy of a shop names. Raises `UnreadableCopy`."""
    try:
        with reading_only(file, still=is_alone(file)) as connection:
            return _asked(connection)
    except (sqlite3.Error, OSError, UnicodeDecodeError) as broken:
        raise UnreadableCopy(str(broken)) from broken


def copies_of(folder: Path) -> tuple[Path, ...]:
    """Every database in a shop folder but the shop's own: the copies among its backups, and what was put aside."""
    return (*copies_in(folder), *damaged_in(folder))


def unreadable_copies(folder: Path) -> tuple[tuple[Path, str], ...]:
    """The copies of a shop that cannot be read, each with why."""
    found = []
    for copy in copies_of(folder):
        try:
            photos_named_in(copy)
        except UnreadableCopy as unreadable:
            found.append((copy, str(unreadable)))
    return tuple(found)


def _asked(connection: sqlite3.Connection) -> frozenset[str]:
    tables = tables_of(connection)
    if not {"alembic_version", "shop"} <= tables:
        raise UnreadableCopy("there is no shop in it")
    (revision,) = connection.execute("SELECT version_num FROM alembic_version").fetchone() or ("",)
    if revision not in known_revisions():
        # A newer program may keep names of photos where this one would not look for them.
        raise UnreadableCopy(f"its tables are at '{revision}', which this version does not know")
    names: set[str] = set()
    for table, column in photo_columns():
        columns = {row[1] for row in connection.execute(f'PRAGMA table_info("{table}")')}
        if column in columns:
            names |= {name for (name,) in connection.execute(f'SELECT "{column}" FROM "{table}"') if name}  # noqa: S608
    return frozenset(name for name in names if isinstance(name, str) and PHOTO_NAME.fullmatch(name))


def _key(table: str) -> str:
    return next(iter(metadata.tables[table].primary_key.columns)).name
