"""Files and folders as a shop keeps them: closed to other accounts, whole or not there, safe once they have a name.

Nothing here knows what is in a file. On Windows a person's own folders are closed by the system itself, and the modes
of this module say nothing there.
"""

from __future__ import annotations

import errno
import os
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

FOLDER_MODE: Final = 0o700
FILE_MODE: Final = 0o600
OTHERS: Final = 0o077
"""What the group and everybody else may do."""
PART: Final = ".part"
"""How the name of a file ends that is still being written; it begins with a dot."""

_HAS_MODES: Final = os.name == "posix"
# Some network drives know no such thing as a folder that is safe on disk; there a file's own is all that can be had.
_NO_FOLDER_SYNC: Final = frozenset({errno.EINVAL, errno.ENOTSUP, errno.EBADF})


def make_private_folder(folder: Path) -> None:
    """Make a folder, and those above it that are missing, for this account only, whatever the umask says.

    One that is there is left as it is. Raises `OSError` when it cannot be made or something else has its name.
    """
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    for one in reversed(missing):
        one.mkdir(mode=FOLDER_MODE, exist_ok=True)
        _set_mode(one, FOLDER_MODE)
    folder.mkdir(exist_ok=True)


def private_opener(path: str, flags: int) -> int:
    """The `opener` of `open` for a file that is this account's only, whatever the umask says."""
    opened = os.open(path, flags, FILE_MODE)
    if _HAS_MODES:
        # A disk that keeps no modes refuses this; the file is written all the same.
        with suppress(OSError):
            os.fchmod(opened, FILE_MODE)
    return opened


def make_private_file(file: Path) -> None:
    """Make an empty file for this account only, unless there is one."""
    with suppress(FileExistsError), open(file, "xb", opener=private_opener):
        pass


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """A file to write beside `target`, which takes its place in one step at the end, or goes when the block raises.

    It is safe on disk before it takes the place, and the place is before this ends.
    """
    part = part_of(target)
    make_private_file(part)
    try:
        yield part
        sync_file(part)
        os.replace(part, target)
    finally:
        part.unlink(missing_ok=True)
    sync_folder(target.parent)


def part_of(target: Path) -> Path:
    """A name beside a file under which it can be written before it is whole."""
    return target.with_name(f".{target.name}.{secrets.token_hex(4)}{PART}")


def sync_file(file: Path) -> None:
    """Wait until a file is safe on disk."""
    with file.open("r+b") as opened:
        os.fsync(opened.fileno())


def sync_folder(folder: Path) -> None:
    """Wait until the names in a folder are safe on disk, where the system can tell."""
    if not _HAS_MODES:
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    except OSError as refused:
        if refused.errno not in _NO_FOLDER_SYNC:
            raise
    finally:
        os.close(opened)


def is_open_to_others(path: Path) -> bool:
    """Whether other accounts of this machine may read or change a file or folder."""
    return _HAS_MODES and bool(path.stat().st_mode & OTHERS)


@dataclass(slots=True)
class Doors:
    """What was found open to other accounts of this machine: closed now, or still open with the reason."""

    closed: list[Path] = field(default_factory=list)
    still_open: list[tuple[Path, str]] = field(default_factory=list)

    def close(self, path: Path) -> None:
        """Take from other accounts what they may do with a file or a folder; it is not opened any further."""
        try:
            if not is_open_to_others(path):
                return
            path.chmod(stat.S_IMODE(path.stat().st_mode) & ~OTHERS)
            if is_open_to_others(path):
                self.still_open.append((path, "this disk keeps no permissions"))
            else:
                self.closed.append(path)
        except FileNotFoundError:
            # It went meanwhile, as drafts do.
            return
        except OSError as refused:
            self.still_open.append((path, refused.strerror or str(refused)))


def owned_by_another(path: Path) -> bool:
    """Whether a file or folder belongs to another account than the one that this program runs under."""
    return _HAS_MODES and path.stat().st_uid != os.geteuid()


def _set_mode(path: Path, mode: int) -> None:
    if _HAS_MODES:
        with suppress(OSError):
            path.chmod(mode)
