"""Counting by weight against a general-purpose library of uncertainties, published figures and scipy's distributions.

Sources: the `uncertainties` package (first-order propagation, as in JCGM 100:2008); the two worked weighings were computed with
it; the largest settled counts are 1.96 n c sqrt(1/k + 1/n) = 0.5 solved for n; `scipy.stats` for Student's t.
"""

import math

import numpy as np
import pytest
from scipy import stats
from uncertainties import ufloat

from models.trade.chances import ErrorSum, box_cdf, normal_cdf, t_cdf, t_quantile
from models.trade.learned_mass import learn_mass, seems_other
from models.trade.ring_mass import Sample, mass_from_samples
from models.trade.weighing import count_bag, largest_settled
from tests.trade.simulated_bags import lots, shown

ROOT12 = math.sqrt(12)  # a step of s has the standard uncertainty s / sqrt(12)

WEIGHINGS = [  # gross, its u, tare, its u, rings in the sample, their mass, its u, count, its u
    (512.34, 0.01, 25.10, 0.01, 50, 4.872, 0.002, 5000.410509031199, 2.057838218643537),
    (96.55, 0.005, 0.0, 0.0, 100, 9.663, 0.0029, 999.1720997619785, 0.3042969906325499),
]


@pytest.mark.parametrize("case", WEIGHINGS)
def test_count_and_uncertainty_of_two_worked_weighings(case: tuple[float, ...]) -> None:
    gross, u_gross, tare, u_tare, rings, mass, u_mass, expected, expected_u = case
    ring = mass_from_samples([Sample(int(rings), mass)], step_g=u_mass * ROOT12, scatter=0.0)
    count = count_bag(gross, tare, ring, step_g=u_gross * ROOT12, tare_step_g=u_tare * ROOT12)
    assert math.isclose(count.estimate, expected, rel_tol=1e-12)
    assert math.isclose(count.u, expected_u, rel_tol=1e-9)
    empty = ufloat(tare, u_tare) if u_tare else tare
    library = (ufloat(gross, u_gross) - empty) / (ufloat(mass, u_mass) / rings)
    assert math.isclose(count.estimate, library.nominal_value, rel_tol=1e-12)
    assert math.isclose(count.u, library.std_dev, rel_tol=1e-9)


@pytest.mark.parametrize(("rings", "mass", "scatter", "net"), [(50, 9.71, 0.01, 95.0), (20, 0.52, 0.02, 30.0)])
def test_with_scatter_the_uncertainty_is_the_librarys_too(rings: int, mass: float, scatter: float, net: float) -> None:
    step = 0.01
    count = count_bag(net + 4, 4.0, mass_from_samples([Sample(rings, mass)], step_g=step, scatter=scatter), step_g=step)
    one = mass / rings
    reading = ufloat(mass, step / ROOT12) + ufloat(0, scatter * one * math.sqrt(rings))
    bag = ufloat(net + 4, step / ROOT12) - ufloat(4, step / ROOT12)
    bag += ufloat(0, scatter * one * math.sqrt(net / one))
    assert math.isclose(count.u, (bag / (reading / rings)).std_dev, rel_tol=1e-9)


@pytest.mark.parametrize(
    ("n", "k", "scatter", "expected"),
    [
        (100, 20, 0.01, 0.2449),
        (500, 50, 0.005, 0.3708),
        (1000, 20, 0.01, 2.2583),
        (1000, 100, 0.01, 1.0488),
        (5000, 100, 0.005, 2.5249),
    ],
)
def test_the_scatter_between_rings_alone(n: int, k: int, scatter: float, expected: float) -> None:
    count = count_bag(n, 0, mass_from_samples([Sample(k, k)], step_g=0, scatter=scatter), step_g=0)
    assert round(count.u, 4) == expected


@pytest.mark.parametrize(
    ("scatter", "largest"),
    [(0.005, (156, 218, 336, 462)), (0.01, (75, 104, 157, 209)), (0.02, (35, 47, 68, 87))],
)
def test_the_largest_counts_that_scatter_leaves_settled(scatter: float, largest: tuple[int, ...]) -> None:
    for rings, expected in zip((10, 20, 50, 100), largest, strict=True):
        ring = mass_from_samples([Sample(rings, rings)], step_g=0, scatter=scatter)
        assert largest_settled(ring, step_g=0) == expected


