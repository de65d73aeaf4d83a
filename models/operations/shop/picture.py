"""Reading a picture that somebody sent, at a cost that is known before a pixel is unpacked.

A file of a few kilobytes can claim any size, repeat its notes a million times or ask for a thousand passes. So its
parts are walked first: only those that make the picture reach the decoder, and what it claims is checked against what
unpacking it costs. Of what moves, the first frame is taken. Where the picture is kept does not live here.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from io import BytesIO

from PIL import Image, UnidentifiedImageError

LONGEST_PX = 1600
MOST_PIXELS = 60_000_000
"""Of a JPEG that is stored in one pass, which can be unpacked at a fraction of its size: more than a phone's camera."""
MOST_PIXELS_WHOLE = 24_000_000
"""Of a picture that must be unpacked whole, at four bytes a pixel or more."""
MOST_PIXELS_WEBP = 12_000_000
"""Of a WebP picture, whose decoder keeps several copies of the whole."""
MOST_PIXEL_PASSES = 240_000_000
"""Pixels times passes of a JPEG that is stored in several: each pass goes over all of them again."""
MOST_PARTS = 20_000
"""More than any program writes into ten megabytes; each part costs its own work, however small it is."""
FORMATS = ("JPEG", "PNG", "WEBP", "GIF")

NOT_A_PICTURE = "This file is not a picture that can be read here. Choose a JPEG, PNG, WebP or GIF file."
BROKEN = "This picture is broken or cut off. Choose another one, or export it again."
TOO_MANY_PIXELS = (
    "This picture has too many pixels. A JPEG may have 60 megapixels, one that is stored in several passes "
    "(progressive), a PNG or a GIF 24, and a WebP 12. Export it smaller."
)

# Our own limits are asked before a pixel is decoded; Pillow's would be asked at opening, as a warning first.
Image.MAX_IMAGE_PIXELS = None

