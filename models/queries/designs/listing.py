"""The listing sheet and the price tag of a design: what a buyer is told, and what the maker should look up first.

Taken from the same view as cost and prices, so that sizes, weight and price never differ from those.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session

from models.errors import Missing
from models.queries.costing.costing import cost_of_design
from models.queries.costing.inputs import CostInputs
from models.queries.costing.part_facts import PartFacts, usual_choices
from models.queries.costing.price_view import OutletView
from models.queries.designs.design import draft_of
from models.queries.designs.layout_size import finished_size
from models.queries.shop.shop import shop_settings
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.trade.care import care_for, told_to_buyers
from models.trade.metals import Metal, cautions_for

NOT_PART_OF_IT = frozenset({"packaging", "consumable"})
"""Kinds that a buyer does not wear, so that they are not among the materials."""
ROUND_THE_NECK = ("neck", "pendant", "chok", "collar", "lanyard", "halter")
"""Beginnings or parts of words for a piece that is worn round the neck."""


@dataclass(frozen=True, slots=True)
class MaterialLine:
    """One thing that a piece is made of, with how many or how much of it there is."""

    thing: Material
    quantity: Decimal
    unit: str


@dataclass(frozen=True, slots=True)
class Alternative:
    """One of several ways to make it: the group, the choice's name, and what is different in it."""

    group: str
    name: str
    usual: bool
    materials: tuple[MaterialLine, ...]


@dataclass(frozen=True, slots=True)
class ListingSheet:
    """What a buyer is told of a design.

    `materials` are those of every piece; `alternatives` come with the choices, `extras` are optional. `price` is what
    the buyer sees at `outlet` (in a shop that buys wholesale: the shop's own price), None where none is asked for.
    `before_listing` is for the maker only.
    """

    design_id: int
    name: str
    piece: str
    shop: str
    weave: str
    materials: tuple[MaterialLine, ...]
    alternatives: tuple[Alternative, ...]
    extras: tuple[MaterialLine, ...]
    rings: Decimal
    width_nm: int | None
    height_nm: int | None
    length_nm: int | None
    mass_g: Decimal
    measured: bool
    weight_known: bool
    care: tuple[str, ...]
    good_to_know: tuple[str, ...]
    before_listing: tuple[str, ...]
    photo: str | None
    outlets: tuple[OutletView, ...]
    outlet: OutletView | None
    price: Decimal | None
    plus_tax: bool

    @property
    def metals(self) -> tuple[str, ...]:
        """The metals of the usual piece in words, each once: 'commercial bronze C220', 'green niobium'."""
        usual = [one for way in self.alternatives if way.usual for one in way.materials]
        words = (one.thing.look for one in (*self.materials, *usual))
        return tuple(dict.fromkeys(word for word in words if word))

    @property
    def sized(self) -> bool:
        """Whether any finished size is known."""
        return any((self.width_nm, self.height_nm, self.length_nm))


def listing_sheet(session: Session, design_id: int, outlet_id: int | None = None) -> ListingSheet:
    """What a buyer is told of a design, with the price at one outlet where one is named. Raises: Missing."""
    view = cost_of_design(session, design_id)
    outlet = next((one for one in view.outlets if one.outlet_id == outlet_id), None)
    if outlet_id is not None and outlet is None:
        raise Missing("outlet in use with the number", outlet_id)
    inputs = view.inputs
    size = finished_size(session, draft_of(session, design_id))
    shown = [part for part in inputs.parts if part.thing.kind not in NOT_PART_OF_IT]
    metals = _metals(shown)
    mass_g = view.mass_g
    return ListingSheet(
        design_id=design_id,
        name=inputs.name,
        piece=inputs.piece,
        shop=shop_settings(session).name,
        weave=view.weave.name if view.weave else "",
        materials=_materials(part for part in shown if not part.group and not part.optional),
        alternatives=_alternatives(shown),
        extras=_materials(part for part in shown if part.optional and not part.group),
        rings=sum((part.quantity for part in view.parts if part.thing.kind == "ring"), Decimal(0)),
        width_nm=size.width_nm,
        height_nm=size.height_nm,
        length_nm=size.length_nm,
        mass_g=mass_g,
        measured=view.measured,
        weight_known=mass_g > 0 and (view.measured or not view.cost.unweighed),
        care=tuple(care_for(metals)),
        good_to_know=tuple(told_to_buyers(metals, worn_round_the_neck=_round_the_neck(inputs))),
        before_listing=tuple(cautions_for([metal.code for metal in metals], all_metals(session))),
        photo=inputs.photo,
        outlets=view.outlets,
        outlet=outlet,
        price=_buyers_price(outlet),
        plus_tax=outlet is not None and bool(outlet.outlet.tax) and not outlet.outlet.prices_include_tax,
    )


def _buyers_price(outlet: OutletView | None) -> Decimal | None:
    """What the tag says: the listed price, else the suggested one; in a shop that buys wholesale, the shop's own."""
    if outlet is None:
        return None
    if outlet.retail is not None:
        return outlet.retail
    return outlet.listed.price if outlet.listed else outlet.suggested


def _materials(parts: Iterable[PartFacts]) -> tuple[MaterialLine, ...]:
    """The things with their quantities; one that stands in several parts is counted together."""
    amounts: dict[Material, Decimal] = {}
    for part in parts:
        amounts[part.thing] = amounts.get(part.thing, Decimal(0)) + part.quantity
    first = {thing: PartFacts(0, thing, quantity) for thing, quantity in amounts.items()}
    return tuple(MaterialLine(thing, part.quantity, part.unit_words) for thing, part in first.items())


def _alternatives(parts: list[PartFacts]) -> tuple[Alternative, ...]:
    usual = usual_choices(parts)
    found: dict[tuple[str, str], list[PartFacts]] = {}
    for part in parts:
        if part.group:
            found.setdefault((part.group, part.choice), []).append(part)
    return tuple(
        Alternative(group, choice, usual[group] == choice, _materials(inside))
        for (group, choice), inside in found.items()
    )


def _metals(parts: Iterable[PartFacts]) -> list[Metal]:
    return list(dict.fromkeys(metal for part in parts if (metal := part.thing.body.metal) is not None))


def _round_the_neck(inputs: CostInputs) -> bool:
    words = f"{inputs.piece} {inputs.name}".lower()
    return any(word in words for word in ROUND_THE_NECK)
