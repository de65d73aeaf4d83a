"""A whole shop in one file, and back: the database by SQLite's own backup, and the photos that it names.

A backup can be made while people work. Restoring writes into the living database in one step, under the lock of all
writers, so that a server that runs meanwhile sees either the old shop or the new one.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
import zipfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from models.database import Store, copy_database
from models.operations.photo import PHOTO_NAME, hold_file, hold_photo, thumbnail_name
from models.operations.sign_in import sign_out_everywhere

DATABASE_MEMBER = "shop.db"
PHOTO_FOLDER = "photos/"
MOST_BYTES = 20 * 1024**3
"""What a backup may unpack to: more than any studio has, and less than what fills a disk by malice."""


class BadBackup(Exception):
    """A file cannot be written as a backup, or taken back as one; the message says why."""


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was written: how many photos it holds, and the names of those that were not in the folder."""

    photos: int
    missing: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Restored:
    """What a restore did: how many photos it brought, and the name of the copy of what was there ('' for nothing)."""

    photos: int
    kept_aside: str


def write_backup(store: Store, target: Path, *, replace: bool = False) -> Backup:
    """Write a shop into one ZIP file, which appears whole or not at all.

    Raises `BadBackup` when the file is there already and may not be replaced, or for a shop that is not on SQLite.
    """
    if not store.on_sqlite:
        raise BadBackup("This shop is kept in a database server. Back it up with the tools of that server.")
    if target.exists() and not replace:
        raise BadBackup(f"{target} is there already. Choose another name, or say --replace.")
    if not target.parent.is_dir():
        raise BadBackup(f"There is no folder {target.parent} to write a backup into.")
    with tempfile.TemporaryDirectory(prefix="ringbench-backup-") as work:
        copy = Path(work) / DATABASE_MEMBER
        copy_database(store.file, copy)
        # Photos are laid down before the row that names them, and only swept when nothing names them, so the copy's
        # photos are all there; each is held while it is read, should another backup sweep meanwhile.
        names = _photo_names(copy)
        part = target.with_name(f".{target.name}.{os.getpid()}.part")
        try:
            missing = _write_zip(part, copy, store.photos, names)
            os.replace(part, target)
        finally:
            part.unlink(missing_ok=True)
    return Backup(photos=len(names) - len(missing), missing=missing)


def restore_backup(store: Store, source: Path, *, replace: bool = False) -> Restored:
    """Make a shop folder what it was in a backup; an older one is brought up to this program's tables.

    Raises `BadBackup` for a file that is no backup or is broken, or when the folder holds a shop that may not be
    replaced, and `BrokenShop` for a backup of a newer program. Nothing is changed then.
    """
    if not store.on_sqlite:
        raise BadBackup("This shop is kept in a database server. Restore it with the tools of that server.")
    if not source.is_file():
        raise BadBackup(f"There is no file {source}.")
    holds_shop = _holds_shop(store.file)
    if holds_shop and not replace:
        raise BadBackup(
            f"There is a shop in {store.folder} already. Restore into an empty folder (--data), or say --replace: "
            "what is there now is then kept aside among its backups."
        )
    with tempfile.TemporaryDirectory(prefix="ringbench-restore-") as work:
        unpacked = Path(work)
        names = _unpack(source, unpacked)
        _bring_up(unpacked)
        for name in names:
            _lay_down(unpacked / PHOTO_FOLDER / name, store.photos / name)
        aside = store.save_copy("before-restore") if holds_shop else ""
        store.become(unpacked / DATABASE_MEMBER)
    return Restored(photos=sum(1 for name in names if PHOTO_NAME.fullmatch(name)), kept_aside=aside)


def _photo_names(database: Path) -> tuple[str, ...]:
    with closing(sqlite3.connect(database)) as connection:
        if not _has_table(connection, "design"):
            return ()
        rows = connection.execute("SELECT DISTINCT photo FROM design WHERE photo IS NOT NULL ORDER BY photo")
        return tuple(name for (name,) in rows if PHOTO_NAME.fullmatch(name))


