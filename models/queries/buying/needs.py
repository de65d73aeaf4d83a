"""What the shop must buy: what its list asks for, and what is at or below its reorder point, beyond stock.

When an item is low is decided in `models/planning/low`. Which packs cover it cheapest is worked out in `buy_plan`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlmodel import Session, col

from models.planning.low import Standing, standing
from models.queries.stock.balance import Balance, balances
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.queries.stock.on_order import drafted_milli
from models.tables import Item, Need


@dataclass(frozen=True, slots=True)
class Wish:
    """One thing on the list of what is needed; thousandths of the item's unit."""

    id: int
    milli: int
    purpose: str


@dataclass(frozen=True, slots=True)
class NeedRow:
    """One item with what is asked of it and what is there; thousandths of its unit.

    `wanted_milli` is what must be bought beyond what is free, on order and in drafts: nothing where that is enough.
    `low` is the Stock room's verdict: what is free is at or below the reorder point. `reorder_milli` is set where it is
    low, or where the list brings it down to the point; what is bought brings it up to `target_milli`, or just over it.
    """

    item: Material
    wishes: tuple[Wish, ...]
    balance: Balance
    drafted_milli: int
    reorder_milli: int | None
    target_milli: int | None
    wanted_milli: int
    low: bool = False


def needs(session: Session) -> tuple[NeedRow, ...]:
    """Every item that is on the list or at or below its reorder point, in drawer order; what is enough is there too."""
    wishes = _wishes(session)
    levels = {
        row.id: (row.reorder_milli, row.target_milli)
        for row in session.execute(
            select(col(Item.id), col(Item.reorder_milli), col(Item.target_milli)).where(
                col(Item.reorder_milli).is_not(None), col(Item.retired).is_(False)
            )
        )
    }
    ids = {*wishes, *levels}
    held, drafted = balances(session, ids), drafted_milli(session, ids)
    found = {
        item_id: _standing(held[item_id], drafted.get(item_id, 0), wishes.get(item_id, ()), levels.get(item_id))
        for item_id in ids
    }
    reached = {item_id for item_id, one in found.items() if one.low or one.buy_again}
    asked = {item_id for item_id, one in found.items() if one.to_buy_milli or item_id in wishes} | reached
    items = load_materials(session, asked)
    return tuple(
        NeedRow(
            item=item,
            wishes=wishes.get(item.id, ()),
            balance=held[item.id],
            drafted_milli=drafted.get(item.id, 0),
            reorder_milli=levels[item.id][0] if item.id in reached else None,
            target_milli=levels[item.id][1] if item.id in reached else None,
            wanted_milli=found[item.id].to_buy_milli,
            low=found[item.id].low,
        )
        for item in items.values()
    )


def beyond_stock(session: Session, asked: Sequence[tuple[int, int, str]]) -> Mapping[int, int]:
    """What of typed needs (item, thousandths, what for) is beyond what is free, on order and in drafts."""
    wished: dict[int, list[Wish]] = {}
    for item_id, milli, purpose in asked:
        wished.setdefault(item_id, []).append(Wish(0, milli, purpose))
    held, drafted = balances(session, wished), drafted_milli(session, wished)
    return {
        item_id: wanted
        for item_id, wishes in wished.items()
        if (wanted := _standing(held[item_id], drafted.get(item_id, 0), wishes, None).to_buy_milli)
    }


def _wishes(session: Session) -> dict[int, tuple[Wish, ...]]:
    found: dict[int, list[Wish]] = {}
    rows = session.execute(
        select(col(Need.id), col(Need.item_id), col(Need.quantity_milli), col(Need.purpose))
        .where(~col(Need.struck))
        .order_by(col(Need.id))
    )
    for row in rows:
        found.setdefault(row.item_id, []).append(Wish(row.id, row.quantity_milli, row.purpose))
    return {item_id: tuple(wishes) for item_id, wishes in found.items()}


def _standing(
    balance: Balance, drafted: int, wishes: Sequence[Wish], level: tuple[int | None, int | None] | None
) -> Standing:
    point, target = level or (None, None)
    return standing(
        free_milli=balance.free_milli,
        coming_milli=balance.on_order_milli + drafted,
        asked_milli=sum(wish.milli for wish in wishes),
        point_milli=point,
        target_milli=target,
        plenty=balance.rough == "plenty",
    )
