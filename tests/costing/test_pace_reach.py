"""Where the range of the next build ends: found by chords, as halving finds it."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from models.costing.pace import _zero
from models.trade.chances import t_cdf

scales = st.lists(st.tuples(st.floats(0.01, 1), st.floats(0.05, 5)), min_size=1, max_size=9)


@given(scales)
def test_chords_find_what_halving_finds(parts: list[tuple[float, float]]) -> None:
    whole = math.fsum(weight for weight, _ in parts)

    def over(reach: float) -> float:
        return math.fsum(weight / whole * t_cdf(reach / one * 1.476, 5) for weight, one in parts) - 0.9

    low, high = min(one for _, one in parts) * 0.9, max(one for _, one in parts) * 1.1
    found = _zero(over, low, high)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if over(middle) < 0 else (low, middle)
    assert math.isclose(found, low, rel_tol=1e-7)


def test_a_zero_that_lies_at_an_end_is_the_end() -> None:
    assert _zero(lambda x: x - 2, 2.0, 5.0) == 2.0
    assert _zero(lambda x: x - 5, 2.0, 5.0) == 5.0
