"""The Stock room: items with what is on the shelf, what the whole shelf is worth, and an item's own shelf.

Balances and lots are read as the ledger keeps them; only a page of an item's history touches movements.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from sqlalchemy import func, select
from sqlmodel import Session, col

from models.intake.stock.item_find import ItemFilter
from models.planning.low import standing
from models.queries.stock.balance import Balance, ShelfValue, balance_of, balances, dead_stock, low_items, shelf_value
from models.queries.stock.item_find import ItemList, find_items
from models.queries.stock.ledger import HistoryPage, HistoryPoint, history_points, item_history
from models.queries.stock.lot import LotView, lots_of
from models.queries.stock.material import ItemWords, Material
from models.queries.stock.weighing import WeighingRow, learned_mass, weighing_rows
from models.tables import Item, ItemBalance, Lot, LotPlace
from models.trade.learned_mass import LearnedMass

DEAD_DAYS = 180
"""Stock of which nothing came in or was used for so many days lies dead. A choice of ours, no source."""
GRAPH_DAYS = 365
SHOWN_LINES = 8
SHOWN_LOTS = 30


@dataclass(frozen=True, slots=True)
class Levels:
    """When to buy again and up to how much, in thousandths; whether lots of the colour differ."""

    reorder_milli: int | None = None
    target_milli: int | None = None
    batch_colour: bool = False


@dataclass(frozen=True, slots=True)
class StockRow:
    """One item of the list with what is on the shelf."""

    item: Material
    balance: Balance
    levels: Levels

    @property
    def low(self) -> bool:
        """Whether no more is free than the reorder point."""
        return is_low(self.balance, self.levels, retired=self.item.retired)


@dataclass(frozen=True, slots=True)
class ShelfAnswer:
    """What the whole shelf says: its value in millionths, and how many items are there, low, dead or rough."""

    value: ShelfValue
    there: int
    low: int
    dead: int
    dead_micros: int
    rough: int


@dataclass(frozen=True, slots=True)
class StockPage:
    """The Stock room's list: the items found, each with its shelf, and what the whole shelf says."""

    found: ItemList
    rows: tuple[StockRow, ...]
    shelf: ShelfAnswer


@dataclass(frozen=True, slots=True)
class ItemShelf:
    """One item's shelf: balance, levels, lots with their bags, the latest of its history, and what its rings weigh.

    `points` are what was on hand from `since` to `until`, for a graph. `lots_left_out` are further lots that hold
    something, `empty_lots` those that are used up.
    """

    words: ItemWords
    balance: Balance
    levels: Levels
    lots: tuple[LotView, ...]
    lots_left_out: int
    empty_lots: int
    history: HistoryPage
    points: tuple[HistoryPoint, ...]
    since: datetime
    until: datetime
    learned: LearnedMass | None
    weighings: tuple[WeighingRow, ...]
    retired: bool = False

    @property
    def low(self) -> bool:
        """Whether no more is free than the reorder point."""
        return is_low(self.balance, self.levels, retired=self.retired)

    @property
    def learned_g(self) -> Decimal | None:
        """What one weighs as the shop's weighings say, to the microgram."""
        return None if self.learned is None else Decimal(repr(round(self.learned.mass_g, 6)))

    @property
    def learned_ug(self) -> int | None:
        """The same in whole micrograms, to become the item's weighed mass."""
        return None if self.learned_g is None else max(1, int(self.learned_g.scaleb(6)))

    @property
    def ever(self) -> bool:
        """Whether any of it was ever in stock."""
        return bool(self.lots or self.empty_lots)


def stock_page(session: Session, wanted: ItemFilter, *, today: date) -> StockPage:
    """One page of the items that match, each with its shelf; the shelf's own filter is by balances."""
    low = {one.item.id for one in low_items(session)}
    dead = dead_stock(session, today - timedelta(days=DEAD_DAYS))
    rough = _rough(session)
    there = _there(session)
    among: Collection[int] | None = None
    if wanted.shelf == "out":
        among = {item_id for item_id in _all_ids(session) if item_id not in there}
    elif wanted.shelf:
        among = {"low": low, "dead": {one.item.id for one in dead}, "rough": rough, "there": there}[wanted.shelf]
    found = find_items(session, wanted, among=among)
    ids = [item.id for item in found.items]
    held, wished = balances(session, ids), levels_of(session, ids)
    return StockPage(
        found=found,
        rows=tuple(StockRow(item, held[item.id], wished.get(item.id, Levels())) for item in found.items),
        shelf=ShelfAnswer(
            value=shelf_value(session),
            there=len(there),
            low=len(low),
            dead=len(dead),
            dead_micros=sum(one.value_micros for one in dead),
            rough=len(rough),
        ),
    )


