"""What a job costs: parts that add up, rounded once each."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.costing.job_cost import job_cost
from tests.costing.example import shop_rates

RATES = shop_rates()
AMOUNTS = st.decimals(min_value=0, max_value=10_000, places=6)


def test_overhead_in_per_cent_is_taken_of_everything_else() -> None:
    rates = replace(RATES, wage_per_hour=Decimal(30), overhead_mode="percent", overhead_percent=Decimal(10))
    cost = job_cost(Decimal(5), Decimal(20), rates, extras=Decimal(2), extras_label="Dye")
    assert [(line.label, line.amount) for line in cost.line.lines] == [
        ("From stock", Decimal(5)),
        ("Work", Decimal(10)),
        ("Dye", Decimal(2)),
        ("Overhead", Decimal("1.7")),
    ]
    assert (cost.value_micros, cost.work_micros) == (18_700_000, 13_700_000)


@given(materials=AMOUNTS, minutes=AMOUNTS, extras=AMOUNTS)
def test_parts_add_up_and_nothing_is_made_from_nothing(materials: Decimal, minutes: Decimal, extras: Decimal) -> None:
    cost = job_cost(materials, minutes, RATES, extras=extras)
    assert sum(line.amount for line in cost.line.lines) == cost.line.amount
    assert cost.value_micros - cost.work_micros == int(materials * 1_000_000)


def test_what_is_below_zero_or_a_float_is_refused() -> None:
    with pytest.raises(ValueError, match="minutes"):
        job_cost(Decimal(1), Decimal(-1), RATES)
    with pytest.raises(TypeError):
        job_cost(1.0, Decimal(1), RATES)  # type: ignore[arg-type]
