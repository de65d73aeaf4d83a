"""Lots and the bags that they lie in: of an item, of a drawer, of a place.

Which of them is meant or taken from stands in `bag_choice`; what an item has over all its lots in `balance`; what was
done with a lot in `ledger`.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Context, Decimal
from typing import Any

from sqlalchemy import Select, func, or_, select
from sqlmodel import Session, col

from models.errors import Missing
from models.queries.shop.gathering import Gathering, gathering_in
from models.queries.stock.item import in_order, load_materials
from models.queries.stock.material import Material
from models.tables import ItemBalance, Lot, LotPlace, Supplier

_EXACT = Context(prec=50)


BagKey = tuple[int, str]
"""A bag by its lot and its place."""


@dataclass(frozen=True, slots=True)
class Bag:
    """What lies of one lot in one place: thousandths; `tare_ug` is what the empty bag weighs.

    `rough` is how sure its count is: '' counted, 'about', 'plenty'.
    """

    lot_id: int
    place: str
    quantity_milli: int
    reserved_milli: int
    tare_ug: int | None
    rough: str
    counted_on: date | None

    @property
    def free_milli(self) -> int:
        """What is not reserved."""
        return self.quantity_milli - self.reserved_milli


@dataclass(frozen=True, slots=True)
class LotView:
    """One lot: what is left of it and where, and what came in at what cost; thousandths and millionths.

    `paid_micros` is in `currency` ('' the shop's own); None where nobody said what it cost. `provisional` marks a value
    that nobody paid.
    """

    id: int
    item_id: int
    supplier_id: int | None
    supplier: str
    batch: str
    received_on: date
    quantity_milli: int
    value_micros: int
    received_milli: int
    received_micros: int
    paid_micros: int | None
    currency: str
    exchange_rate: Decimal
    freight_micros: int
    provisional: bool
    note: str
    version: int
    bags: tuple[Bag, ...]

    @property
    def reserved_milli(self) -> int:
        """What builds will take from it."""
        return sum(bag.reserved_milli for bag in self.bags)

    @property
    def free_milli(self) -> int:
        """What is not reserved."""
        return self.quantity_milli - self.reserved_milli

    def is_emptied(self, place: str | None) -> bool:
        """Whether some of it lay in a place and nothing does any more."""
        return any(bag.place == place and not bag.quantity_milli for bag in self.bags)

    @property
    def bags_shown(self) -> tuple[Bag, ...]:
        """The bags that hold something, or whose last count was a rough one."""
        return tuple(bag for bag in self.bags if bag.quantity_milli or bag.rough)

    @property
    def unit_cost(self) -> Decimal | None:
        """What one unit of it is worth, unrounded; None when it is empty."""
        if not self.quantity_milli:
            return None
        return _EXACT.divide(Decimal(self.value_micros), Decimal(1000 * self.quantity_milli))


@dataclass(frozen=True, slots=True)
class DrawerLine:
    """One bag as the count page lists it, with its item and what its lot is worth."""

    item: Material
    bag: Bag
    batch: str
    received_on: date
    lot_milli: int
    lot_micros: int


@dataclass(frozen=True, slots=True)
class Place:
    """A place with bags in it: how many, how many of them are rough, and when the longest uncounted was counted."""

    place: str
    bags: int
    items: int
    rough: int
    counted_on: date | None
    """None when any of its bags was never counted."""


_LOT_COLUMNS: tuple[Any, ...] = (
    col(Lot.id),
    col(Lot.item_id),
    col(Lot.supplier_id),
    col(Supplier.name).label("supplier"),
    col(Lot.batch),
    col(Lot.received_on),
    col(Lot.quantity_milli),
    col(Lot.value_micros),
    col(Lot.received_milli),
    col(Lot.received_micros),
    col(Lot.paid_micros),
    col(Lot.currency),
    col(Lot.exchange_rate),
    col(Lot.freight_micros),
    col(Lot.provisional),
    col(Lot.note),
    col(Lot.version),
)
_BAG_COLUMNS: tuple[Any, ...] = (
    col(LotPlace.lot_id),
    col(LotPlace.place),
    col(LotPlace.quantity_milli),
    col(LotPlace.reserved_milli),
    col(LotPlace.tare_ug),
    col(LotPlace.rough),
    col(LotPlace.counted_on),
)


def lots_of(session: Session, item_ids: Collection[int], *, empty: bool = False) -> dict[int, tuple[LotView, ...]]:
    """The lots of these items, oldest first; `empty` ones too where they are asked for."""
    if (gathering := gathering_in(session)) is not None:
        return {item_id: tuple(_held_lots(gathering, item_id, empty=empty)) for item_id in item_ids}
    wanted = _lots().where(col(Lot.item_id).in_(item_ids))
    if not empty:
        wanted = wanted.where(col(Lot.quantity_milli) > 0)
    rows = session.execute(wanted.order_by(col(Lot.received_on), col(Lot.id))).all()
    bags = _bags_by_lot(session, select(*_BAG_COLUMNS).join(Lot).where(col(Lot.item_id).in_(item_ids)))
    found: dict[int, list[LotView]] = {item_id: [] for item_id in item_ids}
    for row in rows:
        found[row.item_id].append(_lot_in(row, bags.get(row.id, ())))
    return {item_id: tuple(lots) for item_id, lots in found.items()}


def lot_view(session: Session, lot_id: int) -> LotView:
    """One lot. Raises: Missing."""
    if (gathering := gathering_in(session)) is not None:
        return _held_lot(gathering, lot_id)
    row = session.execute(_lots().where(col(Lot.id) == lot_id)).first()
    if row is None:
        raise Missing("lot", lot_id)
    bags = _bags_by_lot(session, select(*_BAG_COLUMNS).where(col(LotPlace.lot_id) == lot_id))
    return _lot_in(row, bags.get(lot_id, ()))


def ever_in_stock(session: Session, item_id: int) -> bool:
    """Whether any of an item ever came into stock."""
    return session.scalar(select(col(Lot.id)).where(col(Lot.item_id) == item_id).limit(1)) is not None


def drawer(
    session: Session, place: str | None = None, *, item_id: int | None = None, lot_id: int | None = None
) -> tuple[DrawerLine, ...]:
    """The bags in a place (None: in all of them), place by place and in the order of a well-kept drawer.

    Empty bags are left out, unless their last count was a rough one.
    """
    wanted = (
        select(
            *_BAG_COLUMNS,
            col(Lot.item_id),
            col(Lot.batch),
            col(Lot.received_on),
            col(Lot.quantity_milli).label("lot_milli"),
            col(Lot.value_micros).label("lot_micros"),
        )
        .join(Lot, col(Lot.id) == col(LotPlace.lot_id))
        .where(or_(col(LotPlace.quantity_milli) > 0, col(LotPlace.rough) != ""))
        .order_by(col(Lot.received_on), col(Lot.id))
    )
    if place is not None:
        wanted = wanted.where(col(LotPlace.place) == place)
    if item_id is not None:
        wanted = wanted.where(col(Lot.item_id) == item_id)
    if lot_id is not None:
        wanted = wanted.where(col(LotPlace.lot_id) == lot_id)
    rows = session.execute(wanted).all()
    items = load_materials(session, {row.item_id for row in rows})
    order = {item.id: number for number, item in enumerate(in_order(items.values()))}
    lines = [
        DrawerLine(items[row.item_id], _bag_in(row), row.batch, row.received_on, row.lot_milli, row.lot_micros)
        for row in rows
    ]
    return tuple(sorted(lines, key=lambda line: (natural_order(line.bag.place), order[line.item.id])))


def places(session: Session) -> tuple[Place, ...]:
    """The places that hold anything, in their natural order ('drawer B4' before 'drawer B10')."""
    rows = session.execute(
        select(
            col(LotPlace.place),
            func.count().label("bags"),
            func.count(col(Lot.item_id).distinct()).label("items"),
            func.count(func.nullif(LotPlace.rough, "")).label("rough"),
            func.count(col(LotPlace.counted_on)).label("counted"),
            func.min(LotPlace.counted_on).label("counted_on"),
        )
        .join(Lot, col(Lot.id) == col(LotPlace.lot_id))
        .where(or_(col(LotPlace.quantity_milli) > 0, col(LotPlace.rough) != ""))
        .group_by(col(LotPlace.place))
    )
    found = [
        Place(row.place, row.bags, row.items, row.rough, row.counted_on if row.counted == row.bags else None)
        for row in rows
    ]
    return tuple(sorted(found, key=lambda each: natural_order(each.place)))


def hold_lots(gathering: Gathering, item_ids: Collection[int], lot_ids: Collection[int]) -> None:
    """Read the lots of these items, and of the items of these lots, with their bags and balances."""
    owners = select(col(Lot.item_id)).where(col(Lot.id).in_(lot_ids))
    of_these = or_(col(Lot.item_id).in_(item_ids), col(Lot.item_id).in_(owners))
    gathering.hold(Lot, gathering.scalars(select(Lot).where(of_these).order_by(col(Lot.id))))
    bags = select(LotPlace).join(Lot, col(Lot.id) == col(LotPlace.lot_id)).where(of_these).order_by(col(LotPlace.id))
    gathering.hold(LotPlace, gathering.scalars(bags))
    balances = select(ItemBalance).where(
        or_(col(ItemBalance.item_id).in_(item_ids), col(ItemBalance.item_id).in_(owners))
    )
    gathering.hold(ItemBalance, gathering.scalars(balances))


def held_bags(gathering: Gathering, lot_id: int) -> list[LotPlace]:
    """The bags of a lot that are held."""
    return gathering.by(LotPlace, "lot", lambda bag: bag.lot_id)[lot_id]


def held_lots(gathering: Gathering, item_id: int) -> list[Lot]:
    """The lots of an item that are held, oldest first."""
    lots = gathering.by(Lot, "item", lambda lot: lot.item_id)[item_id]
    return sorted(lots, key=lambda lot: (lot.received_on, lot.id or 0))


def _held_lots(gathering: Gathering, item_id: int, *, empty: bool) -> Iterable[LotView]:
    for lot in held_lots(gathering, item_id):
        if empty or lot.quantity_milli > 0:
            yield _held_lot(gathering, lot.id or 0)


def _held_lot(gathering: Gathering, lot_id: int) -> LotView:
    lot = gathering.held(Lot).get(lot_id)
    if lot is None:
        raise Missing("lot", lot_id)
    supplier = gathering.get(Supplier, lot.supplier_id) if lot.supplier_id is not None else None
    bags = sorted((_bag_in(bag) for bag in held_bags(gathering, lot_id)), key=_bag_order)
    kept = {column.key: getattr(lot, column.key) for column in _LOT_COLUMNS if column.key != "supplier"}
    return LotView(**kept, supplier=supplier.name if supplier else "", bags=tuple(bags))


def _lots() -> Select[Any]:
    return select(*_LOT_COLUMNS).outerjoin(Supplier, col(Supplier.id) == col(Lot.supplier_id))


def _bags_by_lot(session: Session, wanted: Select[Any]) -> dict[int, tuple[Bag, ...]]:
    found: dict[int, list[Bag]] = {}
    for row in session.execute(wanted):
        found.setdefault(row.lot_id, []).append(_bag_in(row))
    return {lot_id: tuple(sorted(bags, key=_bag_order)) for lot_id, bags in found.items()}


def _bag_in(row: Any) -> Bag:
    return Bag(
        lot_id=row.lot_id,
        place=row.place,
        quantity_milli=row.quantity_milli,
        reserved_milli=row.reserved_milli,
        tare_ug=row.tare_ug,
        rough=row.rough,
        counted_on=row.counted_on,
    )


def _lot_in(row: Any, bags: tuple[Bag, ...]) -> LotView:
    return LotView(**{**row._asdict(), "supplier": row.supplier or ""}, bags=bags)


def _bag_order(bag: Bag) -> tuple[object, str]:
    return natural_order(bag.place), bag.place


def natural_order(place: str) -> tuple[tuple[int, int, str], ...]:
    """A place's parts with numbers as numbers, so that B4 comes before B10."""
    parts = re.findall(r"\d+|\D+", place.casefold())
    return tuple((0, int(part), "") if part.isdigit() else (1, 0, part) for part in parts)
