"""What one unit of an item costs, from what a supplier asks for a pack of it: exact, with the facts behind it.

Packs may be counted, weighed or measured. A weighed pack of rings is turned into rings by the mass of one ring,
a weighed roll of wire or chain into length by its mass per metre. Which offer is the current one is not decided here.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from models.costing.exact import ONE, ZERO, exactly, not_negative
from models.costing.inputs import UnitCost
from models.costing.lines import Impossible, Line
from models.trade.measures import GRAMS_PER as MASSES
from models.trade.metals import Metal
from models.trade.rings import RingSize, wire_g_per_m
from models.trade.vocabulary.things import PACK_UNITS, Dimension

COUNT_UNITS: dict[str, Decimal] = {
    "pieces": ONE, "piece": ONE, "pairs": Decimal(2), "pair": Decimal(2), "dozen": Decimal(12), "hundred": Decimal(100),
    "gross": Decimal(144), "thousand": Decimal(1000),
    **{code: unit.size for code, unit in PACK_UNITS.terms.items() if unit.dimension == "count"},
}  # fmt: skip
GRAMS_PER: dict[str, Decimal] = {
    **MASSES,
    **{code: unit.size for code, unit in PACK_UNITS.terms.items() if unit.dimension == "mass"},
}
# Millimetres in one of each; every value is exact.
MM_PER: dict[str, Decimal] = {
    "mm": ONE,
    **{code: unit.size for code, unit in PACK_UNITS.terms.items() if unit.dimension == "length"},
}
_SIZES: dict[Dimension, dict[str, Decimal]] = {"count": COUNT_UNITS, "mass": GRAMS_PER, "length": MM_PER}


@dataclass(frozen=True, slots=True)
class Body:
    """What is known of one unit of an item, to turn weight into pieces or length.

    `size` and `metal` give a ring's mass, `wire_nm` and `metal` a wire's mass per metre. A weighed `mass_g` of one
    piece or a weighed `g_per_m` wins over what is computed, and says so.
    """

    size: RingSize | None = None
    wire_nm: int | None = None
    metal: Metal | None = None
    mass_g: Decimal | None = None
    g_per_m: Decimal | None = None


@dataclass(frozen=True, slots=True)
class _Factor:
    """How many of the item's units are in one unit of the pack's, or why nobody can tell."""

    value: Decimal
    facts: tuple[Line, ...] = ()


def dimension_of(unit: str) -> Dimension:
    """Whether a unit counts, weighs or measures.

    Raises: ValueError for a unit that no pack is sold by.
    """
    if unit in COUNT_UNITS:
        return "count"
    if unit in GRAMS_PER:
        return "mass"
    if unit in MM_PER:
        return "length"
    raise ValueError(f"no pack is sold by the {unit}")


@exactly
def unit_cost_of_offer(
    price: Decimal,
    pack: Decimal,
    pack_unit: str,
    *,
    item_unit: str = "pieces",
    body: Body = Body(),
    source: str = "the offer",
    provisional: bool = False,
) -> UnitCost | Impossible:
    """The unrounded cost of one `item_unit` of an item that is sold at `price` for a pack of `pack` `pack_unit`.

    Impossible when a weighed pack cannot be turned into what the item is counted in, or when it holds nothing.
    Raises: ValueError for an unknown unit or a negative number.
    """
    not_negative("a price", price)
    not_negative("a pack", pack)
    if not pack:
        return Impossible("The pack holds nothing, so no cost follows. Say how much is in it.")
    factor = _conversion(pack_unit, item_unit, body)
    if isinstance(factor, Impossible):
        return factor
    units = pack * factor.value
    facts = [
        Line("Price of the pack", price, reason="What the supplier asks.", source=source, provisional=provisional),
        Line("The pack holds", pack, amount_unit=pack_unit, reason="What is in the pack.", source=source),
        *factor.facts,
    ]
    if factor.value != ONE:
        facts.append(
            Line("That is", units, amount_unit=item_unit, reason="The pack in the unit that the item is counted in.",
                 source="computed from the lines above")
        )  # fmt: skip
    return UnitCost(price / units, tuple(facts), provisional)


@exactly
def pack_in_units(
    pack: Decimal, pack_unit: str, *, item_unit: str = "pieces", body: Body = Body()
) -> Decimal | Impossible:
    """How many of an item's units one pack holds, unrounded; Impossible when a weighed pack cannot be turned into them.

    Raises: ValueError for an unknown unit.
    """
    factor = _conversion(pack_unit, item_unit, body)
    return factor if isinstance(factor, Impossible) else pack * factor.value


def typed_unit_cost(amount: Decimal, *, guessed: bool, source: str) -> UnitCost:
    """The cost of one unit as a person typed it: a guess or a last price until an offer replaces it."""
    reason = "A guess until the item has an offer." if guessed else "Typed as the cost of one."
    return UnitCost(amount, (Line("Cost of one", amount, reason=reason, source=source, provisional=guessed),), guessed)


@exactly
def one_mass_g(body: Body) -> Decimal | None:
    """The mass of one piece in grams: as weighed, else computed from a ring's size and metal; None when unknown."""
    if body.mass_g is not None:
        return body.mass_g
    if body.size is not None and body.metal is not None:
        return body.size.mass_g(body.metal.density)
    return None


