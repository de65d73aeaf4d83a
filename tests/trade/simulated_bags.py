"""Bags of rings as they really come, weighed on a scale that rounds: the material of the coverage tests."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from models.trade.learned_mass import learn_mass
from models.trade.ring_mass import (
    DEFAULT_SCATTER,
    DENSITY_TOLERANCE,
    INNER_TOLERANCE,
    WIRE_TOLERANCE,
    Sample,
    mass_from_samples,
    mass_from_size,
)
from models.trade.rings import RingSize
from models.trade.weighing import WeighedCount, count_bag


@dataclass(frozen=True)
class Setup:
    """One kind of weighing: a nominal ring, its scatter, the scale, the samples and the bag.

    `own_scatter`: the samples show the scatter themselves; else it is stated. `hidden`: the scale's step hides how the
    samples differ, so that no method can know the scatter; the range is then careful and only held to its lower bound.
    """

    ring_g: float
    scatter: float
    step_g: float
    rings_in_sample: int
    samples: int
    rings: int
    own_scatter: bool = False
    hidden: bool = False
    tare: bool = True

    @property
    def name(self) -> str:
        how = "own scatter" if self.own_scatter else "stated scatter"
        return f"{self.rings} x {self.ring_g} g, {self.samples} x {self.rings_in_sample} on {self.step_g} g, {how}"


def shown(grams: float, step_g: float) -> float:
    """What the scale's display shows."""
    return max(0.0, round(grams / step_g) * step_g)


def weigh(setup: Setup, rng: np.random.Generator) -> WeighedCount:
    """Draw a batch of rings, a bag and its samples, weigh them, and count.

    The batch's mean mass differs from the nominal one by at least as much as rounding blurs a sample, and the empty bag's
    mass is any: so where a mass lies between two steps of the display is left to chance, as it is in life.
    """
    blur = max(0.03, setup.step_g / setup.rings_in_sample / setup.ring_g)
    mean = setup.ring_g * (1 + blur * rng.uniform(-1, 1))

    def mass(rings: int) -> float:
        return mean * (rings + setup.scatter * math.sqrt(rings) * rng.standard_normal())

    samples = [
        Sample(setup.rings_in_sample, shown(mass(setup.rings_in_sample), setup.step_g)) for _ in range(setup.samples)
    ]
    empty = rng.uniform(2, 6) if setup.tare else 0.0
    ring = mass_from_samples(samples, step_g=setup.step_g, scatter=None if setup.own_scatter else setup.scatter)
    gross = shown(mass(setup.rings) + empty, setup.step_g)
    return count_bag(gross, shown(empty, setup.step_g), ring, step_g=setup.step_g)


def coverage(setup: Setup, trials: int, seed: int) -> tuple[float, float]:
    """How often the 95 % range held the true count, and the median of half its width in rings."""
    rng = np.random.default_rng(seed)
    counts = [weigh(setup, rng) for _ in range(trials)]
    held = sum(count.low <= setup.rings <= count.high for count in counts) / trials
    return held, float(np.median([count.high - count.low for count in counts])) / 2


