"""Jobs under /api: a batch of rings planned and booked, and a bag turned into another finish or colour."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.job import read_coil_job, read_coil_question, read_process_job
from models.intake.stock.offer import from_milli
from models.intake.stock.place import NO_PLACE
from models.operations.stock.coil_job import make_rings
from models.operations.stock.process_job import process_lot
from models.queries.shop.shop import currency_of
from models.queries.stock.coil_plan import CoilPlan, coil_plan
from models.queries.stock.job import JobView, job_view, jobs
from models.trade.money import from_micros
from models.trade.vocabulary.bench import CUTS, PROCESSES
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.shapes import ANY_NUMBER, LineOut, MoneyOut, line_out, mm, money_out
from webapp.web.json_api import Answer, faulty, json_body, problems, read_json, write_once
from webapp.web.numbers import Whole

router = APIRouter(prefix="/api", tags=["jobs"])
Body = Annotated[dict[str, Any], Depends(read_json)]

_SIZE: dict[str, object] = {**ANY_NUMBER, "description": "A size with its unit, or a number of millimetres."}
_TIME: dict[str, object] = {**ANY_NUMBER, "description": "Minutes as a number, or like 1:35."}
_DAY: dict[str, object] = {"type": "string", "format": "date", "description": "Today when it is left out."}
_TEXT: dict[str, object] = {"type": "string"}
_BAG: dict[str, object] = {
    **_TEXT, "description": f"Where the bag lies, or '{NO_PLACE}'. Left out, the fullest bags of the lot go first.",
}  # fmt: skip
COIL_FIELDS: dict[str, object] = {
    "wire_id": {"type": "integer"},
    "made": {"type": "integer", "minimum": 1, "description": "How many rings it gave."},
    "used": {**ANY_NUMBER, "description": "How much wire went: '2.5 m' or '35 g'."},
    "lot_id": {"type": "integer", "description": "The lot of wire; the oldest first when it is left out."},
    "wire_place": _BAG,
    "ring_id": {"type": "integer", "description": "The ring that it is; or give `new_inner` for a new one."},
    "new_inner": _SIZE,
    "wound_on": {**_SIZE, "description": "The mandrel."},
    "measured_inner": {**_SIZE, "description": "The coil's inside off the mandrel; it teaches the springback."},
    "offcuts": {**ANY_NUMBER, "description": "Grams of precious metal that are kept as scrap."},
    "minutes": _TIME,
    "batch": _TEXT,
    "place": _TEXT,
    "done_on": _DAY,
    "note": _TEXT,
}
PROCESS_FIELDS: dict[str, object] = {
    "lot_id": {"type": "integer"},
    "place": _BAG,
    "process": {"type": "string", "enum": list(PROCESSES)},
    "quantity": {**ANY_NUMBER, "description": "How much goes in; all that is free when it is left out."},
    "lost": {**ANY_NUMBER, "description": "How much of it was lost on the way."},
    "to_item_id": {"type": "integer", "description": "What it became; or give the colour or finish of a new item."},
    "colour": _TEXT,
    "finish": _TEXT,
    "cost": {**MONEY_SCHEMA, "description": "What dye, chemicals and the like cost."},
    "minutes": _TIME,
    "to_place": _TEXT,
    "batch": _TEXT,
    "done_on": _DAY,
    "note": _TEXT,
}


class JobOut(BaseModel):
    """One job; quantities in the units of its items."""

    id: int
    kind: str = Field(description="coil or process")
    process: str
    act_id: int = Field(description="What /api/acts takes back.")
    done_on: date
    words: str
    from_item_id: int
    used: float
    to_item_id: int
    lot_id: int
    made: float
    minutes: float
    cost: MoneyOut
    each: MoneyOut
    mandrel_mm: float | None
    measured_inner_mm: float | None
    note: str
    undone_by: int | None


class JobsOut(BaseModel):
    """A page of jobs, newest first; `before` asks for the next page, null at the end."""

    jobs: list[JobOut]
    before: int | None


class CoilPlanOut(BaseModel):
    """What a batch of rings would take and give; all of it is an estimate."""

    wire_id: int
    rings: int
    mandrel_mm: float
    coil_inner_mm: float | None = Field(description="How wide the coil opens; null where no springback is known.")
    coil_inner_low_mm: float | None
    coil_inner_high_mm: float | None
    finished_inner_mm: float
    finished_aspect_ratio: float
    wire_mm: float
    in_rings_mm: float
    sawn_mm: float
    ends_mm: float
    coils: int
    needed: float = Field(description="In the wire's unit.")
    free: float
    enough: bool
    possible_rings: int
    cost: LineOut | None = Field(description="Null where nobody knows what the wire costs.")
    each: MoneyOut | None
    cautions: list[str]
    notes: list[str]


@router.get("/coil-plan", response_model=CoilPlanOut, responses=problems(404, 422))
def plan_coil(
    request: Request,
    wire_id: str = "",
    rings: str = "",
    *,
    mandrel: str = "",
    inner: str = "",
    temper: str = "",
    cutting: Annotated[str, Query(description=f"One of: {', '.join(CUTS)}.")] = "",
    kerf: str = "",
    mandrel_length: str = "",
    end_turns: str = "",
    end_waste: str = "",
    spare: str = "",
    expected_minutes: str = "",
) -> CoilPlanOut | Response:
    """Plan a batch of rings from wire; give the mandrel, or how wide the coil shall open. Nothing is booked."""
    asked = {
        "wire_id": wire_id, "rings": rings, "mandrel": mandrel, "inner": inner, "temper": temper, "cutting": cutting,
        "kerf": kerf, "mandrel_length": mandrel_length, "end_turns": end_turns, "end_waste": end_waste, "spare": spare,
        "expected_minutes": expected_minutes,
    }  # fmt: skip
    question = read_coil_question({name: text for name, text in asked.items() if text})
    if isinstance(question, Faults):
        return faulty(question)
    with request.app.state.store.reading() as session:
        return _plan(coil_plan(session, question), currency_of(session))


@router.get("/jobs", responses=problems(422))
def list_jobs(
    request: Request,
    before: Annotated[Whole | None, Query(ge=1)] = None,
    item_id: Annotated[Whole | None, Query(ge=1, description="That went in or came out.")] = None,
) -> JobsOut:
    """The jobs of the shop, newest first."""
    with request.app.state.store.reading() as session:
        found, currency = jobs(session, before=before, item_id=item_id), currency_of(session)
    return JobsOut(jobs=[_job(job, currency) for job in found.jobs], before=found.before)


@router.get("/jobs/{job_id}", responses=problems(404, 422))
def get_job(request: Request, job_id: int) -> JobOut:
    """One job: what went in, what came out, what it cost."""
    with request.app.state.store.reading() as session:
        return _job(job_view(session, job_id), currency_of(session))


@router.post(
    "/jobs/make-rings",
    status_code=201,
    responses={201: {"model": JobOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(COIL_FIELDS, ("wire_id", "made", "used")),
)
def book_coil(request: Request, body: Body) -> Response:
    """Book rings that were made from wire as a new lot at its real cost, the time included."""

    def act(session: Session) -> Answer | Faults:
        draft = read_coil_job(body)
        return draft if isinstance(draft, Faults) else _created(session, make_rings(session, draft).job_id)

    return write_once(request, body, act)


@router.post(
    "/jobs/process",
    status_code=201,
    responses={201: {"model": JobOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(PROCESS_FIELDS, ("lot_id", "process")),
)
def book_process(request: Request, body: Body) -> Response:
    """Book a bag, or a part of it, that was turned into another finish or colour."""

    def act(session: Session) -> Answer | Faults:
        plain = plain_amounts(body, currency_of(session))
        draft = plain if isinstance(plain, Faults) else read_process_job(plain)
        return draft if isinstance(draft, Faults) else _created(session, process_lot(session, draft).job_id)

    return write_once(request, body, act)


def _created(session: Session, job_id: int) -> Answer:
    body = _job(job_view(session, job_id), currency_of(session)).model_dump(mode="json")
    return Answer(body, status=201, location=f"/api/jobs/{job_id}")


def _job(job: JobView, currency: str) -> JobOut:
    return JobOut(
        id=job.id,
        kind=job.kind,
        process=job.process,
        act_id=job.act_id,
        done_on=job.done_on,
        words=job.words,
        from_item_id=job.from_item_id,
        used=float(from_milli(job.used_milli)),
        to_item_id=job.to_item_id,
        lot_id=job.lot_id,
        made=float(from_milli(job.made_milli)),
        minutes=float(job.minutes),
        cost=money_out(from_micros(job.cost_micros), currency),
        each=money_out(job.each, currency),
        mandrel_mm=mm(job.mandrel_nm),
        measured_inner_mm=mm(job.measured_inner_nm),
        note=job.note,
        undone_by=job.undone_by,
    )


def _plan(view: CoilPlan, currency: str) -> CoilPlanOut:
    plan, opening = view.plan, view.opening
    return CoilPlanOut(
        wire_id=view.wire.id,
        rings=view.question.rings,
        mandrel_mm=view.mandrel_nm / 1_000_000,
        coil_inner_mm=mm(opening.inner_nm) if opening else None,
        coil_inner_low_mm=mm(opening.low_nm) if opening else None,
        coil_inner_high_mm=mm(opening.high_nm) if opening else None,
        finished_inner_mm=view.finished.inner_nm / 1_000_000,
        finished_aspect_ratio=_places(view.finished.aspect_ratio, 4),
        wire_mm=_places(plan.wire_mm, 3),
        in_rings_mm=_places(plan.in_rings_mm, 3),
        sawn_mm=_places(plan.sawn_mm, 3),
        ends_mm=_places(plan.ends_mm, 3),
        coils=plan.coils,
        needed=float(from_milli(view.needed_milli)),
        free=float(from_milli(view.balance.free_milli)),
        enough=view.enough,
        possible_rings=view.possible,
        cost=line_out(view.cost.line, currency) if view.cost else None,
        each=money_out(view.each, currency) if view.each is not None else None,
        cautions=list(view.cautions),
        notes=list(view.notes),
    )


def _places(number: Decimal, places: int) -> float:
    return float(round(number, places))
