"""The drawing as a document: what stands in it, for whom, and that nothing gets into it that should not."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from itertools import groupby, pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.drawing.drawing import FULL_UP_TO, Look
from models.layouts.drawing.picture import picture_of, shape_of
from models.layouts.drawing.raster import MOST_PATCHES, Patch, edges_of, patches
from models.layouts.drawing.tints import body_of, edge_of, mixed, safe
from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chain_weaves import ONE
from models.layouts.engine.chains import Chain, Stretch
from models.layouts.engine.items import PLAIN_TINT, Item
from models.layouts.engine.links import net_of
from models.layouts.engine.patterns import checks
from models.layouts.engine.piece import draw_chain, draw_piece, placed_piece
from models.layouts.engine.rows import Edge, Layout, Row
from models.layouts.engine.shapes import lozenge, rectangle
from models.layouts.places.geometry import ring_mm
from models.layouts.places.hanging import hang
from models.layouts.places.sheet import Placement
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, JAPANESE_12
from tests.layouts.layouts import BRONZE, ITEMS, SIZE, rect, sheet

SVG = "{http://www.w3.org/2000/svg}"


def drawn(layout: Layout, look: Look | None = None, items: dict[str, Item] = ITEMS) -> str:
    found = draw_piece(layout, items, look).svg
    assert found is not None
    return found


def tree(svg: str) -> ET.Element:
    return ET.fromstring(f'<x xmlns="http://www.w3.org/2000/svg">{svg}</x>')  # noqa: S314 - our own drawing


def two_colours(rows: int = 4, rings: int = 5) -> Layout:
    layout = checks(rect(rows, rings), ["a", "b"])
    assert isinstance(layout, Layout)
    return layout


@pytest.mark.parametrize("detail", ["full", "light"])
def test_a_drawing_holds_no_script_and_no_style(detail: str) -> None:
    layout = Layout(
        EUROPEAN_4, two_colours().rows, (Attachment("t", "join", Selection("first row"), ring="b", finding="f"),)
    )
    svg = drawn(layout, Look(detail=detail, answer=True, marks={0: "look"}, link="/x?ring={ring}"))
    assert "<script" not in svg
    for element in tree(svg).iter():
        assert "style" not in element.attrib
        assert not any(name.startswith("on") for name in element.attrib)
        assert not any("javascript" in value for value in element.attrib.values())


@given(st.text(max_size=30), st.text(max_size=12))
def test_labels_and_tints_cannot_break_out_of_it(label: str, tint: str) -> None:
    clean = "".join(each for each in label if each.isprintable())
    items = {
        **ITEMS,
        "a": Item("a", clean + "<b>&\"'", SIZE, tint=tint),
        "b": Item("b", "]]>", SIZE, tint='"><script>'),
    }
    svg = drawn(two_colours(2, 2), Look(title="<t>", answer=True, marks={0: "<m>&"}), items)
    assert "<script" not in svg
    assert "<b>" not in svg
    assert tree(svg) is not None


def test_every_ring_answers_by_its_name_item_and_words() -> None:
    svg = drawn(two_colours(), Look(answer=True))
    areas = list(tree(svg).iter(f"{SVG}rect"))
    assert [each.get("data-ring") for each in areas][:6] == ["1.1", "1.2", "1.3", "1.4", "1.5", "2.1"]
    assert Counter(each.get("data-item") for each in areas) == {"a": 10, "b": 10}
    assert areas[6].findtext(f"{SVG}title") == "row 2, ring 2: bronze"
    assert tree(svg)[0].get("role") == "group"
    assert tree(drawn(two_colours()))[0].get("role") == "img"


def test_areas_do_not_overlap_and_are_as_wide_as_a_pitch() -> None:
    for layout in (rect(4, 5), rect(4, 5, EUROPEAN_6), Layout(EUROPEAN_4, rect(4, 5).rows, up="row ends")):
        items = {**ITEMS, "a": Item("a", "ring", replace(SIZE, inner_nm=5_000_000))}
        areas = [
            tuple(float(each.get(k) or 0) for k in ("x", "y", "width", "height"))
            for each in tree(drawn(layout, Look(answer=True), items)).iter(f"{SVG}rect")
        ]
        for number, (x, y, wide, high) in enumerate(areas):
            for x2, y2, _, _ in areas[number + 1 :]:
                assert abs(x - x2) > wide - 2 or abs(y - y2) > high - 2


def test_rings_can_be_links_without_scripts() -> None:
    svg = drawn(rect(2, 2), Look(answer=True, link="/designs/1/rows?paint=b&ring={ring}"))
    links = [each.get("href") for each in tree(svg).iter(f"{SVG}a")]
    assert links == [f"/designs/1/rows?paint=b&ring={name}" for name in ("1.1", "1.2", "2.1", "2.2")]


def test_every_tint_can_be_painted_with_at_once() -> None:
    svg = drawn(rect(2, 2))
    ids = {each.get("id") for each in tree(svg).iter() if each.get("id")}
    uses = list(tree(svg).iter(f"{SVG}use"))
    assert {each.get("href", "")[1:] for each in uses} <= ids
    # Three ring items, so three tints stand ready for each kind of ring and band.
    assert Counter(each.rpartition("t")[2] for each in ids if each) == {
        "0": len(ids) // 3,
        "1": len(ids) // 3,
        "2": len(ids) // 3,
    }
    assert {each.get("data-of") for each in uses} == {"1.1", "1.2", "2.1", "2.2"}


def test_ids_of_two_drawings_stay_apart() -> None:
    one, two = drawn(rect(2, 2), Look(prefix="p")), drawn(rect(2, 2), Look(prefix="q"))
    ids = [set(re.findall(r' id="([^"]+)"', svg)) for svg in (one, two)]
    assert not ids[0] & ids[1]


def test_the_legend_counts_and_the_size_bar_is_true() -> None:
    svg = drawn(two_colours())
    assert "bronze: 10" in svg
    assert "blue niobium: 10" in svg
    root = tree(svg)[0]
    assert root.findtext(f"{SVG}desc") == "bronze: 10; blue niobium: 10"
    bar = next(each for each in root.iter(f"{SVG}path") if each.get("class") == "size-bar")
    units = float(re.search(r"h([0-9]+)", bar.get("d") or "").group(1))  # type: ignore[union-attr]
    assert units / float(root.get("data-units-per-mm") or 0) == pytest.approx(10, abs=0.05)
    assert ">10 mm<" in svg
    bare = drawn(two_colours(), Look(legend=False, size_bar=False))
    assert "legend" not in bare


def test_a_download_has_its_real_size() -> None:
    svg = drawn(rect(10, 8), Look(standalone=True, legend=False, size_bar=False))
    assert 'xmlns="http://www.w3.org/2000/svg"' in svg
    wide, high = (float(each) for each in re.search(r'width="([0-9.]+)mm" height="([0-9.]+)mm"', svg).groups())  # type: ignore[union-attr]
    # Half a wire of room on every side of 37.15 by 33 mm.
    assert (wide, high) == (pytest.approx(38.15, abs=0.02), pytest.approx(34.0, abs=0.02))


def test_large_pieces_are_drawn_lightly() -> None:
    layout = rect(40, 40)
    assert layout.rings > FULL_UP_TO
    svg = drawn(layout, Look(answer=True))
    assert len(svg) < 220 * layout.rings
    assert sum(1 for _ in tree(svg).iter(f"{SVG}path")) < 60
    assert sum(1 for _ in tree(svg).iter(f"{SVG}rect")) == layout.rings
    assert 'data-ring="40.40"' in svg


def test_rings_that_a_check_names_are_ringed_with_the_reason() -> None:
    svg = drawn(rect(3, 3), Look(marks={0: "links only one", 8: "links only one"}))
    marks = [each for each in tree(svg).iter(f"{SVG}g") if each.get("class") == "mark"]
    assert [each.get("data-of") for each in marks] == ["1.1", "3.3"]
    assert marks[0].findtext(f"{SVG}title") == "links only one"


def test_a_stage_shows_new_rings_strong_and_the_others_pale() -> None:
    svg = drawn(rect(3, 3), Look(only=range(6), fresh=range(3, 6)))
    names = {each.get("data-of") for each in tree(svg).iter(f"{SVG}use")}
    assert names == {f"{row}.{ring}" for row in (1, 2) for ring in (1, 2, 3)}
    kinds = {each.get("data-of"): (each.get("href") or "").rpartition("t")[2] for each in tree(svg).iter(f"{SVG}use")}
    assert kinds["1.1"] != kinds["2.1"]


def test_one_ring_can_be_looked_at_closely() -> None:
    whole, near = drawn(rect(9, 9)), drawn(rect(9, 9), Look(around=40, legend=False, size_bar=False))
    box = [float(each) for each in re.search(r'viewBox="([^"]+)"', near).group(1).split()]  # type: ignore[union-attr]
    full = [float(each) for each in re.search(r'viewBox="([^"]+)"', whole).group(1).split()]  # type: ignore[union-attr]
    assert box[2] < full[2] / 1.4
    middle = next(each for each in tree(near).iter(f"{SVG}use") if each.get("data-of") == "5.5")
    assert box[0] + box[2] / 2 == pytest.approx(float(middle.get("x") or 0), abs=2)


def test_what_has_no_place_gets_a_tag_with_its_words() -> None:
    layout = Layout(
        EUROPEAN_4,
        rect(3, 8).rows,
        (
            Attachment("g", "gather", Selection("first row"), ring="c"),
            Attachment("k", "clasp", Selection("row ends"), finding="f"),
        ),
    )
    svg = drawn(layout)
    tags = [each for each in tree(svg).iter(f"{SVG}g") if each.get("class") == "tag"]
    assert [each.findtext(f"{SVG}text") for each in tags] == ["large steel", "trace chain"]


@pytest.mark.parametrize(("rows", "rings"), [(8, 3), (3, 30)])
@pytest.mark.parametrize("letters", [4, 22, 40])
@pytest.mark.parametrize("edge", ["row ends", "row starts"])
def test_the_words_of_a_tag_are_never_cut_off_at_the_edge(rows: int, rings: int, letters: int, edge: Edge) -> None:
    items = {**ITEMS, "f": replace(ITEMS["f"], label="m" * letters)}
    layout = Layout(EUROPEAN_4, rect(rows, rings).rows, (Attachment("k", "clasp", Selection(edge), finding="f"),))
    root = tree(draw_piece(layout, items).svg or "")[0]
    left, _, wide, _ = (float(each) for each in (root.get("viewBox") or "").split())
    words = next(each for each in root.iter(f"{SVG}text") if each.text == "m" * letters)
    # Half an em is the mean of a Latin alphabet's letters (common practice, no source).
    reach = 0.5 * letters * float(words.get("font-size") or 0)
    x = float(words.get("x") or 0)
    assert left <= (x - reach if words.get("text-anchor") == "end" else x)
    assert (x if words.get("text-anchor") == "end" else x + reach) <= left + wide


def test_the_words_of_tags_do_not_stand_over_each_other() -> None:
    hung = [Attachment(f"k{n}", "clasp", Selection("row starts", rows=(n, 6 - n)), finding="f") for n in (1, 2, 3)]
    hung += [Attachment("g", "gather", Selection("row starts"), ring="c")]
    layout = Layout(EUROPEAN_4, rect(5, 6).rows, tuple(hung))
    tags = [each for each in tree(drawn(layout)).iter(f"{SVG}g") if each.get("class") == "tag"]
    words = [word for tag in tags for word in tag.iter(f"{SVG}text")]
    assert len(words) > 1
    size = float(words[0].get("font-size") or 0)
    high = sorted(float(each.get("y") or 0) for each in words)
    assert all(below - above >= size for above, below in pairwise(high))


def test_words_under_a_chain_do_not_tower_over_its_rings() -> None:
    chain = Chain(ONE, (Stretch(40, ("a",)),))
    root = tree(draw_chain(chain, ITEMS).svg or "")[0]
    wide = float((root.get("viewBox") or "").split()[2])
    legend = next(each for each in root.iter(f"{SVG}g") if each.get("class") == "legend")
    # A page shows it up to 800 px wide, and a phone 340: words under 24 px there, over 9.5 px here.
    assert 9.5 / 340 < float(legend.get("font-size") or 0) / wide < 24 / 800


def test_a_finding_on_a_ring_without_a_place_stands_in_its_tag() -> None:
    layout = Layout(
        EUROPEAN_4,
        rect(3, 8).rows,
        (
            Attachment("g", "gather", Selection("first row"), ring="c"),
            Attachment("k", "join", Selection("attachment", of="g"), finding="f"),
        ),
    )
    tags = [each for each in tree(drawn(layout)).iter(f"{SVG}g") if each.get("class") == "tag"]
    assert [each.findtext(f"{SVG}text") for each in tags] == ["large steel; trace chain"]


def test_hung_rings_are_drawn_and_many_do_not_take_long() -> None:
    layout = Layout(
        EUROPEAN_4,
        sheet(lozenge(EUROPEAN_4, 6, "a")).rows,
        (Attachment("h", "hang", Selection("row ends", rows=(7, 11)), ring="b"),),
    )
    net = net_of(layout)
    placed = placed_piece(layout, net, ITEMS)
    assert isinstance(placed, Placement)
    assert hang(placed, net, ITEMS, layout.attachments, layout.up) == []
    assert all(placed.poses[index] >= 0 for index in range(len(net)))
    svg = drawn(layout, Look(answer=True))
    assert "hung ring: blue niobium" in svg


def test_a_hub_answers_as_one_place() -> None:
    layout = sheet(rectangle(JAPANESE_12, 2, 2, "a"), JAPANESE_12)
    items = {
        **ITEMS,
        "a": Item("a", "hub", replace(SIZE, inner_nm=6_000_000)),
        "c": Item("c", "joiner", replace(SIZE, inner_nm=6_000_000)),
    }
    svg = drawn(layout, Look(answer=True), items)
    assert [each.get("data-ring") for each in tree(svg).iter(f"{SVG}rect")] == ["1.1", "1.2", "2.1", "2.2"]
    assert {"1.1", "1.1-1.2a"} <= {each.get("data-of") for each in tree(svg).iter(f"{SVG}use")}


def test_what_cannot_be_drawn_says_why_and_mixed_sizes_say_how() -> None:
    unknown = draw_piece(rect(2, 2), {})
    assert unknown.svg is None
    assert "not known" in unknown.notes[0]
    small = draw_piece(rect(2, 2), {"a": Item("a", "tight", replace(SIZE, inner_nm=1_500_000))})
    assert small.svg is None
    mixed = {**ITEMS, "b": replace(ITEMS["b"], size=replace(SIZE, inner_nm=5_000_000))}
    found = draw_piece(two_colours(), mixed)
    assert found.svg is not None
    assert "as if all rings had the size" in found.notes[-1]


def test_bands_are_thinner_than_the_wire_and_hold_every_part_of_every_ring() -> None:
    layout = rect(4, 4)
    net = net_of(layout)
    placed = placed_piece(layout, net, ITEMS)
    assert isinstance(placed, Placement)
    for finer in (1, 2, 3):
        picture = picture_of(placed, finer=finer)
        assert all(b - a < 1.0 / finer for a, b in zip(picture.edges, picture.edges[1:], strict=False))
        for kind in range(len(picture.kinds)):
            arcs = [arc for band in picture.bands for arc in band.get(kind, ())]
            assert sum(arc.end - arc.start for arc in arcs) == pytest.approx(6.283185307)


def test_a_ring_seen_flat_or_edge_on_keeps_its_outline() -> None:
    ring = ring_mm(SIZE)
    assert shape_of((0.0, 0.0, 1.0), ring).half_axes == pytest.approx((2.5, 2.5))
    thin = shape_of((1.0, 0.0, 0.0), ring)
    assert thin.half_axes[1] == pytest.approx(2.5)
    assert 0 < thin.half_axes[0] < 0.1
    behind = shape_of((0.6, 0.0, -0.8), ring)
    assert behind.at(0)[0] == pytest.approx(-2.5 * 0.6 * 0.8 / 0.6)
    assert behind.height(3.14159265) == pytest.approx(2.5 * 0.6)


def painted(layout: Layout, px_per_mm: float = 20, only: list[int] | None = None) -> list[Patch]:
    net = net_of(layout)
    placed = placed_piece(layout, net, ITEMS)
    assert isinstance(placed, Placement)
    edges = edges_of(placed, only)
    assert edges is not None
    return list(patches(net, ITEMS, placed, replace(edges, px_per_mm=px_per_mm), only))


def test_patches_for_pixels_run_from_the_back_to_the_front() -> None:
    found = painted(rect(3, 3))
    assert [layer for layer, _ in groupby(found, lambda each: each.layer)] == ["edge", "body", "gleam"] * 3
    assert all(len(each.points) >= 12 for each in found)
    assert len(painted(rect(3, 3), only=[4])) * 9 == len(found)


def test_what_is_painted_lies_within_the_edges_and_reaches_them() -> None:
    found = painted(rect(2, 3))
    net = net_of(rect(2, 3))
    placed = placed_piece(rect(2, 3), net, ITEMS)
    assert isinstance(placed, Placement)
    edges = edges_of(placed)
    assert edges is not None
    for axis, most in ((0, edges.right_mm - edges.left_mm), (1, edges.bottom_mm - edges.top_mm)):
        seen = [value for patch in found for value in patch.points[axis::2]]
        assert min(seen) == pytest.approx(0, abs=0.5)
        assert max(seen) == pytest.approx(20 * most, abs=0.5)


@pytest.mark.long
def test_a_picture_of_many_rings_takes_no_more_patches_than_may_be() -> None:
    layers = {}
    for rows, rings in ((100, 100), (140, 140), (190, 190), (240, 240)):
        found = painted(rect(rows, rings), px_per_mm=6)
        assert len(found) <= MOST_PATCHES
        layers[rows] = sorted({each.layer for each in found})
    assert layers == {100: ["body", "edge", "gleam"], 140: ["body", "edge"], 190: ["body"], 240: ["body"]}
    # Of wires too thin to show what lies over what each ring is one patch.
    assert len(painted(rect(30, 30), px_per_mm=1)) == 900


def test_shades_stay_tints_and_unknown_ones_turn_grey() -> None:
    assert safe("#B97B48") == PLAIN_TINT
    assert safe("red") == PLAIN_TINT
    assert mixed("#000000", "#ffffff", 0.5) == "#808080"
    assert edge_of(BRONZE.tint) < body_of(BRONZE.tint)
    assert body_of(BRONZE.tint, 1.0) < body_of(BRONZE.tint, 0.0)


def test_an_empty_picture_is_still_a_drawing() -> None:
    svg = drawn(Layout(EUROPEAN_4, (Row(0, ("a",)),)), Look(only=()))
    assert tree(svg) is not None
