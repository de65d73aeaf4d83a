"""What can hurt at the bench: the usual cautions for cutting, sawing, tumbling, colouring and the like, by metal.

Common practice in metal workshops, no source, but where one is named. No line here says that anything is safe or
complies with a law; what a buyer is told stands in `care`, what metals hold in `metals`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from models.trade.metals import Metal

CHECK_LOCALLY = (
    "These are usual cautions, not all of them. Check your local law and the sheets of what you use, "
    "and ask a licensed person where you are not sure."
)

_CAUTIONS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "coil": (
            "Wear eye protection: wire ends whip when a coil is let go, and spring wire is under tension.",
            "At a drill or lathe tie hair, cords and sleeves back, and wear no gloves.",
            "Leave the guard on, and stop the spindle before you touch the coil.",
        ),
        "saw": (
            "Wear eye protection and hold the coil in a clamp, never in the hand.",
            "Leave the saw's guard on, keep cords away, and wear no gloves at a turning blade.",
            "Catch the metal dust where it arises, and do not breathe it.",
        ),
        "cut": (
            "Wear eye protection: cut rings and wire ends fly.",
            "Rest your hands every half hour, and use long handles for hard wire.",
        ),
        "tumble": (
            "Close the barrel and let the guard stay on while it turns.",
            "Wear hearing protection beside a loud tumbler, and wash its soap off your hands.",
        ),
        "anodise": (
            "Electric shock: work with dry hands, switch off before you reach into the bath, and never work alone.",
            "Wear goggles and gloves against acid and lye. Add acid to water, never water to acid.",
            "The bath gives off hydrogen and acid mist: air the room, and keep sparks and flames away.",
        ),
        "dye": (
            "Wear gloves and goggles; hot dye baths scald and stain.",
            "Air the room, and keep the dye's pots and spoons out of the kitchen.",
        ),
        "patina": (
            "Patina chemicals are often poisonous or corrosive: wear gloves and goggles, and air the room.",
            "Never mix them, and never use liver of sulphur with acid: it gives off poisonous gas.",
        ),
        "pickle": (
            "Pickle is an acid: wear goggles and gloves, air the room, and add acid to water.",
            "Put no iron or steel into it, and rinse what comes out.",
        ),
        "heat": (
            "Work on a fire-proof ground away from what burns, with water at hand, and air the room.",
            "Never heat galvanised or plated metal, and never metal that may hold cadmium: the fumes are poisonous.",
        ),
        "other": ("Read the sheet of what you use before you open it, and wear what it asks for.",),
    }
)
# Source: from memory of NFPA 484 on combustible metals.
_BURNS = "Fine chips and dust of {metal} burn: keep them dry and few, and put no water or CO2 on such a fire."
_BERYLLIUM = "Dust of copper alloys that hold beryllium is poisonous: find out what yours holds before you saw it."
_MAKES_DUST = frozenset({"saw", "cut", "tumble"})


def workshop_cautions(works: Iterable[str], metals: Iterable[Metal] = ()) -> tuple[str, ...]:
    """The usual cautions for kinds of work on these metals, each once, the metals' own first.

    Raises: KeyError for work that is not known.
    """
    works, metals = tuple(works), tuple(metals)
    found: dict[str, None] = {}
    if _MAKES_DUST.intersection(works):
        for metal in metals:
            name = metal.name.partition(" (")[0]
            if metal.code == "titanium" or "titanium" in metal.aliases or "magnesium" in metal.name:
                found[_BURNS.format(metal="titanium" if "titanium" in name else name)] = None
            elif metal.family == "reactive":
                found[_BURNS.format(metal=name)] = None
            elif metal.family == "copper" and not metal.code.startswith("copper") and "saw" in works:
                found[_BERYLLIUM] = None
    if "heat" in works:
        found |= {note: None for metal in metals for note in metal.notes if "heat" in note.lower()}
    for work in works:
        found |= dict.fromkeys(_CAUTIONS[work])
    return tuple(found)