def _write_zip(target: Path, database: Path, photos: Path, names: tuple[str, ...]) -> tuple[str, ...]:
    missing = []
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(database, DATABASE_MEMBER)
        for name in names:
            if not hold_photo(photos, name):
                missing.append(name)
                continue
            # Pictures do not shrink any further.
            archive.write(photos / name, PHOTO_FOLDER + name, zipfile.ZIP_STORED)
            small = thumbnail_name(name)
            if (photos / small).is_file():
                archive.write(photos / small, PHOTO_FOLDER + small, zipfile.ZIP_STORED)
    return tuple(missing)


def _unpack(source: Path, target: Path) -> tuple[str, ...]:
    """Unpack the members that a backup of ours has, and no others; answer the names of the photo files."""
    try:
        with zipfile.ZipFile(source) as archive:
            names = [info.filename for info in archive.infolist()]
            if DATABASE_MEMBER not in names:
                raise BadBackup(f"{source} is not a backup of Ringbench: there is no {DATABASE_MEMBER} in it.")
            foreign = [name for name in names if not _is_ours(name)]
            if foreign:
                raise BadBackup(f"{source} is not a backup of Ringbench: “{foreign[0][:80]}” does not belong in one.")
            if sum(info.file_size for info in archive.infolist()) > MOST_BYTES:
                raise BadBackup(f"{source} would unpack to more than {MOST_BYTES // 1024**3} GB, so it was left alone.")
            archive.extractall(target)
    except (zipfile.BadZipFile, EOFError, OSError) as broken:
        raise BadBackup(f"{source} is broken or no backup of Ringbench ({broken}). Use another copy.") from broken
    return tuple(
        name.removeprefix(PHOTO_FOLDER) for name in names if name.startswith(PHOTO_FOLDER) and name != PHOTO_FOLDER
    )


def _is_ours(name: str) -> bool:
    if name in {DATABASE_MEMBER, PHOTO_FOLDER}:
        return True
    photo = name.removeprefix(PHOTO_FOLDER)
    plain = photo.replace("-small.jpg", ".jpg")
    return name.startswith(PHOTO_FOLDER) and PHOTO_NAME.fullmatch(plain) is not None


def _bring_up(folder: Path) -> None:
    """Check an unpacked database and bring its tables up to this program, before anything of the shop is touched."""
    file = folder / DATABASE_MEMBER
    try:
        with closing(sqlite3.connect(file)) as connection:
            ours = _has_table(connection, "alembic_version") and _has_table(connection, "shop")
            whole = connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    except sqlite3.DatabaseError as broken:
        raise BadBackup(f"The database in the backup is broken ({broken}). Use another copy.") from broken
    if not ours or not whole:
        raise BadBackup("The database in the backup is broken, or not one of Ringbench. Use another copy.")
    store = Store(folder)
    try:
        store.prepare()
        with store.writing() as session:
            # A device that was signed out since the backup was made must not be signed in again by it.
            sign_out_everywhere(session)
    finally:
        store.close()
    # What is copied into the shop must be one file, with nothing left in the journal beside it.
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _lay_down(source: Path, target: Path) -> None:
    """Put a photo into the folder; one of the same name is the same picture, as its name is its hash."""
    if hold_file(target):
        return
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    shutil.copyfile(source, part)
    os.replace(part, target)


def _holds_shop(file: Path) -> bool:
    if not file.is_file() or file.stat().st_size == 0:
        return False
    try:
        with closing(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)) as connection:
            if not _has_table(connection, "shop"):
                return False
            return bool(connection.execute("SELECT count(*) FROM shop").fetchone() != (0,))
    except sqlite3.DatabaseError:
        # Something is there, and it is not ours to write over unasked.
        return True


def _has_table(connection: sqlite3.Connection, name: str) -> bool:
    found = connection.execute("SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (name,)).fetchone()
    return found is not None
