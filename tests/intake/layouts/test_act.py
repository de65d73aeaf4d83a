"""Each button of the laying-out room at work on a small piece: what it reads, what it makes, what it refuses."""

from __future__ import annotations

import itertools
from typing import Any

import pytest

from models.intake.faults import Faults
from models.intake.layouts.act import read_act
from models.intake.layouts.hang import look_of, place_word, read_hang, ring_names
from models.intake.layouts.known import Acted, Known
from models.intake.layouts.layout import Plan, plan_net
from models.intake.layouts.paint import painted, read_strokes
from models.intake.layouts.past import packed, unpacked
from models.intake.layouts.rows import rows_of_plan, typed_rows
from models.intake.layouts.shape import read_lay
from models.intake.raw import Reader
from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chains import Chain, Stretch
from models.layouts.engine.items import Item, items_of
from models.layouts.engine.rows import Layout, Row
from models.layouts.engine.shapes import lozenge, rectangle
from models.trade.rings import RingSize

E4 = "european-4-in-1"
KNOWN = Known(
    items_of(
        [
            Item("i1", "bronze", RingSize(1_000_000, 4_000_000)),
            Item("i2", "blue", RingSize(1_000_000, 4_000_000)),
            Item("t1", "big copper", RingSize(1_600_000, 8_000_000)),
            Item("i9", "trace chain", finding=True),
        ]
    ),
    {"i1": "bronze", "i2": "blue", "t1": "copper", "i9": "trace chain"},
)


def piece(middle: int = 4) -> Layout:
    return Layout(E4, lozenge(E4, middle, "i1").rows)


def block(rows: int = 4, rings: int = 5) -> Layout:
    return Layout(E4, rectangle(E4, rows, rings, "i1").rows)


def done(act: str, plan: Plan, **raw: Any) -> Acted:
    read = read_act(act, raw, KNOWN)
    assert read is not None
    assert not isinstance(read, Faults), read
    acted = read.apply(plan)
    assert isinstance(acted, Acted), acted
    return acted


def refused(act: str, plan: Plan, **raw: Any) -> dict[str, str]:
    read = read_act(act, raw, KNOWN)
    assert read is not None
    acted = read if isinstance(read, Faults) else read.apply(plan)
    assert isinstance(acted, Faults)
    return acted.by_field()


def rows(plan: Plan) -> list[Row]:
    assert isinstance(plan, Layout)
    return list(plan.rows)


def used(plan: Plan) -> dict[str, int]:
    items = [item for row in rows(plan) for item in row.items]
    return {item: items.count(item) for item in dict.fromkeys(items)}


# --- shapes ---


@pytest.mark.parametrize(
    ("shape", "fields", "counts"),
    [
        ("lozenge", {"lozenge_middle": "4"}, [1, 2, 3, 4, 3, 2, 1]),
        ("rectangle", {"rectangle_rows": "3", "rectangle_rings": "5"}, [5, 5, 5]),
        ("strip", {"strip_long": "9", "strip_wide": "2"}, [9, 9]),
        ("strip", {"strip_long": "3", "strip_wide": "2", "strip_along": "across"}, [2, 2, 2]),
        ("triangle", {"triangle_widest": "4"}, [4, 3, 2, 1]),
        ("triangle", {"triangle_widest": "3", "triangle_point": "first"}, [1, 2, 3]),
        ("trapezium", {"trapezium_first": "2", "trapezium_last": "4"}, [2, 3, 4]),
        ("fan", {"fan_rows": "4", "fan_widest": "5"}, [5, 4, 4, 3]),
        ("edges", {"edges_rows": "3", "edges_rings": "4", "edges_starts": "1", "edges_ends": "-1"}, [4, 4, 4]),
    ],
)
def test_a_shape_is_laid_from_its_fields(shape: str, fields: dict[str, str], counts: list[int]) -> None:
    lay = read_lay({"weave": E4, "shape": shape, "lay_item": "i2", **fields}, KNOWN)
    assert not isinstance(lay, Faults), lay
    made = lay(None)
    assert isinstance(made, Acted)
    assert [row.rings for row in rows(made.plan)] == counts
    assert set(used(made.plan)) == {"i2"}


def test_a_disc_takes_its_roundness_from_the_size_of_its_rings() -> None:
    lay = read_lay({"weave": E4, "shape": "disc", "disc_rows": "9"}, KNOWN)
    assert not isinstance(lay, Faults)
    made = lay(None)
    assert isinstance(made, Acted)
    counts = [row.rings for row in rows(made.plan)]
    assert counts == counts[::-1]
    assert counts[4] > counts[0]


