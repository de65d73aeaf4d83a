"""Order sizes, reorder points and one-time stock against a textbook's examples and a library of inventory theory.

Source: Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd edition; the example's number stands beside each. Their
figures are as the library stockpyl cites them in its documentation; the library itself is run beside ours.
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from stockpyl.eoq import economic_order_quantity, economic_order_quantity_with_all_units_discounts
from stockpyl.newsvendor import newsvendor_normal, newsvendor_poisson
from stockpyl.rq import r_q_eoqss_approximation

from models.planning.reorder import Demand, ReorderProposal, ReorderRequest, Take, lead_demand, propose_reorder
from models.planning.stock_theory import (
    critical_ratio,
    discount_order,
    economic_order,
    normal_quantile,
    poisson_quantile,
    ready_normal,
    ready_poisson,
    safety_factor,
    yearly_cost,
)


def test_the_economic_order_of_example_3_1() -> None:
    # K = 8, h = 0.225 a year, 1300 a year: Q* = 304.05, cost 68.41; ordering 200 costs 74.50.
    best = economic_order(Decimal(1300), Decimal(8), Decimal("0.225"))
    assert float(best.quantity) == pytest.approx(304.046780, abs=5e-7)
    assert float(best.cost) == pytest.approx(68.4105255, abs=5e-8)
    assert (float(best.quantity), float(best.cost)) == pytest.approx(economic_order_quantity(8, 0.225, 1300))
    assert yearly_cost(Decimal(200), Decimal(1300), Decimal(8), Decimal("0.225")) == Decimal("74.5")


def test_the_discount_of_example_3_5() -> None:
    # K = 8, 30 % holding, 1300 a year, 0.75 / 0.72 / 0.68 from 0 / 400 / 800: order 800 at 978.60 a year.
    prices = [(Decimal(0), Decimal("0.75")), (Decimal(400), Decimal("0.72")), (Decimal(800), Decimal("0.68"))]
    best = discount_order(Decimal(1300), Decimal(8), Decimal("0.3"), prices)
    assert (best.quantity, best.unit_price, best.cost) == (800, Decimal("0.68"), Decimal("978.6"))
    quantity, _, cost = economic_order_quantity_with_all_units_discounts(
        8, 0.3, 1300, [0, 400, 800], [0.75, 0.72, 0.68]
    )
    assert (quantity, cost) == pytest.approx((float(best.quantity), float(best.cost)))
    # The other realisable sizes cost 1005.20 (at 400) and 1043.41 (at 304.05).
    at_400 = discount_order(Decimal(1300), Decimal(8), Decimal("0.3"), prices[:2])
    assert (at_400.quantity, at_400.cost) == (400, Decimal("1005.2"))
    assert float(discount_order(Decimal(1300), Decimal(8), Decimal("0.3"), prices[:1]).cost) == pytest.approx(
        1043.41, abs=5e-3
    )


def test_one_time_stock_with_normal_demand_of_example_4_3() -> None:
    # h = 0.18, p = 0.70, mean 50, deviation 8: ratio 0.795455, z = 0.825494, S* = 56.6040, cost 1.9976.
    best = ready_normal(Decimal(50), Decimal(8), Decimal("0.18"), Decimal("0.70"))
    assert float(best.ratio) == pytest.approx(0.795455, abs=5e-7)
    assert best.z is not None
    assert float(best.z) == pytest.approx(0.825494, abs=5e-7)
    assert (float(best.quantity), float(best.cost)) == pytest.approx((56.603956, 1.997605), abs=5e-7)
    assert (float(best.quantity), float(best.cost)) == pytest.approx(newsvendor_normal(0.18, 0.70, 50, 8))


def test_one_time_stock_with_poisson_demand_of_example_4_7() -> None:
    # h = 1, p = 4, mean 6: S* = 8, cost 3.570107.
    best = ready_poisson(Decimal(6), Decimal(1), Decimal(4))
    assert best.quantity == 8
    assert float(best.cost) == pytest.approx(3.570107, abs=5e-7)
    assert (float(best.quantity), float(best.cost)) == pytest.approx(newsvendor_poisson(1, 4, 6))


def test_the_reorder_point_of_example_5_5() -> None:
    # h = 0.225, p = 7.5, K = 8, 1300 a year with deviation 150, a delivery of a twelfth of a year: demand meanwhile
    # 108.333 with deviation 43.3013, z = 1.893793, safety stock 82.003663, r = 190.336997, Q = 304.046780.
    # A year of one period of 12 months, a delivery of 1 month; in thousandths.
    year = Demand(
        periods=1, period_days=12, total_milli=1_300_000, mean_milli=1_300_000.0, sd_milli=150_000.0, takes=1, sizes={}
    )
    mean, sd = lead_demand(year, 1)
    assert (mean, sd) == pytest.approx((108_333.333, 43_301.270), abs=5e-3)
    share = float(critical_ratio(Decimal("0.225"), Decimal("7.5")))
    assert safety_factor(share) == pytest.approx(1.893793, abs=5e-7)
    point = normal_quantile(mean, sd, share)
    assert point - mean == pytest.approx(82_003.663, abs=5e-3)
    assert point == pytest.approx(190_336.997, abs=5e-3)
    r, q = r_q_eoqss_approximation(0.225, 7.5, 8, 1300, 150, 1 / 12)
    assert (r, q) == pytest.approx(
        (point / 1000, float(economic_order(Decimal(1300), Decimal(8), Decimal("0.225")).quantity))
    )


@pytest.mark.parametrize(
    ("share", "z"), [(0.90, 1.281552), (0.95, 1.644854), (0.975, 1.959964), (0.98, 2.053749), (0.99, 2.326348)]
)
def test_safety_factors_of_the_normal_table(share: float, z: float) -> None:
    assert safety_factor(share) == pytest.approx(z, abs=5e-7)


@pytest.mark.parametrize("mean", [0.3, 2.0, 6.0, 25.0])
@pytest.mark.parametrize("over", [0.05, 0.25, 1.0])
def test_poisson_quantiles_equal_the_librarys_one_time_stock(mean: float, over: float) -> None:
    # The one-time stock with p = 1 is the quantile at 1 / (1 + h).
    quantity, _ = newsvendor_poisson(over, 1, mean)
    assert poisson_quantile(mean, 1 / (1 + over)) == quantity


def test_a_proposal_of_whole_packs_lies_beside_the_textbook_order() -> None:
    # 25 taken each week day in and out are 1304 a year, as in example 3.1; single units, so packs round nothing but units.
    today = date(2030, 1, 1)
    takes = [Take(today - timedelta(days=7 * week + 1), 25_000) for week in range(104)]
    asked = ReorderRequest(
        takes, first_day=today - timedelta(days=728), today=today, lead_days=30, service=Decimal("0.95"), order_micros=8_000_000,
        holding_rate=Decimal("0.3"), price_micros=750_000, pack_milli=1000,
    )  # fmt: skip
    found = propose_reorder(asked)
    assert isinstance(found, ReorderProposal)
    quantity, _ = economic_order_quantity(8, 0.225, float(found.demand.per_year))
    assert abs(found.packs - quantity) <= 1
