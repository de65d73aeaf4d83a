"""The shop folder, the engine with its pragmas, and the only place that commits.

One folder is the whole shop: `shop.db photos/ backups/ logs/ lock`. Reads open a deferred transaction; writes take the
lock between processes and then `BEGIN IMMEDIATE`, so that what a write reads cannot change under it.
"""

from __future__ import annotations

import sqlite3
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from time import monotonic
from typing import Any, Final, Literal

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from filelock import FileLock, Timeout
from sqlalchemy import Engine, create_engine, event
from sqlalchemy.engine import Connection
from sqlalchemy.exc import DatabaseError, OperationalError
from sqlalchemy.pool import NullPool
from sqlmodel import Session

from models.files import FILE_MODE, make_private_file
from models.shop_folder import (
    BACKUPS,
    DATABASE,
    LOCK,
    PHOTOS,
    clear_leftovers,
    close_shop_folder,
    left_beside,
    make_shop_folder,
    put_aside,
    stamp,
)
from models.sqlite_file import copy_database, fault_of_database, is_alone, new_database, reading_only, tables_of

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


RESTORE = "Put a backup in its place with 'ringbench restore FILE --replace'; what is there now is kept aside."


class BrokenShop(Exception):
    """The shop folder cannot be used as it is; the message says what to do."""


class DamagedDatabase(Exception):
    """A database cannot be copied as a whole one; the message is what SQLite says is wrong."""


@dataclass(frozen=True, slots=True)
class State:
    """What is in the place of a shop's database, and what is wrong with it when it is no sound shop."""

    kind: Literal["nothing", "shop", "unsound"]
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Kept:
    """Where what was replaced is kept: a copy's name in `backups/`, or the name of a folder of damaged files."""

    copy: str = ""
    aside: str = ""


def migrations_folder() -> Path:
    """Where the migrations are: inside the package when installed from a wheel, else at the top of the source tree."""
    packaged = Path(__file__).parent / "_migrations"
    return packaged if packaged.is_dir() else Path(__file__).parent.parent / "migrations"