_PNG_START = b"\x89PNG\r\n\x1a\n"
_PNG_KEPT = frozenset({b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"})
_EXIF_START = b"Exif\0\0"
_ORIENTATION = 0x0112
# Source: Exif 2.32 (CIPA DC-008), 4.6.4, tag Orientation: how to turn what is stored to see it upright.
_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


class Unusable(Exception):
    """A file that cannot be taken as a picture; the message says why."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


@dataclass(frozen=True, slots=True)
class _Lean:
    """A file without what is not picture: how it is to be turned, and in how many passes it is stored."""

    content: bytes
    exif: bytes = b""
    passes: int = 1


def read_picture(content: bytes) -> Image.Image:
    """The first frame, upright, opaque, in plain colours, its longer side at most 1600 px.

    Raises: Unusable.
    """
    lean = _lean(content)
    try:
        opened = Image.open(BytesIO(lean.content), formats=FORMATS)
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError) as unknown:
        raise Unusable(NOT_A_PICTURE) from unknown
    with opened:
        _check_claims(opened, lean)
        try:
            # A JPEG can be decoded at a half, a quarter or an eighth of its size at once, which saves most of the work.
            part = max(1, max(opened.size) // LONGEST_PX)
            opened.draft("RGB", (max(1, opened.width // part), max(1, opened.height // part)))
            opened.load()
            small = _shrunk(opened)
            turn = _TURNS.get(_orientation(lean.exif or _exif_of(opened)))
        except (OSError, ValueError, SyntaxError, EOFError, IndexError, MemoryError) as broken:
            raise Unusable(BROKEN) from broken
    return small if turn is None else small.transpose(turn)


def _check_claims(opened: Image.Image, lean: _Lean) -> None:
    pixels = opened.width * opened.height
    # Passes that build on each other, or one for each colour, are kept whole until the last has come.
    in_passes = lean.passes > 1 or "progressive" in opened.info
    most = MOST_PIXELS if opened.format == "JPEG" and not in_passes else MOST_PIXELS_WHOLE
    if opened.format == "WEBP":
        most = MOST_PIXELS_WEBP
    if pixels > most or pixels * lean.passes > max(most, MOST_PIXEL_PASSES):
        raise Unusable(TOO_MANY_PIXELS)


def _shrunk(opened: Image.Image) -> Image.Image:
    """The picture in plain colours and small, by bands, so that no second picture of the whole size is made."""
    factor = max(1, max(opened.size) // (2 * LONGEST_PX))
    width, height = -(-opened.width // factor), -(-opened.height // factor)
    small = Image.new("RGB", (width, height))
    band = 64 * factor
    for top in range(0, opened.height, band):
        strip = _opaque(opened.crop((0, top, opened.width, min(top + band, opened.height))))
        small.paste(strip.reduce(factor) if factor > 1 else strip, (0, top // factor))
    small.thumbnail((LONGEST_PX, LONGEST_PX), Image.Resampling.LANCZOS)
    return small


def _opaque(picture: Image.Image) -> Image.Image:
    """The picture in plain colours; what was see-through stands on white."""
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        layer = picture.convert("RGBA")
        ground = Image.new("RGBA", layer.size, (255, 255, 255, 255))
        return Image.alpha_composite(ground, layer).convert("RGB")
    if picture.mode.startswith("I"):
        # Sixteen-bit grey: scaled to eight, which a plain conversion would only cut off.
        return picture.point(lambda value: value / 256).convert("L").convert("RGB")
    return picture.convert("RGB")


# ---- the parts of a file ----


def _lean(content: bytes) -> _Lean:
    try:
        if content.startswith(b"\xff\xd8"):
            return _lean_jpeg(content)
        if content.startswith(_PNG_START):
            return _lean_png(content)
        if content.startswith((b"GIF87a", b"GIF89a")):
            return _Lean(_lean_gif(content))
    except (IndexError, struct.error) as short:
        raise Unusable(BROKEN) from short
    return _Lean(content)


def _lean_jpeg(content: bytes) -> _Lean:
    """A JPEG without its notes and profiles; of those the kind of colour is kept. Source: ITU-T T.81, annex B."""
    kept, exif, place = [content[:2]], b"", 2
    for _ in range(MOST_PARTS):
        if content[place] != 0xFF:
            raise Unusable(NOT_A_PICTURE)
        marker = content[place + 1]
        if marker == 0xFF:
            place += 1
            continue
        (length,) = struct.unpack_from(">H", content, place + 2)
        if length < 2 or not 0xC0 <= marker <= 0xFE or 0xD0 <= marker <= 0xD9:
            raise Unusable(NOT_A_PICTURE)
        if marker == 0xDA:
            rest = content[place:]
            # Within a pass no 0xFF stands before anything but a zero or a restart mark.
            return _Lean(b"".join([*kept, rest]), exif, rest.count(b"\xff\xda"))
        part = content[place : place + 2 + length]
        if marker == 0xE1 and part[4:].startswith(_EXIF_START) and not exif:
            exif = part[4:]
        if not (0xE1 <= marker <= 0xED or marker in {0xEF, 0xFE}):
            kept.append(part)
        place += 2 + length
    raise Unusable(NOT_A_PICTURE)


def _lean_png(content: bytes) -> _Lean:
    """A PNG of nothing but its picture. Source: W3C Portable Network Graphics, chapter 5."""
    kept, exif, place = [_PNG_START], b"", 8
    for _ in range(MOST_PARTS):
        if place + 8 > len(content):
            return _Lean(b"".join(kept), exif)
        (length,) = struct.unpack_from(">I", content, place)
        kind = content[place + 4 : place + 8]
        if kind in _PNG_KEPT:
            kept.append(content[place : place + 12 + length])
        elif kind == b"eXIf" and not exif:
            exif = content[place + 8 : place + 8 + length]
        if kind == b"IEND":
            return _Lean(b"".join(kept), exif)
        place += 12 + length
    raise Unusable(NOT_A_PICTURE)


def _lean_gif(content: bytes) -> bytes:
    """A GIF without what is said beside it, from its first frame on. Source: GIF89a specification."""

    def after_blocks(place: int) -> int:
        while content[place]:
            place += content[place] + 1
        return place + 1

    place = 13 + (3 << ((content[10] & 7) + 1) if content[10] & 0x80 else 0)
    kept = [content[:place]]
    for _ in range(MOST_PARTS):
        if content[place] != 0x21:
            # A frame, or the end: what follows is the decoder's.
            return b"".join([*kept, content[place:]])
        end = after_blocks(place + 2)
        if content[place + 1] == 0xF9:
            # What is see-through in the frame that follows.
            kept = [kept[0], content[place:end]]
        place = end
    raise Unusable(NOT_A_PICTURE)


def _exif_of(opened: Image.Image) -> bytes:
    found = opened.info.get("exif")
    return found if isinstance(found, bytes) else b""


def _orientation(exif: bytes) -> int:
    """How the camera was held, from the first directory of its notes; 1 (upright) where it says nothing usable.

    Read by hand: a few notes can point at the same bytes thousands of times, and a general reader copies them all.
    """
    notes = exif.removeprefix(_EXIF_START)
    order = {b"II": "<", b"MM": ">"}.get(notes[:2])
    if order is None:
        return 1
    try:
        (start,) = struct.unpack_from(f"{order}I", notes, 4)
        (count,) = struct.unpack_from(f"{order}H", notes, start)
        for place in range(start + 2, start + 2 + 12 * min(count, 500), 12):
            tag, _kind, _count, value = struct.unpack_from(f"{order}HHIH", notes, place)
            if tag == _ORIENTATION:
                return int(value)
    except struct.error:
        # Cut off: the picture itself may still be whole.
        return 1
    return 1