# Titanium 0.8 x 2.8 mm is 0.026 g, copper 1.02 x 3.2 mm 0.097 g, stainless 1.2 x 5 mm 0.175 g, brass 2.0 x 11 mm 1.14 g.
SETUPS = (
    Setup(0.026, 0.01, 0.01, 100, 1, 800),
    Setup(0.026, 0.01, 0.01, 20, 1, 300),
    Setup(0.026, 0.02, 0.001, 20, 1, 1500),
    Setup(0.026, 0.02, 0.001, 10, 5, 1500, own_scatter=True),
    Setup(0.026, 0.01, 0.001, 50, 3, 2000, own_scatter=True),
    Setup(0.026, 0.01, 0.01, 20, 5, 1000, own_scatter=True, hidden=True),
    Setup(0.097, 0.01, 0.01, 10, 1, 60),
    Setup(0.097, 0.01, 0.01, 50, 1, 3000),
    Setup(0.097, 0.005, 0.01, 100, 1, 5000),
    Setup(0.097, 0.02, 0.01, 50, 4, 2000, own_scatter=True),
    Setup(0.097, 0.01, 0.01, 40, 2, 1200, own_scatter=True),
    Setup(0.175, 0.01, 0.1, 100, 1, 1000),
    Setup(0.175, 0.01, 0.1, 50, 5, 1000, own_scatter=True, hidden=True),
    Setup(0.175, 0.03, 0.01, 30, 3, 900, own_scatter=True),
    Setup(0.175, 0.01, 0.01, 20, 1, 80, tare=False),
    Setup(1.14, 0.01, 0.01, 10, 1, 400),
    Setup(1.14, 0.02, 0.1, 20, 1, 400),
    Setup(1.14, 0.01, 0.01, 10, 6, 800, own_scatter=True),
    Setup(1.14, 0.02, 0.1, 50, 10, 3000, own_scatter=True),
    Setup(1.14, 0.005, 1.0, 50, 1, 200),
)


def count_again_in_bag(
    rng: np.random.Generator, rings: int = 600, sample: int = 100, ring_g: float = 0.175
) -> WeighedCount:
    """Weigh a sample, put it back into its bag, and weigh the bag."""
    scatter, step = 0.02, 0.01
    mean = ring_g * (1 + 0.03 * rng.uniform(-1, 1))
    own = mean * (sample + scatter * math.sqrt(sample) * rng.standard_normal())
    rest = mean * (rings - sample + scatter * math.sqrt(rings - sample) * rng.standard_normal())
    ring = mass_from_samples([Sample(sample, shown(own, step))], step_g=step, scatter=scatter)
    return count_bag(shown(own + rest, step), 0, ring, step_g=step, sample_in_bag=True)


def count_by_size(rng: np.random.Generator, rings: int = 500) -> WeighedCount:
    """Count by the computed mass of rings whose wire, opening and density lie anywhere within their tolerances."""
    size, density = RingSize(1_200_000, 5_000_000), Decimal("7.93")
    wire = 1.2 * (1 + WIRE_TOLERANCE * rng.uniform(-1, 1))
    inner = 5.0 * (1 + INNER_TOLERANCE * rng.uniform(-1, 1))
    true_density = float(density) * (1 + DENSITY_TOLERANCE * rng.uniform(-1, 1))
    mean = true_density * math.pi**2 / 4 * (inner + wire) * wire**2 / 1000
    gross = mean * (rings + DEFAULT_SCATTER * math.sqrt(rings) * rng.standard_normal())
    return count_bag(shown(gross, 0.01), 0, mass_from_size(size, density), step_g=0.01)


def lots(rng: np.random.Generator, weighings: int, ring_g: float, step_g: float) -> list[Sample]:
    """Counted rings from as many lots, whose mean masses differ by 1 %."""
    samples = []
    for _ in range(weighings):
        mean, rings = ring_g * (1 + 0.01 * rng.standard_normal()), int(rng.integers(20, 200))
        samples.append(Sample(rings, shown(mean * (rings + 0.01 * math.sqrt(rings) * rng.standard_normal()), step_g)))
    return samples


def count_by_learned(rng: np.random.Generator, weighings: int, rings: int = 500) -> WeighedCount:
    """Learn the mass from lots, and count a bag of another lot by it."""
    ring_g = 0.175 * (1 + 0.03 * rng.uniform(-1, 1))
    learned = learn_mass(lots(rng, weighings, ring_g, 0.01), step_g=0.01)
    mean = ring_g * (1 + 0.01 * rng.standard_normal())
    gross = mean * (rings + 0.01 * math.sqrt(rings) * rng.standard_normal())
    return count_bag(shown(gross, 0.01), 0, learned.ring_mass(), step_g=0.01)
