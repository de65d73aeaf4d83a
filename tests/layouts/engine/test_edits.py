"""Small changes to a piece, and colours over it."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.engine.edits import (
    drop_rings,
    edge_at,
    extent,
    grow,
    insert_row,
    move_row,
    nest,
    remove_row,
    set_row,
    shrink,
    turned,
)
from models.layouts.engine.links import net_of
from models.layouts.engine.nesting import nests
from models.layouts.engine.patterns import along_rows, border, checks, fill, paint, recolour, stripes
from models.layouts.engine.rows import EDGES, GAP, Edge, Layout, Row
from models.layouts.engine.shapes import disc, lozenge
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6
from models.trade.faults import Fault
from tests.layouts.layouts import rect, rows_of, sheet


def ok(found: Layout | Fault) -> Layout:
    assert isinstance(found, Layout), found
    return found


def items(layout: Layout) -> list[str]:
    return ["".join(each or "." for each in row.items) for row in layout.rows]


def test_a_row_is_set_added_moved_and_taken_away() -> None:
    layout = rect(3, 4)
    assert ok(set_row(layout, 2, Row(1, ("b",)))).rows[1] == Row(1, ("b",))
    assert len(ok(insert_row(layout, 4, Row(1, ("b",)))).rows) == 4
    assert ok(move_row(layout, 1, -2)).rows[0].start == -2
    assert len(ok(remove_row(layout, 1)).rows) == 2
    assert isinstance(remove_row(rect(1, 3), 1), Fault)
    for wrong in (
        set_row(layout, 4, Row(0, ("a",))),
        insert_row(layout, 5, Row(0, ())),
        remove_row(layout, 0),
        move_row(layout, 9, 1),
    ):
        assert isinstance(wrong, Fault)
        assert "There is no row" in wrong.message


@given(st.sampled_from(EDGES), st.integers(1, 4), st.sampled_from([EUROPEAN_4, EUROPEAN_6]))
def test_what_is_grown_at_an_edge_shrinks_back(edge: Edge, by: int, weave: str) -> None:
    layout = rect(4, 5, weave)
    grown = ok(grow(layout, edge, by))
    assert all(nests(weave, a, b) for a, b in zip(grown.rows, grown.rows[1:], strict=False))
    along = edge in ("row starts", "row ends")
    assert grown.rings == 20 + by * (4 if along else 5)
    assert ok(shrink(grown, edge, by)) == layout


def test_added_rows_keep_flush_edges_flush() -> None:
    grown = ok(grow(rect(2, 5), "last row", 3))
    assert [row.start for row in grown.rows] == [0, 1, 0, 1, 0]
    first = ok(grow(rect(2, 5), "first row", 2))
    assert [row.start for row in first.rows] == [0, 1, 0, 1]


def test_new_rings_take_the_item_of_their_neighbour_or_the_one_that_is_named() -> None:
    layout = Layout(EUROPEAN_4, (Row(0, ("a", "b")),))
    assert ok(grow(layout, "row ends", 2)).rows[0].items == ("a", "b", "b", "b")
    assert ok(grow(layout, "row starts", 1, "c")).rows[0].items == ("c", "a", "b")
    assert ok(grow(layout, "last row", 1, "c")).rows[1].items == ("c", "c")


def test_nothing_can_be_shrunk_away() -> None:
    assert isinstance(shrink(rect(2, 2), "row ends", 2), Fault)
    assert isinstance(shrink(rect(2, 2), "last row", 2), Fault)
    assert isinstance(shrink(rect(2, 2), "last row", 0), Fault)
    assert isinstance(grow(rect(2, 2), "last row", 0), Fault)
    waist = Layout(EUROPEAN_4, rows_of((0, 4), (3, 1), (0, 4)))
    assert "fall in two" in shrink(waist, "row starts", 1).message  # type: ignore[union-attr]
    pointed = ok(shrink(sheet(lozenge(EUROPEAN_4, 3, "a")), "row starts", 1))
    assert [len(row.items) for row in pointed.rows] == [1, 2, 1]


def test_a_dropped_ring_shortens_its_row_or_leaves_a_gap() -> None:
    layout = rect(3, 4)
    assert ok(drop_rings(layout, ["1.1"])).rows[0] == Row(2, ("a", "a", "a"))
    assert ok(drop_rings(layout, ["2.2"])).rows[1].items == ("a", GAP, "a", "a")
    assert len(ok(drop_rings(layout, ["1.1", "1.2", "1.3", "1.4"])).rows) == 2
    assert isinstance(drop_rings(layout, ["2.1", "2.2", "2.3", "2.4"]), Fault)
    assert isinstance(drop_rings(layout, ["1.5"]), Fault)
    assert isinstance(drop_rings(rect(1, 1), ["1.1"]), Fault)


def test_a_torn_row_is_nested_again_with_all_after_it() -> None:
    layout = Layout(EUROPEAN_4, rows_of((0, 3), (0, 3), (1, 3)))
    assert [row.start for row in ok(nest(layout, 2)).rows] == [0, 1, 2]
    assert isinstance(nest(layout, 2, 2), Fault)
    assert isinstance(nest(layout, 1), Fault)


def test_any_edge_can_hang_up_and_edges_have_names_as_they_hang() -> None:
    layout = turned(rect(2, 3), "row ends")
    assert layout.up == "row ends"
    assert edge_at("first row", "left") == "row starts"
    assert edge_at("row ends", "top") == "row ends"
    assert edge_at("row ends", "left") == "first row"
    assert edge_at("last row", "bottom") == "first row"
    assert extent(rect(2, 3)) == (0, 5)
    with pytest.raises(ValueError, match="not in"):
        edge_at("first row", "middle")


def test_stripes_run_outward_from_a_chosen_row_that_stands_once() -> None:
    layout = ok(stripes(rect(7, 2), [("x", 1), ("y", 2)], from_row=4))
    assert [row[0] for row in items(layout)] == list("xyyxyyx")
    through = ok(stripes(rect(7, 2), [("x", 1), ("y", 2)], from_row=2, outward=False))
    assert [row[0] for row in items(through)] == list("yxyyxyy")
    assert isinstance(stripes(rect(2, 2), []), Fault)
    assert isinstance(stripes(rect(2, 2), [("x", 1)], from_row=3), Fault)


def test_a_repeat_along_the_rows_lines_up_in_columns() -> None:
    assert items(ok(along_rows(rect(3, 4), ["x", "y"]))) == ["xyxy", "xyxy", "xyxy"]
    shifted = Layout(EUROPEAN_4, rows_of((0, 4), (3, 2)))
    assert items(ok(along_rows(shifted, ["x", "y"])))[1] == "yx"
    straight = Layout(EUROPEAN_6, rows_of((0, 4), (1, 2)))
    assert items(ok(along_rows(straight, ["x", "y"])))[1] == "yx"
    assert isinstance(along_rows(rect(1, 1), []), Fault)


def test_checks_take_turns() -> None:
    assert items(ok(checks(rect(4, 4), ["x", "y"], rows=2, rings=2))) == ["xxyy", "xxyy", "yyxx", "yyxx"]
    assert isinstance(checks(rect(2, 2), ["x"]), Fault)


def test_a_border_goes_all_round_and_inward() -> None:
    assert items(ok(border(rect(5, 5), "x"))) == ["xxxxx", "xaaax", "xaaax", "xaaax", "xxxxx"]
    assert items(ok(border(rect(5, 5), "x", 2))) == ["xxxxx", "xxxxx", "xxaxx", "xxxxx", "xxxxx"]
    assert items(ok(border(sheet(lozenge(EUROPEAN_4, 4, "a")), "x")))[3] == "xaax"
    assert isinstance(border(rect(2, 2), "x", 0), Fault)


def test_a_ring_is_painted_by_its_name() -> None:
    assert items(ok(paint(rect(2, 3), ["1.2", "2.3"], "x"))) == ["axa", "aax"]
    assert isinstance(paint(rect(2, 3), ["3.1"], "x"), Fault)
    assert isinstance(paint(rect(2, 3), ["1.1"], ""), Fault)
    assert isinstance(paint(Layout(EUROPEAN_4, (Row(0, ("a", GAP, "a")),)), ["1.2"], "x"), Fault)


def test_fill_floods_what_touches_and_stops_at_another_item() -> None:
    walled = ok(paint(rect(3, 5), ["1.3", "2.3", "3.3"], "w"))
    assert items(ok(fill(walled, "2.1", "x"))) == ["xxwaa", "xxwaa", "xxwaa"]
    assert isinstance(fill(walled, "9.1", "x"), Fault)
    assert isinstance(fill(walled, "1.1", ""), Fault)


def test_recolour_changes_every_ring_of_an_item() -> None:
    layout = ok(checks(rect(2, 2), ["x", "y"]))
    assert items(ok(recolour(layout, "x", "z"))) == ["zy", "yz"]
    assert isinstance(recolour(layout, "x", "x"), Fault)


@given(st.integers(3, 14), st.integers(1, 4))
def test_colours_never_change_which_rings_there_are(rows: int, width: int) -> None:
    layout = sheet(disc(EUROPEAN_4, rows, "a", pitch_share=0.7))
    before = [(row.start, len(row.items)) for row in layout.rows]
    for changed in (
        ok(border(layout, "x", width)),
        ok(checks(layout, ["x", "y"], rows=width, rings=width)),
        ok(stripes(layout, [("x", width), ("y", 1)], from_row=rows // 2 + 1)),
        ok(fill(layout, "1.1", "x")),
    ):
        assert [(row.start, len(row.items)) for row in changed.rows] == before
        assert sum(Counter(net_of(changed).items).values()) == layout.rings
