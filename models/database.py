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
from time import monotonic
from typing import Any, Final

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from filelock import FileLock, Timeout
from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import Connection
from sqlalchemy.exc import OperationalError
from sqlalchemy.pool import NullPool
from sqlmodel import Session

LOCK_SECONDS: Final = 10
"""How long a write waits for its turn, in all; a bench with two browsers never comes near it."""
MOST_WAITING: Final = 20
"""How many writes of one process may wait at once; more are told so at once, so that readers always find a thread."""
MOST_TRIALS: Final = 2
"""How many acts may be tried at once: each has a copy of the shop, which takes its memory."""
TRIAL_MEMORY_KIB: Final = 65_536
"""How much of such a copy stays in memory; what is over it goes into a temporary file of SQLite's own."""


class Busy(Timeout):
    """Somebody else was writing all the time that this write could wait; nothing was changed."""

    def __init__(self, folder: Path) -> None:
        super().__init__(str(folder / "lock"))

    def __str__(self) -> str:
        return "Somebody else is writing to this shop and does not finish. Nothing was changed; try again in a moment."


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
        self._waiting = threading.BoundedSemaphore(MOST_WAITING)
        self.lock_seconds: float = LOCK_SECONDS
        self._trial_engine = self._engine_of_copies()
        self._trials = threading.BoundedSemaphore(MOST_TRIALS)

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

    def _engine_of_copies(self) -> Engine:
        """An engine each of whose connections is a copy of the shop of its own, gone when it is closed."""
        if not self.on_sqlite:
            return self.engine
        engine = create_engine("sqlite://", creator=self._private_copy, poolclass=NullPool)
        event.listen(engine, "connect", _prepare_copy)
        event.listen(engine, "begin", _begin)
        return engine

    def _private_copy(self) -> sqlite3.Connection:
        # A database without a name is SQLite's own temporary one, in memory as far as its cache reaches.
        copy = sqlite3.connect("", check_same_thread=False)
        copy.execute(f"PRAGMA cache_size=-{TRIAL_MEMORY_KIB}")
        origin = sqlite3.connect(f"{self.file.resolve().as_uri()}?mode=ro", uri=True, timeout=self.lock_seconds)
        try:
            origin.backup(copy)
        finally:
            origin.close()
        return copy

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that sees one unchanging state and never writes."""
        with Session(self.engine, autoflush=False) as session:
            yield session
            session.rollback()

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session that commits when the block ends well and takes everything back when it raises.

        Raises `Busy` when it is not its turn within `lock_seconds`.
        """
        until = monotonic() + self.lock_seconds
        with self._turn(until), Session(self._write_engine, autoflush=True, expire_on_commit=False) as session:
            self._begin_writing(session, until)
            yield session
            session.commit()

    @contextmanager
    def trying(self) -> Iterator[Session]:
        """A session to do something in only to see what comes of it: nothing of it is kept, and no writer waits for it.

        Raises `Busy` when too many are tried at once for `lock_seconds`.
        """
        if not self._trials.acquire(timeout=self.lock_seconds):
            raise Busy(self.folder)
        try:
            with Session(self._trial_engine, autoflush=True, expire_on_commit=False) as session:
                yield session
                session.rollback()
        finally:
            self._trials.release()

    @contextmanager
    def _turn(self, until: float) -> Iterator[None]:
        """The lock of all writers, of this process and of others. Raises `Busy`."""
        if not self._waiting.acquire(blocking=False):
            raise Busy(self.folder)
        try:
            if not self._thread_lock.acquire(timeout=max(0.0, until - monotonic())):
                raise Busy(self.folder)
        finally:
            self._waiting.release()
        try:
            try:
                held = self._file_lock.acquire(timeout=max(0.0, until - monotonic()))
            except Timeout as late:
                raise Busy(self.folder) from late
            with held:
                yield
        finally:
            self._thread_lock.release()

    def _begin_writing(self, session: Session, until: float) -> None:
        # A program that is not ours may hold the database itself.
        left_ms = max(0, int((until - monotonic()) * 1000))
        try:
            session.connection(execution_options={"ringbench_wait_ms": left_ms})
        except OperationalError as refused:
            if is_busy(refused):
                raise Busy(self.folder) from refused
            raise

    def prepare(self) -> str | None:
        """Bring the tables to this program's version; answer the name of the backup made before an upgrade.

        Raises `BrokenShop` when the folder was written by a newer program, and `Busy`.
        """
        # A shop that is up to date is opened without waiting for whoever writes to it.
        if self._revision() == ScriptDirectory.from_config(alembic_config(self.url)).get_current_head():
            return None
        with self._turn(monotonic() + self.lock_seconds):
            return self._migrate()

    def _revision(self) -> str | None:
        """Which revision the tables are at; None for none."""
        with self.engine.connect() as connection:
            return MigrationContext.configure(connection).get_current_revision()

    def _migrate(self) -> str | None:
        config = alembic_config(self.url)
        script = ScriptDirectory.from_config(config)
        newest = script.get_current_head()
        found = self._revision()
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
        with self._turn(monotonic() + self.lock_seconds):
            copy_database(source, self.file)

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()
        self._trial_engine.dispose()


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


def _prepare_copy(connection: sqlite3.Connection, _record: Any) -> None:
    connection.isolation_level = None
    # Nobody else sees it and nothing of it is kept, so nothing has to reach a disk.
    for pragma in ("journal_mode=MEMORY", "synchronous=OFF", "foreign_keys=ON"):
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: Connection) -> None:
    options = connection.get_execution_options()
    if not options.get("ringbench_writes"):
        connection.exec_driver_sql("BEGIN")
        return
    driver = connection.connection.driver_connection
    assert isinstance(driver, sqlite3.Connection)  # noqa: S101  (SQLite only)
    driver.execute(f"PRAGMA busy_timeout={options.get('ringbench_wait_ms', LOCK_SECONDS * 1000)}")
    try:
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    finally:
        driver.execute(f"PRAGMA busy_timeout={LOCK_SECONDS * 1000}")


def is_busy(error: OperationalError) -> bool:
    """Whether SQLite gave up because somebody else holds the database."""
    code = getattr(error.orig, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
