"""Rows, their names, and layouts as plain values and back."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.document.plain import attachment_from_plain, attachment_to_plain, from_plain, to_plain
from models.layouts.engine.attach import KINDS, WHERES, Attachment, Selection
from models.layouts.engine.nesting import end_of, faults_of, nests, trimmed
from models.layouts.engine.rows import (
    EDGES,
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
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, SHEETS
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


keys = st.sampled_from(["a", "b", "long key 1"])
row_strategy = st.builds(Row, st.integers(-50, 50), st.lists(keys | st.just(GAP), max_size=12).map(lambda i: ("a", *i)))
selections = st.builds(
    Selection,
    where=st.sampled_from([each for each in WHERES if each != "attachment"]),
    item=st.sampled_from(["", "a"]),
    every=st.integers(1, 9),
    skip=st.integers(0, 9),
    rows=st.none() | st.tuples(st.integers(1, 5), st.integers(5, 9)),
    rings=st.lists(st.sampled_from(["1.1", "2.3"]), max_size=2).map(tuple),
)
attachments = st.builds(
    Attachment,
    st.text(min_size=1, max_size=10),
    st.sampled_from(KINDS),
    selections,
    st.just("c"),
    st.just("f"),
    st.integers(1, 9),
)


@given(
    st.sampled_from(sorted(SHEETS)),
    st.lists(row_strategy, min_size=1, max_size=6),
    st.lists(attachments, max_size=3, unique_by=lambda each: each.name),
    st.sampled_from(EDGES),
)
def test_a_layout_survives_plain_values(weave: str, rows: list[Row], hung: list[Attachment], up: str) -> None:
    layout = Layout(weave, tuple(rows), tuple(hung), up, "k")  # type: ignore[arg-type]
    assert from_plain(json.loads(json.dumps(to_plain(layout)))) == layout


@given(attachments)
def test_an_attachment_survives_plain_values(attachment: Attachment) -> None:
    assert attachment_from_plain(json.loads(json.dumps(attachment_to_plain(attachment)))) == attachment


def test_rows_may_be_given_three_ways() -> None:
    raw = {
        "weave": EUROPEAN_4,
        "rows": [
            {"start": 0, "runs": [["a", 2], ["b", 1]]},
            {"start": 1, "items": ["a", "b"]},
            {"rings": 3, "item": "a"},
            {"start": 1, "rings": 3, "repeat": ["a", "b"]},
        ],
    }
    layout = from_plain(raw)
    assert isinstance(layout, Layout)
    assert [row.items for row in layout.rows] == [("a", "a", "b"), ("a", "b"), ("a", "a", "a"), ("a", "b", "a")]
    assert [row.start for row in layout.rows] == [0, 1, 0, 1]


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        (None, "layout"),
        ([], "layout"),
        ({"weave": "knit", "rows": [{"rings": 1, "item": "a"}]}, "weave"),
        ({"weave": ["x"], "rows": [{"rings": 1, "item": "a"}]}, "weave"),
        ({"rows": "abc"}, "rows"),
        ({"rows": [5]}, "rows.1"),
        ({"rows": [{"start": "0", "rings": 1, "item": "a"}]}, "rows.1.start"),
        ({"rows": [{"start": True, "rings": 1, "item": "a"}]}, "rows.1.start"),
        ({"rows": [{"start": 0.5, "rings": 1, "item": "a"}]}, "rows.1.start"),
        ({"rows": [{"rings": 3}]}, "rows.1.item"),
        ({"rows": [{"rings": 10**9, "item": "a"}]}, "rows.1.rings"),
        ({"rows": [{"runs": [["a"]]}]}, "rows.1.runs.1"),
        ({"rows": [{"runs": [["a", -1]]}]}, "rows.1.runs.1"),
        ({"rows": [{"runs": [["a", MAX_RINGS], ["a", MAX_RINGS]]}]}, "rows.1.runs"),
        ({"rows": [{"items": ["a" * 65]}]}, "rows.1.items"),
        ({"rows": [{"rings": 1, "item": "a"}], "up": "top"}, "up"),
        ({"rows": [{"rings": 1, "item": "a"}], "attachments": [{"kind": "hang", "ring": "a"}]}, "attachments.1.name"),
        ({"rows": [{"rings": 1, "item": "a"}], "attachments": [{"name": "x", "kind": "hang"}]}, "attachments.1.ring"),
        (
            {"rows": [{"rings": 1, "item": "a"}], "attachments": [{"name": "x", "kind": "bail"}]},
            "attachments.1.finding",
        ),
        (
            {"rows": [{"rings": 1, "item": "a"}], "attachments": [{"name": "x", "ring": "a", "on": {"rows": [1]}}]},
            "attachments.1.on.rows",
        ),
        (
            {
                "rows": [{"rings": 1, "item": "a"}],
                "attachments": [{"name": "x", "ring": "a", "on": {"where": "attachment", "of": "y"}}],
            },
            "attachments.1.on.of",
        ),
    ],
)
def test_what_is_not_understood_is_a_fault_with_its_place(raw: object, field: str) -> None:
    faults = from_plain(raw)
    assert isinstance(faults, tuple)
    assert field in [fault.field for fault in faults]
    assert all(fault.message for fault in faults)


def test_all_faults_are_told_at_once() -> None:
    faults = from_plain({"weave": "knit", "up": "top", "rows": [{"rings": 3}, {"runs": [1]}]})
    assert isinstance(faults, tuple)
    assert len(faults) >= 4