def item_shelf(session: Session, item: Material, *, now: datetime) -> ItemShelf:
    """One item's shelf."""
    lots = lots_of(session, (item.id,))[item.id]
    counted = session.execute(
        select(func.count(), func.min(Lot.created_at)).select_from(Lot).where(col(Lot.item_id) == item.id)
    ).one()
    since = now - timedelta(days=GRAPH_DAYS)
    if counted[1] is not None:
        since = max(since, counted[1] - timedelta(hours=1))
    return ItemShelf(
        words=item,
        balance=balance_of(session, item.id),
        levels=levels_of(session, (item.id,)).get(item.id, Levels()),
        lots=lots[:SHOWN_LOTS],
        lots_left_out=max(0, len(lots) - SHOWN_LOTS),
        empty_lots=counted[0] - len(lots),
        history=item_history(session, item.id, per_page=SHOWN_LINES),
        points=history_points(session, item.id, since=since, until=now),
        since=since,
        until=now,
        learned=learned_mass(session, item.id) if item.unit == "piece" else None,
        weighings=weighing_rows(session, item.id) if item.unit == "piece" else (),
        retired=item.retired,
    )


def is_low(balance: Balance, levels: Levels, *, retired: bool) -> bool:
    """Whether an item's free stock has reached its reorder point; what is retired is not bought again."""
    return standing(
        free_milli=balance.free_milli,
        point_milli=None if retired else levels.reorder_milli,
        plenty=balance.rough == "plenty",
    ).low


def low_among(session: Session, items: Collection[Material], held: Mapping[int, Balance]) -> frozenset[int]:
    """The numbers of those of these items that are low."""
    wished = levels_of(session, [item.id for item in items])
    return frozenset(
        item.id for item in items if is_low(held[item.id], wished.get(item.id, Levels()), retired=item.retired)
    )


def levels_of(session: Session, item_ids: Collection[int]) -> dict[int, Levels]:
    """Reorder points and targets by item."""
    rows = session.execute(
        select(col(Item.id), col(Item.reorder_milli), col(Item.target_milli), col(Item.batch_colour)).where(
            col(Item.id).in_(item_ids)
        )
    )
    return {row.id: Levels(row.reorder_milli, row.target_milli, row.batch_colour) for row in rows}


def item_names(session: Session) -> tuple[tuple[int, str], ...]:
    """Every item that is in use, as (number, name), for a list to choose from."""
    found = session.execute(
        select(col(Item.id), col(Item.name))
        .where(col(Item.retired).is_(False))
        .order_by(col(Item.kind), col(Item.metal), col(Item.wire_nm), col(Item.inner_nm), col(Item.name))
    )
    return tuple((number, name) for number, name in found)


def place_names(session: Session) -> tuple[str, ...]:
    """Every place that was ever named, for a list to choose from."""
    found = session.scalars(select(col(LotPlace.place)).where(col(LotPlace.place) != "").distinct())
    return tuple(sorted(found, key=str.casefold))


def never_stocked(session: Session, wanted: ItemFilter) -> ItemList:
    """The items of which nothing was ever booked, for taking opening stock."""
    stocked = set(session.scalars(select(col(Lot.item_id)).distinct()))
    return find_items(session, wanted, among=_all_ids(session) - stocked)


def _there(session: Session) -> set[int]:
    return set(session.scalars(select(col(ItemBalance.item_id)).where(col(ItemBalance.on_hand_milli) > 0)))


def _rough(session: Session) -> set[int]:
    return set(
        session.scalars(
            select(col(Lot.item_id))
            .join(LotPlace, col(LotPlace.lot_id) == col(Lot.id))
            .where(col(LotPlace.rough) != "")
            .distinct()
        )
    )


def _all_ids(session: Session) -> set[int]:
    return set(session.scalars(select(col(Item.id))))
