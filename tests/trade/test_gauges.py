"""Gauges: a label is never understood without its system, and each names one exact size."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.trade.gauges import all_gauges, gauge
from models.trade.measures import SYSTEMS, Unreadable, awg_nm, nearest_gauge, parse_gauge, parse_wire, swg_nm


@pytest.mark.parametrize(
    ("typed", "label"),
    [
        ("20 AWG", "20 AWG"),
        ("20awg", "20 AWG"),
        ("AWG 20", "20 AWG"),
        ("awg20", "20 AWG"),
        ("#20 AWG", "20 AWG"),
        ("No. 20 AWG", "20 AWG"),
        ("no 20 awg", "20 AWG"),
        ("20 gauge AWG", "20 AWG"),
        ("20 ga awg", "20 AWG"),
        ("20-gauge SWG", "20 SWG"),
        ("16 Swg", "16 SWG"),
        ("2/0 AWG", "2/0 AWG"),
        ("00 AWG", "2/0 AWG"),
        ("0000awg", "4/0 AWG"),
        ("0 AWG", "1/0 AWG"),
        ("1/0 AWG", "1/0 AWG"),
        ("7/0 SWG", "7/0 SWG"),
        ("50 SWG", "50 SWG"),
        ("40 AWG", "40 AWG"),
    ],
)
def test_reads_a_gauge_with_its_system(typed: str, label: str) -> None:
    assert parse_gauge(typed).label == label


@pytest.mark.parametrize(
    ("typed", "part"),
    [
        ("20", "not a gauge"),
        ("20 mm", "not a gauge"),
        ("20 ga", "Which gauge system?"),
        ("99 ga", "There is no gauge 99"),
        ("20.5 AWG", "whole gauges only"),
        ("20,5 SWG", "whole gauges only"),
        ("41 AWG", "There is no 41 AWG"),
        ("5/0 AWG", "There is no 5/0 AWG"),
        ("00000 AWG", "There is no 00000 AWG"),
        ("8/0 SWG", "There is no 8/0 SWG"),
        ("51 SWG", "There is no 51 SWG"),
        ("1/2 AWG", "There is no 1/2 AWG"),
        ("0/0 AWG", "There is no 0/0 AWG"),
        ("020 AWG", "There is no 020 AWG"),
        ("123456 AWG", "There is no 123456 AWG"),
        ("AWG", "not a gauge"),
        ("-20 AWG", "not a gauge"),
    ],
)
def test_refuses_other_gauges_in_plain_words(typed: str, part: str) -> None:
    with pytest.raises(Unreadable) as refused:
        parse_gauge(typed)
    assert part in refused.value.message


def test_the_same_number_is_another_wire_in_the_other_system() -> None:
    assert parse_wire("16 SWG").nm - parse_wire("16 AWG").nm == 334_754


def test_whole_gauges_only_run_inside_their_tables() -> None:
    assert len(all_gauges("AWG")) == 44
    assert len(all_gauges("SWG")) == 57
    for number in (-4, 41):
        with pytest.raises(ValueError, match="outside"):
            awg_nm(number)
    for number in (-7, 51):
        with pytest.raises(ValueError, match="outside"):
            swg_nm(number)
    with pytest.raises(ValueError, match="no such gauge system"):
        gauge("BWG", 20)


@pytest.mark.parametrize("system", SYSTEMS)
def test_a_higher_number_is_a_thinner_wire_and_every_label_reads_back(system: str) -> None:
    sizes = [each.nm for each in all_gauges(system)]
    assert sizes == sorted(set(sizes), reverse=True)
    for each in all_gauges(system):
        assert parse_gauge(each.label) == each
        assert nearest_gauge(each.nm, system) == (each.label, each.nm)
        assert (parse_wire(each.label).nm, parse_wire(each.label).label) == (each.nm, each.label)


@given(st.integers(1, 20_000_000), st.sampled_from(SYSTEMS))
def test_no_gauge_is_nearer_than_the_nearest(nm: int, system: str) -> None:
    label, found_nm = nearest_gauge(nm, system)
    assert parse_gauge(label).nm == found_nm
    assert all(abs(found_nm - nm) <= abs(each.nm - nm) for each in all_gauges(system))
