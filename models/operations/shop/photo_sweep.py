"""Clearing away photos that no row names: replaced ones, and ones that were sent and never saved.

A photo is laid down before the row that names it is committed, so a file that is not named may be about to be. Nothing
younger than a day is touched; whoever is about to name an older one makes it young first (`hold_photo`).
"""

from __future__ import annotations

import logging
import time
from pathlib import Path
from typing import Final

from sqlmodel import Session

from models.database import Store
from models.operations.shop.photo import PHOTO_NAME, thumbnail_name
from models.operations.shop.photo_names import copies_of, photos_named, photos_named_in, unreadable_copies

YOUNG_SECONDS: Final = 24 * 3600
_ASIDE: Final = ".swept-"
_logger = logging.getLogger("ringbench.photos")


def sweep_photos(store: Store) -> int:
    """Delete photos older than a day that no row names, here or in a copy among the shop's backups or put aside.

    Answers how many. It works under the lock of all writers, so that no row is committed meanwhile. With a copy that
    cannot be read nothing is known of what it names: nothing is deleted, and the log says so (`why_none_is_swept`).
    """
    with store.writing() as session:
        unread = why_none_is_swept(store.folder)
        if unread:
            _logger.warning("%s", unread)
            return 0
        named = _named(session, store.folder)
        before = time.time() - YOUNG_SECONDS
        # Backwards, a photo comes before its thumbnail, which stays as long as the photo does.
        files = sorted(store.photos.iterdir(), reverse=True)
        swept = [file for file in files if _is_left(file, named) and _delete(file, before)]
    return sum(1 for file in swept if PHOTO_NAME.fullmatch(file.name))


def why_none_is_swept(folder: Path) -> str:
    """Which copy keeps photos from being cleared away, and what to do about it; '' when every copy can be asked."""
    unread = unreadable_copies(folder)
    if not unread:
        return ""
    first, why = unread[0]
    more = f", and {len(unread) - 1} more like it," if len(unread) > 1 else ""
    return (
        f"No photo is cleared away while {first}{more} cannot be read ({why}): it may name some that are wanted back. "
        "Move it elsewhere, or delete it, once you do not need it any more."
    )


def _named(session: Session, folder: Path) -> frozenset[str]:
    """The names of all files that some row's photo has, here or in a copy. Raises `UnreadableCopy`."""
    names = photos_named(session).union(*(photos_named_in(copy) for copy in copies_of(folder)))
    return names | {thumbnail_name(name) for name in names}


def _is_left(file: Path, named: frozenset[str]) -> bool:
    """Whether a file is one of ours that nothing names; a hidden one was left by a write that was cut off."""
    photo = file.name.replace("-small.jpg", ".jpg")
    ours = file.name.startswith(".") or PHOTO_NAME.fullmatch(photo) is not None
    kept = photo != file.name and file.with_name(photo).exists()
    return ours and not kept and file.name not in named and file.is_file()


def _delete(file: Path, before: float) -> bool:
    """Delete a file that was last held before a moment; answers whether it did.

    It is put aside first: who holds it in between either finds no file and writes it again, or is seen here by its
    time, and gets it back.
    """
    try:
        if file.stat().st_mtime >= before:
            return False
        aside = file.with_name(f"{_ASIDE}{file.name.removeprefix(_ASIDE)}")
        file.replace(aside)
        if aside.stat().st_mtime >= before:
            aside.replace(file)
            return False
        aside.unlink()
    except FileNotFoundError:
        # A write that was still under way took its draft away itself.
        return False
    return True
