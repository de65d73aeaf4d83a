"""Wire for a batch of rings: nothing of the wire is unaccounted for, and the rings come out as asked."""

import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.trade.coils import Winding, rings_from_wire, wire_for_rings
from models.trade.measures import to_mm
from models.trade.metals import metal
from models.trade.rings import PI, RingSize, ring_facts
from tests.budget import budget

SIZE = RingSize(1_200_000, 5_000_000)

windings = st.builds(
    Winding,
    kerf_mm=st.decimals(0, "0.4", places=2),
    mandrel_length_mm=st.none() | st.decimals(20, 400, places=0),
    end_turns=st.sampled_from([Decimal(0), Decimal("0.5"), Decimal(1), Decimal("1.5")]),
    end_waste_mm=st.decimals(0, 80, places=0),
    spare=st.sampled_from([Decimal(0), Decimal("0.05")]),
    keeps_opening=st.booleans(),
)
sizes = st.builds(RingSize, st.integers(500_000, 2_500_000), st.integers(2_000_000, 15_000_000))


def test_one_turn_is_the_helix_of_the_ring() -> None:
    plan = wire_for_rings(SIZE, 1, Winding(end_turns=Decimal(0)))
    exact = math.hypot(math.pi * 6.2, 1.2)
    assert math.isclose(float(plan.turn_mm), exact, rel_tol=1e-15)
    assert plan.wire_mm == plan.turn_mm
    # 19.5148 mm for this ring: 0.19 % more than the flat ring.
    assert plan.turn_mm.quantize(Decimal("0.0001")) == Decimal("19.5148")


def test_coils_are_as_many_as_the_mandrel_asks_for() -> None:
    winding = Winding(mandrel_length_mm=Decimal(120), end_waste_mm=Decimal(30))
    plan = wire_for_rings(SIZE, 500, winding)
    assert plan.rings_per_coil == 99  # 100 turns of 1.2 mm, one of them lost at the ends
    assert plan.coils == 6
    assert abs(plan.ends_mm - 6 * (plan.turn_mm + 30)) < Decimal("1e-20")
    assert plan.coil_mm == 120


def test_springback_takes_turns_from_the_coil() -> None:
    winding = Winding(mandrel_length_mm=Decimal(120))
    assert wire_for_rings(SIZE, 500, winding, ratio=0.95).rings_per_coil == 94


def test_a_spare_share_is_rounded_up_once() -> None:
    assert wire_for_rings(SIZE, 101, Winding(spare=Decimal("0.05"))).rings == 107
    assert wire_for_rings(SIZE, 100, Winding(spare=Decimal("0.05"))).rings == 105


def test_the_cut_makes_the_ring_smaller_or_the_coil_wider() -> None:
    kerf = Decimal("0.25")
    smaller = wire_for_rings(SIZE, 10, Winding(kerf_mm=kerf))
    wider = wire_for_rings(SIZE, 10, Winding(kerf_mm=kerf, keeps_opening=True))
    facts = ring_facts(SIZE, metal("stainless-304"), kerf)
    assert abs(to_mm(smaller.finished.inner_nm) - facts.closed_inner_mm) <= Decimal("0.0000005")
    assert smaller.coil_inner_nm == SIZE.inner_nm
    assert wider.finished == SIZE
    assert abs(to_mm(wider.coil_inner_nm) - to_mm(SIZE.inner_nm) - kerf / PI) <= Decimal("0.0000005")
    assert wider.turn_mm > smaller.turn_mm


def test_what_cannot_be_wound_is_refused() -> None:
    with pytest.raises(ValueError, match="too short"):
        wire_for_rings(SIZE, 1, Winding(mandrel_length_mm=Decimal(2)))
    with pytest.raises(ValueError, match="closer"):
        wire_for_rings(SIZE, 1, Winding(pitch_mm=Decimal(1)))
    with pytest.raises(ValueError, match="cut"):
        wire_for_rings(SIZE, 1, Winding(kerf_mm=Decimal(20)))
    with pytest.raises(ValueError, match="at least one"):
        wire_for_rings(SIZE, 0, Winding())
    with pytest.raises(ValueError, match="zero or more"):
        Winding(kerf_mm=Decimal(-1))


@given(size=sizes, rings=st.integers(1, 3000), winding=windings)
@settings(max_examples=budget(60), deadline=None)
def test_every_millimetre_of_wire_is_in_rings_sawn_or_an_end(size: RingSize, rings: int, winding: Winding) -> None:
    plan = wire_for_rings(size, rings, winding)
    assert abs(plan.wire_mm - plan.in_rings_mm - plan.sawn_mm - plan.ends_mm) < Decimal("1e-20")
    assert plan.rings >= rings
    assert plan.rings <= plan.coils * plan.rings_per_coil < plan.rings + plan.rings_per_coil
    if winding.mandrel_length_mm is not None:
        assert plan.coil_mm <= winding.mandrel_length_mm


@given(size=sizes, rings=st.integers(1, 500), winding=windings)
@settings(max_examples=budget(40), deadline=None)
def test_the_wire_of_a_plan_gives_its_rings_and_a_hair_less_does_not(
    size: RingSize, rings: int, winding: Winding
) -> None:
    plan = wire_for_rings(size, rings, winding)
    assert rings_from_wire(size, plan.wire_mm, winding) == plan.rings
    assert rings_from_wire(size, plan.wire_mm - Decimal("0.001"), winding) == plan.rings - 1


def test_a_metre_of_wire_gives_the_known_number_of_flat_rings_less_the_helix() -> None:
    bare = Winding(end_turns=Decimal(0))
    assert rings_from_wire(SIZE, Decimal(1000), bare) == 51
    assert rings_from_wire(SIZE, Decimal(10), bare) == 0