def test_a_new_shape_keeps_what_hangs_on_the_piece() -> None:
    hanging = Attachment("bail ring", "hang", Selection("first row"), ring="t1")
    before = Layout(E4, piece().rows, (hanging,), up="last row")
    lay = read_lay({"weave": E4, "shape": "rectangle", "rectangle_rows": "2", "rectangle_rings": "2"}, KNOWN)
    assert not isinstance(lay, Faults)
    made = lay(before)
    assert isinstance(made, Acted)
    assert isinstance(made.plan, Layout)
    assert made.plan.attachments == (hanging,)
    assert made.plan.up == "last row"


def test_another_sheet_weave_keeps_what_hangs_and_which_edge_is_up() -> None:
    hanging = Attachment("bail ring", "hang", Selection("first row"), ring="t1")
    lay = read_lay({"weave": "european-6-in-1", "shape": "rectangle"}, KNOWN)
    assert not isinstance(lay, Faults)
    made = lay(Layout(E4, piece().rows, (hanging,), up="last row"))
    assert isinstance(made, Acted)
    assert isinstance(made.plan, Layout)
    assert (made.plan.weave, made.plan.attachments, made.plan.up) == ("european-6-in-1", (hanging,), "last row")


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"weave": E4, "shape": "lozenge", "lozenge_middle": "many"}, "lozenge_middle"),
        ({"weave": E4, "shape": "lozenge", "lozenge_step": "2"}, "lozenge_middle"),
        ({"weave": "nothing"}, "weave"),
        ({"weave": E4, "shape": "edges", "edges_starts": "wide"}, "edges_starts"),
        ({"weave": E4, "shape": "rectangle", "rectangle_rows": "2000", "rectangle_rings": "3000"}, "rectangle_rows"),
        ({"weave": "byzantine"}, "chain_wanted"),
        ({"weave": "half-persian-3-in-1", "chain_wanted": "45 cm"}, "chain_wanted"),
        ({"weave": "byzantine", "chain_units": "1", "chain_closed": "yes"}, "chain_closed"),
    ],
)
def test_a_shape_that_cannot_be_laid_says_so_beside_its_field(raw: dict[str, str], field: str) -> None:
    read = read_lay(raw, KNOWN)
    made = read if isinstance(read, Faults) else read(None)
    assert isinstance(made, Faults)
    assert field in made.by_field()


def test_without_any_ring_a_shape_asks_for_one() -> None:
    read = read_lay({"weave": E4}, Known())
    assert isinstance(read, Faults)
    assert read.by_field() == {"lay_item": "Choose a ring to lay it in."}


def test_a_chain_is_laid_to_the_nearest_length_less_its_clasp() -> None:
    read = read_lay({"weave": "chain-1-in-1", "chain_wanted": "10 cm", "chain_clasp": "10 mm"}, KNOWN)
    assert not isinstance(read, Faults)
    made = read(None)
    assert isinstance(made, Acted)
    assert isinstance(made.plan, Chain)
    # 1-in-1 pulled: n x 4 mm + 2 x 1 mm; 22 rings are 90 mm exactly.
    assert made.plan.units == 22


def test_a_graduated_chain_has_its_larger_rings_in_the_middle() -> None:
    raw = {"weave": "chain-1-in-1", "chain_wanted": "20 cm", "chain_large": "t1", "chain_share": "40"}
    read = read_lay(raw, KNOWN)
    assert not isinstance(read, Faults)
    made = read(None)
    assert isinstance(made, Acted)
    assert isinstance(made.plan, Chain)
    assert [each.repeat for each in made.plan.stretches] == [("i1",), ("t1",), ("i1",)]


# --- rows ---


def test_a_row_typed_over_is_taken_and_the_others_are_left_alone() -> None:
    before = piece()
    fields = [
        {"number": str(one.number), "start": one.start, "text": one.text, "was": one.was}
        for one in rows_of_plan(before, KNOWN.words)
    ]
    fields[3]["text"] = "1 bronze, 2 blue, 1 bronze"
    # The first row's fields are stale: they say what they said, so they change nothing.
    fields[0] = {"number": "1", "start": "9", "text": "4 blue", "was": "9|4 blue"}
    acted, faults = typed_rows({"row": fields}, before, KNOWN)
    assert faults == ()
    assert rows(acted.plan)[3].items == ("i1", "i2", "i2", "i1")
    assert rows(acted.plan)[:3] == rows(before)[:3]
    assert acted.said == "Changed 1 row."


