"""When bags were counted last and what was found then, for the pages that count them."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.queries.stock.lot import DrawerLine, drawer
from models.tables import BagCount, Movement, StockTransaction


@dataclass(frozen=True, slots=True)
class LastCount:
    """The last count of a bag that was not taken back: thousandths, and the value it changed in millionths."""

    act_id: int
    lot_id: int
    place: str
    expected_milli: int
    found_milli: int
    rough: str
    done_on: date
    value_micros: int

    @property
    def difference_milli(self) -> int:
        """What was more than expected; below zero for what was missing."""
        return self.found_milli - self.expected_milli


@dataclass(frozen=True, slots=True)
class DrawerRow:
    """One bag of a drawer with its last count."""

    line: DrawerLine
    last: LastCount | None


@dataclass(frozen=True, slots=True)
class DrawerPage:
    """All bags of a place, in the order of a well-kept drawer; `counted` of them were counted on the day asked for."""

    place: str
    rows: tuple[DrawerRow, ...]
    day: date

    @property
    def counted(self) -> int:
        """How many bags were counted on this day."""
        return sum(row.last is not None and row.last.done_on == self.day for row in self.rows)

    def next_after(self, lot_id: int) -> int | None:
        """The lot of the next bag that was not counted on this day; None when none is left."""
        ids = [row.line.bag.lot_id for row in self.rows]
        start = ids.index(lot_id) + 1 if lot_id in ids else 0
        for row in self.rows[start:] + self.rows[:start]:
            if row.line.bag.lot_id != lot_id and (row.last is None or row.last.done_on != self.day):
                return row.line.bag.lot_id
        return None


def drawer_page(session: Session, place: str, *, day: date) -> DrawerPage:
    """The bags of a place with their last counts."""
    lines = drawer(session, place)
    counts = last_counts(session, {line.bag.lot_id for line in lines}, place)
    return DrawerPage(place, tuple(DrawerRow(line, counts.get(line.bag.lot_id)) for line in lines), day)


def last_counts(session: Session, lot_ids: Collection[int], place: str) -> dict[int, LastCount]:
    """The last counts of these lots in one place, by lot, without those that were taken back."""
    undo = aliased(StockTransaction)
    latest = (
        select(func.max(col(BagCount.id)))
        .outerjoin(undo, col(undo.undoes_id) == col(BagCount.act_id))
        .where(col(BagCount.lot_id).in_(lot_ids), col(BagCount.place) == place, col(undo.id).is_(None))
        .group_by(col(BagCount.lot_id))
    )
    worth = (
        select(col(Movement.act_id), col(Movement.lot_id), func.sum(Movement.value_micros).label("value"))
        .where(col(Movement.act_id).in_(select(col(BagCount.act_id)).where(col(BagCount.id).in_(latest))))
        .group_by(col(Movement.act_id), col(Movement.lot_id))
        .subquery()
    )
    rows = session.execute(
        select(
            col(BagCount.act_id),
            col(BagCount.lot_id),
            col(BagCount.place),
            col(BagCount.expected_milli),
            col(BagCount.found_milli),
            col(BagCount.rough),
            col(StockTransaction.done_on),
            worth.c.value,
        )
        .join(StockTransaction, col(StockTransaction.id) == col(BagCount.act_id))
        .outerjoin(worth, (worth.c.act_id == col(BagCount.act_id)) & (worth.c.lot_id == col(BagCount.lot_id)))
        .where(col(BagCount.id).in_(latest))
    )
    return {
        row.lot_id: LastCount(
            act_id=row.act_id,
            lot_id=row.lot_id,
            place=row.place,
            expected_milli=row.expected_milli,
            found_milli=row.found_milli,
            rough=row.rough,
            done_on=row.done_on,
            value_micros=int(row.value or 0),
        )
        for row in rows
    }
