"""Clearing away photos that no design names: replaced ones, and ones that were sent and never saved.

A photo is laid down before the row that names it is committed, so a file that is not named may be about to be. Nothing
younger than a day is touched; whoever is about to name an older one makes it young first (`hold_photo`).
"""

from __future__ import annotations

import sqlite3
import time
from contextlib import closing
from pathlib import Path
from typing import Final

from sqlmodel import Session, col, select

from models.database import Store
from models.operations.photo import PHOTO_NAME, thumbnail_name
from models.tables import Design

YOUNG_SECONDS: Final = 24 * 3600
_ASIDE: Final = ".swept-"


def sweep_photos(store: Store) -> int:
    """Delete photos older than a day that no design names, here or in a copy among the shop's backups.

    Answers how many. It works under the lock of all writers, so that no row is committed meanwhile. With a copy that
    cannot be read nothing is known of what it names, and nothing is deleted.
    """
    with store.writing() as session:
        named = _named(session, store.folder / "backups")
        if named is None:
            return 0
        before = time.time() - YOUNG_SECONDS
        # Backwards, a photo comes before its thumbnail, which stays as long as the photo does.
        files = sorted(store.photos.iterdir(), reverse=True)
        swept = [file for file in files if _is_left(file, named) and _delete(file, before)]
    return sum(1 for file in swept if PHOTO_NAME.fullmatch(file.name))


def _named(session: Session, copies: Path) -> set[str] | None:
    """The names of all files that some design's photo has; None when a copy cannot be asked."""
    names = {name for name in session.exec(select(Design.photo).where(col(Design.photo).is_not(None))) if name}
    for copy in sorted(copies.glob("shop-*.db")):
        try:
            with closing(sqlite3.connect(f"{copy.resolve().as_uri()}?mode=ro&immutable=1", uri=True)) as connection:
                names |= {name for (name,) in connection.execute("SELECT photo FROM design WHERE photo IS NOT NULL")}
        except sqlite3.DatabaseError:
            return None
    return names | {thumbnail_name(name) for name in names}


def _is_left(file: Path, named: set[str]) -> bool:
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
