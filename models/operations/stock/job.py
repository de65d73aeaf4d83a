"""Booking a job at the bench: what it took leaves the stock and what it made comes in, in one act, at its real cost.

What is special about rings from wire stands in `coil_job`, about another finish or colour in `process_job`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from sqlmodel import Session, col, select

from models.costing.job_cost import JobCost, job_cost
from models.errors import Missing, Unfit
from models.intake.faults import Faults
from models.operations.shop.clock import now
from models.operations.stock.bag import blur_bag, mark_bag
from models.operations.stock.ledger import Posting, TransactionHeader, costs_of, open_lot, post
from models.queries.shop.shop import shop_rates
from models.queries.stock.bag_choice import Taking
from models.queries.stock.known_place import known_place
from models.queries.stock.material import Material
from models.tables import Job, Lot
from models.trade.money import from_micros

_MILLI = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class JobPlan:
    """What a job does, ready to be booked: thousandths of minutes and of units, sizes in nanometres."""

    kind: str
    deed: str
    words: str
    done_on: date
    source: Material
    takings: tuple[Taking, ...]
    product: Material
    made_milli: int
    place: str
    batch: str
    minutes_milli: int = 0
    extras: Decimal = Decimal(0)
    extras_label: str = "Extras"
    process: str = ""
    mandrel_nm: int | None = None
    measured_inner_nm: int | None = None
    note: str = ""
    scrap: tuple[Posting, ...] = ()
    rough: str = ""
    """How sure the number made is: '', 'about' or 'plenty'."""
    taken_rough: str = ""
    """How sure it is what was taken."""


@dataclass(frozen=True, slots=True)
class JobDone:
    """A job as it was booked; `each` is what one unit of its product costs, unrounded."""

    job_id: int
    act_id: int
    lot_id: int
    item_id: int
    place: str
    used_milli: int
    made_milli: int
    cost: JobCost
    scrap_milli: int
    words: str

    @property
    def each(self) -> Decimal:
        """What one unit costs."""
        return self.cost.line.amount * 1000 / self.made_milli


def book_job(session: Session, plan: JobPlan) -> JobDone:
    """Write a job: its issues and its new lot in one act. Raises: NotEnoughStock, Missing."""
    plan = replace(plan, place=known_place(session, plan.place))
    issues = [Posting(taking.lot_id, taking.place, "issue", -taking.quantity_milli) for taking in plan.takings]
    materials = sum(costs_of(session, issues))
    cost = job_cost(
        from_micros(materials),
        plan.minutes_milli * _MILLI,
        shop_rates(session),
        extras=plan.extras,
        extras_label=plan.extras_label,
    )
    lot_id = open_lot(
        session,
        Lot(
            item_id=plan.product.id,
            batch=plan.batch or f"made {plan.done_on.isoformat()}",
            received_on=plan.done_on,
            received_milli=plan.made_milli,
            received_micros=cost.value_micros,
            provisional=_unpaid(session, [taking.lot_id for taking in plan.takings]),
            note=plan.note,
        ),
    )
    receipt = Posting(lot_id, plan.place, "receipt", plan.made_milli, cost.value_micros, labour_micros=cost.work_micros)
    posted = post(session, TransactionHeader(plan.deed, plan.done_on, plan.words), [*issues, receipt, *plan.scrap])
    mark_bag(session, lot_id, plan.place, rough=plan.rough, counted_on=None if plan.rough else plan.done_on)
    if plan.taken_rough:
        for taking in plan.takings:
            blur_bag(session, taking.lot_id, taking.place, plan.taken_rough)
    used = sum(taking.quantity_milli for taking in plan.takings)
    job = Job(
        kind=plan.kind,
        process=plan.process,
        from_item_id=plan.source.id,
        to_item_id=plan.product.id,
        act_id=posted.act_id,
        lot_id=lot_id,
        used_milli=used,
        made_milli=plan.made_milli,
        mandrel_nm=plan.mandrel_nm,
        measured_inner_nm=plan.measured_inner_nm,
        minutes_milli=plan.minutes_milli,
        cost_micros=cost.value_micros,
        note=plan.note,
        done_on=plan.done_on,
        created_at=now(),
    )
    session.add(job)
    session.flush()
    return JobDone(
        job_id=job.id or 0,
        act_id=posted.act_id,
        lot_id=lot_id,
        item_id=plan.product.id,
        place=plan.place,
        used_milli=used,
        made_milli=plan.made_milli,
        cost=cost,
        scrap_milli=sum(posting.quantity_milli for posting in plan.scrap),
        words=plan.words,
    )


def measure_coil(session: Session, job_id: int, inner_nm: int | None) -> int:
    """Keep how wide a coil was inside, off its mandrel, so that the next ones are foreseen better; answer its wire.

    None forgets it. Raises: Missing; Unfit for a job without a mandrel.
    """
    job = session.get(Job, job_id)
    if job is None or job.kind != "coil":
        raise Missing("coil job", job_id)
    if inner_nm is not None:
        if job.mandrel_nm is None:
            raise Unfit(Faults.of("measured_inner", "No mandrel was noted for this job, so a measure teaches nothing."))
        if not job.mandrel_nm <= 2 * inner_nm <= 8 * job.mandrel_nm:
            raise Unfit(Faults.of("measured_inner", "This is far from the mandrel. Check the size."))
    job.measured_inner_nm = inner_nm
    session.flush()
    return job.from_item_id


def _unpaid(session: Session, lot_ids: Sequence[int]) -> bool:
    """Whether any of what went in has a value that nobody paid."""
    found = select(Lot.id).where(col(Lot.id).in_(lot_ids), col(Lot.provisional)).limit(1)
    return session.exec(found).first() is not None
