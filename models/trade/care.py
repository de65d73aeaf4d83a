"""What a buyer is told about keeping and wearing a piece, by what it is made of. Common practice, no source.

It never says that a piece complies with anything; what the maker should look up before selling stands in `metals`.
"""

from __future__ import annotations

from collections.abc import Iterable

from models.trade.metals import Metal
from models.trade.vocabulary.things import METAL_FAMILIES

GENERAL = "Take it off for sleep, sport, swimming and work at machines. Put it on last, after scent and creams."
SMALL_PARTS = "It is made of small rings, so keep it away from children under three."
NECKLACE = "A chain or cord round the neck can catch. It is not made for children."

_ALLERGY = ("nickel", "latex")


def care_for(metals: Iterable[Metal]) -> list[str]:
    """How to keep a piece of these metals, each line once; what needs most care comes first."""
    families = {metal.family for metal in metals}
    known = (METAL_FAMILIES.term(family) for family in families if family in METAL_FAMILIES)
    return [family.care for family in sorted(known, key=lambda family: family.care_place)]


def told_to_buyers(metals: Iterable[Metal], *, worn_round_the_neck: bool) -> list[str]:
    """What a buyer should know before wearing a piece: allergies, small parts, a chain that can catch."""
    found: dict[str, None] = {}
    for metal in metals:
        for note in metal.notes:
            if any(word in note.lower() for word in _ALLERGY) and "no silver" not in note.lower():
                found[f"{metal.name.partition(' (')[0].capitalize()}: {note}"] = None
    return [*found, SMALL_PARTS, *([NECKLACE] if worn_round_the_neck else []), GENERAL]
