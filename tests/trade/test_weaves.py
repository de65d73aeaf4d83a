"""Weaves: the catalogue is whole, a ring gets one verdict with its number, and the shop's own record wins."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.trade.rings import RingSize
from models.trade.weaves import (
    COMMON_PRACTICE,
    WEAVES,
    Band,
    FitNote,
    fit,
    fits,
    hung_on,
    packing_bound,
    weave,
)

EUROPEAN = WEAVES["european-4-in-1"]
VERDICTS = {"comfortable", "tight", "loose", "too small"}


def of_ratio(ratio: str) -> RingSize:
    return RingSize(1_000_000, int(Decimal(ratio) * 1_000_000))


def test_the_catalogue_is_whole() -> None:
    assert len(WEAVES) >= 18
    assert len({each.name for each in WEAVES.values()}) == len(WEAVES)
    for code, each in WEAVES.items():
        assert code == each.code == weave(code).code
        assert each.smallest_ar < each.band_low < each.band_high <= each.largest_ar
        assert 1 <= each.difficulty <= 5
        assert each.links >= 2
        assert each.packing_bound == packing_bound(each.links)
        assert each.source == COMMON_PRACTICE
        assert each.family in {"chain", "sheet", "hub"}


def test_no_working_window_is_under_the_packing_bound() -> None:
    for each in WEAVES.values():
        assert each.smallest_ar >= each.packing_bound, each.code
        if each.computed_min is not None:
            assert each.computed_min >= each.packing_bound - Decimal("0.000001"), each.code


@pytest.mark.parametrize(
    ("ratio", "verdict", "deciding"),
    [
        ("2.9", "too small", "3.0"),
        ("2.999999", "too small", "3.0"),
        ("3.0", "tight", "3.4"),
        ("3.399999", "tight", "3.4"),
        ("3.4", "comfortable", "3.4"),
        ("3.5", "comfortable", "3.4"),
        ("4.6", "comfortable", "3.4"),
        ("4.600001", "loose", "4.6"),
        ("5.5", "loose", "4.6"),
        ("5.6", "loose", "5.5"),
    ],
)
def test_european_4_in_1_by_its_aspect_ratio(ratio: str, verdict: str, deciding: str) -> None:
    found = fit(EUROPEAN, of_ratio(ratio))
    assert found.verdict == verdict
    assert found.deciding == Decimal(deciding)
    assert found.aspect_ratio == Decimal(ratio)
    assert format(Decimal(deciding).normalize(), "f") in found.reason
    assert COMMON_PRACTICE in found.reason
    assert not found.own_record


def test_the_reason_never_shows_a_ratio_equal_to_the_limit_that_it_missed() -> None:
    assert "3.399999 works" in fit(EUROPEAN, of_ratio("3.399999")).reason
    assert "2.999999 is under 3," in fit(EUROPEAN, of_ratio("2.999999")).reason
    assert "4.600001 is over" in fit(EUROPEAN, of_ratio("4.600001")).reason


def test_a_computed_size_informs_and_never_warns() -> None:
    byzantine = WEAVES["byzantine"]
    found = fit(byzantine, of_ratio("3.25"))
    assert found.verdict == "comfortable"
    assert "3.34 was computed" in found.reason
    assert "only informs" in found.reason
    assert "computed" not in fit(byzantine, of_ratio("3.5")).reason


def test_the_shops_own_band_replaces_the_catalogues() -> None:
    band = Band(Decimal("2.8"), Decimal("3.0"), Decimal("3.3"), Decimal(5))
    assert fit(EUROPEAN, of_ratio("3.2"), band=band).verdict == "comfortable"
    assert fit(EUROPEAN, of_ratio("3.4"), band=band).verdict == "loose"
    assert "your own band" in fit(EUROPEAN, of_ratio("3.4"), band=band).reason


@pytest.mark.parametrize("rising", ["3 2 4 5", "0 1 2 3", "-1 1 2 3", "1 2 3 2.9", "1 3 2 4"])
def test_the_ratios_of_a_band_rise(rising: str) -> None:
    with pytest.raises(ValueError, match="rise"):
        Band(*(Decimal(each) for each in rising.split()))


def test_the_shops_own_record_wins_and_says_so() -> None:
    note = FitNote("european-4-in-1", RingSize(1_000_000, 2_900_000), "comfortable", "Soft copper.")
    found = fit(EUROPEAN, RingSize(1_010_000, 2_920_000), records=[note])
    assert found.own_record
    assert found.verdict == "comfortable"
    assert found.reason == "Your own record of 1.0 mm x 2.9 mm in this weave says comfortable. Soft copper."
    assert found.deciding == Decimal("2.9")


def test_a_record_of_another_weave_or_a_farther_size_does_not_count() -> None:
    other = FitNote("byzantine", RingSize(1_000_000, 2_900_000), "comfortable")
    far = FitNote("european-4-in-1", RingSize(1_000_000, 2_869_999), "comfortable")
    found = fit(EUROPEAN, RingSize(1_000_000, 2_900_000), records=[other, far])
    assert not found.own_record
    assert found.verdict == "too small"
    assert fit(EUROPEAN, RingSize(1_000_000, 2_900_000), records=[far], near_nm=30_001).own_record


def test_of_several_records_the_nearest_counts_and_of_equals_the_latest() -> None:
    size = RingSize(1_000_000, 4_000_000)
    near_by = FitNote("european-4-in-1", RingSize(1_000_000, 4_010_000), "loose")
    first = FitNote("european-4-in-1", size, "tight")
    second = FitNote("european-4-in-1", size, "comfortable")
    assert fit(EUROPEAN, size, records=[near_by, first, second]).verdict == "comfortable"
    assert fit(EUROPEAN, size, records=[second, first, near_by]).verdict == "tight"


@given(st.integers(300_000, 3_000_000), st.integers(1_000_000, 30_000_000))
def test_every_weave_gives_every_ring_one_verdict(wire_nm: int, inner_nm: int) -> None:
    found = fits(RingSize(wire_nm, inner_nm))
    assert [each.weave for each in found] == list(WEAVES.values())
    for each in found:
        assert each.verdict in VERDICTS
        assert each.reason.endswith((".", ").", "informs."))


@given(st.sampled_from(sorted(WEAVES)), st.integers(1_000_000, 12_000_000), st.integers(0, 3_000_000))
def test_a_wider_ring_is_never_judged_smaller(code: str, inner_nm: int, wider_nm: int) -> None:
    order = ["too small", "tight", "comfortable", "loose"]
    small = fit(WEAVES[code], RingSize(1_000_000, inner_nm)).verdict
    large = fit(WEAVES[code], RingSize(1_000_000, inner_nm + wider_nm)).verdict
    assert order.index(small) <= order.index(large)


def test_bands_go_to_their_weaves() -> None:
    band = Band(Decimal(1), Decimal(2), Decimal(9), Decimal(9))
    found = {each.weave.code: each for each in fits(of_ratio("8"), bands={"byzantine": band})}
    assert found["byzantine"].verdict == "comfortable"
    assert found["box-chain"].verdict == "loose"


def test_more_wires_never_need_a_smaller_opening() -> None:
    bounds = [packing_bound(k) for k in range(1, 14)]
    assert bounds == sorted(bounds)
    for k in (0, 14, -1):
        with pytest.raises(ValueError, match="only for 1 to 13"):
            packing_bound(k)


def test_rings_hang_only_where_they_can() -> None:
    assert hung_on(1_000, 500, 1_000) == 0
    assert hung_on(1_000, 1_500, 1_000) == 1
    assert hung_on(1_000, 2_000, 1_000) == 2
    assert hung_on(1_000, 3_000, 1_000) == 6
    assert hung_on(1_000, 8_000, 1_000, hung_inner_nm=1_000) == 0
    assert hung_on(1_000, 8_000, 1_000, hung_inner_nm=1_001) == 21
    for bad in ((0, 1, 1, None), (1, 0, 1, None), (1, 1, 0, None), (1, 1, 1, 0)):
        with pytest.raises(ValueError, match="above zero"):
            hung_on(*bad)


@given(st.integers(100, 10_000), st.integers(1, 10))
def test_a_larger_hub_takes_no_fewer_rings(wire_nm: int, times: int) -> None:
    inner_nm = wire_nm * times
    assert hung_on(wire_nm, inner_nm, 1) <= hung_on(wire_nm, inner_nm + wire_nm // 2, 1)
