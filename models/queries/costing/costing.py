"""What a design costs and what it must sell for: the whole view that its pages, its fragments and the API show.

A saved revision and a draft that is still being typed go the same way. How rows are read stands in `cost_inputs`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal

from sqlmodel import Session, col, select

from models.costing.design_cost import DesignCost, cost_design
from models.costing.inputs import UnitCost
from models.costing.lines import Impossible
from models.costing.prices import OnePrice
from models.costing.sensitivity import Moved, sensitivity
from models.errors import Missing
from models.intake.costing.cost_request import CostRequest
from models.intake.designs.design import DesignDraft
from models.intake.faults import Fault, Faults
from models.queries.costing.basis import CostBasis, at_stock_cost, basis_of, stock_costs_of
from models.queries.costing.inputs import (
    CostInputs,
    ShopFacts,
    inputs_of_draft,
    latest_revisions,
    load_cost_inputs,
    load_shop_facts,
)
from models.queries.costing.part_facts import PartFacts, one_piece, usual_choices
from models.queries.costing.price_view import OutletView, everywhere_price, outlet_views
from models.queries.stock.weave import ShopWeaves, shop_weaves
from models.tables import Revision
from models.trade.measures import to_grams
from models.trade.rings import RingSize
from models.trade.weaves import WEAVES, Fit, Weave

HUB_WEAVES = "japanese-"
"""Codes of weaves whose window is about a hub and the rings that connect it."""

MOST_MOVES = 8
"""How many of the inputs that move the price most are named."""


@dataclass(frozen=True, slots=True)
class CostSettings:
    """How a design is to be costed: pieces made together, picked choices by group, optional parts by position, prices.

    `prices` are prices to try by the outlet's number, `retail` is one price to try everywhere. `by` is what materials
    count at: 'again' what they cost to buy again, 'stock' what those in stock cost the shop.
    """

    pieces: int = 1
    choices: Mapping[str, str] = field(default_factory=dict)
    with_optional: Collection[int] = ()
    prices: Mapping[int, Decimal] = field(default_factory=dict)
    retail: Decimal | None = None
    by: str = "again"


@dataclass(frozen=True, slots=True)
class Unpriced:
    """A part that has no price, and why; `item_id` is the stock item to give an offer to, None for a typed thing."""

    name: str
    why: str
    item_id: int | None


@dataclass(frozen=True, slots=True)
class PartFit:
    """How the rings of one part suit the weave of the design.

    `matters` is False for the few rings beside a weave, such as a bail, whose size the weave does not ask about.
    """

    part: PartFacts
    fit: Fit
    matters: bool


@dataclass(frozen=True, slots=True)
class Option:
    """One of the alternatives of a choice; `value` is how a page or a program asks for it."""

    name: str
    value: str
    picked: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """A group of alternatives, such as colours."""

    group: str
    options: tuple[Option, ...]

    @property
    def choices(self) -> tuple[tuple[str, str], ...]:
        """The alternatives as a field of a form takes them: value and words."""
        return tuple((option.value, option.name) for option in self.options)

    @property
    def picked_value(self) -> str:
        """The value of the picked one."""
        return next(option.value for option in self.options if option.picked)


@dataclass(frozen=True, slots=True)
class OptionalPart:
    """A part that a piece can have or not; `position` is how a page or a program asks for it."""

    part: PartFacts
    counted: bool


@dataclass(frozen=True, slots=True)
class CostView:
    """The cost of a design and its prices.

    `parts` are those of one piece, after choices; `all_parts` are all of them. `cost` is of one piece when
    `ask.pieces` are made together. `everywhere` is one retail price at all outlets, None with fewer than two outlets.
    `moves` are the inputs that move the price most at the outlet of `headline`, empty unless they were asked for.
    """

    inputs: CostInputs
    ask: CostSettings
    currency: str
    weave: Weave | None
    parts: tuple[PartFacts, ...]
    cost: DesignCost
    outlets: tuple[OutletView, ...]
    everywhere: OnePrice | Impossible | None
    one_price: bool
    unpriced: tuple[Unpriced, ...]
    fits: tuple[PartFit, ...]
    choices: tuple[Choice, ...]
    optional: tuple[OptionalPart, ...]
    moves: tuple[Moved, ...] = ()
    basis: CostBasis | None = None
    """What it costs to buy again beside what the stock cost; None where none of its parts is in stock."""

    @property
    def design_id(self) -> int | None:
        """The design, once it is saved."""
        return self.inputs.design_id

    @property
    def name(self) -> str:
        """What the design is called."""
        return self.inputs.name

    @property
    def pieces(self) -> int:
        """How many are made together."""
        return self.ask.pieces

    @property
    def provisional(self) -> bool:
        """Whether anything in the cost is guessed or missing."""
        return self.cost.provisional

    @property
    def guessed(self) -> tuple[str, ...]:
        """The parts whose price is guessed or no longer holds, each named once."""
        return tuple(dict.fromkeys(self.cost.guessed))

    @property
    def measured(self) -> bool:
        """Whether the weight was measured, not computed."""
        return self.inputs.measured_mass_ug is not None

    @property
    def mass_g(self) -> Decimal:
        """The finished weight in grams: as measured, else as computed from the parts."""
        measured = self.inputs.measured_mass_ug
        return self.cost.mass_g if measured is None else to_grams(measured)

    @property
    def headline(self) -> OutletView | None:
        """The outlet that the answer names: the first with a listed price, else the first with a possible one."""
        listed = (view for view in self.outlets if view.listed is not None)
        possible = (view for view in self.outlets if view.suggested is not None)
        return next(listed, None) or next(possible, None)

    @property
    def short_fits(self) -> tuple[PartFit, ...]:
        """The rings that the weave does not take comfortably, without the few that only stand beside it."""
        return tuple(one for one in self.fits if one.matters and one.fit.verdict != "comfortable")


def cost_of_revision(
    session: Session,
    revision_id: int,
    *,
    pieces: int = 1,
    choices: Mapping[str, str] | None = None,
    with_optional: Collection[int] = (),
) -> CostView:
    """The cost and prices of one saved revision. Raises: Missing, ValueError for a choice that is not there."""
    return view_revision(session, revision_id, CostSettings(pieces, choices or {}, with_optional))


def cost_of_design(
    session: Session,
    design_id: int,
    *,
    number: int | None = None,
    pieces: int = 1,
    choices: Mapping[str, str] | None = None,
    with_optional: Collection[int] = (),
) -> CostView:
    """The cost and prices of a design's latest revision, or of the one with this number. Raises as above."""
    revision_id = revision_of(session, design_id, number)
    return view_revision(session, revision_id, CostSettings(pieces, choices or {}, with_optional))


