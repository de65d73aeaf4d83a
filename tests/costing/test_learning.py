"""Several pieces made together: the nth takes T1 x n^b."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.costing.learning import average_factor, slope, total_factor, unit_factor
from tests.budget import budget


def test_each_doubling_takes_the_stated_share() -> None:
    for n in (1, 3, 7, 20):
        ratio = unit_factor(Decimal("0.85"), 2 * n) / unit_factor(Decimal("0.85"), n)
        assert abs(ratio - Decimal("0.85")) < Decimal("1e-15")


def test_without_learning_every_piece_takes_as_long() -> None:
    assert slope(Decimal(1)) == 0
    assert total_factor(Decimal(1), 40) == 40
    assert average_factor(Decimal(1), 40) == unit_factor(Decimal(1), 40) == 1


@settings(max_examples=budget(40))
@given(count=st.integers(1, 300), learning=st.sampled_from(["0.5", "0.8", "0.95", "0.999"]))
def test_the_total_is_the_sum_of_the_pieces(count: int, learning: str) -> None:
    rate = Decimal(learning)
    one_by_one = sum(unit_factor(rate, n) for n in range(1, count + 1))
    assert abs(total_factor(rate, count) - one_by_one) < Decimal("1e-14")


@pytest.mark.parametrize(("learning", "count"), [("0.8", 0), ("0.8", 10_001), ("0", 5), ("1.01", 5)])
def test_nonsense_is_refused(learning: str, count: int) -> None:
    with pytest.raises(ValueError, match="must"):
        total_factor(Decimal(learning), count)
