"""Which bag of a lot is meant: the one rule that counts, leavings, moves, jobs and builds go by.

A named bag is that bag, though nothing may lie in it. Without a name a bag that was emptied is never meant: what leaves
comes from the fullest bags first, and what is about one bag takes the only one that holds anything, else asks. Of a lot
that is used up it is the bag where it lay last.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from sqlalchemy import func, select
from sqlmodel import Session, col

from models.errors import Missing, NotEnoughStock, Unfit
from models.intake.faults import Faults
from models.intake.stock.place import known_as, place_word
from models.queries.stock.item_words import item_words
from models.queries.stock.lot import Bag, LotView, lot_view, lots_of
from models.queries.stock.material import Material
from models.tables import Movement
from models.trade import lots as trade

NOTHING_SPENT: Mapping[tuple[int, str], int] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Taking:
    """How much to take from one bag, in thousandths."""

    lot_id: int
    place: str
    quantity_milli: int
    rough: str = ""

    @property
    def bag(self) -> tuple[int, str]:
        """The bag by its lot and place."""
        return self.lot_id, self.place


@dataclass(frozen=True, slots=True)
class Picking:
    """What to take from which bags; `one_lot` tells whether one lot covers the whole."""

    takings: tuple[Taking, ...]
    one_lot: bool

    @property
    def rough(self) -> bool:
        """Whether the answer rests on a rough count."""
        return any(taking.rough for taking in self.takings)


def bags_meant(lot: LotView, place: str | None) -> tuple[Bag, ...]:
    """The bag of a lot in a place, which may hold nothing; without a place (None) every bag that holds anything."""
    if place is None:
        return tuple(bag for bag in lot.bags if bag.quantity_milli)
    where = known_as(place, (bag.place for bag in lot.bags))
    return (next((bag for bag in lot.bags if bag.place == where), _nothing_in(lot, where)),)


def only_place(session: Session, lot_id: int) -> str | None:
    """Where a lot lies, or lay last when it is used up; None where it lies in several places. Raises: Missing."""
    lot = lot_view(session, lot_id)
    if len(bags_meant(lot, None)) > 1:
        return None
    return one_bag(session, lot, None, field="place", asked="").place


def one_bag(session: Session, lot: LotView, place: str | None, *, field: str, asked: str) -> Bag:
    """The one bag that is meant. Raises: Unfit beside `field` where it could be several; `asked` asks for it."""
    bags = bags_meant(lot, place)
    if len(bags) > 1:
        named = ", ".join(place_word(bag.place) for bag in bags)
        raise Unfit(Faults.of(field, f"This lot lies in several places. {asked}: {named}."))
    return bags[0] if bags else bags_meant(lot, last_places(session, (lot.id,)).get(lot.id, ""))[0]


def take_from_lot(
    lot: LotView,
    item: Material,
    milli: int,
    place: str | None,
    *,
    spent: Mapping[tuple[int, str], int] = NOTHING_SPENT,
) -> tuple[Taking, ...]:
    """What to take from a lot's bags: from the one in a place, else the fullest first.

    `spent` is what the same act takes from bags already. Raises: NotEnoughStock.
    """
    bags = bags_meant(_to_pick(lot, place, spent), place)
    takings = from_bags(bags, milli)
    if sum(taking.quantity_milli for taking in takings) < milli:
        raise NotEnoughStock(
            needed_milli=milli,
            available_milli=sum(bag.free_milli for bag in bags),
            item=item.name,
            item_id=item.id,
            unit=item.unit_words,
            lot_id=lot.id,
            place=place,
            reserved_milli=sum(bag.reserved_milli for bag in bags),
        )
    return tuple(takings)


def pick(
    session: Session,
    item_id: int,
    quantity_milli: int,
    *,
    one_lot: bool = False,
    place: str | None = None,
    spent: Mapping[tuple[int, str], int] = NOTHING_SPENT,
) -> Picking:
    """What to take of an item: the oldest lots first, or with `one_lot` one lot for the whole if any covers it.

    Within a lot the fullest bag goes first, so that few bags are opened. `place` takes only what lies there; `spent` is
    what the same act takes from bags already. Raises: NotEnoughStock, Missing; ValueError for nothing.
    """
    lots = tuple(_to_pick(lot, place, spent) for lot in lots_of(session, (item_id,))[item_id])
    plain = [
        trade.Lot(lot.id, lot.received_on, lot.quantity_milli, 0, lot.reserved_milli)
        for lot in lots
        if lot.quantity_milli
    ]
    try:
        if one_lot:
            picked = trade.pick_one_lot(plain, quantity_milli)
        else:
            picks = trade.pick_oldest(plain, quantity_milli)
            picked = trade.Picked(picks, len(picks) == 1)
    except trade.NotEnough as short:
        words = item_words(session, (item_id,))
        if item_id not in words:
            raise Missing("item", item_id) from None
        raise NotEnoughStock(
            needed_milli=quantity_milli,
            available_milli=short.free_milli,
            item=words[item_id].name,
            item_id=item_id,
            unit=words[item_id].unit_words,
            place=place,
            reserved_milli=short.held_milli,
        ) from None
    by_id = {lot.id: lot for lot in lots}
    takings = [taking for each in picked.picks for taking in from_bags(by_id[each.lot_id].bags, each.quantity_milli)]
    return Picking(tuple(takings), picked.one_lot)


def _to_pick(lot: LotView, place: str | None, spent: Mapping[tuple[int, str], int]) -> LotView:
    """A lot as there is to pick from: only what lies in a place, without what the same act takes already."""
    if place is not None:
        place = known_as(place, (bag.place for bag in lot.bags))
    bags = tuple(
        replace(bag, quantity_milli=max(bag.reserved_milli, bag.quantity_milli - spent.get((lot.id, bag.place), 0)))
        for bag in lot.bags
        if place in (None, bag.place)
    )
    return replace(lot, quantity_milli=sum(bag.quantity_milli for bag in bags), bags=bags)


def from_bags(bags: Iterable[Bag], quantity_milli: int) -> list[Taking]:
    """What to take from a lot's bags, the fullest first; less than was asked for where they hold less."""
    found, left = [], quantity_milli
    for bag in sorted(bags, key=lambda bag: (-bag.free_milli, bag.place)):
        part = min(left, bag.free_milli)
        if part > 0:
            found.append(Taking(bag.lot_id, bag.place, part, bag.rough))
            left -= part
    return found


def last_places(session: Session, lot_ids: Collection[int]) -> dict[int, str]:
    """Where each lot was moved, taken from or counted last, by lot; for lots that are used up."""
    latest = (
        select(func.max(col(Movement.id)))
        .where(col(Movement.lot_id).in_(lot_ids), col(Movement.quantity_milli) != 0)
        .group_by(col(Movement.lot_id))
    )
    rows = session.execute(select(col(Movement.lot_id), col(Movement.place)).where(col(Movement.id).in_(latest)))
    return {row.lot_id: row.place for row in rows}


def _nothing_in(lot: LotView, place: str) -> Bag:
    return Bag(lot.id, place, 0, 0, None, "", None)
