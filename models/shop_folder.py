"""What lies in a shop folder, and how it is kept: closed to other accounts, free of leftovers, damaged files put aside.

One folder is the whole shop: `shop.db photos/ backups/ logs/ lock`. Nothing here reads a row.
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from models.files import FOLDER_MODE, PART, Doors, is_open_to_others, make_private_folder, owned_by_another, sync_folder
from models.sqlite_file import BESIDE

DATABASE: Final = "shop.db"
LOCK: Final = "lock"
PHOTOS: Final = "photos"
BACKUPS: Final = "backups"
LOGS: Final = "logs"
FOLDERS: Final = (PHOTOS, BACKUPS, LOGS)
DATABASE_FILES: Final = (DATABASE, *(DATABASE + ending for ending in BESIDE))
COPIES: Final = "shop-*.db"
DAMAGED: Final = "damaged-"
"""How the name of a folder begins in which the files of a damaged database are kept."""


def stamp() -> str:
    """The moment, as names of copies carry it."""
    return datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")


def make_shop_folder(folder: Path) -> None:
    """Make a shop folder and the folders in it, for this account only. Raises `OSError`."""
    for name in FOLDERS:
        make_private_folder(folder / name)


def close_shop_folder(folder: Path) -> tuple[str, ...]:
    """Close a shop folder and everything of the shop in it to other accounts; answer in words what was found open.

    A folder that also serves for other things keeps its own mode, and only what is the shop's own in it is closed.
    """
    words = []
    if owned_by_another(folder):
        words.append(f"The folder {folder} belongs to another account of this machine, which can read and change it.")
    doors = Doors()
    if _is_of_the_shop_alone(folder):
        doors.close(folder)
    elif is_open_to_others(folder):
        words.append(f"The folder {folder} serves for other things too, so only the shop's own files in it are closed.")
    for path in _of_the_shop(folder):
        doors.close(path)
    if doors.closed:
        words.append(
            f"Other accounts of this machine could read {_listed(doors.closed)}. That is closed to them now "
            f"({FOLDER_MODE:o} for folders, 600 for files)."
        )
    if doors.still_open:
        why = doors.still_open[0][1]
        words.append(
            f"Other accounts of this machine can read {_listed([path for path, _why in doors.still_open])}, and that "
            f"could not be changed ({why}). Keep the shop in a folder of your own."
        )
    return tuple(words)


def clear_leftovers(folder: Path) -> tuple[str, ...]:
    """Delete what was still being written when a program was killed; answer in words what that was.

    Call it under the lock of all writers: what is not whole then will never be.
    """
    left = [*(folder / BACKUPS).glob(f".shop-*{PART}*"), *folder.glob(f".{DATABASE}.*{PART}*")]
    for file in left:
        file.unlink(missing_ok=True)
    return tuple(f"A copy that was cut off while it was written is cleared away: {file.name}." for file in left)


def copies_in(folder: Path) -> tuple[Path, ...]:
    """The copies of the database among the shop's backups, oldest first."""
    return tuple(sorted((folder / BACKUPS).glob(COPIES)))


def damaged_in(folder: Path) -> tuple[Path, ...]:
    """The damaged databases that were put aside, oldest first."""
    return tuple(sorted(folder.glob(f"{DAMAGED}*/{DATABASE}")))


def left_beside(folder: Path) -> tuple[Path, ...]:
    """Journals with something in them that lie in a folder without their database."""
    if os.path.lexists(folder / DATABASE):
        return ()
    return tuple(file for name in DATABASE_FILES if _has_something(file := folder / name))


def put_aside(folder: Path) -> Path:
    """Keep the files of the database as they are in a folder of their own in the shop folder, and answer which.

    Journals leave their place, so that none is taken for one of the next database; the database's own file stays there
    as well, where the disk allows a second name, until another takes its place. Raises `OSError`.
    """
    aside = folder / f"{DAMAGED}{stamp()}"
    make_private_folder(aside)
    found = [folder / name for name in DATABASE_FILES if os.path.lexists(folder / name)]
    for file in found:
        _second_name(file, aside / file.name)
    sync_folder(aside)
    for file in found:
        if file.name != DATABASE:
            file.unlink(missing_ok=True)
    sync_folder(folder)
    return aside


def _second_name(file: Path, other: Path) -> None:
    """Give a file another name without reading it; where a disk gives a file one name only, it is moved."""
    with suppress(OSError, NotImplementedError):
        os.link(file, other, follow_symlinks=False)
        return
    os.replace(file, other)


def _has_something(file: Path) -> bool:
    return file.is_file() and file.stat().st_size > 0


def _of_the_shop(folder: Path) -> list[Path]:
    own = [folder / name for name in (*FOLDERS, *DATABASE_FILES, LOCK)]
    own += sorted(folder.glob(f"{DAMAGED}*"))
    own += sorted(folder.glob(f".{DATABASE}.*"))
    # The folder first: once it is closed nobody comes by what is in it.
    inside = [file for one in own if one.is_dir() and os.access(one, os.R_OK) for file in sorted(one.iterdir())]
    return [path for path in (*own, *inside) if path.exists()]


def _is_of_the_shop_alone(folder: Path) -> bool:
    """Whether a folder is a shop's alone: no home, none for temporary files, and no other folders in it."""
    home = os.path.expanduser("~")
    if folder.stat().st_mode & stat.S_ISVTX:
        return False
    if os.path.isabs(home) and Path(home).resolve().is_relative_to(folder.resolve()):
        return False
    own = {*FOLDERS, LOCK}
    others = (path for path in folder.iterdir() if path.is_dir() and path.name not in own)
    return all(path.name.startswith((DAMAGED, ".")) for path in others)


def _listed(paths: list[Path]) -> str:
    return f"{paths[0]}" if len(paths) == 1 else f"{paths[0]} and {len(paths) - 1} more in it"
