"""The file that a backup is: a ZIP of the database and the photos that it names. Nothing here knows what is in them."""

from __future__ import annotations

import errno
import os
import struct
import zipfile
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from models.operations.shop.photo import PHOTO_NAME, fault_of_photo, fault_of_thumbnail, hold_photo, thumbnail_name
from models.shop_folder import DATABASE, PHOTOS

PHOTO_FOLDER = f"{PHOTOS}/"
MOST_BYTES = 20 * 1024**3
"""What a backup may unpack to: more than any studio has, and less than what fills a disk by malice."""
_METHODS = frozenset({zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED})
# What the library raises for a damaged file depends on where the damage is.
_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    LookupError,
    OverflowError,
)


class BadBackup(Exception):
    """A file cannot be written as a backup, or taken back as one; the message says why."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """The photos that a backup lacks: those that are not in the shop folder, and those whose file is damaged."""

    missing: tuple[str, ...] = ()
    damaged: tuple[str, ...] = ()

    @property
    def all(self) -> frozenset[str]:
        """The names of all of them."""
        return frozenset((*self.missing, *self.damaged))


def write_archive(target: Path, database: Path, photos: Path, names: Sequence[str]) -> LeftOut:
    """Write a database and the photos of these names into a ZIP file; answer which photos could not be put in."""
    missing, damaged = [], []
    # The file is there already, for this account only; opened anew it stays so.
    with target.open("r+b") as out, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(database, DATABASE)
        for name in names:
            if not hold_photo(photos, name):
                missing.append(name)
            elif fault_of_photo(photos, name):
                damaged.append(name)
            else:
                _add_photo(archive, photos, name)
    return LeftOut(tuple(missing), tuple(damaged))


def unpack(source: Path, target: Path) -> tuple[str, ...]:
    """Unpack the members that a backup of ours has, and no others; answer the names of the photo files.

    Raises `BadBackup`, and `OSError` for a full disk.
    """
    try:
        with zipfile.ZipFile(source) as archive:
            names = _members(source, archive)
            archive.extractall(target)
    except OSError as refused:
        if refused.errno in {errno.ENOSPC, errno.EDQUOT}:
            raise
        raise _broken(source, refused) from refused
    except _BROKEN as broken:
        raise _broken(source, broken) from broken
    return tuple(
        name.removeprefix(PHOTO_FOLDER) for name in names if name.startswith(PHOTO_FOLDER) and name != PHOTO_FOLDER
    )


def _broken(source: Path, error: Exception) -> BadBackup:
    why = os.strerror(error.errno) if isinstance(error, OSError) and error.errno else str(error)
    return BadBackup(f"{source} is broken or no backup of Ringbench ({why}). Use another copy.")


def _add_photo(archive: zipfile.ZipFile, photos: Path, name: str) -> None:
    # Pictures do not shrink any further.
    archive.write(photos / name, PHOTO_FOLDER + name, zipfile.ZIP_STORED)
    if not fault_of_thumbnail(photos, name):
        small = thumbnail_name(name)
        archive.write(photos / small, PHOTO_FOLDER + small, zipfile.ZIP_STORED)


def _members(source: Path, archive: zipfile.ZipFile) -> list[str]:
    members = archive.infolist()
    names = [info.filename for info in members]
    if DATABASE not in names:
        raise BadBackup(f"{source} is not a backup of Ringbench: there is no {DATABASE} in it.")
    foreign = [name for name in names if not _is_ours(name)]
    if foreign:
        raise BadBackup(f"{source} is not a backup of Ringbench: “{foreign[0][:80]}” does not belong in one.")
    if len(set(names)) < len(names) or any(info.compress_type not in _METHODS for info in members):
        raise BadBackup(f"{source} is not a backup of Ringbench: it is not packed as one. Use another copy.")
    if sum(info.file_size for info in members) > MOST_BYTES:
        raise BadBackup(f"{source} would unpack to more than {MOST_BYTES // 1024**3} GB, so it was left alone.")
    return names


def _is_ours(name: str) -> bool:
    if name in {DATABASE, PHOTO_FOLDER}:
        return True
    photo = name.removeprefix(PHOTO_FOLDER)
    plain = photo.replace("-small.jpg", ".jpg")
    return name.startswith(PHOTO_FOLDER) and PHOTO_NAME.fullmatch(plain) is not None
