"""How long the labour model takes: 200 builds learned and one estimate, in processor time."""

import time

import numpy as np
import pytest

from models.costing.timings import learn
from tests.costing.simulated_shops import builds, shop, start_minutes


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_an_estimate_from_200_builds_takes_under_20_ms(seed: int) -> None:
    rng = np.random.default_rng(seed)
    truth = shop(rng, "drifting")
    made = builds(rng, truth, 200)
    work = start_minutes(truth.designs[0], 2)
    best = 1.0
    for _ in range(7):
        begin = time.process_time()
        learn(made).estimate(work, 0)
        best = min(best, time.process_time() - begin)
    assert best < 0.020
