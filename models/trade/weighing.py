"""How many rings are in this bag, and how sure is that.

Not here: what one ring weighs (ring_mass). Masses in grams as floats: they are estimates with an error, never amounts.

The count is n = (gross - tare) / m. Its standard uncertainty is that of JCGM 100:2008 (GUM), section 5.1 (from
memory): u(n)^2 = (u_gross / m)^2 + (u_tare / m)^2 + (n u_m / m)^2 + n (scatter / m)^2, where a reading of a scale with
steps of s has u = s / sqrt(12).

The 95 % range holds every whole count that the weighing does not contradict: N rings are contradicted when the net mass
less N m lies in the outer 2.5 % at either end of the errors that N rings would have (test inversion, as in Fieller's
theorem). The errors keep their shape: even for a display's step, Student's t for a scatter seen in few samples. Whole
counts are not rounded outward, so that the range is right 95 times in 100 and not more; only where it is as narrow as
one or two counts are neighbours added, until 95 % of the likelihood is inside.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from models.trade.chances import ErrorSum
from models.trade.ring_mass import Grams, RingMass, Unweighable, grams

LEVEL = 0.95
# Past ten times the estimate a range says nothing any more.
_WIDEST = 10
# A right bag fails to fit any whole count about once in so many weighings.
_FITTING = 0.001


@dataclass(frozen=True, slots=True)
class ErrorPart:
    """One source of the uncertainty: its standard uncertainty in rings, and its share of the whole variance."""

    label: str
    rings: float
    share: float
    reason: str


@dataclass(frozen=True, slots=True)
class WeighedCount:
    """How many rings are in a bag.

    `low` to `high` is the 95 % range over whole counts. `certain`: it holds one count only. `u` is the standard
    uncertainty in rings, `lines` its parts. `sample_needed` is the smallest larger sample, weighed at once on the same
    scale, that would settle the count; None when it is settled or no sample smaller than the bag would do. `fits` is
    false when no whole number of rings weighs this much: something else is in the bag, or the sample was of others.
    """

    estimate: float
    count: int
    low: int
    high: int
    certain: bool
    sample_needed: int | None
    u: float
    lines: tuple[ErrorPart, ...]
    fits: bool


@dataclass(frozen=True, slots=True)
class _Weighing:
    """A bag on the scale, with everything that its errors depend on."""

    net_g: float
    gross_step_g: float
    tare_step_g: float
    ring: RingMass
    sample_in_bag: bool

    def errors(self, rings: float) -> ErrorSum:
        """Return the errors, in grams, of the net mass less `rings` x the mean mass, but for a shape of points."""
        ring = self.ring
        # Points stand for the even stretch between them.
        mean = rings * (ring.shape_step_g / math.sqrt(12) if ring.shape_g else ring.mean_sd_g)
        bag = rings * ring.scatter_g**2
        if self.sample_in_bag and not ring.shape_g:
            # What the sample was too heavy by, the bag is too: only the rings that were not in it scatter anew.
            bag = -min(bag, mean**2)
        # The floor stands for what a float cannot tell.
        sd = max(math.sqrt(mean**2 + bag), 1e-9 * ring.mass_g)
        even = (self.gross_step_g / 2, self.tare_step_g / 2, *(rings * half for _, half in ring.even_g))
        return ErrorSum(sd, ring.dof, tuple(half for half in even if half > 0))

    def u_g(self, rings: float) -> float:
        """Return the standard uncertainty, in grams, of the net mass less `rings` x the mean mass."""
        return math.hypot(self.errors(rings).u, rings * self.ring.mean_sd_g if self.ring.shape_g else 0.0)

    def chance_below(self, rings: float, net_g: float | None = None) -> float:
        """Return the chance of a net mass as small as this one, were there so many rings."""
        off = (self.net_g if net_g is None else net_g) - rings * self.ring.mass_g
        errors = self.errors(rings)
        if not self.ring.shape_g:
            return errors.cdf(off)
        return sum(weight * errors.cdf(off - rings * point) for point, weight in self.ring.shape_g)

    def likelihood(self, rings: int) -> float:
        """Return how likely this net mass is with so many rings, up to a factor."""
        near = 0.05 * self.u_g(rings)
        return self.chance_below(rings, self.net_g + near) - self.chance_below(rings, self.net_g - near)


def count_bag(
    gross_g: Grams,
    tare_g: Grams,
    ring: RingMass,
    *,
    step_g: Grams,
    tare_step_g: Grams | None = None,
    sample_in_bag: bool = False,
) -> WeighedCount:
    """Return how many rings are in a bag that was weighed, with the 95 % range.

    `step_g` is the scale's step for the full bag, `tare_step_g` for the empty one (default: the same, and nothing for a
    tare of 0, as with no bag at all). `sample_in_bag`: the weighed sample lies in the bag again.
    Raises: Unweighable when the bag weighs less than its tare; ValueError for what no scale shows.
    """
    gross, tare = grams(gross_g, "the bag's mass"), grams(tare_g, "the tare")
    step = grams(step_g, "the scale's step")
    tare_step = (step if tare else 0.0) if tare_step_g is None else grams(tare_step_g, "the scale's step for the tare")
    if ring.mass_g <= 0:
        raise ValueError("a ring weighs more than nothing")
    if gross - tare < -(step + tare_step) / 2:
        raise Unweighable("The bag weighs less than its tare. Check both, and which bag it is.")
    weighing = _Weighing(max(0.0, gross - tare), step, tare_step, ring, sample_in_bag)
    estimate = weighing.net_g / ring.mass_g
    low, high, fits = _range(weighing, estimate)
    return WeighedCount(
        estimate=estimate,
        count=min(max(_nearest(estimate), low), high),
        low=low,
        high=high,
        certain=low == high and fits,
        sample_needed=None if low == high else _sample_needed(weighing, estimate),
        u=weighing.u_g(estimate) / ring.mass_g,
        lines=_lines(weighing, estimate),
        fits=fits,
    )


def _nearest(estimate: float) -> int:
    return math.floor(estimate + 0.5)


def _range(weighing: _Weighing, estimate: float) -> tuple[int, int, bool]:
    """Return the lowest and highest whole count that is not contradicted, and whether any count fits at all."""
    outer = (1 - LEVEL) / 2
    below, above = math.floor(estimate), math.ceil(estimate)
    stride = max(1, math.ceil(weighing.u_g(estimate) / weighing.ring.mass_g))
    # Fewer rings than these are contradicted, and so are more than those. With a sharp weighing low may exceed high.
    low = _first(lambda count: weighing.chance_below(count) <= 1 - outer, above, -stride, 0)
    high = _first(lambda count: weighing.chance_below(count) >= outer, below, stride, _WIDEST * (above + 1))
    fits = max(min(chance, 1 - chance) for chance in map(weighing.chance_below, {below, above})) >= _FITTING / 2
    if not fits:
        return min(low, below), max(high, above), False
    if high - low <= 2:
        counts = [*_likeliest(weighing, estimate), *((low, high) if low <= high else ())]
        low, high = min(counts), max(counts)
    return low, high, True


def _first(holds: Callable[[int], bool], start: int, stride: int, end: int) -> int:
    """Return the last whole number from `start` towards `end` for which a condition holds; at the start it does."""
    good, step = start, stride
    while good != end:
        ahead = max(end, good + step) if step < 0 else min(end, good + step)
        if not holds(ahead):
            while abs(ahead - good) > 1:
                middle = (good + ahead) // 2
                good, ahead = (middle, ahead) if holds(middle) else (good, middle)
            return good
        good, step = ahead, 2 * step
    return good


def _likeliest(weighing: _Weighing, estimate: float) -> list[int]:
    """Return the likeliest counts, until 95 % of the likelihood of all near ones is with them."""
    near = range(max(0, math.floor(estimate) - 3), math.ceil(estimate) + 4)
    likelihoods = {count: weighing.likelihood(count) for count in near}
    whole, inside = sum(likelihoods.values()), 0.0
    counts = []
    for count in sorted(near, key=lambda each: (-likelihoods[each], abs(each - estimate))):
        counts.append(count)
        inside += likelihoods[count]
        if inside >= LEVEL * whole:
            break
    return counts


def tells_apart(weighing: _Weighing, rings: int) -> bool:
    """Tell whether a weighing tells a bag of so many rings from one ring more or less, 95 times in 100."""
    return weighing.errors(rings).within(weighing.ring.mass_g / 2) >= LEVEL


def _with_sample(weighing: _Weighing, sample_rings: int) -> _Weighing:
    """Return the same weighing with the ring's mass from one sample of so many rings instead."""
    ring = weighing.ring
    step = ring.step_g if ring.sample_rings else weighing.gross_step_g
    planned = replace(
        ring,
        mean_sd_g=ring.scatter_g / math.sqrt(sample_rings),
        even_g=(("the scale's step on the sample", step / 2 / sample_rings),),
        sample_rings=sample_rings,
        step_g=step,
        shape_g=(),
    )
    return replace(weighing, ring=planned)


