"""The words for items that messages and sentences need: their names and what they are counted in."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlmodel import Session, col

from models.intake.stock.offer import from_milli
from models.queries.shop.gathering import gathering_in
from models.tables import Item
from models.trade.units import unit_words


@dataclass(frozen=True, slots=True)
class ItemWords:
    """An item's name, kind and unit; whatever is known of an item beyond them says a quantity in the same words."""

    id: int
    name: str
    kind: str
    unit: str

    @classmethod
    def of(cls, row: Any) -> ItemWords:
        """The words of an item's row, or of a row that reads its four columns."""
        return ItemWords(row.id, row.name, row.kind, row.unit)

    @property
    def unit_words(self) -> str:
        """What many of it are counted in: 'rings', 'pieces', 'm' or 'g'."""
        return unit_words(self.kind, self.unit, Decimal(2))

    def counted(self, milli: int) -> str:
        """A quantity in words: '1 ring', '48 rings', '2.5 m'."""
        number = from_milli(milli)
        return f"{number} {unit_words(self.kind, self.unit, abs(number))}"


def item_words(session: Session, item_ids: Collection[int]) -> dict[int, ItemWords]:
    """The words of these items by id; unknown ones are left out."""
    if (gathering := gathering_in(session)) is not None:
        held = gathering.held(Item)
        return {item_id: ItemWords.of(item) for item_id in item_ids if (item := held.get(item_id)) is not None}
    rows = session.execute(
        select(col(Item.id), col(Item.name), col(Item.kind), col(Item.unit)).where(col(Item.id).in_(item_ids))
    )
    return {row.id: ItemWords.of(row) for row in rows}