def test_a_row_that_cannot_be_read_has_its_fault_beside_it() -> None:
    acted, faults = typed_rows({"row": [{"number": "1", "start": "x", "text": "3 green", "was": ""}]}, piece(), KNOWN)
    assert acted.plan == piece()
    assert {fault.field for fault in faults} == {"row.0.start", "row.0.text"}


def test_the_stretch_of_a_chain_is_typed_over_like_a_row() -> None:
    chain = Chain("byzantine", (Stretch(5, ("i1",)),))
    (one,) = rows_of_plan(chain, KNOWN.words)
    assert (one.start, one.text) == ("5", "1 bronze")
    typed = {"number": "1", "start": "7", "text": "2 bronze, 1 blue", "was": one.was}
    acted, faults = typed_rows({"row": [typed]}, chain, KNOWN)
    assert faults == ()
    assert isinstance(acted.plan, Chain)
    assert acted.plan.stretches == (Stretch(7, ("i1", "i1", "i2")),)


def test_rows_are_added_taken_out_and_moved() -> None:
    assert [row.rings for row in rows(done("row-copy-2", block()).plan)] == [5] * 5
    assert len(rows(done("row-remove-2", block()).plan)) == 3
    assert rows(done("row-on-2", block()).plan)[1].start == rows(block())[1].start + 1
    assert rows(done("row-back-2", block()).plan)[1].start == rows(block())[1].start - 1
    assert refused("row-remove-9", block()) == {"rows": "There is no row 9: this piece has 4."}


@pytest.mark.parametrize("number", [1, 2, 3, 4])
@pytest.mark.parametrize("act", ["row-copy", "row-remove"])
def test_a_row_added_or_taken_out_leaves_a_piece_that_nests(act: str, number: int) -> None:
    made = rows(done(f"{act}-{number}", block()).plan)
    assert all((above.start - below.start) % 2 for above, below in itertools.pairwise(made))


def test_a_row_grows_and_shrinks_at_either_end() -> None:
    row = rows(block())[0]
    assert rows(done("row-start-longer-1", block()).plan)[0] == Row(row.start - 2, ("i1",) * 6)
    assert rows(done("row-start-shorter-1", block()).plan)[0] == Row(row.start + 2, ("i1",) * 4)
    assert rows(done("row-end-longer-1", block()).plan)[0] == Row(row.start, ("i1",) * 6)
    assert rows(done("row-end-shorter-1", block()).plan)[0] == Row(row.start, ("i1",) * 4)
    assert "rows" in refused("row-end-shorter-1", Layout(E4, (Row(0, ("i1",)),)))


def test_an_edge_grows_and_shrinks_as_the_piece_hangs() -> None:
    assert len(rows(done("grow", block(), grow_edge="bottom", grow_by="2").plan)) == 6
    turned = done("turn", block(), turn_up="right").plan
    assert isinstance(turned, Layout)
    assert turned.up == "row ends"
    wider = done("grow", turned, grow_edge="top", grow_item="i2").plan
    assert [row.items[-1] for row in rows(wider)] == ["i2"] * 4
    assert len(rows(done("shrink", block(), grow_edge="top").plan)) == 3
    assert "grow_by" in refused("shrink", block(), grow_edge="top", grow_by="9")


def test_a_half_is_mirrored_about_a_row_or_between_rows() -> None:
    half = Layout(E4, lozenge(E4, 3, "i1").rows[2:])
    assert [row.rings for row in rows(done("mirror", half, mirror_about="row").plan)] == [1, 2, 3, 2, 1]
    between = done("mirror", half, mirror_about="between rows")
    assert [row.rings for row in rows(between.plan)] == [1, 2, 3, 3, 2, 1]
    assert between.notes
    across = done("mirror", Layout(E4, (Row(0, ("i1", "i2")),)), mirror_about="ring").plan
    assert rows(across)[0].items == ("i1", "i2", "i1")


def test_rows_are_repeated() -> None:
    made = done("repeat", block(), repeat_first="1", repeat_last="2", repeat_times="3").plan
    assert len(rows(made)) == 8
    assert "repeat_first" in refused("repeat", block(), repeat_first="3", repeat_last="9", repeat_times="2")


# --- colours ---


