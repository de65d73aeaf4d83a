"""The labour model on 2,000 invented shops of each family, bounds as they are; and with fewer and more builds."""

import statistics

import numpy as np
import pytest

from tests.costing.simulated_shops import FAMILIES, trial


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("seed", [1, 2])
def test_after_ten_builds_the_range_holds_75_to_85_of_100(family: str, seed: int) -> None:
    rng = np.random.default_rng(seed)
    trials = [trial(rng, family) for _ in range(2000)]
    held = sum(each.held for each in trials) / len(trials)
    assert 0.75 <= held <= 0.85
    assert statistics.median(t.error for t in trials) < statistics.median(t.start_error for t in trials)


@pytest.mark.parametrize("family", FAMILIES)
def test_calm_and_wild_shops_are_both_held(family: str) -> None:
    """The range must not be right on the average only: shops of much and of little scatter, each within 70 to 90."""
    rng = np.random.default_rng(3)
    trials = [trial(rng, family) for _ in range(2000)]
    for some in ([t.held for t in trials if t.noise < 0.14], [t.held for t in trials if t.noise > 0.24]):
        assert len(some) > 300
        assert 0.70 <= sum(some) / len(some) <= 0.90


@pytest.mark.parametrize("history", [3, 5, 30])
@pytest.mark.parametrize("family", FAMILIES)
def test_with_fewer_and_with_more_builds_it_holds_too(family: str, history: int) -> None:
    rng = np.random.default_rng(4)
    trials = [trial(rng, family, history) for _ in range(1000)]
    assert 0.70 <= sum(each.held for each in trials) / len(trials) <= 0.88
    assert statistics.median(t.error for t in trials) < statistics.median(t.start_error for t in trials)
