"""How a price is made to end: always upward, so that rounding never takes a price below what it must bring.

Which price is rounded is decided in `prices`.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal

from models.costing.exact import HUNDRED, ONE, ZERO, exactly
from models.trade.money import minor_digits
from models.trade.vocabulary.selling import PRICE_ENDINGS


@exactly
def round_up_to_ending(amount: Decimal, ending: str, currency: str) -> Decimal:
    """The lowest price of at least `amount` that ends as the rule says, in whole minor units.

    In a currency without two decimals (JPY), the ending is that of the last two digits: 'x.90' gives 1290 for 1234.
    Raises: ValueError for an unknown ending or currency.
    """
    if ending not in PRICE_ENDINGS:
        raise ValueError(f"no rule says that prices end in {ending}")
    digits = minor_digits(currency)
    step = ONE.scaleb(-digits)
    amount = max(amount, ZERO)
    if ending == "any":
        price = _up(amount / step) * step
    elif not ending.startswith("x"):
        multiple = Decimal(ending)
        price = _up(amount / multiple) * multiple
    else:
        whole = ONE if digits >= 2 else HUNDRED
        part = Decimal(ending.removeprefix("x")) * whole
        price = max(_up((amount - part) / whole), ZERO) * whole + part
    return price.quantize(step)


def _up(value: Decimal) -> Decimal:
    return value.to_integral_value(rounding=ROUND_CEILING)
