"""Words of selling and of a shop's settings: outlets, fees, price endings, and how sizes are shown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from models.trade.vocabulary.terms import Marked, Term, Vocabulary, closed, opened

OverheadMode = Literal["hour", "percent"]
LengthUnit = Literal["mm", "in"]
GaugeSystem = Literal["AWG", "SWG"]
Standing = Literal["impossible", "not listed", "below break-even", "below target", "reaches target", "pays"]
Paid = Literal["price", "shipping", "tax"]

OUTLET_KINDS = opened(
    "kind of outlet",
    {
        "online": Term(says="an online shop or marketplace"),
        "market": Term(says="a market stall or fair"),
        "direct": Term(says="straight to the buyer"),
        "consignment": Term(says="a shop that sells it for you"),
        "wholesale": Term(says="a shop that buys it from you"),
    },
)


@dataclass(frozen=True, slots=True, kw_only=True)
class FeeBase(Term):
    """What a fee is a share of: the parts of what the buyer pays that it counts; `exactly` names them in a costing.

    'tax' is what is added to shown prices without tax; in prices that hold their tax nothing is added.
    """

    parts: frozenset[Paid]
    exactly: str


FEE_BASES = opened(
    "base of a fee",
    {
        "price": FeeBase(says="the price", exactly="the price as shown", parts=frozenset({"price"})),
        "price+shipping": FeeBase(
            says="price and shipping",
            exactly="the price and the shipping, as shown",
            parts=frozenset({"price", "shipping"}),
        ),
        "price+shipping+tax": FeeBase(
            says="price, shipping and tax",
            exactly="everything the buyer pays",
            parts=frozenset({"price", "shipping", "tax"}),
        ),
    },
)

PRICE_ENDINGS = opened(
    "price ending",
    {
        "any": Term(says="no rule: up to the smallest coin"),
        "x.00": Term(says="whole amounts"),
        "x.50": Term(says="ends in .50"),
        "x.90": Term(says="ends in .90"),
        "x.95": Term(says="ends in .95"),
        "x.99": Term(says="ends in .99"),
        "5": Term(says="multiples of five"),
    },
)
"""How prices end: 'x' and two digits for what stands after the whole amount, or a number whose multiples they are."""

STANDINGS: Vocabulary[Standing, Marked] = closed(
    "standing of a price",
    {
        "impossible": Marked(says="no price can pay", mark="bad"),
        "not listed": Marked(says="not listed"),
        "below break-even": Marked(says="below break-even", mark="bad"),
        "below target": Marked(says="below your target", mark="warn"),
        "reaches target": Marked(says="reaches your target", mark="good"),
        "pays": Marked(says="pays for itself", mark="good"),
    },
)
"""How a listed price stands."""

OVERHEAD_MODES: Vocabulary[OverheadMode, Term] = closed(
    "way of overhead",
    {
        "hour": Term(says="per hour of work"),
        "percent": Term(says="in per cent of materials and work"),
    },
)

LENGTH_UNITS: Vocabulary[LengthUnit, Term] = closed(
    "unit of sizes",
    {
        "mm": Term(says="millimetres"),
        "in": Term(says="inches, with millimetres beside them"),
    },
)
"""What sizes are shown in, and what a bare one means."""

GAUGE_SYSTEMS: Vocabulary[GaugeSystem, Term] = closed(
    "system of gauges",
    {"AWG": Term(says="AWG, American"), "SWG": Term(says="SWG, British")},
)
