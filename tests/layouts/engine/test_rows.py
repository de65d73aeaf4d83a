"""Rows, their names, and layouts as plain values and back."""

from __future__ import annotations

import pytest

from models.layouts.engine.nesting import end_of, faults_of, nests, trimmed
from models.layouts.engine.rows import (
    GAP,
    MAX_RINGS,
    Layout,
    Row,
    item_at,
    place_of,
    repeated,
    ring_name,
    row_of,
    runs,
)
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6
from tests.layouts.layouts import rect, rows_of


def test_a_row_is_given_by_runs_or_by_a_repeat() -> None:
    assert row_of(3, [("a", 2), ("b", 1)]) == Row(3, ("a", "a", "b"))
    assert repeated(0, 5, ["a", "b"]).items == ("a", "b", "a", "b", "a")
    assert runs(("a", "a", "b", "a")) == [("a", 2), ("b", 1), ("a", 1)]
    with pytest.raises(ValueError, match="at least one item"):
        repeated(0, 5, [])


def test_gaps_are_places_without_rings() -> None:
    row = Row(0, ("a", GAP, "a"))
    assert row.rings == 2
    assert end_of(row, EUROPEAN_4) == 4
    assert end_of(row, EUROPEAN_6) == 2
    assert trimmed(Row(0, (GAP, "a", GAP, GAP)), EUROPEAN_4) == Row(2, ("a",))
    assert trimmed(Row(0, (GAP, GAP)), EUROPEAN_4).items == ()


def test_staggered_rows_nest_half_a_pitch_apart_and_others_always() -> None:
    assert nests(EUROPEAN_4, Row(0, ("a",)), Row(1, ("a",)))
    assert nests(EUROPEAN_4, Row(0, ("a",)), Row(-3, ("a",)))
    assert not nests(EUROPEAN_4, Row(0, ("a",)), Row(2, ("a",)))
    assert nests(EUROPEAN_6, Row(0, ("a",)), Row(0, ("a",)))


def test_rings_are_named_as_people_count() -> None:
    layout = rect(3, 4)
    assert ring_name(2, 6) == "3.7"
    assert place_of("3.7") == (2, 6)
    assert item_at(layout, "3.4") == "a"
    assert item_at(layout, "3.5") is None
    for wrong in ("", "3", "3.", ".7", "0.1", "1.0", "a.b", "1.2.3", "-1.2", "１.２", "1" * 20 + ".1"):
        assert place_of(wrong) is None


@pytest.mark.parametrize(
    ("layout", "field"),
    [
        (Layout("knit", rows_of((0, 1))), "weave"),
        (Layout(EUROPEAN_4, ()), "rows"),
        (Layout(EUROPEAN_4, (Row(0, ("a",)), Row(1, (GAP,)))), "rows.2"),
        (Layout(EUROPEAN_4, rows_of((0, 1)), up="side"), "up"),  # type: ignore[arg-type]
        (Layout("japanese-12-in-2", rows_of((0, 1))), "connector"),
        (Layout(EUROPEAN_4, rows_of((0, MAX_RINGS + 1))), "rows"),
        (Layout(EUROPEAN_4, rows_of(*[(n % 2, 1) for n in range(2001)])), "rows"),
    ],
)
def test_what_cannot_be_worked_out_is_a_fault_with_its_place(layout: Layout, field: str) -> None:
    assert field in [fault.field for fault in faults_of(layout)]


def test_a_row_that_does_not_nest_is_no_fault() -> None:
    assert faults_of(Layout(EUROPEAN_4, rows_of((0, 3), (0, 3)))) == ()
