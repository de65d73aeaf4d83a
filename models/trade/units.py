"""The words for what a stock item is counted in."""

from __future__ import annotations

from decimal import Decimal

from models.trade.vocabulary.things import ITEM_KINDS


def unit_words(kind: str, unit: str, quantity: Decimal) -> str:
    """What a quantity counts, in words."""
    if unit != "piece":
        return unit
    word = ITEM_KINDS.term(kind).counted if kind in ITEM_KINDS else "piece"
    return word if quantity == 1 else f"{word}s"
