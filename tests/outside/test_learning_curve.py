"""Several pieces made together against the published worked example of the learning curve.

Source: Boehmke and Freels, learningCurve (2018), worked example: first unit 100 h, 85 %, 125 units. The table at 80 % is
arithmetic from the formula, and the aircraft-hours example is data from memory of an operations textbook.
"""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from models.costing.design_cost import cost_design
from models.costing.inputs import Rate, ShopRates, WorkInput
from models.costing.learning import slope, total_factor, unit_factor


@pytest.mark.parametrize(
    ("rate", "b"), [("0.80", "-0.3219280949"), ("0.85", "-0.2344652536"), ("0.90", "-0.1520030934")]
)
def test_the_slopes_of_the_usual_curves(rate: str, b: str) -> None:
    assert abs(slope(Decimal(rate)) - Decimal(b)) < Decimal("1e-10")
    assert math.isclose(float(slope(Decimal(rate))), math.log2(float(rate)), rel_tol=1e-14)


def test_the_hundred_and_twenty_fifth_unit_and_the_total_of_the_published_example() -> None:
    assert abs(100 * unit_factor(Decimal("0.85"), 125) - Decimal("32.2364687")) < Decimal("1e-7")
    assert abs(100 * total_factor(Decimal("0.85"), 125) - Decimal("5201.0851")) < Decimal("1e-4")


def test_a_design_made_a_hundred_and_twenty_five_times_takes_the_published_hours() -> None:
    # One thing to weave that takes 100 hours the first time, made 125 times together.
    rates = ShopRates({"weave": Rate("weave", Decimal(360_000), "ring")}, Decimal(1), learning=Decimal("0.85"))
    cost = cost_design([], WorkInput(weave=Decimal(1), pack=False, setup=False), rates, pieces=125)
    assert abs(cost.minutes.likely * 125 / 60 - Decimal("5201.085149")) < Decimal("0.00001")
    assert abs(cost.total - Decimal("5201.085149")) < Decimal("0.0001")


@pytest.mark.parametrize(
    ("n", "unit", "total"),
    [
        (1, "100", "100"), (2, "80", "180"), (3, "70.2104", "250.2104"), (4, "64", "314.2104"), (5, "59.5637", "373.7741"),
        (8, "51.2", "534.5914"), (10, "47.6510", "631.5373"), (16, "40.96", "892.0137"),
    ],
)  # fmt: skip
def test_the_table_at_eighty_per_cent(n: int, unit: str, total: str) -> None:
    assert abs(100 * unit_factor(Decimal("0.8"), n) - Decimal(unit)) < Decimal("0.00006")
    assert abs(100 * total_factor(Decimal("0.8"), n) - Decimal(total)) < Decimal("0.00006")


def test_the_fourth_of_a_hundred_and_twenty_five_thousand_hours() -> None:
    # Data from memory of Heizer and Render, Operations Management; two doublings at 85 %.
    assert abs(125_000 * unit_factor(Decimal("0.85"), 4) - Decimal("90312.5")) < Decimal("1e-10")
