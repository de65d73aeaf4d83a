"""What is handed in about builds: the same from a form and from JSON, and faults that say what would be right."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.intake.builds.build import (
    FinishDraft,
    LineDraft,
    MadeDraft,
    WorkDone,
    bag_value,
    read_abandon,
    read_build_request,
    read_finish,
    read_made,
    read_new_design,
    read_rings_first,
    read_unpick,
)
from models.intake.faults import Faults
from models.intake.raw import Reader
from models.intake.worktime import work_time

FORM = {
    "design_id": "3", "pieces": "2", "choice": ["colour=green"], "with": ["4"], "spoiled": "1", "minutes": "1:35",
    "time_weave": "50", "made_on": "2026-03-02", "place": "tray", "note": "By lamp.",
    "lines": [{"bag": "12:drawer B4", "used": "40", "spoiled": "3", "before": "23.5 g", "after": "19"}],
}  # fmt: skip
JSON = {
    "design_id": 3, "pieces": 2, "choice": {"colour": "green"}, "with": [4], "spoiled": 1, "minutes": 95,
    "times": {"weave": Decimal(50)}, "made_on": "2026-03-02", "place": "tray", "note": "By lamp.",
    "lines": [{"lot_id": 12, "place": "drawer B4", "used": 40, "spoiled": 3, "before": Decimal("23.5"), "after": 19}],
}  # fmt: skip


def test_a_form_and_a_body_say_the_same() -> None:
    assert read_made(FORM) == read_made(JSON)
    made = read_made(JSON)
    assert isinstance(made, MadeDraft)
    assert made.work == WorkDone(95_000, {"weave": 50_000})
    assert made.lines == (
        LineDraft(12, "drawer B4", used_milli=40_000, spoiled_milli=3_000, before_ug=23_500_000, after_ug=19_000_000),
    )


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"design_id": ""}, "design_id"),
        ({"pieces": "0"}, "pieces"),
        ({"pieces": "many"}, "pieces"),
        ({"with": ["four"]}, "with"),
        ({"minutes": "40"}, "minutes"),
        ({"minutes": "soon"}, "minutes"),
        ({"made_on": "2 March"}, "made_on"),
        ({"timing": "perhaps"}, "timing"),
        ({"lines": [{"bag": "drawer"}]}, "lines.0.bag"),
        ({"lines": [{"bag": "1:a", "used": "-1"}]}, "lines.0.used"),
        ({"lines": [{"bag": "1:a", "before": "3", "after": "4"}]}, "lines.0.after"),
        ({"lines": [{"bag": "1:a", "before": "3"}]}, "lines.0.after"),
        ({"lines": [{}]}, "lines.0.item_id"),
        ({"lines": [{"bag": "1:a"}] * 401}, "lines"),
        ({"note": "x" * 1001}, "note"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(change: dict[str, Any], field: str) -> None:
    found = read_made({**FORM, **change})
    assert isinstance(found, Faults)
    assert field in found.by_field()


def test_nothing_said_means_the_usual() -> None:
    assert read_finish({}) == FinishDraft()
    assert read_finish({"keep_scrap_asked": "yes"}) == FinishDraft(keep_scrap=False)
    ask = read_build_request({"design_id": "3"})
    assert not isinstance(ask, Faults)
    assert (ask.pieces, ask.choices, ask.with_optional, ask.number) == (1, (), (), None)
    assert not isinstance(read_abandon({}), Faults)
    assert not isinstance(read_unpick({}), Faults)


def test_minutes_by_kind_are_the_whole_where_no_total_is_given() -> None:
    found = read_finish({"time_open": "10", "time_weave": "0:20"})
    assert isinstance(found, FinishDraft)
    assert found.work == WorkDone(30_000, {"open": 10_000, "weave": 20_000})


def test_rings_first_and_the_design_that_is_made_of_them() -> None:
    rows = [{"bag": bag_value(4, "tin"), "used": "30"}, {"bag": "5:", "used": ""}]
    first = read_rings_first({"lines": rows})
    assert not isinstance(first, Faults)
    assert [(line.lot_id, line.place, line.used_milli) for line in first.lines] == [(4, "tin", 30_000)]
    assert isinstance(read_rings_first({"lines": []}), Faults)
    assert isinstance(read_new_design({"name": ""}), Faults)


@pytest.mark.parametrize(
    ("typed", "minutes"),
    [
        ("95", 95), ("1:35", 95), ("1 h 35", 95), ("1h35", 95), ("1 h 35 min", 95), ("2 h", 120), ("1.5 h", 90),
        ("1,5 h", 90), ("45 min", 45), ("12.5", Decimal("12.5")), ("0:05", 5), ("90 minutes", 90), ("0", 0),
    ],
)  # fmt: skip
def test_times_are_read_as_people_type_them(typed: str, minutes: Decimal | int) -> None:
    reader = Reader({"minutes": typed})
    assert work_time(reader, "minutes") == minutes * 1000
    assert reader.faults() is None


@pytest.mark.parametrize("typed", ["soon", "1:75", "h", "1 h 2 h", "-5", "1e9", "99999999", "1:2:3", "NaN"])
def test_times_that_cannot_be_read_say_what_would_be_right(typed: str) -> None:
    reader = Reader({"minutes": typed})
    assert work_time(reader, "minutes") is None
    assert reader.faults() is not None


@given(st.integers(0, 5999), st.integers(0, 59))
def test_hours_and_minutes_come_back(hours: int, minutes: int) -> None:
    whole = hours * 60 + minutes
    for typed in (f"{hours}:{minutes:02d}", f"{hours} h {minutes} min", str(whole)):
        if whole <= 100_000 and (":" not in typed or hours < 10_000):
            assert work_time(Reader({"minutes": typed}), "minutes") == (whole * 1000 if whole <= 100_000 else None)


@given(st.text(max_size=30))
def test_no_text_breaks_the_reader_of_times(typed: str) -> None:
    found = work_time(Reader({"minutes": typed}), "minutes")
    assert found is None or found >= 0
