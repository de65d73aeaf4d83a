"""What a build asks of the design: the parts of its pieces, how much of each stock item, and what it should cost.

Which bags to take it from stands in `build_plan`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Context, Decimal
from typing import Any, Final

from sqlmodel import Session

from models.costing.design_cost import DesignCost, allowance_of, cost_design
from models.costing.inputs import ShopRates
from models.errors import Missing, Unfit
from models.intake.builds.build import BuildRequest
from models.intake.faults import Fault, Faults
from models.kept import KeptDocument
from models.queries.costing.costing import Choice, Option, choice_value, revision_of
from models.queries.costing.inputs import CostInputs, ShopFacts, load_cost_inputs, load_shop_facts
from models.queries.costing.part_facts import PartFacts, one_piece, usual_choices
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.trade.money import millionth, to_micros
from models.trade.weaves import WEAVES

_EXACT = Context(prec=50, rounding=ROUND_HALF_EVEN)


@dataclass(frozen=True, slots=True)
class Picks:
    """How the pieces of a build are made: the choice of each group, and the positions of the optional parts.

    `instead` are pairs of items: the second is used in the place of the first.
    """

    choices: Mapping[str, str] = field(default_factory=dict)
    with_optional: tuple[int, ...] = ()
    instead: tuple[tuple[int, int], ...] = ()

    def words(self) -> str:
        """The choices in words: 'colour green'."""
        return ", ".join(f"{group} {choice}" for group, choice in self.choices.items())


def _named_with_optional(kept: dict[str, Any]) -> dict[str, Any]:
    """Before formats had numbers, the optional parts stood under 'with'."""
    return {("with_optional" if name == "with" else name): value for name, value in kept.items()}


KEPT_PICKS: Final[KeptDocument[Picks]] = KeptDocument(Picks, upgrades={0: _named_with_optional})
"""The picks as a build keeps them."""


@dataclass(frozen=True, slots=True)
class Need:
    """How much of one stock item a build needs, in thousandths: for one piece, for all, and as the allowance."""

    item_id: int
    piece_milli: int
    need_milli: int
    spare_milli: int
    purposes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Estimate:
    """What all pieces of a build should cost and how long they should take, without work that is done once a design.

    Money in the shop's currency; minutes likely, and the 10th and the 90th of a hundred. `cost` is of one piece.
    """

    cost: DesignCost
    pieces: int

    @property
    def total(self) -> Decimal:
        """What all pieces should cost."""
        return self.cost.total

    @property
    def each(self) -> Decimal:
        """What one piece should cost."""
        return self.cost.per_piece

    @property
    def minutes(self) -> Decimal:
        """The likely minutes of all pieces."""
        return self.cost.minutes.likely * self.pieces

    @property
    def low(self) -> Decimal:
        """The minutes that one build in ten stays under."""
        return self.cost.minutes.low * self.pieces

    @property
    def high(self) -> Decimal:
        """The minutes that one build in ten goes over."""
        return self.cost.minutes.high * self.pieces


@dataclass(frozen=True, slots=True)
class BuildParts:
    """What is made, resolved: the revision, the parts of one piece after choices, and what each item needs.

    `not_stocked` are parts that are no stock items, so nothing can be taken out for them. `swaps` are the things that
    the design has and what is used in their place.
    """

    inputs: CostInputs
    shop: ShopFacts
    pieces: int
    picks: Picks
    parts: tuple[PartFacts, ...]
    needs: tuple[Need, ...]
    not_stocked: tuple[PartFacts, ...]
    swaps: tuple[tuple[Material, Material], ...] = ()

    @property
    def revision_id(self) -> int:
        """The revision that is made."""
        return self.inputs.revision_id or 0

    @property
    def choices(self) -> tuple[Choice, ...]:
        """The groups of alternatives with what is picked."""
        groups: dict[str, dict[str, None]] = {}
        for part in self.inputs.parts:
            if part.group:
                groups.setdefault(part.group, {})[part.choice] = None
        return tuple(
            Choice(
                group,
                tuple(Option(name, choice_value(group, name), self.picks.choices[group] == name) for name in names),
            )
            for group, names in groups.items()
        )

    @property
    def optional(self) -> tuple[tuple[PartFacts, bool], ...]:
        """The parts that a piece can have or not, and whether it has."""
        return tuple((part, part.position in self.picks.with_optional) for part in self.inputs.parts if part.optional)

    def estimate(self, pieces: int | None = None) -> Estimate:
        """What these pieces, or so many of them, should cost and take."""
        many = self.pieces if pieces is None else pieces
        return estimate_of(self.inputs, self.parts, self.rates, many)

    def guessed(self, made: int) -> tuple[tuple[PartFacts, Decimal], ...]:
        """The parts of so many pieces that are no stock items, each with its guessed amount; nothing where none is.

        Each amount is rounded once to a millionth, as in the estimate, so that both can be held against each other.
        """
        return tuple(
            (part, Decimal(0) if cost is None else millionth(_EXACT.multiply(part.quantity * made, cost.amount)))
            for part in self.not_stocked
            for cost in (part.thing.unit_cost,)
        )

    def guessed_micros(self, made: int) -> int:
        """What the parts of so many pieces that are no stock items are guessed at together, in millionths."""
        return sum(to_micros(amount) for _, amount in self.guessed(made))

    @property
    def rates(self) -> ShopRates:
        """The rates for this design: what the shop's own builds have taught, else the starting ones."""
        return self.shop.rates_of(self.inputs.design_id)


