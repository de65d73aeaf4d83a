"""What can hurt at the bench: the usual cautions for cutting, sawing, tumbling, colouring and the like, by metal.

Common practice in metal workshops, no source, but where one is named. No line here says that anything is safe or
complies with a law; what a buyer is told stands in `care`, what metals hold in `metals`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from models.trade.metals import Metal
from models.trade.vocabulary.bench import COILING, CUTS, PROCESSES, Work

CHECK_LOCALLY = (
    "These are usual cautions, not all of them. Check your local law and the sheets of what you use, "
    "and ask a licensed person where you are not sure."
)

_WORK: Mapping[str, Work] = {"coil": COILING, **CUTS.terms, **PROCESSES.terms}
# Source: from memory of NFPA 484 on combustible metals.
_BURNS = "Fine chips and dust of {metal} burn: keep them dry and few, and put no water or CO2 on such a fire."
_BERYLLIUM = "Dust of copper alloys that hold beryllium is poisonous: find out what yours holds before you saw it."


def workshop_cautions(works: Iterable[str], metals: Iterable[Metal] = ()) -> tuple[str, ...]:
    """The usual cautions for kinds of work on these metals, each once, the metals' own first.

    Raises: KeyError for work that is not known.
    """
    works, metals = tuple(works), tuple(metals)
    found: dict[str, None] = {}
    if any(_WORK[work].dust for work in works):
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
        found |= dict.fromkeys(_WORK[work].cautions)
    return tuple(found)
