"""How long costing takes, without the database: medians of interleaved calls in one run, after a warm-up."""

from __future__ import annotations

import gc
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from statistics import median
from time import perf_counter

from models.costing.design_cost import DesignCost, cost_design
from models.costing.inputs import Fee, OutletInput
from models.costing.prices import OutletPrices, price_outlet
from models.costing.sensitivity import sensitivity
from tests.costing.example import outlet, pendant, plain_outlet, rings, shop_rates, work

PARTS = (*pendant(), rings(24, name="inner ring"), rings(9, name="outer ring"), rings(4, name="end ring"))
RATES = shop_rates()
WORK = work()
OUTLETS: tuple[OutletInput, ...] = (
    outlet(),
    plain_outlet(code="stall", name="Stall", kind="market", fees=(Fee("Card payment", Decimal("0.017")),),
                 period_fee=Decimal(45), period_sales=Decimal(12), ending="5", wanted_margin=Decimal("0.3")),
    plain_outlet(code="gallery", name="Gallery", kind="consignment", fees=(Fee("Commission", Decimal("0.4")),),
                 wanted_margin=Decimal("0.2"), ending="x.00"),
    plain_outlet(code="shops", name="Shops", kind="wholesale", tax=Decimal("0.1"), prices_include_tax=False),
)  # fmt: skip


def cost_and_price() -> tuple[DesignCost, list[OutletPrices]]:
    cost = cost_design(PARTS, WORK, RATES, weave_difficulty=2, pieces=4)
    return cost, [price_outlet(cost, place, currency="EUR", listed=Decimal(38)) for place in OUTLETS]


def medians_ms(*calls: Callable[[], object], rounds: int = 200) -> list[float]:
    """The median of each call in milliseconds, the calls interleaved so that a slow moment hits all of them."""
    taken: list[list[float]] = [[] for _ in calls]
    for call in calls:
        call()
    gc.collect()
    for _ in range(rounds):
        for each, call in zip(taken, calls, strict=True):
            start = perf_counter()
            call()
            each.append((perf_counter() - start) * 1000)
    return [median(each) for each in taken]


def test_a_design_of_ten_parts_at_four_outlets_is_costed_in_under_two_milliseconds() -> None:
    assert len(PARTS) == 10
    assert len(OUTLETS) == 4
    together, alone = medians_ms(cost_and_price, lambda: cost_design(PARTS, WORK, RATES, weave_difficulty=2, pieces=4))
    print(f"costing with prices {together:.3f} ms, without {alone:.3f} ms")  # noqa: T201 - a benchmark tells its figures
    assert together < 2
    assert alone < together


def test_which_inputs_matter_is_answered_in_under_forty_milliseconds() -> None:
    (taken,) = medians_ms(
        lambda: sensitivity(PARTS, WORK, RATES, OUTLETS[0], currency="EUR", weave_difficulty=2), rounds=40
    )
    print(f"sensitivity {taken:.3f} ms")  # noqa: T201
    assert taken < 40


def test_costing_is_linear_in_the_parts() -> None:
    many = tuple(replace(part, name=f"{part.name} {n}") for n in range(10) for part in PARTS)
    few_ms, many_ms = medians_ms(
        lambda: cost_design(PARTS, WORK, RATES, weave_difficulty=2),
        lambda: cost_design(many, WORK, RATES, weave_difficulty=2),
        rounds=60,
    )
    assert many_ms < few_ms * 12


def test_learning_over_a_thousand_pieces_is_computed_once() -> None:
    learning = replace(RATES, learning=Decimal("0.9"))
    plain_ms, learned_ms = medians_ms(
        lambda: cost_design(PARTS, WORK, RATES, weave_difficulty=2, pieces=1000),
        lambda: cost_design(PARTS, WORK, learning, weave_difficulty=2, pieces=1000),
        rounds=100,
    )
    assert learned_ms < plain_ms * 2
