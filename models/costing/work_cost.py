"""What minutes at the bench cost a shop: their wage, and the overhead that goes with them.

A design, a job and a finished build all ask here, so that a build costs what its design said where all went as thought.
"""

from __future__ import annotations

from decimal import Decimal

from models.costing.exact import HUNDRED, MINUTES_PER_HOUR, exactly
from models.costing.inputs import ShopRates
from models.trade.money import millionth


@exactly
def wage_of(minutes: Decimal, rates: ShopRates) -> Decimal:
    """What so many minutes are paid, rounded once to a millionth, half to even."""
    return millionth(minutes * rates.wage_per_hour / MINUTES_PER_HOUR)


@exactly
def overhead_of(minutes: Decimal, base: Decimal, rates: ShopRates) -> Decimal:
    """Rent, tools, insurance and the like: by the hour, or as a share of `base`, which is all the rest of the cost.

    It is rounded once to a millionth, half to even.
    """
    if rates.overhead_mode == "hour":
        return millionth(minutes * rates.overhead_per_hour / MINUTES_PER_HOUR)
    return millionth(base * rates.overhead_percent / HUNDRED)