class Store:
    """One shop folder and its database."""

    def __init__(self, folder: Path, url: str | None = None) -> None:
        """Point at a folder (made when missing) and, for PostgreSQL, a database URL."""
        self.folder = folder
        make_shop_folder(folder)
        self.file = folder / DATABASE
        self.notices: tuple[str, ...] = ()
        """What was found and mended in the folder when it was last prepared, in words for the log."""
        self.url = url or f"sqlite:///{self.file}"
        self.engine = self._engine()
        self._write_engine = self.engine.execution_options(ringbench_writes=True)
        # The file lock keeps processes apart, the thread lock keeps the threads of this one in a fair queue.
        self._file_lock = FileLock(str(folder / LOCK), timeout=LOCK_SECONDS, thread_local=False, mode=FILE_MODE)
        self._thread_lock = threading.Lock()
        self._opened: tuple[int, int] | None = None
        self._waiting = threading.BoundedSemaphore(MOST_WAITING)
        self.lock_seconds: float = LOCK_SECONDS
        self._trial_engine = self._engine_of_copies()
        self._trials = threading.BoundedSemaphore(MOST_TRIALS)

    @property
    def photos(self) -> Path:
        """The folder of photos, each named by its hash."""
        return self.folder / PHOTOS

    @property
    def backups(self) -> Path:
        """The folder of the copies that were made before an upgrade or a restore."""
        return self.folder / BACKUPS

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
        event.listen(engine, "do_connect", self._before_connecting)
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
        self._follow_file()
        with Session(self.engine, autoflush=False) as session:
            yield session
            session.rollback()

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session that commits when the block ends well and takes everything back when it raises.

        Raises `Busy` when it is not its turn within `lock_seconds`.
        """
        until = monotonic() + self.lock_seconds
        with self._turn(until):
            self._follow_file()
            with Session(self._write_engine, autoflush=True, expire_on_commit=False) as session:
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
        """Close the folder to other accounts, clear leftovers away, and bring the tables to this program's version.

        Answers the name of the backup made before an upgrade; `notices` holds what was found in the folder.
        Raises `BrokenShop` when the folder was written by a newer or another program, or is damaged at an upgrade, and
        `Busy`.
        """
        # A shop that is up to date is opened without waiting for whoever writes to it.
        ready = self._is_up_to_date()
        try:
            with self._turn(monotonic() + (0 if ready else self.lock_seconds)):
                self.look_after_folder()
                self._follow_file()
                return self._migrate()
        except Busy:
            if not ready:
                raise
            self.notices = close_shop_folder(self.folder)
            return None

    def look_after_folder(self) -> None:
        """Close the folder to other accounts and clear leftovers away; call it under the lock of all writers."""
        self.notices = (*close_shop_folder(self.folder), *clear_leftovers(self.folder))

    def _is_up_to_date(self) -> bool:
        """Whether the tables are there and at this program's revision; False for what cannot be read."""
        if self.on_sqlite and not self.file.is_file():
            return False
        try:
            revision = self._revision()
        except (DatabaseError, sqlite3.Error, UnicodeDecodeError):
            return False
        return revision == ScriptDirectory.from_config(alembic_config(self.url)).get_current_head()

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
        if found is None and self.on_sqlite and self._has_tables():
            raise BrokenShop(f"{self.file} is a database of another program; nothing was changed. {RESTORE}")
        saved = self._copy_before_upgrade(f"before-{newest}") if found is not None and self.on_sqlite else None
        with self.engine.connect() as connection:
            migrate(connection, config, "head")
        return saved

    def _has_tables(self) -> bool:
        with reading_only(self.file) as connection:
            return bool(tables_of(connection) - {"alembic_version"})

    def _copy_before_upgrade(self, label: str) -> str:
        try:
            return self.save_copy(label)
        except DamagedDatabase as damaged:
            raise BrokenShop(
                f"The shop's database is damaged ({damaged}), so it was not upgraded and nothing was changed. {RESTORE}"
            ) from damaged

    def save_copy(self, label: str) -> str:
        """Copy the database into `backups/` by SQLite's own backup, safe beside writers; answer the file's name.

        The copy has its name only once it is whole and safe on disk. Raises `DamagedDatabase`; nothing is kept then.
        """
        target = self.backups / f"shop-{stamp()}-{label}.db"
        try:
            with new_database(target, self.file) as copy:
                fault = fault_of_database(copy, still=True)
                if fault:
                    raise DamagedDatabase(fault)
        except (sqlite3.DatabaseError, UnicodeDecodeError) as broken:
            if isinstance(broken, sqlite3.OperationalError):
                # A full disk or a missing permission says nothing of the database itself.
                raise
            raise DamagedDatabase(str(broken)) from broken
        return target.name

    def state(self) -> State:
        """What is in the place of the database: nothing, a sound shop, or something else and what is wrong with it."""
        if left_beside(self.folder):
            return State("unsound", "there are journals without their database")
        if not self.file.is_dir() and (not self.file.exists() or self.file.stat().st_size == 0):
            return State("nothing")
        # With no journal beside it nobody has the file open, and looking at it must not lay one there.
        still = is_alone(self.file)
        fault = fault_of_database(self.file, still=still)
        if fault:
            return State("unsound", fault)
        with reading_only(self.file, still=still) as connection:
            tables = tables_of(connection)
            if not {"alembic_version", "shop"} <= tables:
                return State("unsound", "it is a database of another program") if tables else State("nothing")
            (founded,) = connection.execute("SELECT count(*) FROM shop").fetchone()
        return State("shop" if founded else "nothing")

    def become(self, source: Path, label: str) -> Kept:
        """Replace everything in the database by another SQLite file of the same tables, in one step.

        A sound shop is copied into `backups/` under `label` first, and replaced through SQLite's own backup: a server
        that runs on this folder sees the old state until it is done, and the new one from then on. What is no sound
        shop is put aside as it is. All of it is done under the lock of all writers, so that no write falls between.
        """
        with self._turn(monotonic() + self.lock_seconds):
            self.look_after_folder()
            state = self.state()
            try:
                if state.kind != "unsound":
                    copy = self.save_copy(label) if state.kind == "shop" else ""
                    copy_database(source, self.file, still=True)
                    return Kept(copy=copy)
            except DamagedDatabase:
                # What only copying it brings to light.
                return self._take_the_place(source)
            return self._take_the_place(source)

    def _take_the_place(self, source: Path) -> Kept:
        with new_database(self.file, source):
            aside = put_aside(self.folder)
        self.engine.dispose()
        return Kept(aside=aside.name)

    def _before_connecting(self, *_ignored: object) -> None:
        # SQLite would make the file under the umask; those beside it get the permissions of the file itself.
        make_private_file(self.file)

    def _follow_file(self) -> None:
        """Let go of connections to a file that is no longer the shop's, because a restore put another in its place."""
        if not self.on_sqlite:
            return
        try:
            status = self.file.stat()
        except FileNotFoundError:
            return
        here = (status.st_dev, status.st_ino)
        if self._opened is not None and self._opened != here:
            self.engine.dispose()
        self._opened = here

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()
        self._trial_engine.dispose()


@lru_cache(maxsize=4)
def revisions_of(folder: Path) -> tuple[str, ...]:
    """The revisions of the tables that the migrations in a folder know, newest first."""
    script = ScriptDirectory(str(folder))
    return tuple(revision.revision for revision in script.walk_revisions())


def known_revisions() -> tuple[str, ...]:
    """The revisions of the tables that this program knows, newest first."""
    return revisions_of(migrations_folder())


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
