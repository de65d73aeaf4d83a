"""Springback: a shop's own coils come first, and starting values say that they are."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.trade.metals import METALS
from models.trade.springback import (
    TEMPERS,
    NoSet,
    TestCoil,
    expected_inner,
    mandrel_for,
    skin_strain,
    tempers_of,
    wire_ratio,
    wire_ratio_short,
)
from tests.budget import budget

WIRE, MANDREL = 1_200_000, 5_000_000
HARD_BRASS = TEMPERS["brass-c260-hard"]


def coil(mandrel_nm: int, slope: float, wire_nm: int = WIRE) -> TestCoil:
    """A coil as wire with this q d / Ri would give it."""
    q = slope * (mandrel_nm + wire_nm) / 2 / wire_nm
    return TestCoil(wire_nm, mandrel_nm, round((mandrel_nm + wire_nm) / (1 - q)) - wire_nm)


def test_starting_values_are_of_known_metals_and_say_what_they_are() -> None:
    for code, temper in TEMPERS.items():
        assert temper.code == code
        assert temper.metal in METALS
        assert "from memory" in temper.source
        assert "fivefold" in temper.source
    assert [each.code for each in tempers_of("sterling-925")] == ["sterling-925-soft", "sterling-925-hard"]
    assert tempers_of("rubber-epdm") == ()


def test_a_coil_opens_and_harder_wire_opens_more() -> None:
    soft = expected_inner(MANDREL, WIRE, temper=TEMPERS["copper-soft"])
    hard = expected_inner(MANDREL, WIRE, temper=TEMPERS["copper-hard"])
    assert MANDREL < soft.inner_nm < hard.inner_nm
    for each in (soft, hard):
        assert each.low_nm < each.inner_nm < each.high_nm
        assert each.coils == 0
        assert "starting values" in each.basis
    # Fivefold between the ends of the range, to first order.
    assert math.isclose((hard.high_nm - MANDREL) / (hard.low_nm - MANDREL), 5, rel_tol=0.15)


def test_the_shops_own_coil_replaces_the_starting_values() -> None:
    own = coil(4_000_000, 0.02)
    expected = expected_inner(MANDREL, WIRE, temper=HARD_BRASS, coils=[own])
    assert abs(expected.inner_nm - coil(MANDREL, 0.02).inner_nm) <= 1
    assert expected.coils == 1
    assert expected.basis == "your own coil of this wire"


def test_more_coils_that_agree_narrow_the_range() -> None:
    one = expected_inner(MANDREL, WIRE, coils=[coil(4_000_000, 0.02)])
    four = expected_inner(MANDREL, WIRE, coils=[coil(m, 0.02) for m in (3_000_000, 4_000_000, 6_000_000, 8_000_000)])
    assert four.inner_nm == pytest.approx(one.inner_nm, abs=5)
    assert four.high_nm - four.low_nm == 20_000  # what a reading to a hundredth leaves
    assert one.high_nm - one.low_nm > 3 * (four.high_nm - four.low_nm)


def test_coils_that_differ_widen_it() -> None:
    apart = expected_inner(MANDREL, WIRE, coils=[coil(4_000_000, 0.015), coil(4_000_000, 0.025), coil(4_000_000, 0.02)])
    assert apart.low_nm < coil(MANDREL, 0.015).inner_nm
    assert apart.high_nm > coil(MANDREL, 0.025).inner_nm


def test_coils_of_the_same_wire_count_before_others_and_others_are_told() -> None:
    thick = coil(4_000_000, 0.04, wire_nm=2_000_000)
    mixed = expected_inner(MANDREL, WIRE, coils=[coil(4_000_000, 0.02), thick])
    assert mixed.coils == 1
    only = expected_inner(MANDREL, WIRE, coils=[thick])
    assert "other thicknesses" in only.basis
    assert only.inner_nm == pytest.approx(coil(MANDREL, 0.04).inner_nm, abs=5)


def test_wire_that_springs_back_straight_is_told() -> None:
    with pytest.raises(NoSet):
        expected_inner(300_000_000, 300_000, temper=TEMPERS["stainless-304-spring"])
    with pytest.raises(NoSet):
        expected_inner(300_000_000, WIRE, coils=[coil(4_000_000, 0.02)])
    with pytest.raises(ValueError, match="test coil or a temper"):
        expected_inner(MANDREL, WIRE)
    for wrong in ((0, WIRE), (MANDREL, 0)):
        with pytest.raises(ValueError, match="above zero"):
            expected_inner(*wrong, temper=HARD_BRASS)
    with pytest.raises(ValueError, match="above zero"):
        TestCoil(1, 1, 0)


@given(
    inner=st.integers(1_500_000, 12_000_000),
    wire=st.integers(600_000, 2_500_000),
    temper=st.sampled_from(sorted(TEMPERS)),
)
@settings(max_examples=budget(60), deadline=None)
def test_the_mandrel_for_an_opening_gives_it(inner: int, wire: int, temper: str) -> None:
    mandrel = mandrel_for(inner, wire, temper=TEMPERS[temper])
    assert mandrel < inner
    got = expected_inner(mandrel, wire, temper=TEMPERS[temper]).inner_nm
    assert got <= inner < expected_inner(mandrel + 2, wire, temper=TEMPERS[temper]).inner_nm + 2


def test_a_mandrel_wider_than_the_ring_is_found_too() -> None:
    """Some shops measure coils tighter than their mandrel; the numbers stay theirs."""
    tight = TestCoil(WIRE, 5_000_000, 4_950_000)
    assert abs(mandrel_for(4_950_000, WIRE, coils=[tight]) - 5_000_000) < 5


@given(radius=st.floats(1, 8), wire=st.floats(0.5, 3), strength=st.floats(50, 1000), modulus=st.floats(60, 210))
@settings(max_examples=budget(60), deadline=None)
def test_the_short_form_is_near_the_exact_one(radius: float, wire: float, strength: float, modulus: float) -> None:
    k = 2 * radius * strength / (1000 * modulus * wire)
    if k < 0.5:
        exact, short = wire_ratio(radius, wire, strength, modulus), wire_ratio_short(radius, wire, strength, modulus)
        assert -1e-12 <= exact - short <= 8 / (3 * math.pi) * k**3 + 1e-12


def test_the_skin_of_a_tight_ring_is_stretched_by_a_quarter() -> None:
    assert skin_strain(3_000_000, 1_000_000) == 0.25
    assert math.isclose(skin_strain(5_000_000, 1_000_000), 1 / 6)
