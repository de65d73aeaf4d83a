"""Invented pictures that cost the most to unpack for what they weigh. No test lives here."""

from __future__ import annotations

import random
import struct
import zlib
from collections.abc import Callable, Mapping
from io import BytesIO

from PIL import Image

CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
"""Values a pixel by a PNG's kind of colour. Source: W3C Portable Network Graphics, 11.2.1."""


def png_chunk(kind: bytes, data: bytes) -> bytes:
    """One part of a PNG."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def whole_png(width: int, height: int, *, colour: int = 2, depth: int = 8, beside: bytes = b"") -> bytes:
    """A sound PNG of one tone, a few bytes for each thousand pixels; `beside` stands before its picture."""
    line = bytes(1 + width * CHANNELS[colour] * depth // 8)
    packing = zlib.compressobj(9)
    data = b"".join([*(packing.compress(line) for _ in range(height)), packing.flush()])
    header = png_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, colour, 0, 0, 0))
    palette = png_chunk(b"PLTE", bytes(768)) if colour == 3 else b""
    return b"\x89PNG\r\n\x1a\n" + header + beside + palette + png_chunk(b"IDAT", data) + png_chunk(b"IEND", b"")


def saved(image: Image.Image, kind: str, **more: object) -> bytes:
    """An image as a file of this kind."""
    out = BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def noise(width: int, height: int) -> Image.Image:
    """A picture in which no two pixels are alike."""
    return Image.frombytes("RGB", (width, height), random.Random(1).randbytes(width * height * 3))


def jpeg_with(notes: bytes) -> bytes:
    """A small JPEG with these parts before its picture."""
    plain = saved(Image.new("RGB", (60, 40), "teal"), "JPEG")
    return plain[:2] + notes + plain[2:]


def jpeg_part(marker: int, data: bytes) -> bytes:
    """One part of a JPEG's head."""
    return bytes((0xFF, marker)) + struct.pack(">H", len(data) + 2) + data


def jpeg_of_passes(side: int, passes: int) -> bytes:
    """A JPEG whose last pass is said again and again."""
    plain = saved(Image.new("RGB", (side, side)), "JPEG", progressive=True, subsampling=0)
    last = plain[plain.rindex(b"\xff\xda") : -2]
    return plain[:-2] + last * passes + plain[-2:]


def gif_with_comment(blocks: int) -> bytes:
    """A small GIF with a comment in so many blocks of one letter."""
    plain = saved(Image.new("P", (60, 40)), "GIF")
    head = 13 + (3 << ((plain[10] & 7) + 1) if plain[10] & 0x80 else 0)
    return plain[:head] + b"\x21\xfe" + b"\x01x" * blocks + b"\0" + plain[head:]


def notes_that_point_at_each_other(count: int = 5400) -> bytes:
    """Exif notes of which each names the same bytes as its own."""
    entries = b"".join(struct.pack(">HHII", 0x8000 + tag, 7, 60_000, 8) for tag in range(count))
    return (b"Exif\0\0MM\0*\0\0\0\x08" + struct.pack(">H", count) + entries)[:65_000]


def profile_that_swells(count: int) -> bytes:
    """So many colour profiles of a PNG that are a thousand times larger unpacked."""
    return png_chunk(b"iCCP", b"a\0\0" + zlib.compress(bytes(1_000_000), 9)) * count


COSTLY: Mapping[str, Callable[[], bytes]] = {
    "PNG of 59 megapixels": lambda: whole_png(7680, 7680),
    "PNG of 24 megapixels": lambda: whole_png(6399, 3750),
    "PNG of 24 megapixels, see-through": lambda: whole_png(6399, 3750, colour=6),
    "PNG of 24 megapixels, 16 bit": lambda: whole_png(4899, 4898, depth=16),
    "PNG of 24 megapixels, grey, see-through, 16 bit": lambda: whole_png(4899, 4898, colour=4, depth=16),
    "PNG of 24 megapixels, palette": lambda: whole_png(4899, 4898, colour=3),
    "PNG with 9,000 swelling profiles": lambda: whole_png(60, 40, beside=profile_that_swells(9000)),
    "PNG of 800,000 parts": lambda: whole_png(60, 40, beside=png_chunk(b"prIv", b"") * 800_000),
    "JPEG of 60 megapixels": lambda: saved(noise(1000, 1000).resize((7740, 7740)), "JPEG", quality=40),
    "JPEG of 60 megapixels, a thin strip": lambda: saved(Image.new("RGB", (65_000, 920)), "JPEG", subsampling=0),
    "JPEG of 24 megapixels, in passes": lambda: saved(
        noise(800, 800).resize((4899, 4898)), "JPEG", progressive=True, subsampling=0, quality=70
    ),
    "JPEG of 2,000 passes": lambda: jpeg_of_passes(4890, 2000),
    "JPEG of 7,000 passes, small": lambda: jpeg_of_passes(180, 7000),
    "JPEG with 900,000 notes of a camera": lambda: jpeg_with(jpeg_part(0xE1, b"Exif\0\0x") * 900_000),
    "JPEG with 2,500,000 comments": lambda: jpeg_with(jpeg_part(0xFE, b"") * 2_500_000),
    "JPEG with notes that point at each other": lambda: jpeg_with(jpeg_part(0xE1, notes_that_point_at_each_other())),
    "GIF with a comment of 5,000,000 blocks": lambda: gif_with_comment(5_000_000),
    "GIF of 24 megapixels": lambda: saved(Image.new("P", (4899, 4898)), "GIF"),
    "GIF of 24 megapixels that moves": lambda: saved(
        Image.new("P", (4899, 4898)), "GIF", save_all=True, append_images=[Image.new("P", (4899, 4898), 1)]
    ),
    "WebP of 12 megapixels": lambda: saved(noise(900, 900).resize((3999, 3000)), "WEBP", quality=50, method=0),
    "WebP of 12 megapixels that moves": lambda: saved(
        Image.new("RGBA", (3999, 3000)),
        "WEBP", save_all=True, append_images=[Image.new("RGBA", (3999, 3000), "red")], lossless=True, method=0,
    ),
}  # fmt: skip
"""By what they are; each weighs less than the 10 MB that a photo may have."""