def _conversion(pack_unit: str, item_unit: str, body: Body) -> _Factor | Impossible:
    """How many item units are in one pack unit."""
    had, wanted = dimension_of(pack_unit), dimension_of(item_unit)
    if had == wanted:
        per = _SIZES[had]
        return _Factor(per[pack_unit] / per[item_unit])
    if "count" in {had, wanted}:
        other = wanted if had == "count" else had
        one = _mass_of_one(body) if other == "mass" else _length_of_one(body)
        if isinstance(one, Impossible):
            return one
        per = GRAMS_PER if other == "mass" else MM_PER
        if had == "count":
            return _Factor(COUNT_UNITS[pack_unit] * one.value / per[item_unit], one.facts)
        return _Factor(per[pack_unit] / one.value / COUNT_UNITS[item_unit], one.facts)
    metre = _mass_of_a_metre(body)
    if isinstance(metre, Impossible):
        return metre
    if had == "mass":
        return _Factor(GRAMS_PER[pack_unit] / metre.value * MM_PER["m"] / MM_PER[item_unit], metre.facts)
    return _Factor(MM_PER[pack_unit] / MM_PER["m"] * metre.value / GRAMS_PER[item_unit], metre.facts)


def _mass_of_one(body: Body) -> _Factor | Impossible:
    """The mass of one piece in grams, with its facts."""
    mass_g = one_mass_g(body)
    if not mass_g:
        return Impossible(
            "The pack is sold by weight, and the weight of one is not known. "
            "Give the ring's sizes and metal, or weigh some."
        )
    if body.mass_g is not None:
        return _Factor(mass_g, (_weighed("Mass of one", mass_g, "g"),))
    if body.size is None or body.metal is None:
        raise AssertionError("a computed mass has a size and a metal")
    facts = (
        Line("Wire", _mm(body.size.wire_nm), amount_unit="mm", reason="The real wire diameter.", source="the item"),
        Line("Inside", _mm(body.size.inner_nm), amount_unit="mm", reason="The inner diameter.", source="the item"),
        _density(body.metal),
    )
    return _Factor(
        mass_g,
        (
            Line(
                "Mass of one ring",
                mass_g,
                amount_unit="g",
                reason="A torus: density times pi squared over four, times the wire squared, times inside plus wire.",
                source="geometry of a round ring",
                because=facts,
            ),
        ),
    )


def _length_of_one(body: Body) -> _Factor | Impossible:
    """The length of wire in one ring in millimetres, with its facts."""
    if body.size is None:
        return Impossible("The pack is sold by length, and the length of one is not known. Give the ring's sizes.")
    length_mm = body.size.wire_length_mm
    facts = (
        Line("Wire", _mm(body.size.wire_nm), amount_unit="mm", reason="The real wire diameter.", source="the item"),
        Line("Inside", _mm(body.size.inner_nm), amount_unit="mm", reason="The inner diameter.", source="the item"),
    )
    line = Line(
        "Wire in one ring",
        length_mm,
        amount_unit="mm",
        reason="Pi times inside plus wire, without what a saw takes.",
        source="geometry of a round ring",
        because=facts,
    )
    return _Factor(length_mm, (line,))


def _mass_of_a_metre(body: Body) -> _Factor | Impossible:
    """The mass of a metre of wire or chain in grams, with its facts."""
    if body.g_per_m:
        return _Factor(body.g_per_m, (_weighed("Mass of a metre", body.g_per_m, "g"),))
    if body.wire_nm is None or body.metal is None or body.wire_nm <= 0:
        return Impossible(
            "Weight can't be turned into length without the weight of a metre. "
            "Give the wire and its metal, or weigh a length."
        )
    g_per_m = wire_g_per_m(body.wire_nm, body.metal.density)
    facts = (
        Line("Wire", _mm(body.wire_nm), amount_unit="mm", reason="The real wire diameter.", source="the item"),
        _density(body.metal),
    )
    line = Line(
        "Mass of a metre",
        g_per_m,
        amount_unit="g",
        reason="Density times the cross-section of the wire.",
        source="geometry of a round wire",
        because=facts,
    )
    return _Factor(g_per_m, (line,))


def _density(metal: Metal) -> Line:
    return Line(f"Density of {metal.name}", metal.density, amount_unit="g/cm³", reason="At 20 °C.", source=metal.source)


def _weighed(label: str, amount: Decimal, unit: str) -> Line:
    return Line(
        label, amount, amount_unit=unit, reason="As weighed; it wins over a computed mass.", source="your scale"
    )


def _mm(length_nm: int) -> Decimal:
    return Decimal(length_nm) / 1_000_000 if length_nm else ZERO
