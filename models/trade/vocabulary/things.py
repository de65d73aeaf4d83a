"""Words for what lies in the stock: kinds of item, units, metals' families, and how a ring fits a weave."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from models.trade.vocabulary.terms import Marked, Term, Vocabulary, closed, opened

PartKind = Literal["ring", "scale", "bead", "finding", "chain", "wire", "packaging", "consumable"]
ItemKind = Literal[PartKind, "piece", "scrap"]
Unit = Literal["piece", "m", "g"]
Arrives = Literal["open", "closed", ""]
Dimension = Literal["count", "mass", "length"]
FitVerdict = Literal["comfortable", "tight", "loose", "too small"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KindOfItem(Term):
    """A kind of item. `units` is what it may be counted in, the usual one first; `a` is it as one thing.

    `counted` says one of it where pieces are counted, `heard` which words of a typed line mean it. `has_…` tell what
    can be said of it; a metal may be `needs_metal`. `spoiled` ones are lost a few at a time and need an allowance,
    `worn` ones stay with the piece. What is not `added` by a person comes by itself.
    """

    plural: str
    units: tuple[Unit, ...] = ("piece",)
    a: str = ""
    counted: str = "piece"
    heard: str = ""
    example: str = ""
    has_wire: bool = False
    has_hole: bool = False
    has_metal: bool = False
    needs_metal: bool = False
    spoiled: bool = False
    worn: bool = False
    added: bool = True

    @property
    def one(self) -> str:
        """It as one thing, at the start of a sentence: 'A ring', 'Wire'."""
        return self.a or f"A {self.says}"


ITEM_KINDS: Vocabulary[ItemKind, KindOfItem] = closed(
    "kind of item",
    {
        "ring": KindOfItem(
            says="ring", plural="Rings", counted="ring", heard="ring, jumpring, jump ring",
            has_wire=True, has_metal=True, needs_metal=True, spoiled=True, worn=True,
        ),
        "scale": KindOfItem(
            says="scale", plural="Scales", counted="scale", heard="scale", example="Small scale",
            has_hole=True, has_metal=True, spoiled=True, worn=True,
        ),
        "bead": KindOfItem(
            says="bead", plural="Beads", counted="bead", heard="bead, pearl, crystal", example="Glass bead 6 mm",
            has_hole=True, has_metal=True, spoiled=True, worn=True,
        ),
        "finding": KindOfItem(
            says="finding", plural="Findings", example="Ear wire, lobster clasp, key ring",
            heard="ear wire, ear hook, earwire, ear stud, stud, clasp, hook, toggle, bail, lobster, pin, brooch, post, "
            "crimp, cord end, end cap, split ring, key ring, swivel, magnet, wire guard",
            has_wire=True, has_hole=True, has_metal=True, worn=True,
        ),
        "chain": KindOfItem(
            says="chain", plural="Chain", units=("m", "g"), a="Chain", heard="chain", example="Fine chain",
            has_wire=True, has_metal=True, worn=True,
        ),
        "wire": KindOfItem(
            says="wire", plural="Wire", units=("m", "g"), a="Wire",
            has_wire=True, has_metal=True, needs_metal=True, spoiled=True, worn=True,
        ),
        "packaging": KindOfItem(
            says="packaging", plural="Packaging", units=("piece", "m", "g"), a="Packaging",
            heard="box, gift box, bag, pouch, card, tag, label, envelope, sticker, tissue, ribbon",
            example="Gift box, backing card",
        ),
        "consumable": KindOfItem(
            says="consumable", plural="Consumables", units=("piece", "g", "m"),
            heard="wax, glue, polish, sealant, sealer, lacquer, varnish, cloth, compound, pickle, solder, flux, "
            "thread, tape, oil",
            example="Tumbling soap, polishing cloth",
        ),
        "piece": KindOfItem(says="finished piece", plural="Finished pieces", added=False),
        "scrap": KindOfItem(says="scrap metal", plural="Scrap metal", units=("g",), added=False),
    },
)  # fmt: skip
"""What lies in the stock. Finished pieces and scrap metal come by themselves."""

PART_KINDS: tuple[PartKind, ...] = (
    "ring", "scale", "bead", "finding", "chain", "wire", "packaging", "consumable",
)  # fmt: skip
"""What a person adds to the stock, and what a design is made of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitOfItem(Term):
    """A unit that items are counted in: `each` is the price of one, `one` a single one, `plenty` what 'plenty' means.

    What 'plenty' without a figure is taken for until it is counted is a choice of ours, no source.
    """

    each: str
    one: str
    a: str
    plenty: int


