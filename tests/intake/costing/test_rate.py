"""Times of work as people type them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.intake.costing.rate import RateDraft, parse_seconds, read_rates
from models.intake.faults import Faults
from models.trade.measures import Unreadable

KINDS = ("open", "close")


@pytest.mark.parametrize(
    ("typed", "seconds"),
    [
        ("7", "7"),
        ("7 s", "7"),
        ("4,5 sec", "4.5"),
        ("3 min", "180"),
        ("25min.", "1500"),
        ("1:30", "90"),
        ("0.5 h", "1800"),
        ("0", "0"),
        ("0.0004 s", "0"),
    ],
)
def test_a_time_is_read_in_the_unit_that_was_typed(typed: str, seconds: str) -> None:
    assert parse_seconds(typed) == Decimal(seconds)


@pytest.mark.parametrize(
    "typed", ["", "soon", "-3", "1e9", "1:75", "3 days", "9" * 59, "25 h", "7 s 7", "½ hour of rest", "1,234 s"]
)
def test_what_is_no_time_is_refused(typed: str) -> None:
    with pytest.raises(Unreadable):
        parse_seconds(typed)


@given(st.text(max_size=30))
def test_any_text_is_a_time_or_is_refused(typed: str) -> None:
    try:
        seconds = parse_seconds(typed)
    except Unreadable:
        return
    assert 0 <= seconds <= 24 * 3600


@given(st.decimals(min_value=0, max_value=86_400, places=3))
def test_any_time_printed_in_seconds_reads_back_the_same(seconds: Decimal) -> None:
    assert parse_seconds(f"{seconds:f} s") == seconds


def row(**changes: object) -> dict[str, object]:
    return {"kind": "open", "seconds": "4", "low_factor": "0.7", "high_factor": "1.5"} | changes


def test_rows_of_times_are_read() -> None:
    found = read_rates({"rates": [row(), row(kind="close", seconds=7)]}, KINDS)
    assert found == (
        RateDraft("open", Decimal(4), Decimal("0.7"), Decimal("1.5")),
        RateDraft("close", Decimal(7), Decimal("0.7"), Decimal("1.5")),
    )


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "juggle"}, "kind"),
        ({"seconds": ""}, "seconds"),
        ({"seconds": "soon"}, "seconds"),
        ({"low_factor": "1.1"}, "low_factor"),
        ({"low_factor": ""}, "low_factor"),
        ({"high_factor": "0.9"}, "high_factor"),
        ({"high_factor": "11"}, "high_factor"),
    ],
)
def test_a_range_must_hold_its_likely_time(changes: dict[str, object], field: str) -> None:
    found = read_rates({"rates": [row(kind="close"), row(**changes)]}, KINDS)
    assert isinstance(found, Faults)
    assert list(found.by_field()) == [f"rates.1.{field}"]


def test_a_kind_of_work_stands_once() -> None:
    found = read_rates({"rates": [row(), row()]}, KINDS)
    assert isinstance(found, Faults)
    assert list(found.by_field()) == ["rates.1.kind"]


def test_rates_must_be_a_list_of_rows() -> None:
    assert isinstance(read_rates({"rates": "7"}, KINDS), Faults)
    assert isinstance(read_rates({"rates": ["7"]}, KINDS), Faults)
