"""Jobs at the bench: what was made from what, what it cost, and what a bag could be turned into.

A batch of rings that is only thought about stands in `coil_plan`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.errors import Missing
from models.intake.stock.place import place_word
from models.queries.stock.bag_choice import bags_meant
from models.queries.stock.item import item_view, load_materials
from models.queries.stock.lot import Bag, LotView, lot_view
from models.queries.stock.material import Material
from models.tables import Item, Job, StockTransaction
from models.trade.vocabulary.bench import PROCESSES
from models.trade.workshop import workshop_cautions

PER_PAGE = 40


@dataclass(frozen=True, slots=True)
class JobView:
    """One job: thousandths of units and of minutes, millionths of money, sizes in nanometres."""

    id: int
    kind: str
    process: str
    from_item_id: int
    from_name: str
    from_kind: str
    from_unit: str
    to_item_id: int
    to_name: str
    to_kind: str
    to_unit: str
    act_id: int
    lot_id: int
    used_milli: int
    made_milli: int
    mandrel_nm: int | None
    measured_inner_nm: int | None
    minutes_milli: int
    cost_micros: int
    note: str
    done_on: date
    words: str
    undone_by: int | None

    @property
    def each(self) -> Decimal:
        """What one unit of its product cost, unrounded."""
        return Decimal(self.cost_micros) / (1000 * self.made_milli) if self.made_milli else Decimal(0)

    @property
    def minutes(self) -> Decimal:
        """How long it took."""
        return Decimal(self.minutes_milli).scaleb(-3)


@dataclass(frozen=True, slots=True)
class JobList:
    """A page of jobs, newest first; `before` is where the next one goes on, None at the end."""

    jobs: tuple[JobView, ...]
    before: int | None
    wires: tuple[tuple[str, str], ...]
    """The wires of the shop, as (number, name)."""


@dataclass(frozen=True, slots=True)
class ProcessPage:
    """What a bag could be turned into: items of its kind, metal and size in another look, and the usual cautions."""

    item: Material
    lot: LotView
    bag: Bag
    into: tuple[Material, ...]
    cautions: dict[str, tuple[str, ...]]
    """By the kind of work."""


def jobs(session: Session, *, before: int | None = None, item_id: int | None = None) -> JobList:
    """The jobs of the shop, or of an item that went in or came out, newest first."""
    wanted = _jobs()
    if before is not None:
        wanted = wanted.where(col(Job.id) < before)
    if item_id is not None:
        wanted = wanted.where((col(Job.from_item_id) == item_id) | (col(Job.to_item_id) == item_id))
    rows = session.execute(wanted.order_by(col(Job.id).desc()).limit(PER_PAGE + 1)).all()
    found = tuple(_job_in(row) for row in rows[:PER_PAGE])
    return JobList(found, found[-1].id if len(rows) > PER_PAGE else None, wires(session))


def job_view(session: Session, job_id: int) -> JobView:
    """One job. Raises: Missing."""
    row = session.execute(_jobs().where(col(Job.id) == job_id)).first()
    if row is None:
        raise Missing("job", job_id)
    return _job_in(row)


def wires(session: Session) -> tuple[tuple[str, str], ...]:
    """The wires of the shop that are in use, as (number, name)."""
    found = session.execute(
        select(col(Item.id), col(Item.name))
        .where(col(Item.kind) == "wire", col(Item.retired).is_(False))
        .order_by(col(Item.metal), col(Item.wire_nm), col(Item.id))
    )
    return tuple((str(number), name) for number, name in found)


def process_page(session: Session, lot_id: int, place: str) -> ProcessPage:
    """What a bag could be turned into. Raises: Missing."""
    lot = lot_view(session, lot_id)
    (bag,) = bags_meant(lot, place)
    if not bag.quantity_milli:
        raise Missing("bag", f"of lot {lot_id} in {place_word(place)}")
    item = item_view(session, lot.item_id)
    into = tuple(
        other
        for other in load_materials(session).values()
        if not other.retired
        and (other.kind, other.unit, other.metal, other.size) == (item.kind, item.unit, item.metal, item.size)
        and (item.size is not None or other.id == item.id)
    )
    metals = (item.body.metal,) if item.body.metal else ()
    return ProcessPage(item, lot, bag, into, {work: workshop_cautions((work,), metals) for work in PROCESSES})


def _jobs() -> Select[Any]:
    source, product, act, undo = aliased(Item), aliased(Item), aliased(StockTransaction), aliased(StockTransaction)
    columns: tuple[Any, ...] = (
        col(Job.id),
        col(Job.kind),
        col(Job.process),
        col(Job.from_item_id),
        col(source.name).label("from_name"),
        col(source.kind).label("from_kind"),
        col(source.unit).label("from_unit"),
        col(Job.to_item_id),
        col(product.name).label("to_name"),
        col(product.kind).label("to_kind"),
        col(product.unit).label("to_unit"),
        col(Job.act_id),
        col(Job.lot_id),
        col(Job.used_milli),
        col(Job.made_milli),
        col(Job.mandrel_nm),
        col(Job.measured_inner_nm),
        col(Job.minutes_milli),
        col(Job.cost_micros),
        col(Job.note),
        col(Job.done_on),
        col(act.words),
        col(undo.id).label("undone_by"),
    )
    return (
        select(*columns)
        .join(source, col(source.id) == col(Job.from_item_id))
        .join(product, col(product.id) == col(Job.to_item_id))
        .join(act, col(act.id) == col(Job.act_id))
        .outerjoin(undo, col(undo.undoes_id) == col(Job.act_id))
    )


def _job_in(row: Any) -> JobView:
    return JobView(**row._asdict())
