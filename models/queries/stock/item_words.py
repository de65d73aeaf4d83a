"""The words for items that messages and sentences need: their names and what they are counted in."""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import select
from sqlmodel import Session, col

from models.queries.shop.gathering import gathering_in
from models.queries.stock.material import ItemWords
from models.tables import Item


def item_words(session: Session, item_ids: Collection[int]) -> dict[int, ItemWords]:
    """The words of these items by id; unknown ones are left out."""
    if (gathering := gathering_in(session)) is not None:
        held = gathering.held(Item)
        return {item_id: ItemWords.of(item) for item_id in item_ids if (item := held.get(item_id)) is not None}
    rows = session.execute(
        select(col(Item.id), col(Item.name), col(Item.kind), col(Item.unit)).where(col(Item.id).in_(item_ids))
    )
    return {row.id: ItemWords.of(row) for row in rows}
