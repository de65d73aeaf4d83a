"""Textbook formulas of stock keeping: how much to order at once, how much to hold ready, how many to make for one day.

Money is Decimal throughout; quantities that come from a distribution are computed in floating point. What they mean for
an item of the shop is in `reorder`. Source, unless another stands beside a formula: Snyder and Shen, Fundamentals of
Supply Chain Theory, 2nd edition, chapters 3 to 5.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Context, Decimal
from itertools import pairwise
from math import exp, gcd, inf, sqrt
from statistics import NormalDist

TWO = Decimal(2)
ONE = Decimal(1)
ZERO = Decimal(0)
_CONTEXT = Context(prec=28)
_STANDARD = NormalDist()
# Sizes of takes are told apart to a four-hundredth of the largest: finer steps cost time and decide nothing.
_SIZES = 400


@dataclass(frozen=True, slots=True)
class OrderSize:
    """How much to order at once, and what ordering and holding cost a year with it (for a discount the goods too)."""

    quantity: Decimal
    cost: Decimal
    unit_price: Decimal | None = None


@dataclass(frozen=True, slots=True)
class OneTime:
    """How much to have ready for a single sale period: the share of periods it is enough for, and its expected cost."""

    quantity: Decimal
    ratio: Decimal
    z: Decimal | None
    cost: Decimal


def economic_order(demand: Decimal, order_cost: Decimal, holding_cost: Decimal) -> OrderSize:
    """Return the order that makes ordering and holding cheapest: Q = sqrt(2 K D / h), costing sqrt(2 K D h) a year.

    `demand` is per year, `order_cost` per order, `holding_cost` per unit and year; unrounded. Raises: ValueError unless
    all are above zero. Source: Harris 1913; section 3.2 of the book.
    """
    _above_zero(demand=demand, order_cost=order_cost, holding_cost=holding_cost)
    quantity = _CONTEXT.sqrt(TWO * order_cost * demand / holding_cost)
    return OrderSize(quantity, yearly_cost(quantity, demand, order_cost, holding_cost))


def yearly_cost(quantity: Decimal, demand: Decimal, order_cost: Decimal, holding_cost: Decimal) -> Decimal:
    """Return what ordering so much at once costs a year: K D / Q + h Q / 2, without the goods; unrounded."""
    ordering = _CONTEXT.divide(order_cost * demand, quantity)
    return _CONTEXT.add(ordering, _CONTEXT.divide(holding_cost * quantity, TWO))


def discount_order(
    demand: Decimal, order_cost: Decimal, holding_rate: Decimal, prices: Sequence[tuple[Decimal, Decimal]]
) -> OrderSize:
    """Return the cheapest order where the price of every unit falls from a quantity on (all-units discount).

    `prices` are (from this quantity on, price of a unit), rising; `holding_rate` is the share of a unit's price that
    holding it for a year costs. Each price's own best order, if it earns that price, and each break are compared; the
    cost is with the goods. Raises: ValueError unless all are above zero and the quantities rise. Source: section 3.4.
    """
    _above_zero(demand=demand, order_cost=order_cost, holding_rate=holding_rate, prices=min(p for _, p in prices))
    starts = [start for start, _ in prices]
    if any(later <= earlier for earlier, later in pairwise(starts)):
        raise ValueError("the quantities from which prices fall must rise")
    found = []
    for (start, price), end in zip(prices, [*starts[1:], None], strict=True):
        holding = holding_rate * price
        best = economic_order(demand, order_cost, holding).quantity
        if end is not None and best >= end:
            # At that size a lower price holds already, and it is compared with that one.
            continue
        quantity = max(best, start)
        cost = yearly_cost(quantity, demand, order_cost, holding) + price * demand
        found.append(OrderSize(quantity, cost, price))
    return min(found, key=lambda each: each.cost)


def critical_ratio(over_cost: Decimal, short_cost: Decimal) -> Decimal:
    """Return the share of times that having enough pays: p / (p + h), with p for each missing, h for each left over."""
    _above_zero(over_cost=over_cost, short_cost=short_cost)
    return _CONTEXT.divide(short_cost, short_cost + over_cost)


def ready_normal(mean: Decimal, sd: Decimal, over_cost: Decimal, short_cost: Decimal) -> OneTime:
    """Return how much to have ready once for normal demand: S = mean + z sd, at the cost (p + h) sd phi(z); unrounded.

    Raises: ValueError unless costs and deviation are above zero. Source: section 4.3 (newsvendor).
    """
    _above_zero(sd=sd)
    ratio = critical_ratio(over_cost, short_cost)
    z = _STANDARD.inv_cdf(float(ratio))
    cost = (over_cost + short_cost) * sd * _decimal(_STANDARD.pdf(z))
    return OneTime(mean + _decimal(z) * sd, ratio, _decimal(z), cost)


def ready_poisson(mean: Decimal, over_cost: Decimal, short_cost: Decimal) -> OneTime:
    """Return how many to have ready once where demand is Poisson: the fewest with P(D <= S) >= p / (p + h).

    Raises: ValueError unless all are above zero. Source: section 4.4 (newsvendor, discrete).
    """
    _above_zero(mean=mean)
    ratio = critical_ratio(over_cost, short_cost)
    quantity = poisson_quantile(float(mean), float(ratio))
    chances = _poisson_chances(float(mean), quantity)
    left_over = sum((quantity - n) * chance for n, chance in enumerate(chances))
    missing = float(mean) - quantity + left_over
    cost = over_cost * _decimal(left_over) + short_cost * _decimal(missing)
    return OneTime(Decimal(quantity), ratio, None, cost)


def normal_quantile(mean: float, sd: float, share: float) -> float:
    """Return what normal demand stays within, so often. Raises: ValueError for a share outside 0 to 1."""
    _share(share)
    return mean + sd * _STANDARD.inv_cdf(share)


def safety_factor(share: float) -> float:
    """Return the standard deviations above the mean that normal demand stays within, so often."""
    _share(share)
    return _STANDARD.inv_cdf(share)


def poisson_quantile(mean: float, share: float) -> int:
    """Return the fewest events that Poisson demand stays within, so often. Raises: ValueError for a share or mean.

    Means up to 700 are computed as they are; beyond, the sum would start below the smallest number.
    """
    return compound_quantile(mean, {1: 1}, share)


def compound_quantile(mean_takes: float, sizes: Mapping[int, int], share: float) -> int:
    """Return what demand stays within, so often, when takes come at random and each takes one of the sizes seen.

    `sizes` are whole amounts and how often each was seen. Takes are Poisson; the sum of their sizes is found by
    Panjer's recursion. Large sizes are rounded up to a four-hundredth of the largest. Raises: ValueError for a share
    outside 0 to 1, no or more than 700 takes, or a size below 1. Source: Panjer 1981, ASTIN Bulletin 12, 22-26.
    """
    _share(share)
    if not 0 < mean_takes <= 700:
        raise ValueError("the takes expected are above zero, 700 at the most")
    if not sizes or min(sizes) < 1 or min(sizes.values()) < 1:
        raise ValueError("sizes are 1 or more and were seen")
    unit = gcd(*sizes)
    if max(sizes) // unit > _SIZES:
        unit = -(-max(sizes) // _SIZES)
    total = sum(sizes.values())
    chance_of: dict[int, float] = {}
    for size, seen in sizes.items():
        units = -(-size // unit)
        chance_of[units] = chance_of.get(units, 0.0) + seen / total
    chances = [exp(-mean_takes)]
    reached = chances[0]
    # More takes than this have a chance below the rounding of the sum, which may keep it from ever reaching a share
    # next to 1.
    most = int(mean_takes + 12 * sqrt(mean_takes) + 40) * max(chance_of)
    while reached < share and len(chances) <= most:
        units = len(chances)
        chance = sum(size * part * chances[units - size] for size, part in chance_of.items() if size <= units)
        chances.append(chance * mean_takes / units)
        reached += chances[-1]
    return (len(chances) - 1) * unit


def whole_up(value: Decimal | float, step: int = 1) -> int:
    """Return a quantity rounded up to whole steps, forgiving the last digits of floating point."""
    exact = value if isinstance(value, Decimal) else _decimal(value)
    steps = (exact / step).quantize(Decimal("1e-9")).to_integral_value(rounding=ROUND_CEILING)
    return int(steps) * step


def _poisson_chances(mean: float, most: int) -> list[float]:
    """The chances of 0, 1 … `most` events."""
    chances = [exp(-mean)]
    for n in range(1, most + 1):
        chances.append(chances[-1] * mean / n)
    return chances


def _above_zero(**values: Decimal) -> None:
    for name, value in values.items():
        if not isinstance(value, Decimal):
            raise TypeError(f"{name.replace('_', ' ')} is a Decimal")
        if not value.is_finite() or value <= 0:
            raise ValueError(f"{name.replace('_', ' ')} must be above zero, not {value}")


def _share(share: float) -> None:
    if not 0 < share < 1:
        raise ValueError(f"a share is between 0 and 1, not {share}")


def _decimal(value: float) -> Decimal:
    """A floating-point quantity as the shortest Decimal that names it."""
    if value in {inf, -inf}:
        raise ValueError("a quantity has an end")
    return Decimal(repr(value))
