"""The solved chain states against their own generator, run afresh at some aspect ratios.

Source: sequential linear programming on the distances of circles in space (`chain_solver.py`), with scipy's HiGHS.
"""

from __future__ import annotations

import numpy as np
import pytest

from models.layouts.places.chain_states import STATES, state_at
from tests.outside.chain_solver import SEEDS, distances, pairs_of, pulled

pytestmark = pytest.mark.long


@pytest.mark.parametrize(
    ("code", "ratio"), [("byzantine", 3.5), ("byzantine", 4.0), ("three-ring-rope", 2.9), ("spiral-4-in-1", 4.2)]
)
def test_the_solver_pulls_a_chain_as_long_as_the_table_says(code: str, ratio: float) -> None:
    found = state_at(code, ratio)
    assert found is not None
    share, *state = found
    wire = 2 / (ratio + 1)
    tight = pulled(SEEDS[code][0], np.array(state), wire)
    rings = 6 if code == "byzantine" else 1
    assert tight[0] / (2 - wire) / rings == pytest.approx(share, rel=2e-3)
    # The drawn state is the pulled one with 0.4 % of slack.
    assert state[0] == pytest.approx(tight[0] * 0.996, rel=2e-3)


@pytest.mark.parametrize("code", sorted(STATES))
def test_every_state_of_the_table_is_clear(code: str) -> None:
    model = SEEDS[code][0]
    for ratio, _, *state in STATES[code]:
        wire = 2 / (ratio + 1)
        pairs = pairs_of(model, np.array(state), wire)
        assert distances(model(np.array(state), wire), pairs).min() >= wire


def test_between_rows_a_state_is_read_straight_and_past_them_not_at_all() -> None:
    low, high = STATES["byzantine"][3][2], STATES["byzantine"][4][2]
    middle = state_at("byzantine", 3.65)
    assert middle is not None
    assert middle[1] == pytest.approx((low + high) / 2)
    assert state_at("byzantine", STATES["byzantine"][0][0]) == STATES["byzantine"][0][1:]
    assert state_at("byzantine", STATES["byzantine"][-1][0]) == pytest.approx(STATES["byzantine"][-1][1:])
    assert state_at("byzantine", 3.39) is None
    assert state_at("byzantine", 5.01) is None
    assert state_at("box-chain", 4.0) is None
