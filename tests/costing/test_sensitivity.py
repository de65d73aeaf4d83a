"""Which inputs move the price most, each a tenth higher."""

from decimal import Decimal

from models.costing.design_cost import cost_design
from models.costing.inputs import Fee
from models.costing.lines import Impossible
from models.costing.prices import Price, price_outlet
from models.costing.sensitivity import sensitivity
from tests.costing.example import cost_of, nothing_to_do, outlet, pendant, plain_outlet, rings, shop_rates, work


def moves(parts: object = None, **changes: object) -> dict[str, Decimal | None]:
    given = {"work": work(), "rates": shop_rates(), "outlet": outlet(), "currency": "EUR"} | changes
    found = sensitivity(parts or pendant(), given.pop("work"), given.pop("rates"), given.pop("outlet"), **given)  # type: ignore[arg-type]
    assert not isinstance(found, Impossible)
    return dict(found)


def test_without_fees_a_dearer_part_moves_the_price_by_a_tenth_of_its_cost() -> None:
    parts = [rings(10, unit_cost=cost_of("1"), allowance=Decimal(0))]
    found = moves(parts, work=nothing_to_do(), outlet=plain_outlet())
    assert found == {"Cost of bronze ring": Decimal(1)}


def test_every_input_that_matters_is_there_and_the_largest_move_comes_first() -> None:
    found = moves(weave_difficulty=3, pieces=2)
    assert set(found) == {
        "Wage", "Minutes of work", "Overhead", "Allowance for spoiled parts", "Selling fee", "Card payment", "Tax",
        "Postage you pay", "Shipping charged", "Margin you want",
        *(f"Cost of {part.name}" for part in pendant()),
    }  # fmt: skip
    deltas = [abs(delta) for delta in found.values() if delta is not None]
    assert deltas == sorted(deltas, reverse=True)
    assert found["Shipping charged"] is not None
    assert found["Shipping charged"] < 0
    assert all(delta is not None and delta > 0 for label, delta in found.items() if label != "Shipping charged")


def test_the_move_is_what_costing_the_design_anew_says() -> None:
    dearer = cost_design(pendant(), work(), shop_rates(wage_per_hour=Decimal("19.8")))
    before, after = (
        price_outlet(cost, outlet(), currency="EUR").for_margin
        for cost in (cost_design(pendant(), work(), shop_rates()), dearer)
    )
    assert isinstance(before, Price)
    assert isinstance(after, Price)
    delta = moves()["Wage"]
    assert delta is not None
    assert abs(delta - (after.shown - before.shown)) < Decimal("1e-20")


def test_a_metal_that_several_parts_share_moves_with_all_of_them() -> None:
    parts = [rings(10), rings(20, name="large bronze ring"), rings(5, name="steel ring", metal="steel")]
    found = moves(parts, outlet=plain_outlet())
    shared = [found["Cost of bronze ring"], found["Cost of large bronze ring"]]
    assert found["Price of bronze"] == sum(delta for delta in shared if delta is not None)
    assert "Price of steel" not in found


def test_the_designs_own_allowance_moves_too() -> None:
    parts = [rings(10, unit_cost=cost_of("1"))]
    found = moves(parts, work=nothing_to_do(), outlet=plain_outlet(), allowance=Decimal("0.2"))
    assert found["Allowance for spoiled parts"] == Decimal("0.2")
    of_the_part = [rings(10, unit_cost=cost_of("1"), allowance=Decimal("0.5"))]
    assert moves(of_the_part, work=nothing_to_do(), outlet=plain_outlet())["Allowance for spoiled parts"] == Decimal(
        "0.5"
    )


def test_a_fee_that_would_take_everything_comes_first_without_a_number() -> None:
    found = moves(outlet=plain_outlet(fees=(Fee("greedy", Decimal("0.95")),)))
    assert next(iter(found.items())) == ("greedy", None)


def test_where_no_price_is_possible_nothing_moves() -> None:
    greedy = plain_outlet(fees=(Fee("all", Decimal(1)),))
    assert isinstance(sensitivity(pendant(), work(), shop_rates(), greedy, currency="EUR"), Impossible)
