"""One word more in every open vocabulary, as a contributor adds it: a line in the declaration and nothing else.

What is built of a vocabulary is built when its module is imported, so this runs first, in a process of its own.
"""

from __future__ import annotations

import sys
from decimal import Decimal
from types import MappingProxyType

import pytest

from models.trade.vocabulary import bench, ledger, selling, things
from models.trade.vocabulary.terms import Term

ADDED: dict[str, dict[str, Term]] = {
    "CUTS": {"laser": bench.Work(says="a laser", cautions=("Never look into the beam.",), kerf=True)},
    "FEE_BASES": {
        "shipping": selling.FeeBase(says="the shipping", exactly="the shipping as shown", parts=frozenset({"shipping"}))
    },
    "LEAVING_REASONS": {
        "stolen": ledger.Reason(says="stolen"),
        "auctioned": ledger.Reason(says="sold at an auction", act="sell"),
    },
    "METAL_FAMILIES": {"glass": things.MetalFamily(says="glass", care="Do not drop it.", care_place=10)},
    "OUTLET_KINDS": {"museum": Term(says="a museum's shop")},
    "PACK_UNITS": {
        "yd": things.PackUnit(says="yards", dimension="length", size=Decimal("914.4")),
        "score": things.PackUnit(says="scores", dimension="count", size=Decimal(20)),
        "stone": things.PackUnit(says="stones", dimension="mass", size=Decimal("6350.29318")),
    },
    "PRICE_ENDINGS": {"x.75": Term(says="ends in .75"), "20": Term(says="multiples of twenty")},
    "PROCESSES": {"enamel": bench.Work(says="enamel", done="enamelled", cautions=("A kiln is hot.",))},
}
"""Further words of each open vocabulary, by the name under which that is declared."""


def add() -> None:
    """Put every further word into its vocabulary."""
    declared = {name: one for module in (bench, ledger, selling, things) for name, one in vars(module).items()}
    for name, terms in ADDED.items():
        object.__setattr__(declared[name], "terms", MappingProxyType({**declared[name].terms, **terms}))


if __name__ == "__main__":
    add()
    sys.exit(pytest.main(["-n0", "-q", "-p", "no:cacheprovider", *sys.argv[1:]]))
