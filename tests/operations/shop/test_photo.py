"""Photos: only pictures are kept, and of them only the picture."""

import struct
import time
import zlib
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps
from PIL.ImageFile import ImageFile

from models.intake.faults import Faults
from models.operations.shop.photo import EMPTY, MOST_BYTES, TOO_LARGE, keep_photo, photo_file, thumbnail_name
from models.operations.shop.picture import BROKEN, NOT_A_PICTURE, TOO_MANY_PIXELS
from tests.budget import budget
from tests.pictures import COSTLY, jpeg_of_passes, jpeg_part, jpeg_with, png_chunk, saved, whole_png


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


@settings(max_examples=budget(60))
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


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (whole_png(7680, 7680), TOO_MANY_PIXELS),
        (whole_png(4900, 4900), TOO_MANY_PIXELS),
        (saved(Image.new("P", (4900, 4900)), "GIF"), TOO_MANY_PIXELS),
        (saved(Image.new("L", (4900, 4900)), "JPEG", progressive=True), TOO_MANY_PIXELS),
        (saved(Image.new("L", (7800, 7800)), "JPEG"), TOO_MANY_PIXELS),
        (saved(Image.new("RGB", (4000, 3001)), "WEBP", lossless=True, method=0), TOO_MANY_PIXELS),
        (jpeg_of_passes(1600, 200), TOO_MANY_PIXELS),
        (whole_png(60, 40, beside=png_chunk(b"prIv", b"") * 30_000), NOT_A_PICTURE),
        (jpeg_with(jpeg_part(0xE1, b"Exif\0\0x") * 30_000), NOT_A_PICTURE),
        (jpeg_with(jpeg_part(0xFE, b"") * 30_000), NOT_A_PICTURE),
        (jpeg_with(jpeg_part(0xDB, bytes(65)) * 30_000), NOT_A_PICTURE),
    ],
    ids=range(11),
)
def test_what_would_cost_too_much_is_refused_before_a_pixel_is_unpacked(
    tmp_path: Path, content: bytes, says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unpacked(self: ImageFile) -> None:
        raise AssertionError("it was unpacked")

    monkeypatch.setattr(ImageFile, "load", unpacked)
    assert len(content) < MOST_BYTES
    assert refusal(tmp_path, content) == says


@pytest.mark.parametrize("name", ["GIF with a comment of 5,000,000 blocks", "PNG with 9,000 swelling profiles", "JPEG with notes that point at each other"])  # fmt: skip
def test_what_stands_beside_a_picture_is_never_unpacked_or_copied(tmp_path: Path, name: str) -> None:
    began = time.process_time()
    content = COSTLY[name]()
    made = time.process_time()
    assert kept(tmp_path, content).size == (60, 40)
    assert time.process_time() - made < max(2.0, made - began)


@pytest.mark.parametrize("mode", ["RGB", "RGBA", "L", "LA", "P", "1", "I;16"])
def test_a_large_picture_looks_like_what_was_sent(tmp_path: Path, mode: str) -> None:
    """Left half dark, right half bright, across the bands that it is made smaller by."""
    plain = Image.new("L", (6500, 500), 40)
    plain.paste(210, (3250, 0, 6500, 500))
    if mode == "I;16":
        image = plain.convert("I").point(lambda value: value * 256).convert("I;16")
    else:
        image = plain.point(lambda value: 255 * (value > 100)).convert(mode) if mode == "1" else plain.convert(mode)
    shown = kept(tmp_path, saved(image, "PNG")).convert("L")
    assert shown.size == (1600, 123)
    dark, bright = (0, 255) if mode == "1" else (40, 210)
    for height in (0, 61, 122):
        assert abs(shown.getpixel((100, height)) - dark) < 4  # type: ignore[operator]
        assert abs(shown.getpixel((1500, height)) - bright) < 4  # type: ignore[operator]


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("turned", range(1, 9))
def test_a_turn_is_taken_from_every_kind_of_file_as_the_library_takes_it(
    tmp_path: Path, kind: str, turned: int
) -> None:
    image = Image.new("RGB", (64, 32), "white")
    image.paste("black", (0, 0, 16, 16))
    exif = Image.Exif()
    exif[0x0112] = turned
    content = saved(image, kind, exif=exif.tobytes())
    with Image.open(BytesIO(content)) as sent:
        expected = ImageOps.exif_transpose(sent).convert("L")
    shown = kept(tmp_path, content).convert("L")
    assert shown.size == expected.size
    corners = [(2, 2), (2, shown.height - 3), (shown.width - 3, 2), (shown.width - 3, shown.height - 3)]
    assert [shown.getpixel(one) > 128 for one in corners] == [expected.getpixel(one) > 128 for one in corners]  # type: ignore[operator]


@settings(max_examples=budget(60))
@given(st.binary(max_size=80), st.sampled_from([b"", b"II*\0", b"MM\0*", b"Exif\0\0II*\0\x08\0\0\0"]))
def test_no_note_of_a_camera_breaks_a_picture(
    tmp_path_factory: pytest.TempPathFactory, notes: bytes, start: bytes
) -> None:
    folder = tmp_path_factory.mktemp("photos")
    assert kept(folder, jpeg_with(jpeg_part(0xE1, b"Exif\0\0" + start + notes))).mode == "RGB"


@pytest.mark.parametrize("kind", ["GIF", "WEBP", "PNG"])
def test_of_what_moves_the_first_frame_is_kept(tmp_path: Path, kind: str) -> None:
    first, second = Image.new("RGB", (60, 40), "white"), Image.new("RGB", (60, 40), "black")
    image = kept(tmp_path, saved(first, kind, save_all=True, append_images=[second], duration=100)).convert("L")
    assert image.getpixel((30, 20)) > 240  # type: ignore[operator]