def build_parts(session: Session, ask: BuildRequest) -> BuildParts:
    """What is asked for, resolved. Raises: Missing; Unfit for a choice that the design does not have."""
    revision_id = revision_of(session, ask.design_id, ask.number)
    shop = load_shop_facts(session)
    inputs = load_cost_inputs(session, [revision_id], shop.metals)[revision_id]
    picks = _picks(inputs, ask)
    found = resolve(inputs, shop, ask.pieces, picks)
    return _swapped(session, found) if picks.instead else found


def parts_of_revision(session: Session, revision_id: int, pieces: int, picks: Picks) -> BuildParts:
    """What a build that was started makes. Raises: Missing."""
    shop = load_shop_facts(session)
    inputs = load_cost_inputs(session, [revision_id], shop.metals).get(revision_id)
    if inputs is None:
        raise Missing("revision", revision_id)
    found = resolve(inputs, shop, pieces, picks)
    return _swapped(session, found) if picks.instead else found


def resolve(inputs: CostInputs, shop: ShopFacts, pieces: int, picks: Picks) -> BuildParts:
    """The parts and needs of what was read."""
    whole = Picks({**usual_choices(inputs.parts), **picks.choices}, picks.with_optional, picks.instead)
    parts = one_piece(inputs.parts, whole.choices, whole.with_optional)
    return BuildParts(
        inputs=inputs,
        shop=shop,
        pieces=pieces,
        picks=whole,
        parts=parts,
        needs=_needs(parts, pieces, shop.rates.allowance if inputs.allowance is None else inputs.allowance),
        not_stocked=tuple(part for part in parts if part.thing.item_id is None),
    )


def _swapped(session: Session, found: BuildParts) -> BuildParts:
    """The same with other items in the place of some. Raises: Unfit for one that cannot."""
    instead = dict(found.picks.instead)
    others = load_materials(session, set(instead.values()), found.shop.metals, offers="last")
    mine = {part.thing.item_id: part.thing for part in found.parts if part.thing.item_id is not None}
    for item_id, other_id in instead.items():
        old, new = mine.get(item_id), others.get(other_id)
        if old is None:
            raise Unfit(Faults.of("instead", "What is to be replaced is not in this piece. Look at its parts."))
        if new is None or (new.kind, new.unit) != (old.kind, old.unit):
            raise Unfit(Faults.of("instead", f"Only another {old.kind} can take the place of {old.name}."))
    parts = tuple(
        replace(part, thing=others[instead[part.thing.item_id]]) if part.thing.item_id in instead else part
        for part in found.parts
    )
    share = found.shop.rates.allowance if found.inputs.allowance is None else found.inputs.allowance
    return replace(
        found,
        parts=parts,
        needs=_needs(parts, found.pieces, share),
        swaps=tuple((mine[item_id], others[other_id]) for item_id, other_id in instead.items()),
    )


def estimate_of(inputs: CostInputs, parts: Sequence[PartFacts], rates: ShopRates, pieces: int) -> Estimate:
    """What so many pieces should cost and take at the bench."""
    weave = WEAVES.get(inputs.weave) if inputs.weave else None
    cost = cost_design(
        [part.to_input() for part in parts],
        replace(inputs.work, once={}),
        rates,
        weave_difficulty=weave.difficulty if weave else None,
        pieces=pieces,
        allowance=inputs.allowance,
    )
    return Estimate(cost, pieces)


def _picks(inputs: CostInputs, ask: BuildRequest) -> Picks:
    known = {choice_value(part.group, part.choice): part for part in inputs.parts if part.group}
    places = {part.position for part in inputs.parts if part.optional}
    faults = [
        Fault("choice", f"This design has no choice '{value}'.") for value in ask.choices if value not in known
    ] + [
        Fault("with", f"This design has no optional part at place {place}.")
        for place in ask.with_optional
        if place not in places
    ]
    if faults:
        raise Unfit(Faults(tuple(faults)))
    picked = {known[value].group: known[value].choice for value in ask.choices}
    return Picks(picked, tuple(ask.with_optional), tuple(ask.instead))


def _needs(parts: Sequence[PartFacts], pieces: int, allowance: Decimal) -> tuple[Need, ...]:
    """What each item needs; of what is counted one by one a fraction of a piece is rounded up for all pieces.

    The allowance is rounded up once for each item: to whole pieces, or to thousandths of a metre or gram.
    """
    amounts: dict[int, Decimal] = {}
    spares: dict[int, Decimal] = {}
    units: dict[int, str] = {}
    purposes: dict[int, dict[str, None]] = {}
    for part in parts:
        item_id = part.thing.item_id
        if item_id is None:
            continue
        amounts[item_id] = amounts.get(item_id, Decimal(0)) + part.quantity
        lost = _EXACT.multiply(part.quantity, allowance_of(part.to_input(), allowance))
        spares[item_id] = spares.get(item_id, Decimal(0)) + lost
        units[item_id] = part.thing.unit
        if part.purpose:
            purposes.setdefault(item_id, {})[part.purpose] = None
    return tuple(
        Need(
            item_id=item_id,
            piece_milli=_up(amount, units[item_id]),
            need_milli=_up(amount * pieces, units[item_id]),
            spare_milli=_up(spares[item_id] * pieces, units[item_id]),
            purposes=tuple(purposes.get(item_id, ())),
        )
        for item_id, amount in amounts.items()
    )


def _up(amount: Decimal, unit: str) -> int:
    step = 1000 if unit == "piece" else 1
    return int((amount * 1000 / step).to_integral_value(ROUND_CEILING)) * step
