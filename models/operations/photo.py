"""Photos: checked, re-encoded and laid into the shop folder by their hash, before the row that names them is committed.

Nothing of the sent file is kept but its picture: no EXIF, no colour profile, no name. A photo whose row was never
committed stays behind as a file that nobody names; such files are cleared away in `photo_sweep`.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import threading
from io import BytesIO
from pathlib import Path

from PIL import Image

from models.intake.faults import Faults
from models.operations.picture import Unusable, read_picture

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

    The same picture is kept once. Sides are at most 1600 px, turned as the camera noted, see-through parts on white.
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
    picture.thumbnail((THUMBNAIL_PX, THUMBNAIL_PX), Image.Resampling.LANCZOS)
    _write(folder / thumbnail_name(name), _jpeg(picture))
    _write(folder / name, large)
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


def thumbnail_name(name: str) -> str:
    """The file name of a photo's thumbnail."""
    return f"{name.removesuffix('.jpg')}-small.jpg"


def _too_heavy(content: bytes) -> str:
    if not content:
        return EMPTY
    return TOO_LARGE if len(content) > MOST_BYTES else ""


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


def _write(file: Path, content: bytes) -> None:
    """Write a whole file or none: beside its place first, safe on disk, then moved there in one step."""
    if hold_file(file):
        return
    draft = file.with_name(f".{file.name}.{secrets.token_hex(4)}")
    try:
        with draft.open("wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        draft.replace(file)
    finally:
        draft.unlink(missing_ok=True)
