"""The coverage of weighed counts in a long run: 10,000 weighings of each kind, bounds as they are."""

import pytest

from tests.trade.simulated_bags import SETUPS, Setup, coverage


@pytest.mark.parametrize("setup", SETUPS, ids=lambda setup: setup.name)
def test_the_range_holds_the_true_count_93_to_97_times_in_100(setup: Setup) -> None:
    held, half_width = coverage(setup, 10_000, seed=11)
    assert held >= 0.93
    if half_width > 3 and not setup.hidden:
        assert held <= 0.97