def cost_of_draft(
    session: Session,
    draft: DesignDraft,
    *,
    design_id: int | None = None,
    pieces: int = 1,
    choices: Mapping[str, str] | None = None,
    with_optional: Collection[int] = (),
) -> CostView:
    """The cost and prices of a design that is not saved; listed prices are those of `design_id` where it is given."""
    shop = load_shop_facts(session)
    inputs = inputs_of_draft(session, draft, shop.metals, design_id=design_id)
    return build_view(inputs, shop, shop_weaves(session), CostSettings(pieces, choices or {}, with_optional))


def view_revision(session: Session, revision_id: int, ask: CostSettings, *, moves: bool = False) -> CostView:
    """One saved revision, costed as asked; `moves` finds what moves the price most. Raises: Missing, ValueError."""
    shop = load_shop_facts(session)
    inputs = load_cost_inputs(session, [revision_id], shop.metals).get(revision_id)
    if inputs is None:
        raise Missing("revision", revision_id)
    return build_view(inputs, shop, shop_weaves(session), ask, moves=moves, stock_costs=stock_costs_of(session, inputs))


def view_asked(
    session: Session, design_id: int, question: CostRequest, *, moves: bool = False
) -> tuple[CostView, Faults | None]:
    """A design's latest revision costed as a page or a program asked, and what it asked for that is not there.

    Raises: Missing.
    """
    shop = load_shop_facts(session)
    revision_id = revision_of(session, design_id)
    inputs = load_cost_inputs(session, [revision_id], shop.metals)[revision_id]
    ask, faults = _ask_of(inputs, question)
    stock_costs = stock_costs_of(session, inputs)
    return build_view(inputs, shop, shop_weaves(session), ask, moves=moves, stock_costs=stock_costs), faults


def revision_of(session: Session, design_id: int, number: int | None = None) -> int:
    """The id of a design's latest revision, or of the one with this number. Raises: Missing."""
    latest = latest_revisions(session, [design_id]).get(design_id)
    if latest is None:
        raise Missing("design", design_id)
    if number is None:
        return latest
    found = session.exec(
        select(Revision.id).where(col(Revision.design_id) == design_id, col(Revision.number) == number)
    ).first()
    if found is None:
        raise Missing(f"revision of design {design_id} with the number", number)
    return found


def build_view(
    inputs: CostInputs,
    shop: ShopFacts,
    weaves: ShopWeaves,
    ask: CostSettings,
    *,
    moves: bool = False,
    stock_costs: Mapping[int, UnitCost] | None = None,
) -> CostView:
    """Cost and price what was read; `stock_costs` of its parts let it say both what they cost and cost again.

    Raises: ValueError for a choice that is not there, or pieces out of range.
    """
    weave = WEAVES.get(inputs.weave) if inputs.weave else None
    basis, costs = None, stock_costs or {}
    if costs:
        at_stock = at_stock_cost(inputs, costs)
        both = _cost_of(inputs, shop, ask), _cost_of(at_stock, shop, ask)
        basis = basis_of(ask.by, *both, one_piece(inputs.parts, ask.choices, ask.with_optional), costs)
        inputs = at_stock if ask.by == "stock" else inputs
    parts = one_piece(inputs.parts, ask.choices, ask.with_optional)
    cost = _cost_of(inputs, shop, ask)
    view = CostView(
        inputs=inputs,
        ask=ask,
        currency=shop.currency,
        weave=weave,
        parts=parts,
        cost=cost,
        outlets=outlet_views(inputs, cost, shop, ask.prices),
        everywhere=everywhere_price(cost, shop, ask.retail) if len(shop.outlets) > 1 else None,
        one_price=shop.one_price,
        unpriced=_unpriced(parts),
        fits=_fits(parts, weave, weaves),
        choices=_choices(inputs, ask),
        optional=tuple(
            OptionalPart(part, part.position in ask.with_optional) for part in inputs.parts if part.optional
        ),
        basis=basis,
    )
    return _with_moves(view, shop) if moves else view


