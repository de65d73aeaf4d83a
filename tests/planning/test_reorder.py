"""When to order an item again and how much: from its past, with reasons, and never from nothing."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.planning.offers import Break
from models.planning.reorder import (
    Demand,
    NothingToGoBy,
    ReorderProposal,
    ReorderRequest,
    Take,
    demand_of,
    lead_demand,
    propose_reorder,
)
from models.planning.stock_theory import poisson_quantile

TODAY = date(2030, 6, 30)
EURO = 1_000_000


def days_ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def question(takes: list[Take], weeks: int = 26, **changes: object) -> ReorderRequest:
    plain = ReorderRequest(
        takes=takes,
        first_day=days_ago(weeks * 7),
        today=TODAY,
        lead_days=14,
        service=Decimal("0.95"),
        order_micros=8 * EURO,
        holding_rate=Decimal("0.2"),
        price_micros=6 * EURO,
        pack_milli=100_000,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def proposed(asked: ReorderRequest) -> ReorderProposal:
    answer = propose_reorder(asked)
    assert isinstance(answer, ReorderProposal)
    return answer


EVERY_DAY = [Take(days_ago(day), (30 + day % 3 * 10) * 1000) for day in range(1, 26 * 7 + 1)]


@given(
    st.lists(st.tuples(st.integers(-5, 80), st.integers(1, 50)), max_size=30), st.integers(7, 70), st.integers(1, 10)
)
def test_past_use_is_counted_in_whole_periods_up_to_yesterday(
    used: list[tuple[int, int]], known_days: int, period_days: int
) -> None:
    takes = [Take(days_ago(day), milli) for day, milli in used]
    demand = demand_of(takes, first_day=days_ago(known_days), today=TODAY, period_days=period_days)
    periods = known_days // period_days
    if not periods:
        assert demand is None
        return
    assert demand is not None
    inside = [milli for day, milli in used if 1 <= day <= periods * period_days]
    assert (demand.periods, demand.total_milli, demand.takes) == (periods, sum(inside), len(inside))
    assert demand.mean_milli == pytest.approx(sum(inside) / periods)
    assert demand.per_year == pytest.approx(Decimal(sum(inside)) * 365 / (periods * period_days) / 1000)
    assert sum(size * seen for size, seen in demand.sizes.items()) == sum(inside)


def test_demand_on_its_way_grows_with_days_and_its_deviation_with_their_root() -> None:
    demand = Demand(52, 7, 0, 70_000.0, 14_000.0, 0, {})
    assert lead_demand(demand, 7) == (70_000.0, 14_000.0)
    assert lead_demand(demand, 28) == (280_000.0, 28_000.0)
    mean, sd = lead_demand(demand, 7, Decimal(2))
    # Two days more or less of 10 a day add 20 squared to 14 squared.
    assert (mean, sd) == (70_000.0, pytest.approx((14_000.0**2 + 20_000.0**2) ** 0.5))


def test_a_thing_taken_daily_gets_its_point_from_the_normal_distribution() -> None:
    found = proposed(question(EVERY_DAY))
    assert found.method == "normal"
    mean, sd = lead_demand(found.demand, 14)
    assert found.point_milli % 1000 == 0
    assert mean + 1.644854 * sd <= found.point_milli < mean + 1.644854 * sd + 1000
    assert found.safety_milli == found.point_milli - round(mean + 0.4999)
    assert not found.few
    assert [each.label for each in found.reasons][-2:] == ["Order", "A year costs"]


def test_a_thing_taken_rarely_gets_its_point_from_its_takes() -> None:
    # Five takes of 48 rings in half a year: 5 / 182 a day, 0.385 in a fortnight.
    takes = [Take(days_ago(day), 48_000) for day in (3, 40, 77, 120, 170)]
    found = proposed(question(takes))
    assert found.method == "takes"
    assert found.point_milli == 48_000 * poisson_quantile(5 / 182 * 14, 0.95)
    # None or one take happen in 94.2 % of fortnights, up to two in 99.3 %.
    assert found.point_milli == 96_000
    assert proposed(question(takes, service=Decimal("0.999"))).point_milli == 48_000 * poisson_quantile(
        5 / 182 * 14, 0.999
    )


def test_deliveries_that_vary_need_more_ready() -> None:
    for takes in (EVERY_DAY, [Take(days_ago(day), 48_000) for day in range(5, 180, 20)]):
        steady, varying = proposed(question(takes)), proposed(question(takes, lead_sd_days=Decimal(5)))
        assert varying.point_milli > steady.point_milli


def test_measured_things_round_up_to_thousandths() -> None:
    takes = [Take(days_ago(day), 137) for day in range(1, 100, 9)]
    found = proposed(question(takes, step_milli=1))
    assert found.point_milli % 137 == 0


def test_no_other_number_of_packs_costs_less_in_a_year() -> None:
    asked = question(EVERY_DAY, breaks=(Break(10, 5 * EURO), Break(40, 4_500_000)))
    found = proposed(asked)
    packs_a_year = found.demand.per_year / 100

    def year(packs: int) -> Decimal:
        price = Decimal("4.5") if packs >= 40 else Decimal(5) if packs >= 10 else Decimal(6)
        return price * packs_a_year + 8 * packs_a_year / packs + Decimal("0.2") * price * packs / 2

    assert year(found.packs) == min(year(packs) for packs in range(1, 200))
    assert found.quantity_milli == found.packs * 100_000
    assert abs(Decimal(found.yearly_micros) / EURO - year(found.packs)) < Decimal("0.000001")


def test_at_least_one_pack_is_ordered() -> None:
    found = proposed(question([Take(days_ago(9), 1000)], order_micros=1))
    assert (found.packs, found.quantity_milli) == (1, 100_000)


def test_a_short_past_is_told() -> None:
    found = proposed(question(EVERY_DAY, weeks=3))
    assert found.few
    assert "with care" in found.reasons[0].why


def test_nothing_known_gives_no_proposal() -> None:
    assert propose_reorder(question([])) == NothingToGoBy("Nothing was taken of it in this time.")
    young = propose_reorder(question(EVERY_DAY, first_day=days_ago(6)))
    assert young == NothingToGoBy("It is known for less than 7 days. Ask again later.")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"service": Decimal(1)}, "service"),
        ({"service": Decimal("0.4")}, "service"),
        ({"lead_days": 0}, "lead_days"),
        ({"order_micros": 0}, "order_cost"),
        ({"price_micros": 0}, "price"),
        ({"pack_milli": 0}, "pack"),
        ({"holding_rate": Decimal(0)}, "holding"),
        ({"period_days": 0}, "period_days"),
        ({"lead_sd_days": Decimal(-1)}, "lead_sd"),
        ({"breaks": (Break(1, EURO),)}, "breaks"),
        ({"breaks": (Break(5, 0),)}, "breaks"),
    ],
)
def test_a_bad_question_is_told_beside_its_field(changes: dict[str, object], field: str) -> None:
    troubles = propose_reorder(question(EVERY_DAY, **changes))
    assert isinstance(troubles, tuple)
    assert [each.field for each in troubles] == [field]


@pytest.mark.parametrize(("takes_a_year", "size"), [(20, 48), (60, 10), (400, 24)])
def test_the_wished_service_is_reached_in_simulated_deliveries(takes_a_year: int, size: int) -> None:
    # Ten years of random takes, then 4000 deliveries of the same kind.
    chance = random.Random(takes_a_year)

    def takes_in(days: int) -> int:
        return sum(chance.random() < takes_a_year / 3650 for _ in range(days * 10))

    past = [Take(days_ago(day), size * 1000) for day in range(1, 3641) for _ in range(takes_in(1))]
    found = proposed(question(past, weeks=520))
    kept = sum(takes_in(14) * size * 1000 <= found.point_milli for _ in range(4000))
    assert found.method == ("takes" if takes_a_year < 200 else "normal")
    assert kept / 4000 >= 0.93
    # Two takes less would be too little: the proposal does not hoard.
    fewer = sum(takes_in(14) * size * 1000 <= found.point_milli - 2 * size * 1000 for _ in range(4000))
    assert fewer / 4000 < 0.95
