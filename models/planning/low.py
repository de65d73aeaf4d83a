"""Whether an item is low, and how much of it to buy: one rule, for every page, list, file and call that says so.

A re-order point is reached by what is at or below it, not only by what fell under it: order when the inventory position
is down to the point. The position is what is free and what is coming, less what is asked for. Common practice, as the
continuous-review (r, Q) policy in Snyder and Shen, Fundamentals of Supply Chain Theory, has it (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

STEP_MILLI = 1000
"""Without a target an item is brought this far over its point, so that it is no longer at it: one unit."""


@dataclass(frozen=True, slots=True)
class Standing:
    """How an item stands; thousandths of its unit.

    `low` says that what is free is at or below the point, whatever is coming. `buy_again` says the same of the
    position, so that what is on order already is not bought twice. `to_buy_milli` brings the position to the target,
    or just over the point; without a point it is what the position is short of what is asked.
    """

    low: bool = False
    buy_again: bool = False
    to_buy_milli: int = 0


def at_point(milli: int, point_milli: int | None) -> bool:
    """Return whether so much has reached the re-order point: it is at or below it. Without a point nothing has."""
    return point_milli is not None and milli <= point_milli


def standing(
    *,
    free_milli: int,
    point_milli: int | None,
    target_milli: int | None = None,
    coming_milli: int = 0,
    asked_milli: int = 0,
    plenty: bool = False,
) -> Standing:
    """Return how an item stands that has so much free, so much on order or drafted, and so much asked of it.

    Of what nobody counts because there is plenty, nothing is low and nothing is bought.
    """
    if plenty:
        return Standing()
    position = free_milli + coming_milli - asked_milli
    if not at_point(position, point_milli) or point_milli is None:
        return Standing(at_point(free_milli, point_milli), False, max(-position, 0))
    up_to = max(target_milli or 0, point_milli + STEP_MILLI)
    return Standing(at_point(free_milli, point_milli), True, up_to - position)
