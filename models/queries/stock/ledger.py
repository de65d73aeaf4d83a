"""The history of stock: of an item page by page, of one act, and as the points of a graph.

Every movement keeps what was on hand after it, so nothing here adds movements up; pages go back by the movements' ids.
What proves the whole ledger stands in `conservation` and in `models/operations/stock/check_ledger.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import ScalarSelect, Select, literal, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.errors import Missing
from models.queries.stock.item_words import item_words
from models.queries.stock.material import ItemWords
from models.tables import Lot, Movement, Person, StockTransaction

PER_PAGE = 50
MOST_POINTS = 200
_AFTER_ALL = 2**62


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One movement with the act that made it; thousandths and millionths, signed.

    `after_milli` is what the item had on hand after it. `undone_by` is the act that took it back, `undoes` the act that
    it took back itself.
    """

    id: int
    act_id: int
    act_kind: str
    kind: str
    reason: str
    done_on: date
    at: datetime
    words: str
    build_id: int | None
    person: str
    item_id: int
    lot_id: int
    batch: str
    place: str
    quantity_milli: int
    value_micros: int
    price_micros: int | None
    after_milli: int
    undone_by: int | None
    undoes: int | None


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """A page of history, newest first; `before` is where the next one goes on, None at the end."""

    lines: tuple[HistoryLine, ...]
    before: int | None


@dataclass(frozen=True, slots=True)
class ActView:
    """One act with its movements and the items that it moved."""

    id: int
    kind: str
    at: datetime
    done_on: date
    words: str
    build_id: int | None
    undoes: int | None
    undone_by: int | None
    lines: tuple[HistoryLine, ...]
    items: tuple[ItemWords, ...]

    @property
    def value_micros(self) -> int:
        """The value that came in; below zero for what left."""
        return sum(line.value_micros for line in self.lines)


@dataclass(frozen=True, slots=True)
class HistoryPoint:
    """What an item had on hand from a moment on."""

    at: datetime
    on_hand_milli: int


_Undo = aliased(StockTransaction)
_LINE_COLUMNS: tuple[Any, ...] = (
    col(Movement.id),
    col(Movement.act_id),
    col(StockTransaction.kind).label("act_kind"),
    col(Movement.kind),
    col(Movement.reason),
    col(StockTransaction.done_on),
    col(StockTransaction.at),
    col(StockTransaction.words),
    col(StockTransaction.build_id),
    col(Person.name).label("person"),
    col(Movement.item_id),
    col(Movement.lot_id),
    col(Lot.batch),
    col(Movement.place),
    col(Movement.quantity_milli),
    col(Movement.value_micros),
    col(Movement.price_micros),
    col(Movement.after_milli),
    col(_Undo.id).label("undone_by"),
    col(StockTransaction.undoes_id).label("undoes"),
)


def item_history(
    session: Session, item_id: int, *, before: int | None = None, lot_id: int | None = None, per_page: int = PER_PAGE
) -> HistoryPage:
    """The movements of an item (or of one lot of it), newest first, before a movement's id."""
    wanted = _lines().where(col(Movement.item_id) == item_id)
    if lot_id is not None:
        wanted = _lines().where(col(Movement.lot_id) == lot_id)
    if before is not None:
        wanted = wanted.where(col(Movement.id) < before)
    rows = session.execute(wanted.order_by(col(Movement.id).desc()).limit(per_page + 1)).all()
    lines = tuple(_line_in(row) for row in rows[:per_page])
    return HistoryPage(lines, lines[-1].id if len(rows) > per_page else None)


def recent_acts(session: Session, *, before: int | None = None, limit: int = 20) -> tuple[ActView, ...]:
    """The latest acts, newest first, each with its movements."""
    earlier = select(col(StockTransaction.id)).where(
        col(StockTransaction.id) < (_AFTER_ALL if before is None else before)
    )
    return _acts(session, list(session.scalars(earlier.order_by(col(StockTransaction.id).desc()).limit(limit))))


def act_view(session: Session, act_id: int) -> ActView:
    """One act. Raises: Missing."""
    found = _acts(session, [act_id])
    if not found:
        raise Missing("entry", act_id)
    return found[0]


