"""One ring: its numbers hang together, and an impossible one is told in plain words."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.trade.measures import GRAMS_PER
from models.trade.metals import METALS, metal
from models.trade.rings import PI, RingSize, absurd, near, ring_facts, wire_g_per_m

rings = st.builds(RingSize, st.integers(200_000, 5_000_000), st.integers(1_000_000, 50_000_000))
metals = st.sampled_from(sorted(METALS)).map(metal)


def close(a: Decimal, b: Decimal) -> bool:
    """Equal to 25 of the 28 digits that plain Decimal arithmetic keeps."""
    return abs(a - b) <= abs(b) * Decimal("1e-25")


@pytest.mark.parametrize(("wire_nm", "inner_nm"), [(0, 1), (1, 0), (-1, 1), (1, -1)])
def test_a_ring_has_sizes_above_zero(wire_nm: int, inner_nm: int) -> None:
    with pytest.raises(ValueError, match="above zero"):
        RingSize(wire_nm, inner_nm)


def test_equal_rings_are_equal_and_in_order() -> None:
    assert RingSize(1_000_000, 4_000_000) == RingSize(1_000_000, 4_000_000)
    assert len({RingSize(1, 2), RingSize(1, 2), RingSize(2, 2)}) == 2
    assert sorted([RingSize(2, 1), RingSize(1, 3), RingSize(1, 2)]) == [RingSize(1, 2), RingSize(1, 3), RingSize(2, 1)]


def test_the_aspect_ratio_is_the_exact_quotient_to_28_digits() -> None:
    assert RingSize(1_200_000, 5_000_000).aspect_ratio == Decimal("4.166666666666666666666666667")
    assert RingSize(1_000_000, 3_500_000).aspect_ratio == Decimal("3.5")
    assert RingSize(1_000_000, 3_500_000).outer_nm == 5_500_000


@given(rings, metals)
def test_a_rings_mass_is_its_wire(size: RingSize, of: object) -> None:
    facts = ring_facts(size, of)  # type: ignore[arg-type]
    by_wire = facts.wire_g_per_m * facts.wire_length_mm / 1000
    assert close(by_wire, facts.mass_g)
    assert close(facts.rings_per_kg * facts.mass_g, Decimal(1000))
    assert close(facts.rings_per_100g * 10, facts.rings_per_kg)
    assert close(facts.rings_per_ozt / facts.rings_per_kg, GRAMS_PER["ozt"] / 1000)
    assert close(facts.rings_per_lb / facts.rings_per_kg, GRAMS_PER["lb"] / 1000)
    assert facts.rings_per_metre * facts.wire_length_mm <= 1000 < (facts.rings_per_metre + 1) * facts.wire_length_mm


@given(rings, metals, st.decimals("0", "0.4", places=3))
def test_a_cut_takes_its_share_of_every_ring(size: RingSize, of: object, kerf_mm: Decimal) -> None:
    whole = ring_facts(size, of)  # type: ignore[arg-type]
    cut = ring_facts(size, of, kerf_mm)  # type: ignore[arg-type]
    assert cut.mass_g == whole.mass_g
    assert cut.mass_after_cut_g <= cut.mass_g
    assert abs(cut.mass_after_cut_g / cut.mass_g + cut.lost_share - 1) < Decimal("1e-24")
    assert abs(PI * (whole.closed_inner_mm - cut.closed_inner_mm) - kerf_mm) < Decimal("1e-24")
    assert cut.closed_aspect_ratio <= cut.aspect_ratio
    assert cut.rings_per_metre == whole.rings_per_metre
    assert cut.rings_per_kg_after_cut >= cut.rings_per_kg


def test_no_cut_loses_nothing() -> None:
    facts = ring_facts(RingSize(1_000_000, 4_000_000), metal("copper"))
    assert facts.lost_share == 0
    assert facts.mass_after_cut_g == facts.mass_g
    assert facts.closed_inner_mm == 4
    assert facts.closed_aspect_ratio == facts.aspect_ratio


@pytest.mark.parametrize("kerf", ["-0.1", "15.8", "100"])
def test_a_cut_is_smaller_than_the_wire_of_the_ring(kerf: str) -> None:
    with pytest.raises(ValueError, match="less than the wire of one ring"):
        ring_facts(RingSize(1_000_000, 4_000_000), metal("copper"), Decimal(kerf))


@given(rings, st.integers(2, 5))
def test_a_ring_k_times_as_large_weighs_k_cubed_as_much(size: RingSize, k: int) -> None:
    large = RingSize(size.wire_nm * k, size.inner_nm * k)
    assert close(large.volume_mm3 / size.volume_mm3, Decimal(k**3))
    assert large.aspect_ratio == size.aspect_ratio


@given(rings, st.integers(1, 100_000))
def test_thicker_or_wider_is_heavier(size: RingSize, more_nm: int) -> None:
    density = Decimal("8.96")
    mass_g = size.mass_g(density)
    assert RingSize(size.wire_nm + more_nm, size.inner_nm).mass_g(density) > mass_g
    assert RingSize(size.wire_nm, size.inner_nm + more_nm).mass_g(density) > mass_g
    assert wire_g_per_m(size.wire_nm + more_nm, density) > wire_g_per_m(size.wire_nm, density)


def test_near_sizes_differ_by_the_tolerance_at_most_in_both_sizes() -> None:
    sold, real = RingSize(1_625_600, 6_350_000), RingSize(1_600_000, 6_350_000)
    assert near(sold, real, 30_000)
    assert near(real, sold, 25_600)
    assert not near(sold, real, 25_599)
    assert not near(RingSize(1_000_000, 4_000_000), RingSize(1_000_000, 4_030_001), 30_000)
    assert near(sold, sold, 0)


def test_a_wire_thicker_than_its_opening_is_absurd() -> None:
    told = absurd(RingSize(16_000_000, 5_000_000))
    assert told is not None
    assert "thicker than its opening of 5.0 mm" in told
    assert "AWG or SWG" in told
    far = absurd(RingSize(100_000, 10_000_001))
    assert far is not None
    assert "more than 100 times" in far
    assert absurd(RingSize(1_000_000, 1_000_000)) is None
    assert absurd(RingSize(100_000, 10_000_000)) is None
