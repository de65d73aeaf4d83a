"""Short names for the rings of one piece, for the words of its work: 'blue niobium', not the whole name of the bag.

The size is said where two rings of one look differ in it. Nothing here reads the database.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from models.layouts.engine.items import Item
from models.queries.designs.layout import LayoutFacts
from models.trade.measures import format_mm


def short_names(facts: LayoutFacts) -> dict[str, Item]:
    """The items of a layout under names that tell them apart at the bench; findings keep their names."""
    rings = {key: item for key, item in facts.items.items() if not item.finding}
    looks = {key: facts.things[key].look or item.label for key, item in rings.items()}
    sized = {key: f"{looks[key]}{_size(item)}" for key, item in rings.items()}
    named = dict(facts.items)
    for key, item in rings.items():
        for words in (looks, sized):
            if Counter(words.values())[words[key]] == 1:
                named[key] = replace(item, label=words[key])
                break
    return named


def _size(item: Item) -> str:
    """The size behind the look: ' 1.0 × 4.0 mm'."""
    if item.size is None:
        return ""
    return f" {format_mm(item.size.wire_nm).removesuffix(' mm')} × {format_mm(item.size.inner_nm)}"
