"""Margin and mark-up: the two ways to say how much of a price is profit.

Margin is profit as a share of the price, mark-up profit as a share of the cost. Both are fractions.
"""

from __future__ import annotations

from decimal import Decimal

from models.costing.exact import ONE, exactly


@exactly
def margin_of_markup(markup: Decimal) -> Decimal:
    """The share of the price that a mark-up on the cost leaves: 0.25 gives 0.2."""
    return markup / (ONE + markup)


@exactly
def markup_of_margin(margin: Decimal) -> Decimal:
    """The mark-up on the cost that leaves a share of the price: 0.2 gives 0.25.

    Raises: ValueError from a margin of 1, which no mark-up reaches.
    """
    if margin >= ONE:
        raise ValueError("no mark-up leaves the whole price as profit")
    return margin / (ONE - margin)
