"""The arithmetic that every costing uses: fifty significant digits, half to even, and a loud error instead of a NaN.

Rounding of money for people to pay is not here (`models.trade.money`).
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import ROUND_HALF_EVEN, Context, Decimal, DivisionByZero, InvalidOperation, Overflow, localcontext
from functools import wraps
from typing import ParamSpec, TypeVar

ZERO = Decimal(0)
ONE = Decimal(1)
HUNDRED = Decimal(100)
SECONDS_PER_MINUTE = Decimal(60)
MINUTES_PER_HOUR = Decimal(60)

EXACT = Context(prec=50, rounding=ROUND_HALF_EVEN, traps=[InvalidOperation, DivisionByZero, Overflow])

P = ParamSpec("P")
R = TypeVar("R")


def exactly(function: Callable[P, R]) -> Callable[P, R]:
    """Run a function in the costing context, whatever context its caller has."""

    @wraps(function)
    def inside(*args: P.args, **kwargs: P.kwargs) -> R:
        with localcontext(EXACT):
            return function(*args, **kwargs)

    return inside


def not_negative(name: str, value: Decimal) -> None:
    """Refuse a negative, endless or floating number where the trade knows none.

    Raises: ValueError for a negative or non-finite value, TypeError for anything but a Decimal.
    """
    if not isinstance(value, Decimal):
        raise TypeError(f"{name} must be a Decimal, not {type(value).__name__}")
    if not value.is_finite() or value < 0:
        raise ValueError(f"{name} must be zero or more, not {value}")
