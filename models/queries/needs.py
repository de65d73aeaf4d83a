"""What the shop must buy: what its list asks for, and what is down to its reorder point, beyond stock.

Which packs cover it cheapest is worked out in `buy_plan`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlmodel import Session, col

from models.queries.balance import Balance, balances
from models.queries.item import ItemView, items_by_id
from models.queries.item_words import ItemWords
from models.queries.on_order import drafted_milli
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
    `reorder_milli` is set where the item is down to its reorder point once the list is served; it is then brought up to
    `target_milli`, or just over that point.
    """

    item: ItemView
    wishes: tuple[Wish, ...]
    balance: Balance
    drafted_milli: int
    reorder_milli: int | None
    target_milli: int | None
    wanted_milli: int

    @property
    def words(self) -> ItemWords:
        """The item's words, for quantities in sentences."""
        return ItemWords(self.item.id, self.item.name, self.item.kind, self.item.unit)


def needs(session: Session) -> tuple[NeedRow, ...]:
    """Every item that is on the list or down to its reorder point, in drawer order; what is enough is there too."""
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
        item_id: _wanted(held[item_id], drafted.get(item_id, 0), wishes.get(item_id, ()), levels.get(item_id))
        for item_id in ids
    }
    asked = {item_id for item_id, (wanted, low) in found.items() if wanted or low or item_id in wishes}
    items = items_by_id(session, asked)
    return tuple(
        NeedRow(
            item=item,
            wishes=wishes.get(item.id, ()),
            balance=held[item.id],
            drafted_milli=drafted.get(item.id, 0),
            reorder_milli=levels[item.id][0] if found[item.id][1] else None,
            target_milli=levels[item.id][1] if found[item.id][1] else None,
            wanted_milli=found[item.id][0],
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
        if (wanted := _wanted(held[item_id], drafted.get(item_id, 0), wishes, None)[0])
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


def _wanted(
    balance: Balance, drafted: int, wishes: Sequence[Wish], level: tuple[int | None, int | None] | None
) -> tuple[int, bool]:
    """What must be bought of an item, and whether that is because it is down to its reorder point."""
    if balance.rough == "plenty":
        return 0, False
    left = balance.free_milli + balance.on_order_milli + drafted - sum(wish.milli for wish in wishes)
    reorder, target = level or (None, None)
    if reorder is None or left > reorder:
        return max(-left, 0), False
    up_to = max(target or 0, reorder + 1000)
    return up_to - left, True
