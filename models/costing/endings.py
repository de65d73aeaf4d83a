"""How a price is made to end: always upward, so that rounding never takes a price below what it must bring.

Which price is rounded is decided in `prices`.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_CEILING, Decimal
from types import MappingProxyType

from models.costing.exact import HUNDRED, ONE, ZERO, exactly
from models.trade.money import minor_digits

ENDINGS: Mapping[str, str] = MappingProxyType(
    {
        "any": "no rule: up to the smallest coin",
        "x.00": "whole amounts",
        "x.50": "ends in .50",
        "x.90": "ends in .90",
        "x.95": "ends in .95",
        "x.99": "ends in .99",
        "5": "multiples of five",
    }
)


@exactly
def round_up_to_ending(amount: Decimal, ending: str, currency: str) -> Decimal:
    """The lowest price of at least `amount` that ends as the rule says, in whole minor units.

    In a currency without two decimals (JPY), the ending is that of the last two digits: 'x.90' gives 1290 for 1234.
    Raises: ValueError for an unknown ending or currency.
    """
    if ending not in ENDINGS:
        raise ValueError(f"no rule says that prices end in {ending}")
    digits = minor_digits(currency)
    step = ONE.scaleb(-digits)
    amount = max(amount, ZERO)
    if ending == "any":
        price = _up(amount / step) * step
    elif ending == "5":
        price = _up(amount / 5) * 5
    else:
        whole = ONE if digits >= 2 else HUNDRED
        part = Decimal(ending.removeprefix("x")) * whole
        price = max(_up((amount - part) / whole), ZERO) * whole + part
    return price.quantize(step)


def _up(value: Decimal) -> Decimal:
    return value.to_integral_value(rounding=ROUND_CEILING)
