"""The shop folder, the engine with its pragmas, and the only place that commits.

One folder is the whole shop: `shop.db photos/ backups/ logs/ lock`. Reads open a deferred transaction; writes take the
lock between processes and then `BEGIN IMMEDIATE`, so that what a write reads cannot change under it.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from filelock import FileLock
from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import Connection
from sqlmodel import Session

LOCK_SECONDS = 30
"""How long a write waits for another process; a bench with two browsers never comes near it."""


class BrokenShop(Exception):
    """The shop folder cannot be used as it is; the message says what to do."""


def migrations_folder() -> Path:
    """Where the migrations are: inside the package when installed from a wheel, else at the top of the source tree."""
    packaged = Path(__file__).parent / "_migrations"
    return packaged if packaged.is_dir() else Path(__file__).parent.parent / "migrations"


class Store:
    """One shop folder and its database."""

    def __init__(self, folder: Path, url: str | None = None) -> None:
        """Point at a folder (made when missing) and, for PostgreSQL, a database URL."""
        self.folder = folder
        for name in ("photos", "backups", "logs"):
            (folder / name).mkdir(parents=True, exist_ok=True)
        self.file = folder / "shop.db"
        self.url = url or f"sqlite:///{self.file}"
        self.engine = self._engine()
        self._write_engine = self.engine.execution_options(ringbench_writes=True)
        # The file lock keeps processes apart, the thread lock keeps the threads of this one in a fair queue.
        self._file_lock = FileLock(str(folder / "lock"), timeout=LOCK_SECONDS, thread_local=False)
        self._thread_lock = threading.Lock()

    @property
    def photos(self) -> Path:
        """The folder of photos, each named by its hash."""
        return self.folder / "photos"

    @property
    def on_sqlite(self) -> bool:
        """Whether the store is a SQLite file."""
        return self.engine.dialect.name == "sqlite"

    def _engine(self) -> Engine:
        if not self.url.startswith("sqlite"):
            return create_engine(self.url, pool_size=20, max_overflow=30)
        engine = create_engine(
            self.url,
            pool_size=20,
            max_overflow=30,
            connect_args={"check_same_thread": False, "timeout": LOCK_SECONDS, "cached_statements": 512},
        )
        event.listen(engine, "connect", _prepare_connection)
        event.listen(engine, "begin", _begin)
        return engine

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that sees one unchanging state and never writes."""
        with Session(self.engine, autoflush=False) as session:
            yield session
            session.rollback()

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session that commits when the block ends well and takes everything back when it raises."""
        with (
            self._thread_lock,
            self._file_lock,
            Session(self._write_engine, autoflush=True, expire_on_commit=False) as session,
        ):
            session.connection()
            yield session
            session.commit()

    def prepare(self) -> str | None:
        """Bring the tables to this program's version; answer the name of the backup made before an upgrade.

        Raises `BrokenShop` when the folder was written by a newer program.
        """
        with self._thread_lock, self._file_lock:
            return self._migrate()

    def _migrate(self) -> str | None:
        config = alembic_config(self.url)
        script = ScriptDirectory.from_config(config)
        newest = script.get_current_head()
        with self.engine.connect() as connection:
            found = MigrationContext.configure(connection).get_current_revision()
        if found == newest:
            return None
        if found is not None and found not in {revision.revision for revision in script.walk_revisions()}:
            raise BrokenShop(
                f"This shop was last opened by a newer Ringbench (its tables are at '{found}'). "
                "Start it with that newer version, or restore a backup made before it."
            )
        saved = self.save_copy(f"before-{newest}") if found is not None and self.on_sqlite else None
        with self.engine.connect() as connection:
            migrate(connection, config, "head")
        return saved

    def save_copy(self, label: str) -> str:
        """Copy the database into `backups/` by SQLite's own backup, safe beside writers; answer the file's name."""
        stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")
        target = self.folder / "backups" / f"shop-{stamp}-{label}.db"
        copy_database(self.file, target)
        return target.name

    def become(self, source: Path) -> None:
        """Replace everything in the database by another SQLite file of the same tables, in one step.

        It goes through SQLite's own backup, under the lock of all writers: a server that runs on this folder sees the
        old state until it is done, and the new one from then on.
        """
        with self._thread_lock, self._file_lock:
            copy_database(source, self.file)

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()


def copy_database(source: Path, target: Path) -> None:
    """Copy a SQLite file by SQLite's online backup; other processes may go on writing."""
    origin = sqlite3.connect(f"{source.resolve().as_uri()}?mode=ro", uri=True)
    copy = sqlite3.connect(target)
    try:
        origin.backup(copy)
    finally:
        copy.close()
        origin.close()


def alembic_config(url: str) -> Config:
    """The Alembic configuration for one database, without an ini file."""
    config = Config()
    config.set_main_option("script_location", str(migrations_folder()).replace("%", "%%"))
    config.set_main_option("sqlalchemy.url", url.replace("%", "%%"))
    return config


def migrate(connection: Connection, config: Config, target: str) -> None:
    """Run migrations up (or, for a revision id prefixed with '-', down) on one connection.

    On SQLite a batch migration rebuilds tables, which with foreign keys on would delete their children, so keys are off
    for the whole run and checked at its end, before it is committed. Raises `BrokenShop` when a key points nowhere.
    """
    sqlite = connection.dialect.name == "sqlite"
    if sqlite:
        _set_foreign_keys(connection, "OFF")
    config.attributes["connection"] = connection
    try:
        with connection.begin():
            if target.startswith("-"):
                command.downgrade(config, target.removeprefix("-"))
            else:
                command.upgrade(config, target)
            if sqlite and connection.exec_driver_sql("PRAGMA foreign_key_check").first() is not None:
                raise BrokenShop(
                    "The upgrade would have left rows without the rows that they belong to; nothing was changed."
                )
    finally:
        if sqlite:
            connection.rollback()
            _set_foreign_keys(connection, "ON")


def _set_foreign_keys(connection: Connection, state: str) -> None:
    # Within a transaction SQLite passes over this pragma in silence, and any statement through SQLAlchemy begins one,
    # so it goes to the driver itself.
    driver = connection.connection.driver_connection
    assert isinstance(driver, sqlite3.Connection) and not driver.in_transaction  # noqa: S101, PT018  (SQLite only)
    driver.execute(f"PRAGMA foreign_keys={state}")


def _prepare_connection(connection: sqlite3.Connection, _record: Any) -> None:
    # The driver's own transaction handling starts at the first write; ours starts at BEGIN, in the event below.
    connection.isolation_level = None
    cursor = connection.cursor()
    cursor.execute("PRAGMA journal_mode=WAL")
    cursor.execute("PRAGMA synchronous=FULL")
    cursor.execute("PRAGMA foreign_keys=ON")
    cursor.execute(f"PRAGMA busy_timeout={LOCK_SECONDS * 1000}")
    cursor.execute("PRAGMA cache_size=-16000")
    cursor.close()


def _begin(connection: Connection) -> None:
    writes = connection.get_execution_options().get("ringbench_writes")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
