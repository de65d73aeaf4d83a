"""What is known of the things in a design, resolved: sizes, metal, the cost and the mass of one unit, and why.

Plain values between rows and `models/costing`; nothing here reads the database (`cost_inputs` does).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import cast

from models.costing.inputs import PartInput, UnitCost
from models.costing.lines import Impossible, Line
from models.costing.unit_cost import typed_unit_cost, unit_cost_of_offer
from models.intake.stock.item import body_of, short_metal, unit_mass_g
from models.trade.colours import BARE_TINT
from models.trade.metals import Metal
from models.trade.rings import RingSize
from models.trade.units import unit_words
from models.trade.vocabulary.things import Arrives, PartKind


@dataclass(frozen=True, slots=True)
class OfferFacts:
    """What a supplier asks for one pack, in the offer's own currency; `rate` is that currency in the shop's own.

    `current` is False for a last price that no longer holds; `foreign` tells that the currency is not the shop's.
    """

    price: Decimal
    pack: Decimal
    pack_unit: str
    currency: str
    rate: Decimal
    current: bool
    source: str
    foreign: bool = False


@dataclass(frozen=True, slots=True)
class Material:
    """A stock item, or a typed thing without one (`item_id` None), with all that costing asks of it.

    `unit_cost` is None when no price is known, and `no_price` then says why. `mass_g` is one unit's mass, None when
    unknown. `measured_ug` is a measured mass of one unit, which wins over the computed one.
    """

    item_id: int | None
    kind: str
    name: str
    unit: str = "piece"
    metal: Metal | None = None
    finish: str = ""
    colour: str = ""
    tint: str = BARE_TINT
    wire_nm: int | None = None
    inner_nm: int | None = None
    wire_label: str = ""
    inner_label: str = ""
    hole_nm: int | None = None
    measured_ug: int | None = None
    can_open: bool = True
    arrives: str = ""
    unit_cost: UnitCost | None = None
    no_price: str = ""
    mass_g: Decimal | None = None

    @property
    def size(self) -> RingSize | None:
        """The ring size, for a ring whose sizes are known."""
        if self.kind != "ring" or not self.wire_nm or not self.inner_nm:
            return None
        return RingSize(self.wire_nm, self.inner_nm)

    @property
    def metal_words(self) -> str:
        """Colour, finish and metal in words, as they stand on a bag: 'green niobium'."""
        words = [self.colour, self.finish, short_metal(self.metal) if self.metal else ""]
        return " ".join(word for word in words if word)


@dataclass(frozen=True, slots=True)
class PartFacts:
    """One part of a design: the thing, how much of it, and what it is for. `position` is its place in the design.

    `from_rows` tells that the design's rows make it; `closed` then is how many of its rings are closed beforehand.
    """

    position: int
    thing: Material
    quantity: Decimal
    purpose: str = ""
    optional: bool = False
    group: str = ""
    choice: str = ""
    allowance: Decimal | None = None
    joined: bool = True
    from_rows: bool = False
    closed: Decimal | None = None

    @property
    def opened_first(self) -> Decimal:
        """How many rings are opened before the weaving: those joined open that do not arrive open."""
        part = self.to_input()
        return Decimal(0) if not self._bends or part.arrives == "open" else part.quantity - part.shut

    @property
    def closed_first(self) -> Decimal:
        """How many rings are closed before the weaving: those that others pass through, unless they arrive closed."""
        part = self.to_input()
        return Decimal(0) if not self._bends or part.arrives == "closed" else part.shut

    @property
    def _bends(self) -> bool:
        return self.thing.kind == "ring" and self.thing.can_open

    @property
    def unit_words(self) -> str:
        """The unit in words: 'rings', 'pieces', 'm' or 'g'."""
        return unit_words(self.thing.kind, self.thing.unit, self.quantity)

    def to_input(self) -> PartInput:
        """The part as costing takes it."""
        thing = self.thing
        return PartInput(
            name=thing.name,
            kind=cast(PartKind, thing.kind),
            quantity=self.quantity,
            unit=self.unit_words,
            purpose=self.purpose,
            unit_cost=thing.unit_cost,
            allowance=self.allowance,
            size=thing.size,
            mass_g=thing.mass_g,
            can_open=thing.can_open,
            arrives=cast(Arrives, thing.arrives),
            joined=self.joined,
            group=self.group,
            choice=self.choice,
            optional=self.optional,
            metal=short_metal(thing.metal) if thing.metal else "",
            closed=self.closed,
        )


def priced(thing: Material, offer: OfferFacts | None, guess: Decimal | None = None) -> Material:
    """The thing with the cost and the mass of one unit: by its offer, else by a guessed price, else unpriced."""
    body = body_of(
        kind=thing.kind,
        unit=thing.unit,
        metal=thing.metal,
        wire_nm=thing.wire_nm,
        inner_nm=thing.inner_nm,
        mass_ug=thing.measured_ug,
    )
    cost: UnitCost | Impossible | None = None
    if offer is not None:
        cost = unit_cost_of_offer(
            offer.price * offer.rate,
            offer.pack,
            offer.pack_unit,
            item_unit=thing.unit,
            body=body,
            source=offer.source,
            provisional=not offer.current,
        )
        if isinstance(cost, UnitCost) and offer.foreign:
            cost = replace(cost, lines=(*_exchange_lines(offer), *cost.lines))
    if not isinstance(cost, UnitCost) and guess is not None:
        cost = typed_unit_cost(guess, guessed=True, source="typed in the design")
    priced_thing = replace(thing, mass_g=unit_mass_g(thing.unit, body))
    if isinstance(cost, UnitCost):
        return replace(priced_thing, unit_cost=cost, no_price="")
    return replace(priced_thing, unit_cost=None, no_price=cost.reason if cost is not None else _no_price(thing))


def _no_price(thing: Material) -> str:
    if thing.item_id is not None:
        return "No supplier's price is noted for it yet."
    return "It is not in stock, and no price is guessed for it yet."


def _exchange_lines(offer: OfferFacts) -> tuple[Line, ...]:
    source = offer.source
    asked = Line(
        "Price asked", offer.price, amount_unit=offer.currency, reason="In the supplier's currency.", source=source
    )
    rate = Line(
        f"One {offer.currency}",
        offer.rate,
        amount_unit="of your currency",
        reason="The exchange rate noted with the offer.",
        source=source,
    )
    return asked, rate


def usual_choices(parts: Iterable[PartFacts]) -> dict[str, str]:
    """The usual choice of each group: that of its first part."""
    usual: dict[str, str] = {}
    for part in sorted(parts, key=lambda part: part.position):
        if part.group:
            usual.setdefault(part.group, part.choice)
    return usual


def one_piece(
    parts: Iterable[PartFacts], choices: Mapping[str, str] | None = None, with_optional: Collection[int] = ()
) -> tuple[PartFacts, ...]:
    """The parts of one piece: of each group the picked choice (else the usual), and only the optional parts asked for.

    `with_optional` holds positions. Raises: ValueError for a choice that its group does not have.
    """
    parts = tuple(parts)
    picked = usual_choices(parts)
    for group, choice in (choices or {}).items():
        if not any(part.group == group and part.choice == choice for part in parts):
            raise ValueError(f"'{group}' has no choice '{choice}'")
        picked[group] = choice
    return tuple(
        part
        for part in parts
        if (not part.optional or part.position in with_optional)
        and (not part.group or picked[part.group] == part.choice)
    )
