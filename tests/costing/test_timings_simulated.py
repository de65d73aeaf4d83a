"""After ten builds the 10 to 90 range holds about 80 of 100 unseen builds, in invented shops of three families.

300 shops each; the bounds of 75 and 85 are widened by one standard deviation of a share of 80 % in 300, 2.3 %. The long
run (tests/soak) holds 2,000 shops to the bounds as they are.
"""

import math
import statistics

import numpy as np
import pytest

from tests.costing.simulated_shops import FAMILIES, trial

SHOPS = 300
NOISE = math.sqrt(0.8 * 0.2 / SHOPS)


@pytest.mark.long
@pytest.mark.parametrize("family", FAMILIES)
def test_the_range_holds_and_learning_beats_the_starting_rates(family: str) -> None:
    rng = np.random.default_rng(21)
    trials = [trial(rng, family) for _ in range(SHOPS)]
    held = sum(each.held for each in trials) / SHOPS
    assert 0.75 - NOISE <= held <= 0.85 + NOISE
    assert statistics.median(t.error for t in trials) < 0.7 * statistics.median(t.start_error for t in trials)
