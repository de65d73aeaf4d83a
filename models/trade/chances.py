"""Chances: the normal and Student's t distribution, and sums of them with the even errors of a scale's display.

Floats throughout: these are errors of estimates, never amounts. Not here: what is estimated (weighing, timings).
Sources, from memory: Abramowitz and Stegun, Handbook of Mathematical Functions, 26.5.8 (incomplete beta as a continued
fraction) and 26.7.1 (Student's t through it); a sum of even errors follows the Irwin-Hall law with unequal widths.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import product
from statistics import NormalDist

NORMAL = NormalDist()
# From here on Student's t differs from the normal by less than a thousandth at the quantiles in use.
_AS_GOOD_AS_NORMAL = 2000.0
_MOST_BOXES = 3


def normal_cdf(x: float) -> float:
    """Return the chance that a standard normal value is below x."""
    return 0.5 * math.erfc(-x / math.sqrt(2))


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Return the continued fraction of the incomplete beta function (Lentz's method)."""
    tiny = 1e-300
    c, d = 1.0, 1.0 - (a + b) * x / (a + 1)
    d = 1.0 / (d if abs(d) > tiny else tiny)
    result = d
    for m in range(1, 400):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for step in (even, odd):
            d = 1.0 + step * d
            d = 1.0 / (d if abs(d) > tiny else tiny)
            c = 1.0 + step / c
            c = c if abs(c) > tiny else tiny
            result *= d * c
        if abs(d * c - 1.0) < 1e-12:
            break
    return result


@lru_cache(maxsize=64)
def _log_beta_half(dof: float) -> float:
    """Return the logarithm of 1 / B(dof/2, 1/2)."""
    return math.lgamma(dof / 2 + 0.5) - math.lgamma(dof / 2) - math.lgamma(0.5)


def t_cdf(x: float, dof: float) -> float:
    """Return the chance that Student's t with these degrees of freedom is below x; infinite degrees are the normal.

    Raises: ValueError unless dof > 0.
    """
    if dof <= 0:
        raise ValueError("degrees of freedom are above zero")
    if dof >= _AS_GOOD_AS_NORMAL:
        return normal_cdf(x)
    if x == 0:
        return 0.5
    a, b = dof / 2, 0.5
    y = dof / (dof + x * x)
    front = math.exp(_log_beta_half(dof) + a * math.log(y) + b * math.log1p(-y)) if y < 1 else 0.0
    if y < (a + 1) / (a + b + 2):
        tail = front * _beta_fraction(a, b, y) / a
    else:
        tail = 1.0 - front * _beta_fraction(b, a, 1.0 - y) / b
    return 1.0 - tail / 2 if x > 0 else tail / 2


@lru_cache(maxsize=4096)
def t_quantile(chance: float, dof: float) -> float:
    """Return the value below which Student's t lies with this chance.

    Raises: ValueError unless 0 < chance < 1 and dof > 0.
    """
    if not 0 < chance < 1:
        raise ValueError("a chance lies between 0 and 1")
    if dof >= _AS_GOOD_AS_NORMAL:
        return NORMAL.inv_cdf(chance)
    if chance < 0.5:
        return -t_quantile(1 - chance, dof)
    low, high = 0.0, 2.0
    while t_cdf(high, dof) < chance:
        low, high = high, 2 * high
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if t_cdf(middle, dof) < chance else (low, middle)
    return (low + high) / 2


def box_cdf(x: float, halves: Sequence[float]) -> float:
    """Return the chance that a sum of even errors, each within plus or minus its half width, is below x."""
    count = len(halves)
    total = 0.0
    for signs in product((1, -1), repeat=count):
        reach = x + sum(sign * half for sign, half in zip(signs, halves, strict=True))
        if reach > 0:
            total += math.prod(signs) * reach**count
    return min(1.0, max(0.0, total / (math.factorial(count) * math.prod(2 * half for half in halves))))


@dataclass(frozen=True)
class ErrorSum:
    """A sum of one bell-shaped error (standard deviation `sd`, Student's t with `dof`) and even errors of half widths.

    Even errors beyond the three widest, and those under a fiftieth of the whole, are counted with the bell: too little
    of them is left to see their shape.
    """

    sd: float
    dof: float
    halves: tuple[float, ...]

    @cached_property
    def u(self) -> float:
        """The standard uncertainty of the sum."""
        return math.sqrt(self.sd**2 + sum(half**2 for half in self.halves) / 3)

    @cached_property
    def _shape(self) -> tuple[float, tuple[float, ...], tuple[tuple[float, float], ...]]:
        """The bell that is left, the even errors that keep their shape, and these as weighted points."""
        widest = sorted((half for half in self.halves if half > 0.02 * self.u), reverse=True)[:_MOST_BOXES]
        variance = max(0.0, self.u**2 - sum(half**2 for half in widest) / 3)
        sd = math.sqrt(variance)
        width = sum(widest)
        if not widest or sd < width / 50:
            return sd, tuple(widest), ()
        # Points hardly further apart than the bell is wide smooth out to four digits.
        cells = max(8, math.ceil(1.7 * width / sd))
        edges = [width * (2 * cell / cells - 1) for cell in range(cells + 1)]
        levels = [box_cdf(edge, widest) for edge in edges]
        points = tuple(((edges[cell] + edges[cell + 1]) / 2, levels[cell + 1] - levels[cell]) for cell in range(cells))
        return sd, tuple(widest), points

    def cdf(self, x: float) -> float:
        """Return the chance that the sum of errors is below x."""
        sd, widest, points = self._shape
        if points:
            return sum(weight * t_cdf((x - point) / sd, self.dof) for point, weight in points if weight)
        if widest:
            # A bell this narrow only blurs the edges: an even error of the same deviation does as well.
            return box_cdf(x, (*widest, math.sqrt(3) * sd) if sd > 1e-6 * self.u else widest)
        if sd:
            return t_cdf(x / sd, self.dof)
        return 0.5 if x == 0 else float(x > 0)

    def within(self, reach: float) -> float:
        """Return the chance that the sum of errors lies within plus or minus `reach`."""
        return max(0.0, 2 * self.cdf(reach) - 1)
