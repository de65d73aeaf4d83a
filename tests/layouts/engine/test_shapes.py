"""Whole shapes: how many rings each row has and where it starts."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.engine.nesting import end_of, nests
from models.layouts.engine.rows import Row
from models.layouts.engine.shapes import (
    Shape,
    by_edges,
    disc,
    fan,
    laid_out,
    lozenge,
    mirrored,
    mirrored_across,
    rectangle,
    repeated_rows,
    strip,
    trapezium,
    triangle,
)
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, EUROPEAN_8, SHEETS
from tests.layouts.layouts import rect, rows_of

weaves = st.sampled_from(sorted(SHEETS))


def counts(shape: Shape) -> list[int]:
    assert not shape.faults
    return [len(row.items) for row in shape.rows]


def starts(shape: Shape) -> list[int]:
    return [row.start for row in shape.rows]


def all_nest(weave: str, rows: tuple[Row, ...]) -> bool:
    return all(nests(weave, a, b) for a, b in pairwise(rows))


def test_a_flush_rectangle_swings_by_half_a_pitch_and_says_so() -> None:
    shape = rectangle(EUROPEAN_4, 4, 5, "a")
    assert counts(shape) == [5, 5, 5, 5]
    assert starts(shape) == [0, 1, 0, 1]
    assert "half a pitch apart" in shape.notes[0]


def test_rows_that_are_not_staggered_are_straight_and_need_no_note() -> None:
    shape = rectangle(EUROPEAN_6, 4, 5, "a")
    assert starts(shape) == [0, 0, 0, 0]
    assert shape.notes == ()


def test_a_strip_runs_along_or_across_its_rows() -> None:
    assert counts(strip(EUROPEAN_4, 40, 5, "a")) == [40] * 5
    assert counts(strip(EUROPEAN_4, 40, 5, "a", along="across")) == [5] * 40


def test_a_lozenge_grows_and_shrinks_by_one_ring_a_row() -> None:
    shape = lozenge(EUROPEAN_4, 4, "a")
    assert counts(shape) == [1, 2, 3, 4, 3, 2, 1]
    assert starts(shape) == [3, 2, 1, 0, 1, 2, 3]


def test_a_lozenge_of_rows_that_are_not_staggered_grows_by_two() -> None:
    assert counts(lozenge(EUROPEAN_6, 5, "a")) == [1, 3, 5, 3, 1]
    even = lozenge(EUROPEAN_6, 6, "a")
    assert counts(even) == [1, 3, 5, 3, 1]
    assert "5, not 6" in even.notes[0]


def test_triangles_and_trapeziums() -> None:
    assert counts(triangle(EUROPEAN_4, 4, "a")) == [4, 3, 2, 1]
    assert counts(triangle(EUROPEAN_4, 4, "a", point="first")) == [1, 2, 3, 4]
    assert counts(trapezium(EUROPEAN_4, 3, 6, "a")) == [3, 4, 5, 6]
    assert counts(trapezium(EUROPEAN_4, 6, 3, "a")) == [6, 5, 4, 3]
    assert counts(trapezium(EUROPEAN_4, 2, 11, "a", step=3)) == [2, 5, 8, 11]


def test_a_fan_has_one_straight_and_one_stepped_edge() -> None:
    shape = fan(EUROPEAN_4, 8, 5, "a")
    assert counts(shape) == [5, 4, 4, 3, 3, 2, 2, 1]
    assert starts(shape) == [0, 1, 0, 1, 0, 1, 0, 1]
    assert [end_of(row, EUROPEAN_4) for row in shape.rows] == [8, 7, 6, 5, 4, 3, 2, 1]
    other = fan(EUROPEAN_4, 8, 5, "a", straight="row ends")
    assert starts(other) == [0, 1, 2, 3, 4, 5, 6, 7]
    assert [end_of(row, EUROPEAN_4) for row in other.rows] == [8, 9, 8, 9, 8, 9, 8, 9]


def test_each_edge_has_its_own_step() -> None:
    shape = by_edges(EUROPEAN_4, 4, 3, "a", starts=1, ends=3)
    assert starts(shape) == [0, -1, -2, -3]
    assert counts(shape) == [3, 5, 7, 9]


def test_a_sloped_first_edge_goes_deeper_row_by_row() -> None:
    shape = by_edges(EUROPEAN_4, 5, 6, "a", first=1)
    assert counts(shape) == [1, 1, 2, 2, 3]
    assert all_nest(EUROPEAN_4, shape.rows)
    other = by_edges(EUROPEAN_4, 5, 6, "a", first=-1)
    assert [end_of(row, EUROPEAN_4) for row in other.rows] == [10, 11, 10, 11, 10]
    last = by_edges(EUROPEAN_4, 5, 6, "a", last=1)
    assert counts(last) == counts(shape)[::-1]


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        (by_edges(EUROPEAN_4, 3, 3, "a", starts=2), "odd step"),
        (by_edges(EUROPEAN_4, 0, 3, "a"), "at least one row"),
        (by_edges(EUROPEAN_4, 9, 3, "a", starts=-1, ends=-1), "row 4 would have no rings"),
        (lozenge(EUROPEAN_4, 3, "a", step=0), "must grow"),
        (lozenge(EUROPEAN_4, 3, "a", step=2), "odd step"),
        (lozenge(EUROPEAN_4, 2, "a", tips=3), "widest row"),
        (disc(EUROPEAN_4, 0, "a", pitch_share=0.7), "at least one row"),
        (mirrored(EUROPEAN_4, ()), "middle row"),
        (mirrored(EUROPEAN_4, rows_of((0, 3)), about="between", shift=2), "odd number"),
        (repeated_rows(EUROPEAN_4, rows_of((0, 3)), 1, 2, 2), "Choose rows"),
    ],
)
def test_a_shape_that_cannot_be_laid_says_why(shape: Shape, words: str) -> None:
    assert shape.rows == ()
    assert any(words in fault for fault in shape.faults)
    with pytest.raises(ValueError, match=r"."):
        laid_out(rect(2, 2), shape)


@given(weaves, st.integers(1, 25), st.floats(0.3, 1.4))
def test_a_disc_follows_its_circle_and_nests(weave: str, rows: int, share: float) -> None:
    shape = disc(weave, rows, "a", pitch_share=share)
    assert all_nest(weave, shape.rows)
    radius = rows * share / 2
    for number, row in enumerate(shape.rows):
        height = (number - (rows - 1) / 2) * share
        half = (end_of(row, weave) - row.start) / (2 * SHEETS[weave].steps_per_ring)
        assert row.start == -end_of(row, weave)
        assert abs(half - (radius**2 - height**2) ** 0.5) <= 1.01


@given(weaves, st.integers(1, 12), st.integers(1, 12))
def test_flush_shapes_nest_in_every_weave(weave: str, rows: int, rings: int) -> None:
    assert all_nest(weave, rectangle(weave, rows, rings, "a").rows)
    assert all_nest(weave, lozenge(weave, rings, "a").rows)
    assert all_nest(weave, trapezium(weave, rings, rings + rows, "a").rows)


def test_rows_laid_from_the_middle_outward_are_mirrored_about_a_row_that_stands_once() -> None:
    half = rows_of((0, 5), (1, 4), (2, 3))
    shape = mirrored(EUROPEAN_4, half)
    assert counts(shape) == [3, 4, 5, 4, 3]
    assert all_nest(EUROPEAN_4, shape.rows)


def test_mirrored_between_rows_the_middle_row_stands_twice_and_one_half_moves() -> None:
    half = rows_of((0, 5), (1, 4))
    shape = mirrored(EUROPEAN_4, half, about="between")
    assert counts(shape) == [4, 5, 5, 4]
    assert starts(shape) == [2, 1, 0, 1]
    assert all_nest(EUROPEAN_4, shape.rows)
    assert "towards the row ends" in shape.notes[0]
    straight = mirrored(EUROPEAN_6, rows_of((0, 5), (1, 3)), about="between")
    assert starts(straight) == [1, 0, 0, 1]
    assert straight.notes == ()


def test_rows_are_mirrored_across_about_a_ring_or_between_rings() -> None:
    rows = (Row(0, ("a", "b", "c")), Row(1, ("a", "b")))
    assert mirrored_across(EUROPEAN_4, rows).rows[0].items == ("a", "b", "c", "b", "a")
    assert mirrored_across(EUROPEAN_4, rows, about="between").rows[1].items == ("a", "b", "b", "a")
    torn = mirrored_across(EUROPEAN_4, rows_of((0, 2), (0, 2)))
    assert "Row 2 does not nest" in torn.notes[0]


@given(st.integers(1, 4), st.integers(1, 5))
def test_repeated_rows_nest_again_and_again(block: int, times: int) -> None:
    rows = rectangle(EUROPEAN_4, 5, 4, "a").rows
    shape = repeated_rows(EUROPEAN_4, rows, 1, block, times)
    assert len(shape.rows) == 5 - block + block * times
    assert all_nest(EUROPEAN_4, shape.rows)


def test_a_shape_replaces_the_rows_of_a_piece() -> None:
    layout = laid_out(rect(2, 2), lozenge(EUROPEAN_8, 3, "b"))
    assert [len(row.items) for row in layout.rows] == [1, 2, 3, 2, 1]
