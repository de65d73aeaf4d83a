"""What one ring weighs, and how sure that is: from weighed samples, or from its size.

Not here: the count of a bag (weighing), what many weighings teach (learned_mass). Masses in grams as floats: these are
estimates with an error, never amounts.

Three errors are kept apart, because they grow differently with the number of rings in a bag: the scatter between
single rings, the bell-shaped error of the mean mass, and its even errors (a display's step, a tolerance), which have
sharp ends.
Sources, from memory: JCGM 100:2008 (GUM) 4.3.7 for even errors; Gelman and others, Bayesian Data Analysis, on rounded
readings.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from models.trade.rings import RingSize

DEFAULT_SCATTER = 0.01
"""Standard deviation between rings of one bag as a share of their mass. [common practice, no source]"""
WIRE_TOLERANCE = 0.015
"""How far bought wire may lie from its stated diameter, as a share. [common practice, no source]"""
INNER_TOLERANCE = 0.01
"""How far the inner diameter may lie from its stated size, as a share. [common practice, no source]"""
DENSITY_TOLERANCE = 0.005
"""How far an alloy's density may lie from the table's, as a share. [common practice, no source]"""
SCATTER_RANGE = (0.002, 0.1)
"""What the scatter between rings of one kind can be at all, as a share. [common practice, no source]"""
# A sample's scatter of so many steps is seen through the rounding of its readings.
_SEEN_STEPS = 0.5

Grams = float | Decimal


class Unweighable(ValueError):
    """A weighing says nothing; `message` tells the person why and what would help."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


def grams(value: Grams, name: str, *, zero: bool = True) -> float:
    """Return a reading as a float. Raises: ValueError unless finite and above zero (or zero, where that can be)."""
    number = float(value)
    if not math.isfinite(number) or number < 0 or (number == 0 and not zero):
        raise ValueError(f"{name} must be {'zero or more' if zero else 'above zero'}")
    return number


@dataclass(frozen=True, slots=True)
class Sample:
    """So many counted rings weighed together, without a bag or with the scale set to zero under it."""

    rings: int
    mass_g: Grams

    def __post_init__(self) -> None:
        if isinstance(self.rings, bool) or self.rings < 1:
            raise ValueError("a sample has at least one ring")
        grams(self.mass_g, "the sample's mass")


@dataclass(frozen=True, slots=True)
class RingMass:
    """The mean mass of one ring with its errors, in grams.

    `scatter_g` is the standard deviation between single rings, `mean_sd_g` that of the mean mass, both with `dof`
    degrees of freedom; `even_g` are half widths of even errors of the mean mass, each with its name. `sample_rings` is
    the number of rings weighed (0 if none), `step_g` the step of that scale. `shape_g`, where it is given, is the error
    of the mean mass as weighted points, and takes the place of the bell.
    """

    mass_g: float
    scatter_g: float
    mean_sd_g: float
    dof: float
    even_g: tuple[tuple[str, float], ...]
    source: str
    sample_rings: int = 0
    step_g: float = 0.0
    shape_g: tuple[tuple[float, float], ...] = ()

    @property
    def shape_step_g(self) -> float:
        """Return the distance between the points of the shape."""
        return self.shape_g[1][0] - self.shape_g[0][0] if len(self.shape_g) > 1 else 0.0

    @property
    def u_g(self) -> float:
        """Return the standard uncertainty of the mean mass."""
        return math.sqrt(self.mean_sd_g**2 + sum(half**2 for _, half in self.even_g) / 3)


def mass_from_samples(
    samples: Sequence[Sample], *, step_g: Grams, scatter: float | None = None, default_scatter: float = DEFAULT_SCATTER
) -> RingMass:
    """Return the mass of one ring from one or more weighed samples.

    `scatter` is the stated relative deviation between rings. Without it three or more samples show it themselves; one
    sample takes the default, and so do two, unless they differ by more than it allows.
    Raises: Unweighable when the scale shows nothing, ValueError.
    """
    step = grams(step_g, "the scale's step")
    if not samples:
        raise ValueError("weigh at least one sample")
    rings = sum(sample.rings for sample in samples)
    mass = sum(float(sample.mass_g) for sample in samples) / rings
    if mass <= 0:
        raise Unweighable("The scale shows nothing for this sample. Weigh more rings at once, or use a finer scale.")
    share = default_scatter if scatter is None else scatter
    if not math.isfinite(share) or share < 0:
        raise ValueError("the scatter is a share of zero or more")
    if len(samples) > 1:
        own = scatter is None and (len(samples) > 2 or _differ(samples, mass, step, share))
        return _from_repeated(samples, rings, mass, step, None if own else share)
    how = "taken as" if scatter is None else "stated as"
    return RingMass(
        mass_g=mass,
        scatter_g=share * mass,
        mean_sd_g=share * mass / math.sqrt(rings),
        dof=math.inf,
        even_g=(("the scale's step on the sample", step / 2 / rings),) if step else (),
        source=f"{rings} weighed rings; from ring to ring {how} {100 * share:.3g} %",
        sample_rings=rings,
        step_g=step,
    )


def _spread_g2(samples: Sequence[Sample], mass: float) -> float:
    """Return the variance of single rings that the differences between samples show, roundings included."""
    squares = sum((float(each.mass_g) - each.rings * mass) ** 2 / each.rings for each in samples)
    return squares / (len(samples) - 1)


