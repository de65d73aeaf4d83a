"""Exact money: Decimal in the core, whole millionths in the database, and the few named steps that round.

Not here: how money is printed for a locale (webapp). No float is ever accepted.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal, InvalidOperation
from functools import cache

import iso4217

from models.trade.number_shape import NumberShape, Reads, shape_of
from models.trade.typed import Unreadable, read_number, shown, tidy

__all__ = [
    "CASH_STEPS", "MICROS", "Money", "Unreadable", "amount", "cash_round", "from_micros", "is_currency", "millionth",
    "minor_digits", "parse_amount", "round_to_pay", "to_micros",
]  # fmt: skip

MICROS = 1_000_000
# Far above any amount of a small studio, and far below what 50 digits or 64 bits would lose.
_CONTEXT = Context(prec=60, rounding=ROUND_HALF_EVEN)
_MILLIONTH = Decimal("0.000001")
_MAX_MICROS = 2**63 - 1
_MAX_TYPED = Decimal(1_000_000_000)
_EXAMPLE = "4.50"

# The smallest coin where it is larger than the minor unit. Source: from memory of the central banks' notices.
CASH_STEPS: dict[str, Decimal] = {
    "AUD": Decimal("0.05"), "CAD": Decimal("0.05"), "CHF": Decimal("0.05"), "NZD": Decimal("0.10"),
}  # fmt: skip


def amount(value: str | int | Decimal) -> Decimal:
    """Return an exact amount from plain text, an int or a Decimal.

    Raises: TypeError for a float or another type, ValueError for what is not a finite number.
    """
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
        raise TypeError(f"money is never a {type(value).__name__}")
    try:
        result = Decimal(value)
    except InvalidOperation:
        raise ValueError("not an amount of money") from None
    if not result.is_finite():
        raise ValueError("not an amount of money")
    return result


def parse_amount(
    text: str | int | Decimal, *, negative: bool = False, shape: NumberShape | None = None, reads: Reads = "count"
) -> Decimal:
    """Return the amount that a person typed, in the shape that the text knows of or that is given; exact, unrounded.

    '1,234' is refused with a question, as it may mean 1234 or 1.234. Raises: Unreadable.
    """
    shape = shape_of(text) if shape is None else shape
    typed = tidy(text, _EXAMPLE, shape)
    if "/" in typed:
        raise Unreadable(f"“{shown(typed)}” is not an amount. Type something like {_EXAMPLE}.")
    # A program's '1,234' is asked of any amount.
    value = read_number(typed, _EXAMPLE, shape, "count" if shape.plain else reads)
    result = _CONTEXT.divide(Decimal(value.numerator), Decimal(value.denominator))
    if result < 0 and not negative:
        raise Unreadable(f"An amount can't be below zero here. Type something like {_EXAMPLE}.")
    if abs(result) > _MAX_TYPED:
        raise Unreadable(f"This amount is more than 1,000,000,000. Type something like {_EXAMPLE}.")
    return result


def to_micros(value: Decimal) -> int:
    """Return an amount in whole millionths, rounded once, half to even. Raises: TypeError, ValueError (64 bits)."""
    micros = int(_CONTEXT.scaleb(amount(value), 6).to_integral_value(rounding=ROUND_HALF_EVEN))
    if abs(micros) > _MAX_MICROS:
        raise ValueError("this amount of money is too large to keep")
    return micros


def from_micros(micros: int) -> Decimal:
    """Return whole millionths as an exact amount, with no zeros at its end beyond two decimals."""
    if isinstance(micros, bool) or not isinstance(micros, int):
        raise TypeError("millionths of money are whole numbers")
    value = _CONTEXT.scaleb(Decimal(micros), -6)
    places = 6
    while places > 2 and micros % 10 ** (7 - places) == 0:
        places -= 1
    return value.quantize(Decimal(1).scaleb(-places), context=_CONTEXT)


def millionth(value: Decimal) -> Decimal:
    """Return an amount rounded half to even to a millionth: the named step for every line of a cost."""
    return amount(value).quantize(_MILLIONTH, rounding=ROUND_HALF_EVEN, context=_CONTEXT)


@cache
def _minor_digits() -> dict[str, int]:
    """Return the ISO 4217 minor digits by code, without the codes that have none (metals, funds, tests)."""
    return {each.code: int(each.exponent) for each in iso4217.Currency if each.exponent is not None}


def is_currency(code: str) -> bool:
    """Tell whether this is a current ISO 4217 code in which one can pay (so not XAU, XXX or XTS)."""
    return code in _minor_digits()


def minor_digits(currency: str) -> int:
    """Return the decimals of a currency's minor unit (2 EUR, 0 JPY, 3 KWD). Raises: ValueError. Source: ISO 4217."""
    try:
        return _minor_digits()[currency]
    except KeyError:
        raise ValueError(f"{currency} is not a currency that one can pay in") from None


def round_to_pay(value: Decimal, currency: str) -> Decimal:
    """Return what a person is asked to pay: rounded half away from zero to the currency's minor unit."""
    step = Decimal(1).scaleb(-minor_digits(currency))
    return amount(value).quantize(step, rounding=ROUND_HALF_UP, context=_CONTEXT)


def cash_round(value: Decimal, currency: str, step: Decimal | None = None) -> Decimal:
    """Return what is paid in coins: rounded half away from zero to the step, or to the currency's smallest coin.

    Raises: ValueError for a step of zero or less.
    """
    step = CASH_STEPS.get(currency) if step is None else step
    paid = round_to_pay(value, currency)
    if step is None:
        return paid
    if step <= 0:
        raise ValueError("a step of cash must be above zero")
    coins = _CONTEXT.divide(amount(value), step).quantize(Decimal(1), rounding=ROUND_HALF_UP, context=_CONTEXT)
    return round_to_pay(coins * step, currency)


@dataclass(frozen=True, slots=True)
class Money:
    """An amount with its currency, for the edges of the program. Raises: TypeError for a float, ValueError."""

    amount: Decimal
    currency: str

    def __post_init__(self) -> None:
        if not isinstance(self.amount, Decimal):
            raise TypeError(f"money is never a {type(self.amount).__name__}")
        amount(self.amount)
        minor_digits(self.currency)

    def to_pay(self) -> Money:
        """Return this money rounded to what a person is asked to pay."""
        return Money(round_to_pay(self.amount, self.currency), self.currency)

    def __add__(self, other: Money) -> Money:
        if other.currency != self.currency:
            raise ValueError(f"{self.currency} and {other.currency} can't be added")
        return Money(_CONTEXT.add(self.amount, other.amount), self.currency)
