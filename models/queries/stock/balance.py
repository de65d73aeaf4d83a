"""What is on the shelf by item: on hand, reserved, free and worth; what runs low, what lies dead, what all is worth.

Everything is read from the balances that the ledger keeps; no query here touches a movement.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import date
from decimal import Context, Decimal

from sqlalchemy import func, or_, select
from sqlmodel import Session, col

from models.costing.inputs import UnitCost
from models.costing.lines import Line
from models.intake.stock.offer import from_milli
from models.planning.low import standing
from models.queries.stock.material import ItemWords
from models.queries.stock.on_order import drafted_milli, on_order_milli
from models.tables import Item, ItemBalance, Lot, LotPlace
from models.trade.money import from_micros
from models.trade.vocabulary.ledger import SURENESS

_EXACT = Context(prec=50)


@dataclass(frozen=True, slots=True)
class Balance:
    """One item over all its lots: thousandths of its unit, its whole value in millionths.

    `rough` is the least sure of its bags' counts: '', 'about' or 'plenty', of an emptied one too. `lots` and `places`
    are where any of it lies now. `on_order_milli` is what sent purchases still bring.
    """

    item_id: int
    on_hand_milli: int = 0
    reserved_milli: int = 0
    value_micros: int = 0
    last_moved_on: date | None = None
    lots: int = 0
    places: tuple[str, ...] = ()
    rough: str = ""
    on_order_milli: int = 0

    @property
    def free_milli(self) -> int:
        """What is not reserved."""
        return self.on_hand_milli - self.reserved_milli

    @property
    def unit_cost(self) -> Decimal | None:
        """What one unit cost on average, unrounded; None when there is none."""
        if not self.on_hand_milli:
            return None
        return _EXACT.divide(Decimal(self.value_micros), Decimal(1000 * self.on_hand_milli))


@dataclass(slots=True)
class _Lying:
    """Where an item lies, gathered from its bags."""

    lots: set[int] = field(default_factory=set)
    places: dict[str, None] = field(default_factory=dict)
    rough: str = ""


@dataclass(frozen=True, slots=True)
class LowItem:
    """An item with no more free than its reorder point, as `models/planning/low` decides.

    `wanted_milli` is what must be bought beyond what is on order and in drafts, whatever else the list asks for.
    """

    item: ItemWords
    free_milli: int
    on_order_milli: int
    reorder_milli: int
    target_milli: int | None
    wanted_milli: int


@dataclass(frozen=True, slots=True)
class DeadItem:
    """An item of which nothing came in or was used since `last_moved_on`."""

    item: ItemWords
    on_hand_milli: int
    value_micros: int
    last_moved_on: date | None


@dataclass(frozen=True, slots=True)
class ShelfPart:
    """What the items of one kind, or of one metal ('' without one), are worth together, in millionths."""

    code: str
    items: int
    value_micros: int


@dataclass(frozen=True, slots=True)
class ShelfValue:
    """What is on the shelf, dearest part first."""

    value_micros: int
    provisional_micros: int
    """The part of it that nobody paid: lots valued by an offer because no cost was known."""
    by_kind: tuple[ShelfPart, ...]
    by_metal: tuple[ShelfPart, ...]


def balances(session: Session, item_ids: Collection[int] | None = None) -> dict[int, Balance]:
    """The balances by item: of these (empty where there never was any), or of all that ever were there or will come."""
    found = select(
        col(ItemBalance.item_id),
        col(ItemBalance.on_hand_milli),
        col(ItemBalance.reserved_milli),
        col(ItemBalance.value_micros),
        col(ItemBalance.last_moved_on),
    )
    bags = (
        select(
            col(Lot.item_id),
            col(LotPlace.lot_id),
            col(LotPlace.place),
            col(LotPlace.rough),
            col(LotPlace.quantity_milli),
        )
        .join(Lot, col(Lot.id) == col(LotPlace.lot_id))
        .where(or_(col(LotPlace.quantity_milli) > 0, col(LotPlace.rough) != ""))
        .order_by(col(Lot.received_on), col(Lot.id), col(LotPlace.place))
    )
    if item_ids is not None:
        found = found.where(col(ItemBalance.item_id).in_(item_ids))
        bags = bags.where(col(Lot.item_id).in_(item_ids))
    lying: dict[int, _Lying] = {}
    for item_id, lot_id, place, rough, milli in session.execute(bags):
        one = lying.setdefault(item_id, _Lying())
        one.rough = max(one.rough, rough, key=SURENESS.index)
        if milli:
            one.lots.add(lot_id)
        if milli and place:
            one.places[place] = None
    empty = _Lying()
    coming = on_order_milli(session, item_ids)
    bare = coming if item_ids is None else item_ids
    answer = {item_id: Balance(item_id, on_order_milli=coming.get(item_id, 0)) for item_id in bare}
    for row in session.execute(found):
        where = lying.get(row.item_id, empty)
        answer[row.item_id] = Balance(
            item_id=row.item_id,
            on_hand_milli=row.on_hand_milli,
            reserved_milli=row.reserved_milli,
            value_micros=row.value_micros,
            last_moved_on=row.last_moved_on,
            on_order_milli=coming.get(row.item_id, 0),
            lots=len(where.lots),
            places=tuple(where.places),
            rough=where.rough,
        )
    return answer


def balance_of(session: Session, item_id: int) -> Balance:
    """The balance of one item; empty when it never had any."""
    return balances(session, (item_id,))[item_id]


def stock_unit_costs(session: Session, item_ids: Collection[int] | None = None) -> dict[int, UnitCost]:
    """What one unit of each item in stock cost the shop: its value on the shelf over what is on hand, with the facts.

    Items with nothing on hand are left out. Provisional where the value of a lot in stock was never paid.
    """
    unpaid = select(col(Lot.item_id)).where(col(Lot.provisional), col(Lot.quantity_milli) > 0).distinct()
    found = (
        select(
            col(Item.id),
            col(Item.name),
            col(Item.kind),
            col(Item.unit),
            col(ItemBalance.on_hand_milli),
            col(ItemBalance.value_micros),
        )
        .join(Item, col(Item.id) == col(ItemBalance.item_id))
        .where(col(ItemBalance.on_hand_milli) > 0)
    )
    if item_ids is not None:
        unpaid = unpaid.where(col(Lot.item_id).in_(item_ids))
        found = found.where(col(ItemBalance.item_id).in_(item_ids))
    provisional = set(session.scalars(unpaid))
    costs = {}
    for row in session.execute(found):
        guessed = row.id in provisional
        reason = "What all lots of it in stock cost, freight included."
        if guessed:
            reason += " Of some nobody said what they cost, so an offer's price stands in."
        unit = ItemWords.of(row).unit_words
        worth, units = from_micros(row.value_micros), from_milli(row.on_hand_milli)
        lines = (
            Line("Worth on the shelf", worth, reason=reason, source="your stock", provisional=guessed),
            Line("On hand", units, amount_unit=unit, reason="In all its bags together.", source="your stock"),
        )
        amount = _EXACT.divide(Decimal(row.value_micros), Decimal(1000 * row.on_hand_milli))
        costs[row.id] = UnitCost(amount, lines, guessed)
    return costs


def low_items(session: Session) -> tuple[LowItem, ...]:
    """The items (not retired) with no more free than their reorder point, the emptiest first."""
    rows = session.execute(
        select(
            col(Item.id),
            col(Item.name),
            col(Item.kind),
            col(Item.unit),
            col(Item.reorder_milli),
            col(Item.target_milli),
        ).where(col(Item.retired).is_(False), col(Item.reorder_milli).is_not(None))
    ).all()
    ids = [row.id for row in rows]
    held, drafted = balances(session, ids), drafted_milli(session, ids)
    low = []
    for row in rows:
        balance = held[row.id]
        stands = standing(
            free_milli=balance.free_milli,
            coming_milli=balance.on_order_milli + drafted.get(row.id, 0),
            point_milli=row.reorder_milli,
            target_milli=row.target_milli,
            plenty=balance.rough == "plenty",
        )
        if stands.low:
            low.append(
                LowItem(
                    item=ItemWords.of(row),
                    free_milli=balance.free_milli,
                    on_order_milli=balance.on_order_milli,
                    reorder_milli=row.reorder_milli,
                    target_milli=row.target_milli,
                    wanted_milli=stands.to_buy_milli,
                )
            )
    return tuple(sorted(low, key=_emptiest_first))


def _emptiest_first(one: LowItem) -> tuple[Decimal, int]:
    """By how much of its point is there; at a point of nothing, nothing is there."""
    return Decimal(one.free_milli) / one.reorder_milli if one.reorder_milli else Decimal(0), one.item.id


def dead_stock(session: Session, before: date) -> tuple[DeadItem, ...]:
    """The items in stock of which nothing came in or was used since the day before `before`, the dearest first."""
    rows = session.execute(
        select(
            col(Item.id),
            col(Item.name),
            col(Item.kind),
            col(Item.unit),
            col(ItemBalance.on_hand_milli),
            col(ItemBalance.value_micros),
            col(ItemBalance.last_moved_on),
        )
        .join(Item, col(Item.id) == col(ItemBalance.item_id))
        .where(
            col(ItemBalance.on_hand_milli) > 0,
            or_(col(ItemBalance.last_moved_on).is_(None), col(ItemBalance.last_moved_on) < before),
        )
        .order_by(col(ItemBalance.value_micros).desc(), col(Item.id))
    )
    return tuple(DeadItem(ItemWords.of(row), row.on_hand_milli, row.value_micros, row.last_moved_on) for row in rows)


def shelf_value(session: Session) -> ShelfValue:
    """What the shelf is worth: in all, by kind and by metal."""
    rows = session.execute(
        select(
            col(Item.kind),
            col(Item.metal),
            func.count().label("items"),
            func.sum(ItemBalance.value_micros).label("value"),
        )
        .join(Item, col(Item.id) == col(ItemBalance.item_id))
        .where(col(ItemBalance.on_hand_milli) > 0)
        .group_by(col(Item.kind), col(Item.metal))
    ).all()
    provisional = session.scalar(select(func.sum(Lot.value_micros)).where(col(Lot.provisional)))
    return ShelfValue(
        value_micros=sum(int(row.value) for row in rows),
        provisional_micros=int(provisional or 0),
        by_kind=_parts([(row.kind, row.items, int(row.value)) for row in rows]),
        by_metal=_parts([(row.metal or "", row.items, int(row.value)) for row in rows]),
    )


def _parts(rows: list[tuple[str, int, int]]) -> tuple[ShelfPart, ...]:
    found: dict[str, tuple[int, int]] = {}
    for code, items, micros in rows:
        had = found.get(code, (0, 0))
        found[code] = (had[0] + items, had[1] + micros)
    parts = [ShelfPart(code, items, micros) for code, (items, micros) in found.items()]
    return tuple(sorted(parts, key=lambda part: (-part.value_micros, part.code)))