def _sample_needed(weighing: _Weighing, estimate: float) -> int | None:
    """Return the smallest sample, larger than this one and smaller than the bag, that settles the count."""
    bag = _nearest(estimate)
    low, high = weighing.ring.sample_rings, bag - 1
    if high <= low or not tells_apart(_with_sample(weighing, high), bag):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if tells_apart(_with_sample(weighing, middle), bag) else (middle, high)
    return high


def largest_settled(ring: RingMass, *, step_g: Grams, tare_step_g: Grams = 0, most: int = 100_000) -> int:
    """Return the most rings that can be weighed at once so that their count is settled: how to portion a large bag.

    0 when not even one is. Raises: ValueError.
    """
    weighing = _Weighing(0.0, grams(step_g, "the step"), grams(tare_step_g, "the tare's step"), ring, False)
    if not tells_apart(weighing, 1):
        return 0
    return _first(lambda count: tells_apart(weighing, count), 1, 1, most)


def _lines(weighing: _Weighing, estimate: float) -> tuple[ErrorPart, ...]:
    """Return the parts of the uncertainty, each with its share of the variance; the largest first."""
    ring, mass = weighing.ring, weighing.ring.mass_g
    mean, bag = estimate * ring.mean_sd_g, math.sqrt(estimate) * ring.scatter_g
    parts = [
        ("the scale's step on the full bag", weighing.gross_step_g / math.sqrt(12), "its display rounds"),
        ("the scale's step on the empty bag", weighing.tare_step_g / math.sqrt(12), "its display rounds"),
    ]
    if weighing.sample_in_bag:
        parts.append(("the sample stands for all rings", math.sqrt(max(0.0, mean**2 - bag**2)), ring.source))
    else:
        parts.append(("the mean mass of a ring", mean, ring.source))
        parts.append(("rings in the bag differ", bag, "it averages out over many rings"))
    parts += [(label, estimate * half / math.sqrt(3), "the same for every ring") for label, half in ring.even_g]
    whole = sum(sd**2 for _, sd, _ in parts)
    lines = [ErrorPart(label, sd / mass, sd**2 / whole, reason) for label, sd, reason in parts if sd > 0]
    return tuple(sorted(lines, key=lambda line: -line.rings))
