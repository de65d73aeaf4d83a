"""The formulas of stock keeping hold what they promise: nothing cheaper nearby, quantiles that are quantiles."""

from __future__ import annotations

from decimal import Decimal
from math import exp, factorial

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.planning.stock_theory import (
    compound_quantile,
    critical_ratio,
    discount_order,
    economic_order,
    normal_quantile,
    poisson_quantile,
    ready_normal,
    ready_poisson,
    whole_up,
    yearly_cost,
)

amounts = st.decimals("0.01", 5000, places=2)


@given(amounts, amounts, amounts, st.decimals("0.5", 2, places=3))
def test_no_other_order_size_is_cheaper(demand: Decimal, order: Decimal, holding: Decimal, factor: Decimal) -> None:
    best = economic_order(demand, order, holding)
    assert best.cost <= yearly_cost(best.quantity * factor, demand, order, holding) * (1 + Decimal("1e-20"))
    # At the best size ordering costs as much as holding.
    assert abs(order * demand / best.quantity - holding * best.quantity / 2) < Decimal("1e-15") * best.cost


@given(
    amounts, amounts, st.decimals("0.01", 1, places=2), st.lists(st.integers(1, 900), min_size=3, max_size=3), st.data()
)
def test_no_other_order_size_is_cheaper_with_price_breaks(
    demand: Decimal, order: Decimal, rate: Decimal, prices: list[int], data: st.DataObject
) -> None:
    falling = [Decimal(price) / 100 for price in sorted(prices, reverse=True)]
    starts = [Decimal(0), *sorted(data.draw(st.sets(st.integers(1, 3000), min_size=2, max_size=2)))]
    tiers = [(Decimal(start), price) for start, price in zip(starts, falling, strict=True)]
    best = discount_order(demand, order, rate, tiers)
    for quantity in (data.draw(st.integers(1, 5000)), *(int(start) for start in starts if start)):
        price = [price for start, price in tiers if start <= quantity][-1]
        cost = yearly_cost(Decimal(quantity), demand, order, rate * price) + price * demand
        assert best.cost <= cost * (1 + Decimal("1e-20"))


def poisson_share(mean: float, most: int) -> float:
    return sum(exp(-mean) * mean**n / factorial(n) for n in range(most + 1))


@given(st.floats(0.05, 40), st.floats(0.01, 0.999))
def test_a_poisson_quantile_is_the_fewest_that_are_enough(mean: float, share: float) -> None:
    fewest = poisson_quantile(mean, share)
    assert poisson_share(mean, fewest) >= share - 1e-12
    assert fewest == 0 or poisson_share(mean, fewest - 1) < share + 1e-12


@given(
    st.floats(0.05, 3),
    st.dictionaries(st.integers(1, 5), st.integers(1, 4), min_size=1, max_size=3),
    st.floats(0.5, 0.99),
)
def test_random_takes_of_several_sizes_equal_summing_over_their_number(
    mean: float, sizes: dict[int, int], share: float
) -> None:
    # The plain way: the chance of each number of takes, times the sizes folded that many times.
    most = 100
    one = [0.0] * (most + 1)
    for size, seen in sizes.items():
        one[size] = seen / sum(sizes.values())
    chances = [0.0] * (most + 1)
    folded = [1.0] + [0.0] * most
    for takes in range(20):
        weight = exp(-mean) * mean**takes / factorial(takes)
        for total, chance in enumerate(folded):
            chances[total] += weight * chance
        folded = [sum(one[s] * folded[total - s] for s in sizes if s <= total) for total in range(most + 1)]
    found = compound_quantile(mean, sizes, share)
    assert sum(chances[: found + 1]) >= share - 1e-9
    smaller = [total for total in range(found) if sum(chances[: total + 1]) >= share + 1e-9]
    assert smaller == []


