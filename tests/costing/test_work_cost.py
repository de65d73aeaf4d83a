"""What minutes at the bench cost: one wage and one overhead for designs, jobs and builds."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.costing.design_cost import cost_design
from models.costing.inputs import ShopRates, WorkInput
from models.costing.job_cost import job_cost
from models.costing.work_cost import overhead_of, wage_of
from tests.costing.example import pendant, shop_rates

MILLION = 10**6
MINUTES = st.decimals(0, 5_000, places=6)
BASE = st.decimals(0, 9_000, places=6)
SHOPS = [shop_rates(), shop_rates(overhead_mode="percent", overhead_percent=Decimal("12.5"))]


def rounded(amount: Fraction) -> Decimal:
    """To a millionth, half to even, by fractions."""
    return Decimal(round(amount * MILLION)).scaleb(-6)


@given(minutes=MINUTES, wage=st.decimals(0, 300, places=6))
def test_a_wage_is_the_share_of_the_hour_rounded_once(minutes: Decimal, wage: Decimal) -> None:
    paid = wage_of(minutes, shop_rates(wage_per_hour=wage))
    assert paid == rounded(Fraction(minutes) * Fraction(wage) / 60)


def test_half_a_millionth_goes_to_the_even_one() -> None:
    rates = shop_rates(wage_per_hour=Decimal("18.5"), overhead_per_hour=Decimal("18.5"))
    # 60 millionths of a minute at 18.50 an hour are 18.5 millionths.
    assert wage_of(Decimal("0.00006"), rates) == Decimal("0.000018")
    assert overhead_of(Decimal("0.00006"), Decimal(0), rates) == Decimal("0.000018")


@given(minutes=MINUTES, base=BASE)
def test_overhead_goes_by_the_hour_or_by_all_the_rest(minutes: Decimal, base: Decimal) -> None:
    by_hour, by_share = SHOPS
    assert overhead_of(minutes, base, by_hour) == rounded(Fraction(minutes) * Fraction("3.5") / 60)
    assert overhead_of(minutes, base, by_share) == rounded(Fraction(base) / 8)


@pytest.mark.parametrize("rates", SHOPS, ids=["by the hour", "by per cent"])
def test_a_design_and_a_job_of_the_same_minutes_cost_the_same_work(rates: ShopRates) -> None:
    design = cost_design(pendant(), WorkInput(finish={"polish": Decimal("7.3")}, pack=False, setup=False), rates)
    minutes = design.minutes.likely
    job = job_cost(design.materials.amount + design.labour.amount - wage_of(minutes, rates), minutes, rates)
    work, overhead = job.line.lines[1:]
    assert work.amount == wage_of(minutes, rates)
    assert overhead.amount == design.overhead.amount
