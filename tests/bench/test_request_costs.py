"""What the worst request of each call may cost: under 2 s of processor time and 300 MB above idle, refused or not.

One row for each call that takes a list, a file, a picture or a layout; a new one needs a row here and nothing else. To
see the table: `python -m pytest -n0 -s tests/bench/test_request_costs.py`.
"""

from __future__ import annotations

import sys

import pytest

from tests.bench.request_cost import Worst, cost_of, sends

MOST_CPU_S = 2.0
MOST_PEAK_MB = 300.0


def one_row(rings: int) -> dict[str, object]:
    """A sheet of one row."""
    return {"weave": "european-4-in-1", "rows": [{"start": 0, "rings": rings, "item": "a"}]}


LAYOUTS = (
    Worst("count one row of 60,000 rings", sends("POST", "/api/layouts/count", json=one_row(60_000)), (200, 422)),
)

TABLE = (*LAYOUTS,)


@pytest.mark.skipif(sys.platform != "linux", reason="the figures are read from /proc")
@pytest.mark.parametrize("worst", TABLE, ids=lambda worst: worst.name)
def test_no_request_costs_more_than_two_seconds_or_three_hundred_megabytes(worst: Worst) -> None:
    cost = cost_of(worst)
    print(f"{worst.name}: {cost.status}, {cost.cpu_s:.2f} s, {cost.peak_mb:.0f} MB")  # noqa: T201
    assert cost.status in worst.answers, cost.text[:500]
    assert worst.says in cost.text
    assert cost.cpu_s < MOST_CPU_S
    assert cost.peak_mb < MOST_PEAK_MB
