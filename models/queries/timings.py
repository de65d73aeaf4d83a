"""How long builds took beside how long they should take: whether a timing looks odd.

What the shop learns from its timings stands in `models/costing`.
"""

from __future__ import annotations

from decimal import Decimal

from models.queries.build_parts import Estimate

# A timing this many times over its likely range, or under it, asks before it counts. [a choice of ours, no source]
ODD_TIMES = 3


def looks_odd(estimate: Estimate, minutes: Decimal) -> bool:
    """Whether a timing is so far from what was expected that somebody should look at it before it counts."""
    return minutes > estimate.high * ODD_TIMES or minutes * ODD_TIMES < estimate.low
