"""The learning curve, unit model: the nth piece takes T1 x n^b, b = log2(learning).

Which work it applies to is decided in `labour`. The cumulative-average model is not used.
Source: Crawford's unit model, as worked in Boehmke and Freels, learningCurve (2018).
"""

from __future__ import annotations

from decimal import Context, Decimal
from functools import lru_cache

from models.costing.exact import EXACT, ONE

# A time is never known to twenty digits; a power to fifty would cost ten times as much.
_POWERS = Context(prec=20)
MOST_TOGETHER = 10_000


def slope(learning: Decimal) -> Decimal:
    """The exponent b = log2(learning), to 20 digits: -0.2344652536 at 0.85, 0 at 1."""
    return _POWERS.divide(_POWERS.ln(learning), _POWERS.ln(Decimal(2)))


@lru_cache(maxsize=64)
def _units(learning: Decimal, count: int) -> tuple[Decimal, ...]:
    """n^b for n = 1 … count; only primes are raised to the power, the rest are products."""
    b = slope(learning)
    divisor = list(range(count + 1))
    for n in range(2, int(count**0.5) + 1):
        if divisor[n] == n:
            for multiple in range(n * n, count + 1, n):
                if divisor[multiple] == multiple:
                    divisor[multiple] = n
    units = [ONE, ONE]
    for n in range(2, count + 1):
        least = divisor[n]
        units.append(_POWERS.power(Decimal(n), b) if least == n else _POWERS.multiply(units[least], units[n // least]))
    return tuple(units[1:])


@lru_cache(maxsize=256)
def total_factor(learning: Decimal, count: int) -> Decimal:
    """How many times the first piece's time `count` pieces take together.

    Raises: ValueError outside 1 to 10,000 pieces, or for a learning outside (0, 1].
    """
    if not 1 <= count <= MOST_TOGETHER:
        raise ValueError(f"pieces made together must be 1 to {MOST_TOGETHER}")
    if not 0 < learning <= 1:
        raise ValueError("learning must lie above 0 and at most at 1")
    if learning == ONE:
        return Decimal(count)
    return sum(_units(learning, count), Decimal(0))


def unit_factor(learning: Decimal, number: int) -> Decimal:
    """How many times the first piece's time the piece with this number takes."""
    return ONE if learning == ONE else _POWERS.power(Decimal(number), slope(learning))


def average_factor(learning: Decimal, count: int) -> Decimal:
    """The average time of `count` pieces made together, against the first piece's; 1 when learning is off."""
    return ONE if learning == ONE else EXACT.divide(total_factor(learning, count), Decimal(count))
