"""Drawings to download: the SVG in its real size, the PNG as large as asked, and what happens where nothing is drawn."""

from __future__ import annotations

from io import BytesIO
from xml.etree import ElementTree as ET

import pytest
from PIL import Image

from models.database import Store
from models.operations.designs.design import add_design
from models.operations.designs.layout import keep_layout
from models.queries.designs.layout_view import worked
from tests.laid import a_laid_design, chain_raw, lozenge_raw, lozenge_rows, read, stock_two
from tests.shops import a_design
from tests.web.conftest import Client


@pytest.fixture
def lozenge(store: Store) -> int:
    with store.writing() as session:
        stock_two(session)
        return add_design(session, a_laid_design("Blue & bronze"))


@pytest.mark.parametrize("path", ["/designs/{}/drawing.svg", "/api/designs/{}/layout.svg"])
def test_the_svg_has_the_real_size_of_the_piece(client: Client, store: Store, lozenge: int, path: str) -> None:
    answer = client.get(path.format(lozenge))
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert 'filename="blue-bronze.svg"' in answer.headers["content-disposition"]
    assert "sandbox" in answer.headers["content-security-policy"]
    drawn = ET.fromstring(answer.text)  # noqa: S314 (our own drawing)
    assert drawn.tag == "{http://www.w3.org/2000/svg}svg"
    title = drawn.find("{http://www.w3.org/2000/svg}title")
    assert title is not None
    assert title.text == "Blue & bronze"
    wide = float(drawn.attrib["width"].removesuffix("mm"))
    with store.reading() as session:
        size = worked(session, read(lozenge_raw())).worked.size
    # The drawing has a margin of half a wire on each side, and the hung rings beside the piece.
    assert wide == pytest.approx(size.width_mm, rel=0.35)  # type: ignore[union-attr]
    assert "<script" not in answer.text
    assert "style=" not in answer.text


@pytest.mark.parametrize("path", ["/designs/{}/drawing.png", "/api/designs/{}/layout.png"])
@pytest.mark.parametrize("size", [600, 1200, 2400])
def test_the_png_is_as_large_as_it_was_asked_for(client: Client, lozenge: int, path: str, size: int) -> None:
    answer = client.get(f"{path.format(lozenge)}?size={size}")
    assert answer.status_code == 200
    picture = Image.open(BytesIO(answer.content))
    assert (picture.format, max(picture.size)) == ("PNG", pytest.approx(size, abs=2))
    colours = {colour for _, colour in picture.convert("RGB").getcolors(picture.size[0] * picture.size[1]) or ()}
    assert (255, 255, 255) in colours
    assert any(blue > red + 30 for red, _, blue in colours), "the blue rings are painted"
    assert any(red > blue + 30 for red, _, blue in colours), "the bronze ring is painted"


@pytest.mark.parametrize("size", ["0", "9999", "1201", "large"])
def test_other_sizes_are_refused(client: Client, lozenge: int, size: str) -> None:
    assert client.get(f"/api/designs/{lozenge}/layout.png?size={size}").status_code == 422


def test_an_earlier_revision_keeps_its_drawing(client: Client, store: Store, lozenge: int) -> None:
    before = client.get(f"/designs/{lozenge}/drawing.svg").text
    with store.writing() as session:
        keep_layout(session, lozenge, 1, read({**lozenge_raw(), "rows": lozenge_rows()[:3]}))
    after = client.get(f"/designs/{lozenge}/drawing.svg").text
    assert after != before
    again = client.get(f"/designs/{lozenge}/drawing.svg?revision=1").text
    assert again.replace("Blue &amp; bronze, revision 1", "Blue &amp; bronze") == before
    assert client.get(f"/designs/{lozenge}/drawing.svg?revision=7").status_code == 404


def test_a_plain_list_has_no_drawing(client: Client, store: Store) -> None:
    with store.writing() as session:
        plain = a_design(session, [])
    for path in ("/designs/{}/drawing.svg", "/designs/{}/drawing.png", "/api/designs/{}/layout.svg"):
        assert client.get(path.format(plain)).status_code == 404


def test_a_weave_whose_places_are_not_verified_says_so(client: Client, store: Store, lozenge: int) -> None:
    with store.writing() as session:
        chain = read({**chain_raw(), "weave": "half-persian-4-in-1"})
        keep_layout(session, lozenge, 1, chain)
    answer = client.get(f"/api/designs/{lozenge}/layout.svg")
    assert answer.status_code == 409
    assert "cannot be drawn" in answer.json()["detail"]


def test_a_long_chain_is_drawn_from_its_beginning(client: Client, store: Store, lozenge: int) -> None:
    with store.writing() as session:
        keep_layout(session, lozenge, 1, read({**chain_raw(units=200), "weave": "chain-1-in-1"}))
    picture = Image.open(BytesIO(client.get(f"/designs/{lozenge}/drawing.png").content))
    assert max(picture.size) == pytest.approx(1200, abs=2)
    assert client.get(f"/designs/{lozenge}/drawing.svg").text.count('data-of="') > 0
