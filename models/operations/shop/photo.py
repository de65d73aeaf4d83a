"""Photos: checked, re-encoded and laid into the shop folder by their hash, before the row that names them is committed.

Nothing of the sent file is kept but its picture: no EXIF, no colour profile, no name. A photo whose row was never
committed stays behind as a file that nobody names; such files are cleared away in `photo_sweep`.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import threading
from io import BytesIO
from pathlib import Path
from typing import Literal

from PIL import Image, UnidentifiedImageError

from models.files import whole_file
from models.intake.faults import Faults
from models.operations.shop.picture import Unusable, read_picture

MOST_BYTES = 10 * 1024 * 1024
THUMBNAIL_PX = 320
QUALITY = 85
PHOTO_NAME = re.compile(r"[0-9a-f]{64}\.jpg")
# A picture unpacked takes up to 250 MB; a small board is never asked for two at once.
_ONE_AT_A_TIME = threading.Lock()

TOO_LARGE = "This picture is over 10 MB. Choose a smaller one, or export it smaller."
EMPTY = "This file is empty. Choose the picture again."


def keep_photo(folder: Path, content: bytes, *, field: str = "photo") -> str | Faults:
    """Keep a picture and its thumbnail in the folder; answer its name, or what is wrong with it.

    The same picture is kept once; a damaged file of its name is replaced by the good one. Sides are at most 1600 px,
    turned as the camera noted, see-through parts on white.
    """
    refused = _too_heavy(content)
    if refused:
        return Faults.of(field, refused)
    try:
        with _ONE_AT_A_TIME:
            picture = read_picture(content)
    except Unusable as unusable:
        return Faults.of(field, unusable.message)
    large = _jpeg(picture)
    name = f"{hashlib.sha256(large).hexdigest()}.jpg"
    lay_down(folder / thumbnail_name(name), _thumbnail(picture))
    lay_down(folder / name, large)
    return name


def photo_file(folder: Path, name: str, *, small: bool = False) -> Path | None:
    """The file of a photo, or of its thumbnail; None when the name is none of ours or there is no such file."""
    if not PHOTO_NAME.fullmatch(name):
        return None
    file = folder / (thumbnail_name(name) if small else name)
    return file if file.is_file() else None


def hold_photo(folder: Path, name: str) -> bool:
    """Make a photo that is kept already as young as a new one, so that it stays until a row names it.

    Answers whether it is there.
    """
    if not PHOTO_NAME.fullmatch(name) or not hold_file(folder / name):
        return False
    hold_file(folder / thumbnail_name(name))
    return True


def fault_of_photo(folder: Path, name: str) -> Literal["", "missing", "damaged"]:
    """Whether a photo is in the folder as it was kept: its name is the SHA-256 of its content."""
    if not PHOTO_NAME.fullmatch(name):
        return "missing"
    try:
        content = (folder / name).read_bytes()
    except FileNotFoundError:
        return "missing"
    except OSError:
        # A bad spot on the disk, or something else that has the name of a file.
        return "damaged"
    return "" if f"{hashlib.sha256(content).hexdigest()}.jpg" == name else "damaged"


def fault_of_thumbnail(folder: Path, name: str) -> Literal["", "missing", "damaged"]:
    """Whether the thumbnail of a photo is in the folder and can be shown to its last line."""
    file = folder / thumbnail_name(name)
    try:
        with Image.open(file, formats=("JPEG",)) as opened:
            if max(opened.size) > THUMBNAIL_PX:
                return "damaged"
            opened.load()
    except FileNotFoundError:
        return "missing"
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, EOFError, IndexError):
        return "damaged"
    return ""


def thumbnail_of(folder: Path, name: str) -> bytes:
    """The thumbnail of a photo as it is kept; where it is missing or damaged, made anew from the photo."""
    if not fault_of_thumbnail(folder, name):
        return (folder / thumbnail_name(name)).read_bytes()
    return _thumbnail(read_picture((folder / name).read_bytes()))


def thumbnail_name(name: str) -> str:
    """The file name of a photo's thumbnail."""
    return f"{name.removesuffix('.jpg')}-small.jpg"


def _too_heavy(content: bytes) -> str:
    if not content:
        return EMPTY
    return TOO_LARGE if len(content) > MOST_BYTES else ""


def _thumbnail(picture: Image.Image) -> bytes:
    picture.thumbnail((THUMBNAIL_PX, THUMBNAIL_PX), Image.Resampling.LANCZOS)
    return _jpeg(picture)


def _jpeg(picture: Image.Image) -> bytes:
    # A fresh image carries nothing of the old one but its pixels.
    bare = Image.new("RGB", picture.size)
    bare.paste(picture)
    out = BytesIO()
    bare.save(out, "JPEG", quality=QUALITY, optimize=True, progressive=True)
    return out.getvalue()


def hold_file(file: Path) -> bool:
    """Set a file's time to now; answers whether there is such a file."""
    try:
        os.utime(file)
    except FileNotFoundError:
        return False
    return True


def lay_down(file: Path, content: bytes) -> None:
    """Have this content in a file, whole and safe on disk; a file that has it already is only made young."""
    if hold_file(file) and _holds(file, content):
        return
    if file.is_dir():
        raise IsADirectoryError(errno.EISDIR, "a folder has the name of a photo", str(file))
    with whole_file(file) as part:
        part.write_bytes(content)


def _holds(file: Path, content: bytes) -> bool:
    try:
        return file.read_bytes() == content
    except OSError:
        return False
