"""Layouts as documents: what is written reads back, older ones too, and what is not understood is a fault in its place."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.document.model import FORMAT, document_of, read_attachment, read_chain, read_sheet
from models.layouts.engine.attach import KINDS, WHERES, Attachment, Selection
from models.layouts.engine.chains import Chain, Stretch
from models.layouts.engine.rows import EDGES, GAP, MAX_RINGS, Layout, Row
from models.layouts.weaves.sheets import EUROPEAN_4, SHEETS
from tests.layouts.layouts import rect

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
    assert read_sheet(json.loads(json.dumps(document_of(layout).written()))) == layout


@given(attachments)
def test_an_attachment_survives_plain_values(attachment: Attachment) -> None:
    assert read_attachment(json.loads(json.dumps(asdict(attachment)))) == attachment


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
    layout = read_sheet(raw)
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
    faults = read_sheet(raw)
    assert isinstance(faults, tuple)
    assert field in [fault.field for fault in faults]
    assert all(fault.message for fault in faults)


def test_all_faults_are_told_at_once() -> None:
    faults = read_sheet({"weave": "knit", "up": "top", "rows": [{"rings": 3}, {"runs": [1]}]})
    assert isinstance(faults, tuple)
    assert len(faults) >= 4


CHAIN = Chain("byzantine", (Stretch(3, ("a", "b")),))


@pytest.mark.parametrize(("plan", "read"), [(rect(3, 4), read_sheet), (CHAIN, read_chain)])
def test_a_document_carries_its_format_and_one_from_before_formats_reads_too(plan: Any, read: Any) -> None:
    written = document_of(plan).written()
    assert written.pop("format") == FORMAT == 1
    assert read(written) == plan


@pytest.mark.parametrize(("plan", "read"), [(rect(3, 4), read_sheet), (CHAIN, read_chain)])
def test_a_document_of_a_newer_format_is_told_and_not_guessed(plan: Any, read: Any) -> None:
    (fault,) = read({**document_of(plan).written(), "format": FORMAT + 1})
    assert fault.field == "format"
    assert fault.message == "This layout is of format 2, and those up to 1 are read here."


def test_rows_are_written_as_runs_and_nothing_but_plain_values() -> None:
    hung = Attachment("drop", "hang", Selection("first row", rows=(1, 2), rings=("1.1",)), ring="b")
    assert document_of(Layout(EUROPEAN_4, (Row(1, ("a", "a", "b")),), (hung,))).written() == {
        "format": 1,
        "weave": "european-4-in-1",
        "up": "first row",
        "connector": "",
        "rows": [{"start": 1, "runs": [["a", 2], ["b", 1]]}],
        "attachments": [
            {
                "name": "drop",
                "kind": "hang",
                "ring": "b",
                "finding": "",
                "each": 1,
                "on": {
                    "where": "first row",
                    "item": "",
                    "every": 1,
                    "skip": 0,
                    "rows": [1, 2],
                    "of": "",
                    "rings": ["1.1"],
                },
            }
        ],
    }
