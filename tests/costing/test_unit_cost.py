"""The cost of one ring, one metre and one finding follows exactly from what a supplier asks for a pack."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.costing.inputs import UnitCost
from models.costing.lines import Impossible, Line, leaves
from models.costing.unit_cost import Body, dimension_of, one_mass_g, typed_unit_cost, unit_cost_of_offer
from models.trade.metals import metal
from models.trade.rings import PI, RingSize
from tests.budget import budget

SIZE = RingSize(1_200_000, 5_000_000)
STEEL = metal("stainless-304")
RING = Body(size=SIZE, metal=STEEL)


def cost(price: str, pack: str, unit: str, **options: object) -> UnitCost:
    found = unit_cost_of_offer(Decimal(price), Decimal(pack), unit, **options)  # type: ignore[arg-type]
    assert isinstance(found, UnitCost)
    return found


def near(a: Decimal, b: Decimal | str) -> bool:
    return abs(a - Decimal(b)) < Decimal("1e-40")


def test_a_counted_pack_is_divided_exactly() -> None:
    assert cost("4.95", "100", "pieces").amount == Decimal("0.0495")
    assert cost("7.20", "1", "gross").amount == Decimal("0.05")
    assert cost("3", "10", "pairs").amount == Decimal("0.15")
    assert cost("3", "10", "pairs", item_unit="pairs").amount == Decimal("0.3")


def test_a_third_of_a_cent_is_not_rounded() -> None:
    assert near(cost("1", "300", "pieces").amount * 300, "1")


def test_rings_by_weight_are_priced_through_the_mass_of_one() -> None:
    per_ring = cost("6.40", "50", "g", body=RING).amount
    mass_g = STEEL.density * PI * PI / 4 * Decimal("1.44") * Decimal("6.2") / 1000
    assert abs(per_ring - Decimal("6.40") / 50 * mass_g) < Decimal("1e-25")
    per_pair = cost("6.40", "50", "g", item_unit="pairs", body=RING).amount
    assert abs(per_pair - per_ring * 2) < Decimal("1e-25")
    per_g = cost("6.40", "50", "pairs", item_unit="g", body=RING).amount
    assert abs(per_g * mass_g * 2 - Decimal("6.40") / 50) < Decimal("1e-25")


@pytest.mark.parametrize(
    ("pack", "unit"), [("31.1034768", "g"), ("1", "ozt"), ("20", "dwt"), ("480", "gr"), ("0.0311034768", "kg")]
)
def test_equal_weights_in_any_unit_cost_the_same(pack: str, unit: str) -> None:
    assert near(cost("38", pack, unit, body=RING).amount, cost("38", "1", "ozt", body=RING).amount)


def test_a_troy_ounce_is_heavier_than_an_ordinary_one() -> None:
    assert cost("38", "1", "ozt", body=RING).amount < cost("38", "1", "oz", body=RING).amount


def test_a_weighed_ring_wins_over_a_computed_one() -> None:
    weighed = Body(size=SIZE, metal=STEEL, mass_g=Decimal("0.2"))
    assert one_mass_g(weighed) == Decimal("0.2")
    found = cost("10", "50", "g", body=weighed)
    assert found.amount == Decimal("0.04")
    assert any("weighed" in line.reason for line in found.lines)


def test_wire_by_the_metre_and_by_weight() -> None:
    assert cost("6", "10", "m", item_unit="m").amount == Decimal("0.6")
    assert cost("6", "10", "m", item_unit="cm").amount == Decimal("0.006")
    assert near(cost("3.048", "10", "ft", item_unit="m").amount, "1")
    wire = Body(wire_nm=1_000_000, metal=metal("copper"))
    per_m = cost("12", "100", "g", item_unit="m", body=wire).amount
    assert abs(per_m - Decimal("0.12") * Decimal("8.96") * PI / 4) < Decimal("1e-25")
    back = cost("12", "100", "m", item_unit="g", body=wire).amount
    assert abs(back * Decimal("8.96") * PI / 4 - Decimal("0.12")) < Decimal("1e-25")


def test_chain_by_weight_needs_the_weight_of_a_metre() -> None:
    assert cost("50", "100", "g", item_unit="m", body=Body(g_per_m=Decimal(8))).amount == Decimal(4)
    found = unit_cost_of_offer(Decimal(50), Decimal(100), "g", item_unit="m")
    assert isinstance(found, Impossible)
    assert "weigh a length" in found.reason


def test_rings_from_wire_by_the_metre_take_their_own_length() -> None:
    found = cost("2", "1", "m", body=RING)
    assert abs(found.amount - Decimal("0.002") * PI * Decimal("6.2")) < Decimal("1e-25")


def test_a_finding_sold_by_weight_cannot_be_costed_unweighed() -> None:
    found = unit_cost_of_offer(Decimal(5), Decimal(50), "g")
    assert isinstance(found, Impossible)
    assert not found.possible
    assert cost("5", "50", "g", body=Body(mass_g=Decimal("0.25"))).amount == Decimal("0.025")
    assert isinstance(unit_cost_of_offer(Decimal(5), Decimal(1), "m"), Impossible)


def test_an_empty_pack_has_no_unit_cost() -> None:
    found = unit_cost_of_offer(Decimal(5), Decimal(0), "pieces")
    assert isinstance(found, Impossible)
    assert "holds nothing" in found.reason


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="zero or more"):
        unit_cost_of_offer(Decimal(-1), Decimal(5), "pieces")
    with pytest.raises(ValueError, match="zero or more"):
        unit_cost_of_offer(Decimal("NaN"), Decimal(5), "pieces")
    with pytest.raises(TypeError):
        unit_cost_of_offer(1.5, Decimal(5), "pieces")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="no pack is sold"):
        dimension_of("bucket")


def test_the_lines_name_pack_mass_and_the_source_of_the_density() -> None:
    found = cost("6.40", "50", "g", body=RING, source="Invented Wire Works, list of March")
    top = Line("ring", Decimal(0), because=found.lines, reason="x", source="x")
    ends = {line.label: line for line in leaves(top)}
    assert ends["Price of the pack"].amount == Decimal("6.40")
    assert ends["Price of the pack"].source == "Invented Wire Works, list of March"
    assert ends["The pack holds"].amount_unit == "g"
    assert ends[f"Density of {STEEL.name}"].source == STEEL.source
    assert ends["Wire"].amount == Decimal("1.2")
    assert ends["Inside"].amount == Decimal(5)
    assert all(line.reason and line.source for line in ends.values())


def test_a_guess_makes_the_unit_cost_provisional() -> None:
    assert typed_unit_cost(Decimal("0.02"), guessed=True, source="your guess").provisional
    assert not typed_unit_cost(Decimal("0.02"), guessed=False, source="your price").provisional
    assert cost("6.40", "50", "g", body=RING, provisional=True).lines[0].provisional


@settings(max_examples=budget(60))
@given(
    price=st.decimals(0, 10_000, places=4),
    pack=st.decimals("0.001", 10_000, places=3),
    unit=st.sampled_from(["pieces", "g", "ozt", "lb", "m", "in"]),
)
def test_the_pack_costs_what_its_units_cost_together(price: Decimal, pack: Decimal, unit: str) -> None:
    found = cost(str(price), str(pack), unit, body=RING)
    last = found.lines[-1]
    units = last.amount if last.label == "That is" else pack
    together = Fraction(found.amount) * Fraction(units)
    assert abs(together - Fraction(price)) <= Fraction(price) * Fraction(1, 10**45)