UNITS: Vocabulary[Unit, UnitOfItem] = closed(
    "unit of an item",
    {
        "piece": UnitOfItem(says="pieces", each="each", one="one", a="one", plenty=1000),
        "m": UnitOfItem(says="metres", each="a metre", one="one metre", a="a metre", plenty=100),
        "g": UnitOfItem(says="grams", each="a gram", one="one gram", a="a gram", plenty=100),
    },
)

ARRIVALS: Vocabulary[Literal["open", "closed"], Term] = closed(
    "how a ring arrives", {"open": Term(says="open"), "closed": Term(says="closed")}
)
"""Nobody said is ''."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PackUnit(Term):
    """A unit that packs are sold by: how many pieces, grams or millimetres are in one, exactly."""

    dimension: Dimension
    size: Decimal


# Source: international yard and pound of 1959 (1 in = 25.4 mm, 1 lb = 0.45359237 kg); 1 ozt = 480/7000 lb.
PACK_UNITS = opened(
    "unit of a pack",
    {
        "piece": PackUnit(says="pieces", dimension="count", size=Decimal(1)),
        "m": PackUnit(says="metres", dimension="length", size=Decimal(1000)),
        "cm": PackUnit(says="centimetres", dimension="length", size=Decimal(10)),
        "ft": PackUnit(says="feet", dimension="length", size=Decimal("304.8")),
        "in": PackUnit(says="inches", dimension="length", size=Decimal("25.4")),
        "g": PackUnit(says="grams", dimension="mass", size=Decimal(1)),
        "kg": PackUnit(says="kilograms", dimension="mass", size=Decimal(1000)),
        "oz": PackUnit(says="ounces (everyday)", dimension="mass", size=Decimal("28.349523125")),
        "lb": PackUnit(says="pounds", dimension="mass", size=Decimal("453.59237")),
        "ozt": PackUnit(says="troy ounces", dimension="mass", size=Decimal("31.1034768")),
        "dwt": PackUnit(says="pennyweights", dimension="mass", size=Decimal("1.55517384")),
    },
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MetalFamily(Term):
    """A family of metals, and how a piece of it is kept. Not an instruction of any maker of metal.

    `care_place` is its place where a piece is of several: what needs most care comes first.
    """

    care: str
    care_place: int


# The usual words of the trade. [common practice, no source]
METAL_FAMILIES = opened(
    "family of metals",
    {
        "aluminium": MetalFamily(
            care_place=7,
            says="aluminium",
            care="Keep aluminium from salt water, bleach and dishwashers: they dull it and take dyed colour off.",
        ),
        "copper": MetalFamily(
            care_place=5,
            says="copper, brass and bronze",
            care="Copper, brass and bronze darken and may mark the skin. Wipe them dry with a soft cloth.",
        ),
        "steel": MetalFamily(
            care_place=6, says="steel", care="Wipe steel with a soft, dry cloth. Keep it dry in a bag."
        ),
        "reactive": MetalFamily(
            care_place=8,
            says="titanium, niobium and tantalum",
            care="An anodised colour is a very thin layer: wash it in warm soapy water, and never polish it.",
        ),
        "silver": MetalFamily(
            care_place=1,
            says="silver",
            care="Silver darkens in air: keep it dry in a closed bag, and rub it with a soft cloth.",
        ),
        "gold": MetalFamily(
            care_place=2, says="gold", care="Wash gold in warm water with a little mild soap, and dry it well."
        ),
        "filled": MetalFamily(
            care_place=3,
            says="filled",
            care="Filled metal has a thin outer layer: wipe it with a soft cloth, and use no polish.",
        ),
        "platinum": MetalFamily(
            care_place=4,
            says="platinum and palladium",
            care="Wash it in warm water with a little mild soap, and dry it well.",
        ),
        "rubber": MetalFamily(
            care_place=9,
            says="rubber",
            care="Keep rubber rings from oil, scent and strong sun, and do not stretch them further than worn.",
        ),
    },
)

FIT_VERDICTS: Vocabulary[FitVerdict, Marked] = closed(
    "verdict of a fit",
    {
        "comfortable": Marked(says="comfortable", mark="good", offered="Comfortable: it went together well"),
        "tight": Marked(says="tight", mark="warn", offered="Tight: it works, but it was hard going"),
        "loose": Marked(says="loose", mark="idle", offered="Loose: it works, but it does not hold its shape"),
        "too small": Marked(says="too small", mark="bad", offered="Too small: it would not go together"),
    },
)
"""How a ring fits a weave."""
