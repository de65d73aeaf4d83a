"""A shop made what it was in a backup, or in a copy that was made before an upgrade or an earlier restore.

All is unpacked, proven and brought up to this program's tables elsewhere first. Then photos are laid down, and the
database takes the place of the old one in one step, under the lock of all writers: a server that runs meanwhile sees
either the old shop or the new one.
"""

from __future__ import annotations

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import Session, col, delete, func, select

from models.database import BrokenShop, Store, known_revisions
from models.operations.shop.archive import BadBackup, unpack
from models.operations.shop.check_rows import check_rows
from models.operations.shop.photo import (
    PHOTO_NAME,
    fault_of_photo,
    fault_of_thumbnail,
    hold_photo,
    lay_down,
    thumbnail_name,
    thumbnail_of,
)
from models.operations.shop.photo_names import photos_named
from models.operations.shop.sign_in import sign_out_everywhere
from models.queries.shop.sign_in import has_password
from models.shop_folder import BACKUPS, DATABASE, PHOTOS
from models.sqlite_file import copy_database, fault_of_database, is_alone, is_sqlite, reading_only, tables_of
from models.tables import ProgramKey, SignedIn


class Unsound(Exception):
    """A database is no sound shop; the message says what is wrong with it."""


@dataclass(frozen=True, slots=True)
class Access:
    """Who could enter the shop of a backup: how many devices were signed in, the names of its keys, and a password.

    `keys_live` says whether the keys let programs in again; devices are always signed out.
    """

    devices: int
    keys: tuple[str, ...]
    keys_live: bool
    has_password: bool


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did.

    How many photos the shop has, those that neither the backup nor the folder has whole, and where what was there is
    kept: a copy among the backups, or a folder of damaged files in the shop folder ('' for nothing).
    """

    photos: int
    without: tuple[str, ...]
    kept_aside: str
    damaged_aside: str
    access: Access


def restore_backup(store: Store, source: Path, *, replace: bool = False, keep_keys: bool = False) -> Restored:
    """Make a shop folder what it was in a backup; an older one is brought up to this program's tables.

    Devices that were signed in are signed out; keys of programs are dropped unless `keep_keys`. What is no sound shop
    is put aside as it is. Raises `BadBackup` for a file that is no backup or is broken, or when the folder holds
    something that may not be replaced, and `BrokenShop` for a backup of a newer program. Nothing is changed then.
    """
    if not store.on_sqlite:
        raise BadBackup("This shop is kept in a database server. Restore it with the tools of that server.")
    if not source.is_file():
        raise BadBackup(f"There is no file {source}.")
    if not replace:
        _refuse_to_replace(store)
    with tempfile.TemporaryDirectory(prefix="ringbench-restore-") as work:
        unpacked = Path(work)
        beside = take_out(source, unpacked)
        try:
            named, access = bring_up(unpacked, keep_keys=keep_keys)
        except Unsound as unsound:
            raise BadBackup(f"The database in the backup is broken ({unsound}). Use another copy.") from unsound
        without = _lay_photos(named, beside, store.photos)
        kept = store.become(unpacked / DATABASE, "before-restore")
    return Restored(
        photos=len(named) - len(without),
        without=without,
        kept_aside=kept.copy,
        damaged_aside=kept.aside,
        access=access,
    )


def take_out(source: Path, target: Path) -> Path:
    """Lay the database of a backup into a folder; answer where its photos are. Raises `BadBackup`.

    Beside an archive, a copy of the database as it lies among a shop's backups is taken; its photos are that shop's.
    """
    if not is_sqlite(source):
        unpack(source, target)
        return target / PHOTOS
    try:
        copy_database(source, target / DATABASE, still=is_alone(source))
    except (sqlite3.DatabaseError, UnicodeDecodeError) as broken:
        raise BadBackup(f"The copy {source} is broken ({broken}). Use another one.") from broken
    shop = source.resolve().parent
    return (shop.parent if shop.name == BACKUPS else shop) / PHOTOS


def bring_up(folder: Path, *, keep_keys: bool) -> tuple[tuple[str, ...], Access]:
    """Prove an unpacked database and bring its tables up to this program, before anything of the shop is touched.

    Answers which photos it names, and who could enter. Raises `Unsound` and `BrokenShop`.
    """
    file = folder / DATABASE
    prove_database(file)
    store = Store(folder)
    try:
        with _as_unsound():
            store.prepare()
            with store.writing() as session:
                access = _lock_out(session, keep_keys=keep_keys)
        # What was just brought up is proven as the shop that it will be.
        named = prove_opens(store)
    finally:
        store.close()
    # What is copied into the shop must be one file, with nothing left in the journal beside it.
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return named, access


def prove_opens(store: Store) -> tuple[str, ...]:
    """Prove that a shop opens: its tables have their columns, and every row can be read. Answers the photos it names.

    Raises `Unsound`.
    """
    with _as_unsound(), store.reading() as session:
        for words in check_rows(session):
            raise Unsound(words)
        return tuple(sorted(name for name in photos_named(session) if PHOTO_NAME.fullmatch(name)))


@contextmanager
def _as_unsound() -> Iterator[None]:
    """Raise `Unsound` for whatever a damaged database makes of a migration or a query."""
    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, ValueError, ArithmeticError, LookupError, TypeError) as broken:
        raise Unsound(str(getattr(broken, "orig", None) or broken)) from broken


def prove_database(file: Path) -> None:
    """Prove that a file is the whole database of a shop, of this program's version or an older one.

    Raises `Unsound`, and `BrokenShop` for one of a newer program.
    """
    fault = fault_of_database(file, still=is_alone(file))
    if fault:
        raise Unsound(fault)
    with _as_unsound(), reading_only(file, still=is_alone(file)) as connection:
        if not {"alembic_version", "shop"} <= tables_of(connection):
            raise Unsound("it is not one of Ringbench")
        revision = connection.execute("SELECT version_num FROM alembic_version").fetchone()
    if revision is None:
        raise Unsound("it does not say which version wrote it")
    if revision[0] not in known_revisions():
        raise BrokenShop(
            f"That shop was last opened by a newer Ringbench (its tables are at '{revision[0]}'). "
            "Use that newer version."
        )


def _refuse_to_replace(store: Store) -> None:
    state = store.state()
    if state.kind == "shop":
        raise BadBackup(
            f"There is a shop in {store.folder} already. Restore into an empty folder (--data), or say --replace: "
            "what is there now is then kept aside among its backups."
        )
    if state.kind == "unsound":
        raise BadBackup(
            f"There is a database in {store.folder} already that is no sound shop ({state.fault}). Say --replace: its "
            "files are then put aside as they are, and the backup takes their place."
        )


def _lock_out(session: Session, *, keep_keys: bool) -> Access:
    """Let in nobody by what a backup brings: a device or a program may have been locked out since it was made."""
    access = Access(
        devices=session.exec(select(func.count()).select_from(SignedIn)).one(),
        keys=tuple(session.exec(select(ProgramKey.name).order_by(col(ProgramKey.id)))),
        keys_live=keep_keys,
        has_password=has_password(session),
    )
    sign_out_everywhere(session)
    if not keep_keys:
        session.exec(delete(ProgramKey))
    return access


def _lay_photos(names: tuple[str, ...], source: Path, target: Path) -> tuple[str, ...]:
    """Have each photo whole in the shop folder, from the backup where it is not; answer those that nobody has whole."""
    without = []
    for name in names:
        if fault_of_photo(target, name) and fault_of_photo(source, name):
            without.append(name)
            continue
        if not hold_photo(target, name) or fault_of_photo(target, name):
            lay_down(target / name, (source / name).read_bytes())
        if fault_of_thumbnail(target, name):
            small = thumbnail_name(name)
            lay_down(target / small, thumbnail_of(source if not fault_of_thumbnail(source, name) else target, name))
    return tuple(without)
