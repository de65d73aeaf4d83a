"""The starting rates and factors of a new shop, and the words for each kind of work.

They are guesses and say so; a shop's own timings replace them. How they turn into minutes stands in `labour`.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType

from models.costing.inputs import DifficultyFactors, Rate, SmallRings
from models.trade.vocabulary.bench import WORK_KINDS

GUESS = "a guess of common practice; your own timings replace it"
YOUR_FIGURE = "your own figure"


def kind_words(kind: str) -> str:
    """The words a page shows for a kind of work; a kind of the shop's own is shown as it was named."""
    words = WORK_KINDS.get(kind, kind)
    return words[:1].upper() + words[1:]


def _rate(kind: str, seconds: str, per: str, low: str, high: str) -> Rate:
    return Rate(kind, Decimal(seconds), per, Decimal(low), Decimal(high), GUESS)


# Seconds of hands-on time; low and high factors are the 10th and 90th of a hundred days. [common practice, no source]
STARTING_RATES: Mapping[str, Rate] = MappingProxyType(
    {
        rate.kind: rate
        for rate in (
            _rate("setup", "600", "batch", "0.6", "1.6"),
            _rate("open", "4", "ring", "0.7", "1.5"),
            _rate("close", "7", "ring", "0.7", "1.5"),
            _rate("weave", "9", "ring", "0.65", "1.6"),
            _rate("attach", "40", "finding", "0.7", "1.5"),
            _rate("tumble", "180", "piece", "0.6", "1.7"),
            _rate("polish", "300", "piece", "0.6", "1.7"),
            _rate("seal", "120", "piece", "0.6", "1.7"),
            _rate("pack", "240", "piece", "0.7", "1.5"),
            _rate("photograph", "1500", "design", "0.6", "1.7"),
            _rate("listing", "1800", "design", "0.6", "1.7"),
        )
    }
)

# Typed minutes carry no record of their own: a moderate range. [common practice, no source]
TYPED_LOW_FACTOR = Decimal("0.8")
TYPED_HIGH_FACTOR = Decimal("1.25")

STARTING_SMALL_RINGS = SmallRings(wire_nm=800_000, inner_nm=3_000_000, factor=Decimal("1.3"), source=GUESS)
STARTING_DIFFICULTY = DifficultyFactors(
    factors=(Decimal("0.8"), Decimal("1"), Decimal("1.25"), Decimal("1.6"), Decimal("2")), source=GUESS
)
