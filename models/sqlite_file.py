"""SQLite databases as files: copied, read without changing them, and what is wrong with one. Nothing of shops here."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Final

from models.files import make_private_file, part_of, sync_file, sync_folder

BESIDE: Final = ("-wal", "-shm", "-journal")
"""The endings of the files that SQLite keeps beside a database."""
_HEADER: Final = b"SQLite format 3\0"
"""Source: the SQLite database file format, section 1.3.1."""


def copy_database(source: Path, target: Path, *, still: bool = False) -> None:
    """Copy a SQLite file by SQLite's online backup; other processes may go on writing unless it is said to be still.

    A target that is not there yet is made for this account only. Raises `sqlite3.Error`.
    """
    make_private_file(target)
    with reading_only(source, still=still) as origin, closing(sqlite3.connect(target)) as copy:
        origin.backup(copy)


@contextmanager
def new_database(target: Path, source: Path) -> Iterator[Path]:
    """A copy of a database beside `target`, which takes its name in one step when the block ends well.

    Raises `sqlite3.Error`; the copy is gone then.
    """
    part = part_of(target)
    try:
        copy_database(source, part)
        sync_file(part)
        yield part
        part.replace(target)
    finally:
        for ending in ("", *BESIDE):
            part.with_name(part.name + ending).unlink(missing_ok=True)
    sync_folder(target.parent)


@contextmanager
def reading_only(file: Path, *, still: bool = False) -> Iterator[sqlite3.Connection]:
    """A connection that changes nothing in a database; `still` says that nobody else has the file open.

    A still file is read without the files that SQLite lays beside one. Raises `sqlite3.Error`.
    """
    mode = "mode=ro&immutable=1" if still else "mode=ro"
    with closing(sqlite3.connect(f"{file.resolve().as_uri()}?{mode}", uri=True)) as connection:
        yield connection


def is_alone(file: Path) -> bool:
    """Whether nothing lies beside a database that SQLite would read with it."""
    return not any(file.with_name(file.name + ending).exists() for ending in BESIDE)


def is_sqlite(file: Path) -> bool:
    """Whether a file begins as a SQLite database does."""
    with file.open("rb") as opened:
        return opened.read(len(_HEADER)) == _HEADER


def fault_of_database(file: Path, *, still: bool = False) -> str:
    """What is wrong with a database file, in SQLite's own words; '' when it is whole and every key points at a row.

    Raises `sqlite3.OperationalError` when it cannot be told because another program holds the file.
    """
    try:
        with reading_only(file, still=still) as connection:
            (words,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
            if words != "ok":
                return str(words).replace("\n", " ")
            orphan = connection.execute("PRAGMA foreign_key_check").fetchone()
    except sqlite3.OperationalError as refused:
        if refused.sqlite_errorcode & 0xFF in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
            raise
        return str(refused)
    except (sqlite3.Error, OSError, UnicodeError) as broken:
        return str(broken)
    return f"row {orphan[1]} of the table {orphan[0]} belongs to a row that is not there" if orphan else ""


def tables_of(connection: sqlite3.Connection) -> frozenset[str]:
    """The names of the tables in a database, without SQLite's own."""
    rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
    return frozenset(name for (name,) in rows)