def history_points(
    session: Session, item_id: int, *, since: datetime, until: datetime, points: int = MOST_POINTS
) -> tuple[HistoryPoint, ...]:
    """What an item had on hand over a time, as a first point and at most so many more, for a graph drawn in steps.

    Few movements are answered as they were booked; of many, evenly chosen ones. Either way only so many rows are looked
    up, however long the history is. The time is that of the booking.
    """
    edges = select(_last_up_to(since), _last_up_to(until))
    before, last = (found or 0 for found in session.execute(edges).one())
    start = select(col(Movement.after_milli)).where(col(Movement.item_id) == item_id, col(Movement.id) <= before)
    first = HistoryPoint(since, session.scalar(start.order_by(col(Movement.id).desc()).limit(1)) or 0)
    newest = (
        select(col(Movement.id), col(Movement.act_id), col(Movement.after_milli))
        .where(col(Movement.item_id) == item_id, col(Movement.id) > before, col(Movement.id) <= last)
        .order_by(col(Movement.id).desc())
        .limit(points + 1)
    )
    rows = session.execute(newest).all()
    if len(rows) > points:
        rows = session.execute(_spread(item_id, before, last, points)).all()
    # Of the movements of one act only the last counts: a bag that moves leaves one place before it is in another.
    booked = {row.act_id: row.after_milli for row in reversed(rows)}
    times = {
        row.id: row.at
        for row in session.execute(
            select(col(StockTransaction.id), col(StockTransaction.at)).where(col(StockTransaction.id).in_(booked))
        )
    }
    return (first, *(HistoryPoint(times[act_id], milli) for act_id, milli in booked.items()))


def _last_up_to(moment: datetime) -> ScalarSelect[int]:
    """The id of the last movement that was booked up to a moment, of any item; ids follow time."""
    last_act = (
        select(col(StockTransaction.id))
        .where(col(StockTransaction.at) <= moment)
        .order_by(col(StockTransaction.at).desc(), col(StockTransaction.id).desc())
        .limit(1)
        .scalar_subquery()
    )
    return (
        select(col(Movement.id))
        .where(col(Movement.act_id) <= last_act)
        .order_by(col(Movement.act_id).desc(), col(Movement.id).desc())
        .limit(1)
        .scalar_subquery()
    )


def _spread(item_id: int, before: int, last: int, points: int) -> Select[Any]:
    """An item's last movements up to evenly spaced ids after `before`, newest first; each with the end of its act."""
    steps = select(literal(1).label("step")).cte("steps", recursive=True)
    steps = steps.union_all(select(steps.c.step + 1).where(steps.c.step < points))
    chosen, ending = aliased(Movement), aliased(Movement)
    found = (
        select(col(chosen.id))
        .where(col(chosen.item_id) == item_id, col(chosen.id) <= before + (last - before) * steps.c.step / points)
        .order_by(col(chosen.id).desc())
        .limit(1)
        .correlate(steps)
        .scalar_subquery()
    )
    ids = select(found.label("id")).select_from(steps).distinct().cte("ids")
    # Adding nothing keeps a database from walking the item's whole history to find the end of one act.
    end = (
        select(col(ending.after_milli))
        .where(col(ending.act_id) == col(Movement.act_id), col(ending.item_id) + 0 == item_id)
        .order_by(col(ending.id).desc())
        .limit(1)
        .correlate(Movement)
        .scalar_subquery()
    )
    return (
        select(col(Movement.id), col(Movement.act_id), end.label("after_milli"))
        .join(ids, ids.c.id == col(Movement.id))
        .where(col(Movement.id) > before)
        .order_by(col(Movement.id).desc())
    )


def _lines() -> Select[Any]:
    return (
        select(*_LINE_COLUMNS)
        .join(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .join(Person, col(Person.id) == col(StockTransaction.person_id))
        .join(Lot, col(Lot.id) == col(Movement.lot_id))
        .outerjoin(_Undo, col(_Undo.undoes_id) == col(StockTransaction.id))
    )


def _line_in(row: Any) -> HistoryLine:
    return HistoryLine(**row._asdict())


def _acts(session: Session, act_ids: Sequence[int]) -> tuple[ActView, ...]:
    """These acts with their movements, newest first."""
    undoer = aliased(StockTransaction)
    heads = session.execute(
        select(
            col(StockTransaction.id),
            col(StockTransaction.kind),
            col(StockTransaction.at),
            col(StockTransaction.done_on),
            col(StockTransaction.words),
            col(StockTransaction.build_id),
            col(StockTransaction.undoes_id),
            col(undoer.id).label("undone_by"),
        )
        .outerjoin(undoer, col(undoer.undoes_id) == col(StockTransaction.id))
        .where(col(StockTransaction.id).in_(act_ids))
        .order_by(col(StockTransaction.id).desc())
    ).all()
    lines: dict[int, list[HistoryLine]] = {}
    for row in session.execute(_lines().where(col(Movement.act_id).in_(act_ids)).order_by(col(Movement.id))):
        lines.setdefault(row.act_id, []).append(_line_in(row))
    moved = {line.item_id for act in lines.values() for line in act}
    words = item_words(session, moved)
    return tuple(
        ActView(
            id=head.id,
            kind=head.kind,
            at=head.at,
            done_on=head.done_on,
            words=head.words,
            build_id=head.build_id,
            undoes=head.undoes_id,
            undone_by=head.undone_by,
            lines=tuple(lines.get(head.id, ())),
            items=tuple(words[item_id] for item_id in dict.fromkeys(line.item_id for line in lines.get(head.id, ()))),
        )
        for head in heads
    )