def test_sizes_that_share_a_divisor_are_counted_in_it_and_large_ones_rounded_up() -> None:
    assert compound_quantile(2.0, {48_000: 3}, 0.95) == 48_000 * poisson_quantile(2.0, 0.95)
    exact, rounded = 7_001 * poisson_quantile(1.0, 0.9), compound_quantile(1.0, {7_001: 1, 1: 1}, 0.9)
    assert rounded <= exact
    assert rounded % 18 == 0


def test_a_share_that_rounding_never_reaches_still_ends() -> None:
    assert poisson_quantile(5.0, 1 - 1e-16) < 80


@given(
    st.decimals(1, 500, places=1),
    st.decimals("0.1", 60, places=1),
    amounts,
    amounts,
    st.decimals("-0.5", "0.5", places=3),
)
def test_no_other_amount_is_cheaper_to_have_ready(
    mean: Decimal, sd: Decimal, over: Decimal, short: Decimal, off: Decimal
) -> None:
    best = ready_normal(mean, sd, over, short)

    def cost_of(quantity: Decimal) -> float:
        from statistics import NormalDist

        z = float((quantity - mean) / sd)
        missing = float(sd) * (NormalDist().pdf(z) - z * (1 - NormalDist().cdf(z)))
        return float(over) * (float(quantity - mean) + missing) + float(short) * missing

    assert abs(cost_of(best.quantity) - float(best.cost)) < 1e-6 * (1 + float(best.cost))
    assert cost_of(best.quantity) <= cost_of(best.quantity + off * sd) + 1e-6


@given(st.decimals("0.2", 30, places=1), amounts, amounts)
def test_no_other_number_is_cheaper_to_have_ready(mean: Decimal, over: Decimal, short: Decimal) -> None:
    best = ready_poisson(mean, over, short)

    def cost_of(ready: int) -> float:
        chances = [exp(-float(mean)) * float(mean) ** n / factorial(n) for n in range(150)]
        return sum(
            chance * (float(over) * max(ready - n, 0) + float(short) * max(n - ready, 0))
            for n, chance in enumerate(chances)
        )

    at_best = cost_of(int(best.quantity))
    assert abs(at_best - float(best.cost)) < 1e-6 * (1 + at_best)
    assert at_best <= cost_of(int(best.quantity) + 1) + 1e-9
    assert at_best <= cost_of(max(int(best.quantity) - 1, 0)) + 1e-9


def test_quantities_round_up_to_whole_steps_but_not_for_the_last_digit() -> None:
    assert [whole_up(value) for value in (3.0000000000004, 3.1, Decimal("2.5"), 0.0)] == [3, 4, 3, 0]
    assert whole_up(1001.0, 1000) == 2000


@pytest.mark.parametrize("bad", [Decimal(0), Decimal(-1), Decimal("NaN")])
def test_formulas_refuse_what_they_can_not_take(bad: Decimal) -> None:
    with pytest.raises(ValueError, match="above zero"):
        economic_order(bad, Decimal(1), Decimal(1))
    with pytest.raises(ValueError, match="above zero"):
        critical_ratio(Decimal(1), bad)
    with pytest.raises(ValueError, match="above zero"):
        ready_normal(Decimal(5), bad, Decimal(1), Decimal(1))


def test_formulas_refuse_floats_of_money_and_shares_outside_their_range() -> None:
    with pytest.raises(TypeError, match="Decimal"):
        economic_order(Decimal(5), 1.5, Decimal(1))  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="rise"):
        discount_order(Decimal(5), Decimal(1), Decimal(1), [(Decimal(5), Decimal(2)), (Decimal(5), Decimal(1))])
    for share in (0.0, 1.0):
        with pytest.raises(ValueError, match="between 0 and 1"):
            normal_quantile(1.0, 1.0, share)
    with pytest.raises(ValueError, match="700"):
        poisson_quantile(0.0, 0.5)
    with pytest.raises(ValueError, match="sizes"):
        compound_quantile(1.0, {}, 0.5)
