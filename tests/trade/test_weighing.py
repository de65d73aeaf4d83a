"""How many rings are in a bag: what the answer says, and what it refuses."""

import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.trade.learned_mass import LearnedMass, learn_mass, seems_other
from models.trade.metals import metal
from models.trade.ring_mass import DEFAULT_SCATTER, RingMass, Sample, Unweighable, mass_from_samples, mass_from_size
from models.trade.rings import RingSize
from models.trade.weighing import count_bag, largest_settled
from tests.budget import budget


def sample(rings: int, mass_g: float, step_g: float = 0.01, scatter: float | None = None) -> RingMass:
    return mass_from_samples([Sample(rings, mass_g)], step_g=step_g, scatter=scatter)


# --- the count ---


def test_a_small_bag_is_certain_and_says_so() -> None:
    count = count_bag(Decimal("9.70"), Decimal("4.20"), sample(20, 2.2), step_g=Decimal("0.01"))
    assert (count.count, count.low, count.high) == (50, 50, 50)
    assert count.certain
    assert count.fits
    assert count.sample_needed is None


def test_a_large_bag_is_a_range_and_the_sample_that_would_settle_it_does() -> None:
    few = count_bag(25.0, 3.0, sample(20, 2.0), step_g=0.01)
    assert not few.certain
    assert few.low < few.count == 220 < few.high
    needed = few.sample_needed
    assert needed is not None
    assert 20 < needed < 220
    assert count_bag(25.0, 3.0, sample(needed, 0.1 * needed), step_g=0.01).certain


def test_where_no_sample_settles_the_count_none_is_named() -> None:
    assert count_bag(503.0, 3.0, sample(50, 5.0), step_g=0.01).sample_needed is None


def test_an_empty_bag_holds_nothing() -> None:
    count = count_bag(3.0, 3.0, sample(50, 5.0), step_g=0.01)
    assert (count.count, count.low, count.high, count.estimate) == (0, 0, 0, 0)
    assert count.certain


def test_a_bag_lighter_than_its_tare_is_told() -> None:
    with pytest.raises(Unweighable, match="less than its tare"):
        count_bag(2.9, 3.0, sample(50, 5.0), step_g=0.01)
    # Half a step at either reading is no contradiction.
    assert count_bag(2.99, 3.0, sample(50, 5.0), step_g=0.01).count == 0


def test_what_is_no_whole_number_of_rings_does_not_fit() -> None:
    heavy = sample(10, 114.0, scatter=0.0005)
    count = count_bag(11.4 * 5 + 5.5, 0, heavy, step_g=0.01)
    assert not count.fits
    assert not count.certain
    assert (count.low, count.high) == (5, 6)


def test_between_two_counts_both_stay_possible() -> None:
    count = count_bag(10.05, 0, sample(100, 10.0, scatter=0.02), step_g=0.01)
    assert {100, 101} <= set(range(count.low, count.high + 1))
    assert not count.certain


@pytest.mark.parametrize("wrong", [-1, math.nan, math.inf])
def test_what_no_scale_shows_is_refused(wrong: float) -> None:
    ring = sample(50, 5.0)
    for readings in ((wrong, 0.0, 0.01), (5.0, wrong, 0.01), (5.0, 0.0, wrong)):
        with pytest.raises(ValueError, match="zero or more"):
            count_bag(readings[0], readings[1], ring, step_g=readings[2])
    with pytest.raises(ValueError, match="zero or more"):
        Sample(10, wrong)


def test_the_parts_of_the_uncertainty_make_up_the_whole() -> None:
    for in_bag in (False, True):
        count = count_bag(25.0, 3.0, sample(20, 2.0), step_g=0.01, sample_in_bag=in_bag)
        assert math.isclose(math.fsum(line.rings**2 for line in count.lines), count.u**2, rel_tol=1e-9)
        assert math.isclose(math.fsum(line.share for line in count.lines), 1)
        assert [line.rings for line in count.lines] == sorted((line.rings for line in count.lines), reverse=True)