def _cost_of(inputs: CostInputs, shop: ShopFacts, ask: CostSettings) -> DesignCost:
    """What a piece costs as asked."""
    weave = WEAVES.get(inputs.weave) if inputs.weave else None
    return cost_design(
        [part.to_input() for part in one_piece(inputs.parts, ask.choices, ask.with_optional)],
        inputs.work,
        shop.rates_of(inputs.design_id),
        weave_difficulty=weave.difficulty if weave else None,
        pieces=ask.pieces,
        allowance=inputs.allowance,
    )


def _with_moves(view: CostView, shop: ShopFacts) -> CostView:
    headline = view.headline
    if headline is None:
        return view
    found = sensitivity(
        [part.to_input() for part in view.parts],
        view.inputs.work,
        shop.rates_of(view.design_id),
        headline.outlet,
        currency=shop.currency,
        weave_difficulty=view.weave.difficulty if view.weave else None,
        pieces=view.pieces,
        allowance=view.inputs.allowance,
    )
    return view if isinstance(found, Impossible) else replace(view, moves=tuple(found[:MOST_MOVES]))


def _unpriced(parts: tuple[PartFacts, ...]) -> tuple[Unpriced, ...]:
    found = {
        (part.thing.item_id, part.thing.name): Unpriced(part.thing.name, part.thing.no_price, part.thing.item_id)
        for part in parts
        if part.thing.unit_cost is None
    }
    return tuple(found.values())


def _fits(parts: tuple[PartFacts, ...], weave: Weave | None, weaves: ShopWeaves) -> tuple[PartFit, ...]:
    """The fit of each ring size once, the most used first; nothing for a design without a weave."""
    counts: dict[RingSize, Decimal] = {}
    first: dict[RingSize, PartFacts] = {}
    for part in parts:
        size = part.thing.size
        if size is not None:
            counts[size] = counts.get(size, Decimal(0)) + part.quantity
            first.setdefault(size, part)
    if weave is None or not counts:
        return ()
    sizes = sorted(counts, key=lambda size: -counts[size])
    if weave.code.startswith(HUB_WEAVES) and len(sizes) > 1:
        # Here the aspect ratio is the hub's opening over the connecting ring's wire: two rings, one verdict.
        hub = max(sizes, key=lambda size: size.inner_nm)
        connector = next(size for size in sizes if size != hub)
        return (PartFit(first[hub], weaves.fit(weave.code, RingSize(connector.wire_nm, hub.inner_nm)), matters=True),)
    all_rings = sum(counts.values(), Decimal(0))
    largest = max(sizes, key=lambda size: size.outer_nm)
    return tuple(
        PartFit(
            first[size],
            weaves.fit(_weave_of_size(weave.code, size, largest, alone=len(sizes) == 1), size),
            matters=counts[size] * 10 >= all_rings,
        )
        for size in sizes
    )


def _weave_of_size(weave: str, size: RingSize, largest: RingSize, *, alone: bool) -> str:
    """A helm chain has a window for its large rings and one for its small ones."""
    if not weave.startswith("helm-") or alone:
        return weave
    return "helm-large" if size == largest else "helm-small"


def _choices(inputs: CostInputs, ask: CostSettings) -> tuple[Choice, ...]:
    picked = {**usual_choices(inputs.parts), **ask.choices}
    groups: dict[str, dict[str, None]] = {}
    for part in inputs.parts:
        if part.group:
            groups.setdefault(part.group, {})[part.choice] = None
    return tuple(
        Choice(group, tuple(Option(name, choice_value(group, name), picked[group] == name) for name in names))
        for group, names in groups.items()
    )


def choice_value(group: str, choice: str) -> str:
    """How a page or a program asks for a choice: 'colour=green'."""
    return f"{group}={choice}"


def _ask_of(inputs: CostInputs, question: CostRequest) -> tuple[CostSettings, Faults | None]:
    """What is asked of this design; a choice or part that it does not have is left out and named."""
    known = {choice_value(part.group, part.choice): part for part in inputs.parts if part.group}
    places = {part.position for part in inputs.parts if part.optional}
    strange = [value for value in question.choices if value not in known]
    nowhere = [place for place in question.with_optional if place not in places]
    faults = [Fault("choice", f"This design has no choice '{value}'.") for value in strange]
    faults += [Fault("with", f"This design has no optional part at place {place}.") for place in nowhere]
    ask = CostSettings(
        pieces=question.pieces,
        choices={known[value].group: known[value].choice for value in question.choices if value in known},
        with_optional=tuple(place for place in question.with_optional if place in places),
        prices=question.prices,
        retail=question.retail,
        by=question.by,
    )
    return ask, Faults(tuple(faults)) if faults else None