def test_colours_are_laid_over_a_piece() -> None:
    striped = done("stripes", piece(), stripes_bands="1 blue, 1 bronze", stripes_from_row="4", stripes_outward="yes")
    assert [row.items[0] for row in rows(striped.plan)] == ["i1", "i2", "i1", "i2", "i1", "i2", "i1"]
    assert used(done("along", block(1, 6), along_repeat="1 bronze, 2 blue").plan) == {"i1": 2, "i2": 4}
    assert used(done("checks", block(2, 4), checks_items="bronze, blue").plan) == {"i1": 4, "i2": 4}
    assert used(done("border", piece(), border_item="i2").plan) == {"i2": 12, "i1": 4}
    assert used(done("recolour", piece(), recolour_old="i1", recolour_new="t1").plan) == {"t1": 16}
    assert "stripes_bands" in refused("stripes", piece(), stripes_bands="2 green")
    assert "stripes_from_row" in refused("stripes", piece(), stripes_bands="2 blue", stripes_from_row="99")
    assert "checks_items" in refused("checks", piece(), checks_items="blue")


def test_rings_are_painted_by_name_and_by_strokes() -> None:
    assert used(done("paint", piece(), paint_rings="4.1-2, row 1", brush="i2").plan) == {"i2": 3, "i1": 13}
    assert "paint_rings" in refused("paint", piece(), paint_rings="9.9", brush="i2")
    assert "brush" in refused("paint", piece(), paint_rings="4.1", brush="i9")


def stroked(plan: Plan, text: str) -> Acted | Faults:
    reader = Reader({"strokes": text})
    strokes = read_strokes(reader, KNOWN)
    return reader.faults() or painted(plan, strokes)


def test_strokes_of_the_painter_are_laid_one_over_the_other() -> None:
    acted = stroked(piece(), '[["i2", ["4.1", "4.2"]], ["t1", ["4.2"]]]')
    assert isinstance(acted, Acted)
    assert used(acted.plan) == {"i1": 14, "i2": 1, "t1": 1}
    assert acted.said == "Painted 2 rings."


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ('[["i2", ["9.9"]]]', "paint_rings"),
        ('{"a": 1}', "paint_rings"),
        ("[[", "paint_rings"),
        ('[["i2"]]', "paint_rings"),
        ('[["i9", ["1.1"]]]', "brush"),
    ],
)
def test_strokes_that_are_none_are_refused(text: str, field: str) -> None:
    acted = stroked(piece(), text)
    assert isinstance(acted, Faults)
    assert field in acted.by_field()


def test_what_hangs_is_painted_all_together() -> None:
    hanging = Attachment("drops", "hang", Selection("last row"), ring="i1")
    acted = stroked(Layout(E4, block().rows, (hanging,)), '[["i2", ["a1.2"]]]')
    assert isinstance(acted, Acted)
    assert acted.plan.attachments[0].ring == "i2"


def test_a_ring_of_a_chain_is_painted() -> None:
    made = done("paint", Chain("byzantine", (Stretch(2, ("i1",)),)), paint_rings="2-3", brush="i2").plan
    assert isinstance(made, Chain)
    assert made.items[:4] == ["i1", "i2", "i2", "i1"]
    assert made.units == 2


def test_a_fill_stops_where_the_colour_changes() -> None:
    bordered = done("border", piece(), border_item="i2").plan
    assert used(done("fill", bordered, paint_rings="4.2", brush="t1").plan) == {"i2": 12, "t1": 4}


# --- offers ---


def test_offers_drop_a_ring_and_nest_a_row() -> None:
    dropped = done("drop", piece(), paint_rings="1.1")
    assert len(rows(dropped.plan)) == 6
    assert dropped.said == "Dropped ring 1.1."
    crooked = done("row-on-2", block()).plan
    assert rows(done("nest-2", crooked).plan)[1].start % 2 == 1


# --- what hangs there ---


def test_what_hangs_there_is_looked_at_before_it_is_applied() -> None:
    raw = {"hang_kind": "hang", "hang_where": "bottom", "hang_ring": "i2", "hang_every": "2", "hang_each": "3"}
    found = read_hang(raw, block(), KNOWN)
    assert isinstance(found, Attachment)
    look = look_of(block(), found)
    assert (look.chosen, look.rings, look.findings) == (("4.1", "4.3", "4.5"), 9, 0)
    made = done("attach", block(), **raw).plan
    assert made.attachments == (found,)
    assert made.attachments[0].name == "hung rings"
    assert done("attach", made, **raw).plan.attachments[1].name == "hung rings 2"
    assert place_word(block(), found.on) == "the bottom edge"