@given(
    rings=st.integers(0, 5000),
    ring_g=st.floats(0.02, 3),
    tare=st.floats(0, 20),
    step=st.sampled_from([0.001, 0.01, 0.1]),
    size=st.integers(5, 200),
    scatter=st.floats(0, 0.05),
)
@settings(max_examples=budget(60), deadline=None)
def test_the_range_holds_the_count_and_the_count_of_exact_weighings(
    *, rings: int, ring_g: float, tare: float, step: float, size: int, scatter: float
) -> None:
    count = count_bag(rings * ring_g + tare, tare, sample(size, size * ring_g, step, scatter), step_g=step)
    assert 0 <= count.low <= count.count <= count.high
    assert count.low <= rings <= count.high
    assert count.count == rings
    assert count.certain == (count.low == count.high)


@given(first=st.floats(0.001, 0.03), more=st.floats(0.001, 0.03))
@settings(max_examples=budget(30), deadline=None)
def test_more_scatter_never_narrows_the_range(first: float, more: float) -> None:
    narrow, wide = (
        count_bag(103.0, 3.0, sample(50, 5.0, scatter=scatter), step_g=0.01) for scatter in (first, first + more)
    )
    assert wide.low <= narrow.low
    assert narrow.high <= wide.high


def test_portions_up_to_the_largest_settled_are_certain() -> None:
    ring = sample(50, 5.0)
    most = largest_settled(ring, step_g=0.01)
    assert most > 50
    assert count_bag(0.1 * most, 0, ring, step_g=0.01).certain
    assert largest_settled(sample(1, 0.03), step_g=1) == 0


# --- the mass of one ring ---


def test_a_sample_that_the_scale_does_not_show_is_told() -> None:
    with pytest.raises(Unweighable, match="shows nothing"):
        sample(3, 0.0)
    with pytest.raises(ValueError, match="at least one"):
        mass_from_samples([], step_g=0.01)
    with pytest.raises(ValueError, match="at least one ring"):
        Sample(0, 1)


def test_repeated_samples_show_the_scatter_themselves() -> None:
    masses = [11.32, 11.51, 11.40, 11.44, 11.27]
    ring = mass_from_samples([Sample(10, mass) for mass in masses], step_g=0.01)
    mean = sum(masses) / 50
    spread = math.sqrt(sum((mass - 10 * mean) ** 2 for mass in masses) / 4)
    assert math.isclose(ring.mass_g, mean)
    assert math.isclose(ring.mean_sd_g, spread / math.sqrt(5) / 10)
    assert ring.scatter_g < spread / math.sqrt(10)  # without its share of rounding
    assert ring.dof == 4


def test_samples_that_all_read_alike_are_no_surer_than_the_step() -> None:
    """Repeating what the display rounds the same way each time teaches little."""
    once = mass_from_samples([Sample(10, 0.26)], step_g=0.01, scatter=0.005)
    often = mass_from_samples([Sample(10, 0.26)] * 8, step_g=0.01, scatter=0.005)
    assert often.u_g > 0.6 * once.u_g
    fine = mass_from_samples([Sample(10, 0.26 + 0.001 * each) for each in range(-4, 5)], step_g=0.0001, scatter=0.005)
    assert fine.u_g < 0.2 * once.u_g


def test_two_samples_keep_the_default_unless_they_contradict_it() -> None:
    alike = mass_from_samples([Sample(20, 20.1), Sample(20, 20.2)], step_g=0.01)
    assert math.isclose(alike.scatter_g, DEFAULT_SCATTER * alike.mass_g)
    apart = mass_from_samples([Sample(20, 19.0), Sample(20, 21.0)], step_g=0.01)
    assert apart.scatter_g > 5 * alike.scatter_g
    assert apart.dof == 1


