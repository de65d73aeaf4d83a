"""Photos: only pictures are kept, and of them only the picture."""

import struct
import zlib
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from models.intake.faults import Faults
from models.operations.photo import (
    BROKEN,
    EMPTY,
    MOST_BYTES,
    NOT_A_PICTURE,
    TOO_LARGE,
    TOO_MANY_PIXELS,
    keep_photo,
    photo_file,
    thumbnail_name,
)


def picture(size: tuple[int, int] = (60, 40), mode: str = "RGB", kind: str = "JPEG", **more: object) -> bytes:
    image = Image.new(mode, size, more.pop("colour", None))  # type: ignore[arg-type]
    out = BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def kept(folder: Path, content: bytes) -> Image.Image:
    name = keep_photo(folder, content)
    assert isinstance(name, str), name
    file = photo_file(folder, name)
    assert file is not None
    return opened(file)


def opened(file: Path) -> Image.Image:
    with Image.open(file) as image:
        image.load()
        return image


def refusal(folder: Path, content: bytes) -> str:
    found = keep_photo(folder, content)
    assert isinstance(found, Faults)
    assert list(folder.iterdir()) == []
    return found.by_field()["photo"]


@pytest.mark.parametrize(("mode", "kind"), [("RGB", "JPEG"), ("L", "JPEG"), ("CMYK", "JPEG"), ("RGBA", "PNG"), ("P", "PNG"), ("I;16", "PNG"), ("1", "PNG"), ("RGB", "WEBP"), ("P", "GIF")])  # fmt: skip
def test_any_usual_picture_becomes_a_plain_jpeg(tmp_path: Path, mode: str, kind: str) -> None:
    image = kept(tmp_path, picture(mode=mode, kind=kind))
    assert (image.format, image.mode, image.size) == ("JPEG", "RGB", (60, 40))


def test_a_large_picture_is_made_smaller_and_has_a_thumbnail(tmp_path: Path) -> None:
    name = keep_photo(tmp_path, picture((3000, 1500)))
    assert isinstance(name, str)
    assert opened(tmp_path / name).size == (1600, 800)
    assert opened(tmp_path / thumbnail_name(name)).size == (320, 160)
    assert sorted(file.name for file in tmp_path.iterdir()) == sorted([name, thumbnail_name(name)])


def test_what_the_camera_wrote_beside_the_picture_is_gone_but_its_turn_is_taken(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    exif[0x010F] = "an invented camera"
    gps = exif.get_ifd(0x8825)
    gps[2] = (48.0, 0.0, 0.0)
    image = kept(tmp_path, picture((60, 40), exif=exif.tobytes(), comment=b"secret"))
    assert image.size == (40, 60)
    assert not image.getexif()
    assert not {"exif", "comment", "icc_profile", "dpi"} & set(image.info)


def test_see_through_parts_stand_on_white(tmp_path: Path) -> None:
    image = kept(tmp_path, picture(mode="RGBA", kind="PNG", colour=(255, 0, 0, 0)))
    assert all(channel > 250 for channel in image.getpixel((5, 5)))  # type: ignore[union-attr]


def test_the_same_picture_is_kept_once(tmp_path: Path) -> None:
    first, second = keep_photo(tmp_path, picture()), keep_photo(tmp_path, picture())
    assert first == second
    assert len(list(tmp_path.iterdir())) == 2


def png_that_claims(width: int, height: int) -> bytes:
    """A PNG of a few bytes whose header claims a huge picture."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"\0" * 100)) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", EMPTY),
        (b"not a picture at all", NOT_A_PICTURE),
        (b"%PDF-1.7 \n" + b"x" * 500, NOT_A_PICTURE),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>", NOT_A_PICTURE),
        (picture(kind="BMP"), NOT_A_PICTURE),
        (picture((400, 400))[:800], BROKEN),
        (picture((400, 400), kind="PNG")[:-40], BROKEN),
        (b"\xff\xd8\xff" + b"\0" * 200, NOT_A_PICTURE),
        (b"x" * (MOST_BYTES + 1), TOO_LARGE),
        (png_that_claims(30_000, 30_000), TOO_MANY_PIXELS),
        (png_that_claims(9_000, 9_000), TOO_MANY_PIXELS),
        (png_that_claims(0, 10), NOT_A_PICTURE),
    ],
)
def test_what_is_no_usable_picture_is_refused_in_words_and_not_kept(tmp_path: Path, content: bytes, says: str) -> None:
    assert refusal(tmp_path, content) == says


@settings(max_examples=60)
@given(st.data())
def test_no_damage_to_a_picture_breaks_the_program(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject
) -> None:
    kind = data.draw(st.sampled_from(["JPEG", "PNG", "WEBP", "GIF"]))
    content = bytearray(picture((30, 20), mode="P" if kind == "GIF" else "RGB", kind=kind))
    for _ in range(data.draw(st.integers(1, 8))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    found = keep_photo(tmp_path_factory.mktemp("photos"), bytes(content))
    assert isinstance(found, (str, Faults))


@pytest.mark.parametrize(
    "name", ["../shop.db", "a.jpg", "0" * 64, "0" * 64 + ".png", "0" * 64 + ".jpg", "", "0" * 63 + "/.jpg"]
)
def test_no_other_file_can_be_asked_for_as_a_photo(tmp_path: Path, name: str) -> None:
    assert photo_file(tmp_path, name) is None
    assert photo_file(tmp_path, name, small=True) is None
