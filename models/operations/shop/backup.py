"""A whole shop in one file: the database by SQLite's own backup, and the photos that it names; made while people work.

A backup takes its name only after it was read back and proven as `restore` would: until then the file that had the name
before stays. What is in such a file stands in `archive`, bringing it back in `restore`.
"""

from __future__ import annotations

import hashlib
import sqlite3
import tempfile
import time
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from models.database import BrokenShop, Store
from models.files import PART, is_open_to_others, whole_file
from models.operations.shop.archive import BadBackup, LeftOut, write_archive
from models.operations.shop.photo import fault_of_photo
from models.operations.shop.restore import Unsound, bring_up, prove_database, prove_opens, take_out
from models.shop_folder import DATABASE
from models.sqlite_file import copy_database

LEFTOVER_SECONDS = 3600
"""A backup that was not written to for so long was cut off."""


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was written: how many photos it holds, and the names of those that it could not.

    `missing` are not in the shop folder; the files of `damaged` are not what they were when they were kept. `open_file`
    says that other accounts can read the backup, because the disk that it is on keeps no permissions.
    """

    photos: int
    missing: tuple[str, ...]
    damaged: tuple[str, ...] = ()
    open_file: bool = False


def write_backup(store: Store, target: Path, *, replace: bool = False) -> Backup:
    """Write a shop into one ZIP file, which appears whole and proven or not at all.

    With a photo that is missing or damaged a new file holds the rest, but no older backup gives way to it.
    Raises `BadBackup` when the file is there already and may not be replaced, for a shop that is damaged or not on
    SQLite, and for a file that cannot be read back as it was written.
    """
    target = _place_for(store, target, replace=replace)
    stays = f" {target} is as it was." if target.exists() else " No backup was written."
    with tempfile.TemporaryDirectory(prefix="ringbench-backup-") as work:
        copy = Path(work) / DATABASE
        # Photos are laid down before the row that names them, and only swept when nothing names them, so the copy's
        # photos are all there; each is held while it is read, should another backup sweep meanwhile.
        names = _proven_copy(store, copy, stays)
        with whole_file(target) as part:
            left_out = write_archive(part, copy, store.photos, names)
            if left_out.all and target.exists():
                raise BadBackup(_keeps_older(left_out, target))
            _prove_archive(part, copy, frozenset(names) - left_out.all, stays)
    return Backup(
        photos=len(names) - len(left_out.all),
        missing=left_out.missing,
        damaged=left_out.damaged,
        open_file=is_open_to_others(target),
    )


def _place_for(store: Store, target: Path, *, replace: bool) -> Path:
    """The file to write, with what a killed backup left beside it cleared away. Raises `BadBackup`."""
    if not store.on_sqlite:
        raise BadBackup("This shop is kept in a database server. Back it up with the tools of that server.")
    if target.is_dir():
        raise BadBackup(f"{target} is a folder. Name a file in it.")
    if target.exists() and not replace:
        raise BadBackup(f"{target} is there already. Choose another name, or say --replace.")
    # Behind a link the file itself is replaced, and the link stays.
    target = target.resolve()
    if not target.parent.is_dir():
        raise BadBackup(f"There is no folder {target.parent} to write a backup into.")
    cut_off = time.time() - LEFTOVER_SECONDS
    for left in target.parent.glob(f".*{PART}"):
        if left.name.startswith(f".{target.name}.") and left.stat().st_mtime < cut_off:
            left.unlink(missing_ok=True)
    return target


def _proven_copy(store: Store, copy: Path, stays: str) -> tuple[str, ...]:
    """Copy the database, prove the copy, and answer which photos it names. Raises `BadBackup`."""
    try:
        copy_database(store.file, copy)
        prove_database(copy)
        with closing(Store(copy.parent)) as opened:
            return prove_opens(opened)
    except (sqlite3.DatabaseError, UnicodeDecodeError, Unsound) as broken:
        if isinstance(broken, sqlite3.OperationalError):
            # A full disk or a missing permission says nothing of the database itself.
            raise
        raise BadBackup(
            f"The shop's database is damaged, so it cannot be backed up ({broken}).{stays} Put the last good backup in "
            "its place with 'ringbench restore FILE --replace': what is there now is kept aside."
        ) from broken


def _prove_archive(part: Path, copy: Path, photos: frozenset[str], stays: str) -> None:
    """Open a finished file anew, as `restore` would, and compare it with what was put in. Raises `BadBackup`."""
    with tempfile.TemporaryDirectory(prefix="ringbench-backup-") as again:
        folder = Path(again)
        try:
            beside = take_out(part, folder)
            same = _digest(folder / DATABASE) == _digest(copy) and not any(
                fault_of_photo(beside, one) for one in photos
            )
            if same:
                bring_up(folder, keep_keys=False)
        except (BadBackup, BrokenShop, Unsound) as broken:
            raise BadBackup(f"The backup cannot be read back after it was written ({broken}).{stays}") from broken
        if not same:
            raise BadBackup(f"The backup reads back otherwise than it was written; look after the disk.{stays}")


def _keeps_older(left_out: LeftOut, target: Path) -> str:
    faults = [f"{name} is not in the shop folder" for name in left_out.missing]
    faults += [f"{name} is damaged" for name in left_out.damaged]
    more = f", and {len(faults) - 1} more" if len(faults) > 1 else ""
    return (
        f"A photo could not be backed up: {faults[0]}{more}. {target} is as it was, as it may hold the photo: restore "
        "brings it back from there. Or back up under another name: that file holds everything else."
    )


def _digest(file: Path) -> str:
    with file.open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()
