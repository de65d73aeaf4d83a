"""What a buyer is told about keeping and wearing a piece, by what it is made of. Common practice, no source.

It never says that a piece complies with anything; what the maker should look up before selling stands in `metals`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from models.trade.metals import Metal

GENERAL = "Take it off for sleep, sport, swimming and work at machines. Put it on last, after scent and creams."
SMALL_PARTS = "It is made of small rings, so keep it away from children under three."
NECKLACE = "A chain or cord round the neck can catch. It is not made for children."

# Not an instruction of any maker of metal: the usual words of the trade. [common practice, no source]
_BY_FAMILY: Mapping[str, str] = MappingProxyType(
    {
        "silver": "Silver darkens in air: keep it dry in a closed bag, and rub it with a soft cloth.",
        "gold": "Wash gold in warm water with a little mild soap, and dry it well.",
        "filled": "Filled metal has a thin outer layer: wipe it with a soft cloth, and use no polish.",
        "platinum": "Wash it in warm water with a little mild soap, and dry it well.",
        "copper": "Copper, brass and bronze darken and may mark the skin. Wipe them dry with a soft cloth.",
        "steel": "Wipe steel with a soft, dry cloth. Keep it dry in a bag.",
        "aluminium": "Keep aluminium from salt water, bleach and dishwashers: they dull it and take dyed colour off.",
        "reactive": "An anodised colour is a very thin layer: wash it in warm soapy water, and never polish it.",
        "rubber": "Keep rubber rings from oil, scent and strong sun, and do not stretch them further than worn.",
    }
)
_ALLERGY = ("nickel", "latex")


def care_for(metals: Iterable[Metal]) -> list[str]:
    """How to keep a piece of these metals, each line once, in the catalogue's order of families."""
    families = {metal.family for metal in metals}
    return [line for family, line in _BY_FAMILY.items() if family in families]


def told_to_buyers(metals: Iterable[Metal], *, worn_round_the_neck: bool) -> list[str]:
    """What a buyer should know before wearing a piece: allergies, small parts, a chain that can catch."""
    found: dict[str, None] = {}
    for metal in metals:
        for note in metal.notes:
            if any(word in note.lower() for word in _ALLERGY) and "no silver" not in note.lower():
                found[f"{metal.name.partition(' (')[0].capitalize()}: {note}"] = None
    return [*found, SMALL_PARTS, *([NECKLACE] if worn_round_the_neck else []), GENERAL]