def _differ(samples: Sequence[Sample], mass: float, step: float, share: float) -> bool:
    """Tell whether two samples differ by more than the scatter and one step of the scale allow, 95 times in 100."""
    typical = sum(each.rings for each in samples) / len(samples)
    return _spread_g2(samples, mass) > 1.96**2 * (share * mass) ** 2 + 1.001 * step**2 / 2 / typical


def _from_repeated(samples: Sequence[Sample], rings: int, mass: float, step: float, scatter: float | None) -> RingMass:
    """Return the mass from several samples; model: each shows k m + N(0, k scatter^2), rounded to a step."""
    spread_g2 = _spread_g2(samples, mass)
    known = None if scatter is None else scatter * mass
    deviation = math.sqrt(spread_g2 if known is None else known**2) * math.sqrt(rings / len(samples))
    if deviation < _SEEN_STEPS * step:
        shape, scatter_g = _rounded_alike(samples, mass, step, scatter)
        centre = sum(point * weight for point, weight in shape)
        sd = math.sqrt(sum(weight * (point - centre) ** 2 for point, weight in shape))
        shape = tuple((point - centre, weight) for point, weight in shape)
        mass, dof = centre, math.inf
    else:
        # From here on roundings are independent and part of the spread that is seen.
        own_g2 = step**2 / 12 * len(samples) / rings
        shape, dof = (), len(samples) - 1.0 if known is None else math.inf
        scatter_g = math.sqrt(max(0.0, spread_g2 - own_g2)) if known is None else known
        sd = math.sqrt((spread_g2 if known is None else known**2 + own_g2) / rings)
    shown = "which show the scatter from ring to ring" if scatter is None else f"{100 * scatter:.3g} % ring to ring"
    return RingMass(
        mass_g=mass,
        scatter_g=scatter_g,
        mean_sd_g=sd,
        dof=dof,
        even_g=(),
        source=f"{len(samples)} samples of {rings} rings together, {shown}",
        sample_rings=rings,
        step_g=step,
        shape_g=shape,
    )


def _rounded_alike(
    samples: Sequence[Sample], mass: float, step: float, scatter: float | None
) -> tuple[tuple[tuple[float, float], ...], float]:
    """Return weighted points of the mean mass, and the scatter, where the step hides how samples differ.

    What scatters by less than half a step is rounded the same way each time, so averaging helps less than it should.
    The points are the posterior of the mean mass, by the exact chance of each rounded reading, with an even prior of
    the mean and one of the scatter that is even in its logarithm over what rings of one kind can have.
    Raises: Unweighable when no mass explains all samples.
    """
    least, largest = SCATTER_RANGE if scatter is None else (max(scatter, 1e-6),) * 2
    shares = [least * (largest / least) ** (part / 15) for part in range(16 if scatter is None else 1)]
    readings = Counter((each.rings, float(each.mass_g)) for each in samples)

    def chances(centre: float) -> list[float]:
        return [_chance_of(readings, centre, share * mass, step) for share in shares]

    fewest, rings = min(each.rings for each in samples), sum(each.rings for each in samples)
    reach = step / 2 / fewest + 4 * shares[-1] * mass / math.sqrt(rings)
    coarse = [(centre, sum(chances(centre))) for centre in _even_points(mass - reach, mass + reach, 81)]
    most = max(chance for _, chance in coarse)
    if not most:
        raise Unweighable("These samples do not weigh alike, ring for ring. Count and weigh each again.")
    likely = [centre for centre, chance in coarse if chance > 1e-4 * most]
    table = [(centre, chances(centre)) for centre in _even_points(likely[0] - reach / 40, likely[-1] + reach / 40, 61)]
    whole = sum(sum(row) for _, row in table)
    square = sum(chance * share**2 for _, row in table for chance, share in zip(row, shares, strict=True)) / whole
    return tuple((centre, sum(row) / whole) for centre, row in table), mass * math.sqrt(square)


def _even_points(first: float, last: float, count: int) -> list[float]:
    return [first + (last - first) * part / (count - 1) for part in range(count)]


def _chance_of(readings: Mapping[tuple[int, float], int], centre: float, scatter_g: float, step: float) -> float:
    """Return the chance of rounded readings, each (rings, grams) so many times, of rings with this mean and scatter."""
    chance = 1.0
    for (rings, reading), times in readings.items():
        deviation = scatter_g * math.sqrt(2 * rings)
        off = reading - rings * centre
        upper, lower = (off + step / 2) / deviation, (off - step / 2) / deviation
        # The difference is taken in the nearer tail, where erfc keeps its digits.
        span = math.erfc(lower) - math.erfc(upper) if off > 0 else math.erfc(-upper) - math.erfc(-lower)
        chance *= (span / 2) ** times
    return chance


def mass_from_size(
    size: RingSize,
    density: Decimal,
    *,
    wire_tolerance: float = WIRE_TOLERANCE,
    inner_tolerance: float = INNER_TOLERANCE,
    density_tolerance: float = DENSITY_TOLERANCE,
    scatter: float = DEFAULT_SCATTER,
) -> RingMass:
    """Return the computed mass of one ring with even errors from the tolerances, all shares of the stated sizes.

    Density in g/cm3. The mass goes with d^2 (ID + d), so a wire 1 % too thick makes a ring about 2.2 % too heavy.
    """
    mass = float(size.mass_g(density))
    across = size.inner_nm + size.wire_nm
    even = (
        ("the wire's tolerance", mass * wire_tolerance * (2 + size.wire_nm / across)),
        ("the opening's tolerance", mass * inner_tolerance * size.inner_nm / across),
        ("the metal's density", mass * density_tolerance),
    )
    return RingMass(mass, scatter * mass, 0.0, math.inf, even, "computed from its size and metal")
