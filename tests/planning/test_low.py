"""Low is one rule: at or below the point, and what is coming is not bought twice."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.planning.low import STEP_MILLI, Standing, at_point, standing

MILLI = st.integers(0, 500).map(lambda units: units * 1000)


@pytest.mark.parametrize(("free", "low"), [(99_999, True), (100_000, True), (100_001, False), (0, True)])
def test_a_point_is_reached_at_it_or_below_it(free: int, low: bool) -> None:
    assert at_point(free, 100_000) is low
    assert standing(free_milli=free, point_milli=100_000).low is low


def test_a_point_of_nothing_is_reached_when_none_is_left() -> None:
    assert standing(free_milli=0, point_milli=0) == Standing(low=True, buy_again=True, to_buy_milli=STEP_MILLI)
    assert standing(free_milli=1, point_milli=0) == Standing()
    assert not standing(free_milli=0, point_milli=None).low


def test_what_is_on_order_keeps_the_verdict_and_takes_the_buying_away() -> None:
    assert standing(free_milli=100_000, point_milli=100_000, coming_milli=200_000) == Standing(low=True)
    assert standing(free_milli=0, point_milli=0, plenty=True) == Standing()


@given(free=MILLI, point=st.none() | MILLI, target=st.none() | MILLI, coming=MILLI, asked=MILLI)
def test_what_is_bought_lifts_the_position_over_the_point_and_no_less_is_enough(
    free: int, point: int | None, target: int | None, coming: int, asked: int
) -> None:
    found = standing(free_milli=free, point_milli=point, target_milli=target, coming_milli=coming, asked_milli=asked)
    after = free + coming - asked + found.to_buy_milli
    assert after >= 0
    assert not at_point(after, point)
    assert found.buy_again == at_point(free + coming - asked, point)
    if found.to_buy_milli and not found.buy_again:
        assert after == 0
    if not coming and not asked:
        assert found.low == found.buy_again
