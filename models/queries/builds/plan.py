"""What to take from which lot and place for a build, and what is short; nothing is written or reserved.

Oldest lots first. Of a colour that differs from batch to batch one lot for all pieces if it can, else one for each.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlmodel import Session, col

from models.errors import NotEnoughStock, Unfit
from models.intake.builds.build import BuildRequest, bag_value
from models.intake.faults import Faults
from models.queries.builds.parts import BuildParts, Estimate, Need, build_parts
from models.queries.costing.part_facts import PartFacts
from models.queries.stock.bag_choice import from_bags
from models.queries.stock.item import load_materials
from models.queries.stock.lot import Bag, LotView, lots_of
from models.queries.stock.material import Material
from models.tables import Item
from models.trade import lots as trade
from models.trade.one_batch import Batches, pick_batches


@dataclass(frozen=True, slots=True)
class PlanBag:
    """A bag that something can be taken from; thousandths."""

    lot_id: int
    place: str
    batch: str
    received_on: date
    quantity_milli: int
    free_milli: int
    rough: str
    tare_ug: int | None

    @property
    def value(self) -> str:
        """How a page names it in one field."""
        return bag_value(self.lot_id, self.place)


@dataclass(frozen=True, slots=True)
class PlanLine:
    """How much to take from one bag."""

    bag: PlanBag
    quantity_milli: int


@dataclass(frozen=True, slots=True)
class PlanItem:
    """One stock item of a build: what is needed of it, what to take from which bag, or what is short of it.

    Where it is short, `lines` are all that is free. `batches` says how lots were mixed where they differ, None where
    that does not matter. `bags` are all that hold any of it that is free.
    """

    item: Material
    need: Need
    lines: tuple[PlanLine, ...]
    bags: tuple[PlanBag, ...]
    batches: Batches | None
    short: NotEnoughStock | None

    @property
    def take_milli(self) -> int:
        """What is taken in all, with what is spare."""
        return sum(line.quantity_milli for line in self.lines)

    @property
    def rough(self) -> str:
        """The least sure of the counts that the answer rests on: '', 'about' or 'plenty'."""
        roughs = {line.bag.rough for line in self.lines}
        return "plenty" if "plenty" in roughs else "about" if "about" in roughs else ""


@dataclass(frozen=True, slots=True)
class BuildPlan:
    """What a build would take. `possible` is how many pieces the free stock makes, as counted."""

    parts: BuildParts
    items: tuple[PlanItem, ...]
    possible: int

    @property
    def estimate(self) -> Estimate:
        """What the pieces should cost and take."""
        return self.parts.estimate()

    @property
    def not_stocked(self) -> tuple[PartFacts, ...]:
        """The parts that nothing can be taken out for."""
        return self.parts.not_stocked

    @property
    def shorts(self) -> tuple[NotEnoughStock, ...]:
        """Every item of which too little is free."""
        return tuple(one.short for one in self.items if one.short is not None)

    @property
    def bags(self) -> int:
        """From how many bags is taken."""
        return sum(len(one.lines) for one in self.items)

    @property
    def rings_milli(self) -> int:
        """How many rings are taken."""
        return sum(one.take_milli for one in self.items if one.item.kind == "ring")

    @property
    def scale_nm(self) -> int:
        """The outer diameter of the largest of its rings, so that all are drawn to one scale."""
        return max((one.item.size.outer_nm for one in self.items if one.item.size), default=1)


def plan_build(session: Session, ask: BuildRequest, *, spare: bool = False) -> BuildPlan:
    """What to take for these pieces; `spare` takes the allowance for spoiled rings along.

    Raises: Missing; Unfit for a choice that the design does not have, or a design without parts.
    """
    parts = build_parts(session, ask)
    if not parts.parts:
        words = f"{parts.inputs.name} has no parts yet. Type them first, then it can be made."
        raise Unfit(Faults.of("design_id", words))
    return plan_of_parts(session, parts, spare=spare)


def plan_of_parts(session: Session, parts: BuildParts, *, spare: bool = False) -> BuildPlan:
    """The same, of parts that are resolved already."""
    ids = [need.item_id for need in parts.needs]
    lots, items = lots_of(session, ids), load_materials(session, ids)
    differing = _batch_colours(session, ids)
    planned = tuple(
        _planned(
            items[need.item_id],
            need,
            lots[need.item_id],
            parts.pieces,
            differing=need.item_id in differing,
            spare=spare,
        )
        for need in parts.needs
    )
    return BuildPlan(parts, planned, _possible(parts.needs, lots))


def bags_of(lots: Sequence[LotView]) -> tuple[PlanBag, ...]:
    """The bags of an item that hold anything free, oldest lot first."""
    return tuple(_bag(lot, bag) for lot in lots for bag in lot.bags if bag.free_milli > 0)


def _possible(needs: Sequence[Need], lots: dict[int, tuple[LotView, ...]]) -> int:
    found = [
        sum(lot.free_milli for lot in lots[need.item_id]) // need.piece_milli for need in needs if need.piece_milli
    ]
    return min(found, default=0)


def _planned(
    item: Material, need: Need, lots: Sequence[LotView], pieces: int, *, differing: bool, spare: bool
) -> PlanItem:
    extra = need.spare_milli if spare else 0
    plain = [trade.Lot(lot.id, lot.received_on, lot.quantity_milli, 0, lot.reserved_milli) for lot in lots]
    batches: Batches | None = None
    short: NotEnoughStock | None = None
    picks: tuple[trade.Pick, ...] = ()
    try:
        if differing:
            found = pick_batches(plain, need.piece_milli, pieces, extra)
            picks, batches = found.picks, found.batches
        else:
            picks = trade.pick_oldest(plain, need.need_milli + extra)
    except trade.NotEnough as not_enough:
        short = NotEnoughStock(
            needed_milli=not_enough.needed_milli,
            available_milli=not_enough.free_milli,
            item=item.name,
            item_id=item.id,
            unit=item.unit_words,
            reserved_milli=not_enough.held_milli,
        )
        picks = tuple(trade.Pick(lot.id, lot.free_milli) for lot in lots if lot.free_milli)
    by_id = {lot.id: lot for lot in lots}
    by_bag = {(bag.lot_id, bag.place): bag for bag in bags_of(lots)}
    takings = [taking for each in picks for taking in from_bags(by_id[each.lot_id].bags, each.quantity_milli)]
    return PlanItem(
        item=item,
        need=need,
        lines=tuple(PlanLine(by_bag[(each.lot_id, each.place)], each.quantity_milli) for each in takings),
        bags=tuple(by_bag.values()),
        batches=batches,
        short=short,
    )


def _bag(lot: LotView, bag: Bag) -> PlanBag:
    return PlanBag(
        lot_id=lot.id,
        place=bag.place,
        batch=lot.batch,
        received_on=lot.received_on,
        quantity_milli=bag.quantity_milli,
        free_milli=bag.free_milli,
        rough=bag.rough,
        tare_ug=bag.tare_ug,
    )


def _batch_colours(session: Session, item_ids: Collection[int]) -> set[int]:
    """The items whose colour differs from batch to batch."""
    return set(session.scalars(select(col(Item.id)).where(col(Item.id).in_(item_ids), col(Item.batch_colour))))