def test_student_and_normal_are_scipys() -> None:
    for dof in (1, 2, 3.7, 9, 40, 500, 1999):
        for x in (-40, -3, -0.2, 1e-4, 0.7, 2.5, 12.7, 200):
            assert math.isclose(t_cdf(x, dof), stats.t.cdf(x, dof), rel_tol=1e-8, abs_tol=1e-12)
        for chance in (0.03, 0.5, 0.9, 0.975, 0.999):
            assert math.isclose(t_quantile(chance, dof), stats.t.ppf(chance, dof), rel_tol=1e-6, abs_tol=1e-9)
    for x in (-6, -1, 0, 0.3, 4):
        assert math.isclose(normal_cdf(x), stats.norm.cdf(x), rel_tol=1e-12)
        assert math.isclose(t_cdf(x, math.inf), stats.norm.cdf(x), rel_tol=1e-12)


def test_sums_of_even_errors_are_scipys() -> None:
    for x in (-1, -0.3, 0, 0.2, 0.9, 2):
        assert math.isclose(box_cdf(x, [1.0]), stats.uniform(-1, 2).cdf(x), abs_tol=1e-12)
        assert math.isclose(box_cdf(x, [1.5, 0.5]), _two(x, 1.5, 0.5), abs_tol=1e-12)


def _two(x: float, wide: float, narrow: float) -> float:
    """The chance of a sum of two even errors by scipy's trapezoid."""
    whole = 2 * (wide + narrow)
    rise = 2 * narrow / whole
    return float(stats.trapezoid(c=rise, d=1 - rise, loc=-whole / 2, scale=whole).cdf(x))


@pytest.mark.parametrize(
    ("sd", "dof", "halves"),
    [(1, math.inf, (0.5,)), (1, 4, (2.0, 0.1, 1.0)), (0.01, math.inf, (1.0, 0.5)), (0.3, 9, (3.0,)), (0.02, 1, (1.0,))],
)
def test_bells_and_even_errors_add_up_as_simulated(sd: float, dof: float, halves: tuple[float, ...]) -> None:
    rng = np.random.default_rng(5)
    bell = rng.standard_normal(400_000) if math.isinf(dof) else rng.standard_t(dof, 400_000)
    errors = sd * bell + sum(rng.uniform(-half, half, 400_000) for half in halves)
    summed = ErrorSum(sd, dof, halves)
    for chance in (0.9, 0.975, 0.995):
        assert abs(summed.cdf(float(np.quantile(errors, chance))) - chance) < 0.003


def test_a_learned_mass_is_the_random_effects_mean_of_its_weighings() -> None:
    """DerSimonian and Laird's estimate, computed apart with numpy."""
    rng = np.random.default_rng(9)
    weighings = lots(rng, 12, 0.175, 0.01)
    learned = learn_mass(weighings, step_g=0.01, scatter=0.01)
    k = np.array([each.rings for each in weighings])
    m = np.array([float(each.mass_g) for each in weighings]) / k
    rough = np.average(m, weights=k)
    variance = (0.01 / k) ** 2 / 12 + (0.01 * rough) ** 2 / k
    w = 1 / variance
    q = np.sum(w * (m - np.average(m, weights=w)) ** 2)
    between = max(0, (q - 11) / (w.sum() - (w**2).sum() / w.sum()))
    assert between > 0
    assert math.isclose(learned.between_g, math.sqrt(between), rel_tol=1e-9)
    assert math.isclose(learned.mass_g, np.average(m, weights=1 / (variance + between)), rel_tol=1e-12)
    assert math.isclose(learned.u_g, 1 / math.sqrt(np.sum(1 / (variance + between))), rel_tol=1e-12)


def test_few_right_bags_are_called_odd_and_nearly_every_wrong_one_is() -> None:
    rng = np.random.default_rng(4)
    false = missed = 0
    for _ in range(2000):
        learned = learn_mass(lots(rng, 10, 0.175, 0.01), step_g=0.01)
        mean = 0.175 * (1 + 0.01 * rng.standard_normal())
        noise = 0.01 * mean * math.sqrt(60) * rng.standard_normal()
        false += seems_other(Sample(60, shown(60 * mean + noise, 0.01)), learned, step_g=0.01) is not None
        # The next thinner metric wire, 1.0 mm for 1.2 mm on the same opening, weighs a third less.
        missed += seems_other(Sample(60, shown(60 * 0.67 * mean + noise, 0.01)), learned, step_g=0.01) is None
    assert false / 2000 < 0.01  # 0.3 % is asked for
    assert missed == 0