def test_samples_that_cannot_be_of_the_same_rings_are_told() -> None:
    with pytest.raises(Unweighable, match="do not weigh alike"):
        mass_from_samples([Sample(10, 1.0), Sample(10, 3.0)], step_g=0.5, scatter=0.0001)


def test_the_computed_mass_feels_the_wire_twice() -> None:
    size = RingSize(1_000_000, 5_000_000)
    ring = mass_from_size(size, metal("copper").density, wire_tolerance=0.02)
    halves = dict(ring.even_g)
    assert math.isclose(halves["the wire's tolerance"] / ring.mass_g, 0.02 * (2 + 1 / 6), rel_tol=1e-9)
    thicker = RingSize(1_020_000, 5_000_000).mass_g(metal("copper").density)
    assert math.isclose(float(thicker) / ring.mass_g - 1, 0.02 * (2 + 1 / 6), rel_tol=0.02)


# --- learning ---


def test_sure_weighings_count_more() -> None:
    learned = learn_mass([Sample(1000, 100.0), Sample(2, 0.22)], step_g=0.1)
    assert math.isclose(learned.mass_g, 0.1, rel_tol=0.01)
    assert learned.weighings == 2


def test_each_weighing_may_have_a_scale_of_its_own() -> None:
    fine, coarse = Sample(100, 10.0), Sample(100, 11.0)
    learned = learn_mass([fine, coarse], step_g=[0.01, 5.0])
    assert math.isclose(learned.mass_g, 0.1, rel_tol=0.01)
    assert math.isclose(learn_mass([fine, coarse], step_g=0.01).mass_g, 0.105, rel_tol=0.01)
    assert math.isclose(learn_mass([fine], step_g=[0.01]).u_g, learn_mass([fine], step_g=0.01).u_g)
    with pytest.raises(ValueError, match="shorter"):
        learn_mass([fine, coarse], step_g=[0.01])


def test_lots_that_differ_widen_what_is_expected_of_the_next() -> None:
    same = learn_mass([Sample(100, 10.0)] * 10, step_g=0.001)
    apart = learn_mass([Sample(100, 10.0 + 0.3 * (-1) ** each) for each in range(10)], step_g=0.001)
    assert same.between_g == 0
    assert math.isclose(apart.between_g, 0.3 / 100, rel_tol=0.1)
    assert apart.ring_mass().mean_sd_g > 5 * same.ring_mass().mean_sd_g
    assert apart.dof == 8


def test_the_first_weighings_assume_that_lots_differ() -> None:
    learned = learn_mass([Sample(100, 10.0)], step_g=0.001)
    assert math.isclose(learned.between_g, 0.01 * 0.1)
    with pytest.raises(ValueError, match="at least once"):
        learn_mass([], step_g=0.01)


def test_the_next_thinner_wire_in_the_bag_is_noticed_and_named() -> None:
    copper = metal("copper").density
    right = mass_from_size(RingSize(1_200_000, 5_000_000), copper)
    learned = LearnedMass(right.mass_g, 0.001 * right.mass_g, 0.01 * right.mass_g, 10, 12)
    others = {
        "1.0 mm": mass_from_size(RingSize(1_000_000, 5_000_000), copper, wire_tolerance=0.005),
        "1.3 mm": mass_from_size(RingSize(1_300_000, 5_000_000), copper, wire_tolerance=0.005),
    }
    wrong = float(RingSize(1_000_000, 5_000_000).mass_g(copper))
    odd = seems_other(Sample(50, 50 * wrong), learned, step_g=0.01, others=others)
    assert odd is not None
    assert odd.likely == "1.0 mm"
    assert odd.deviations < -10
    assert odd.chance < 1e-6
    assert seems_other(Sample(50, 50 * right.mass_g), learned, step_g=0.01, others=others) is None
    stranger = seems_other(Sample(50, 500 * wrong), learned, step_g=0.01, others=others)
    assert stranger is not None
    assert stranger.likely is None
