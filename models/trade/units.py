"""The words for what a stock item is counted in."""

from __future__ import annotations

from decimal import Decimal


def unit_words(kind: str, unit: str, quantity: Decimal) -> str:
    """What a quantity counts, in words."""
    if unit != "piece":
        return unit
    word = kind if kind in {"ring", "scale", "bead"} else "piece"
    return word if quantity == 1 else f"{word}s"