def test_an_edge_is_named_as_the_piece_hangs() -> None:
    upside = done("turn", block(), turn_up="bottom").plan
    found = read_hang({"hang_where": "top", "hang_ring": "i2"}, upside, KNOWN)
    assert isinstance(found, Attachment)
    assert found.on.where == "last row"


def test_a_gathering_ring_carries_a_chain() -> None:
    gathered = done("attach", block(), hang_kind="gather", hang_where="top", hang_ring="t1").plan
    joined = done(
        "attach", gathered, hang_kind="join", hang_where="attachment", hang_of="gathering ring", hang_ring="i1",
        hang_finding="i9",
    ).plan  # fmt: skip
    assert [each.kind for each in joined.attachments] == ["gather", "join"]
    assert done("detach-1", joined).plan.attachments == ()
    assert [each.name for each in done("detach-2", joined).plan.attachments] == ["gathering ring"]


@pytest.mark.parametrize("chosen", [{"hang_ring": "t1"}, {"hang_finding": "t1"}, {"hang_ring": "t1", "hang_each": "3"}])
def test_a_ring_is_taken_as_a_bail_and_goes_through_all_chosen_rings(chosen: dict[str, str]) -> None:
    made = done("attach", block(), hang_kind="bail", hang_where="top", **chosen).plan
    (bail,) = made.attachments
    assert (bail.name, bail.ring, bail.finding) == ("bail", "t1", "")
    net = plan_net(made)
    assert [net.items[index] for index in net.groups["bail"]] == ["t1"]
    assert net.neighbours[net.groups["bail"][0]] == net.edges["first row"]


def test_a_bail_that_is_a_finding_may_hang_by_rings_of_its_own() -> None:
    raw = {"hang_kind": "bail", "hang_where": "top", "hang_ring": "t1", "hang_finding": "i9"}
    (bail,) = done("attach", block(), **raw).plan.attachments
    assert (bail.kind, bail.ring, bail.finding) == ("bail", "t1", "i9")


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"hang_kind": "hang", "hang_where": "top"}, "hang_ring"),
        ({"hang_kind": "bail", "hang_where": "top"}, "hang_finding"),
        ({"hang_kind": "hang", "hang_where": "top", "hang_ring": "i1", "hang_item": "i2"}, "hang_where"),
        ({"hang_kind": "hang", "hang_where": "rings", "hang_ring": "i1", "hang_rings": "99.1"}, "hang_rings"),
        ({"hang_kind": "hang", "hang_where": "attachment", "hang_ring": "i1", "hang_of": "none"}, "hang_of"),
        ({"hang_kind": "hang", "hang_where": "top", "hang_ring": "i1", "hang_each": "900"}, "hang_each"),
    ],
)
def test_what_cannot_hang_there_says_why(raw: dict[str, str], field: str) -> None:
    found = read_hang(raw, block(), KNOWN)
    assert isinstance(found, Faults)
    assert field in found.by_field()


def test_rings_are_named_in_words() -> None:
    assert ring_names("1.1, 2.1-3, row 4", piece(), "x") != ()
    assert ring_names("4.1-2", piece(), "x") == ("4.1", "4.2")
    assert ring_names("2, 4-5", Chain("byzantine", (Stretch(2, ("i1",)),)), "x") == ("2", "4", "5")


def test_unknown_buttons_are_no_acts() -> None:
    for act in ("", "live", "explode", "nest-x", "grow-3"):
        assert read_act(act, {}, KNOWN) is None


# --- undo ---


def test_states_travel_packed_and_come_back() -> None:
    states = [f'{{"rows": {number}}}' * 50 for number in range(60)]
    assert unpacked(packed(states)) == tuple(states[-40:])
    assert packed([]) == ""


@pytest.mark.parametrize("text", ["", "nonsense", "c-o?X`", "é", packed(["a"])[:-3]])
def test_what_cannot_be_unpacked_is_left_out(text: str) -> None:
    assert unpacked(text) == ()


def test_a_packed_text_that_would_unpack_to_too_much_is_left_out() -> None:
    import base64
    import zlib

    bomb = base64.b64encode(zlib.compress(b"[" + b" " * 60_000_000 + b"]", 9)).decode()
    assert unpacked(bomb) == ()
