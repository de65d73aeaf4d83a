"""Jobs under /api: a batch of rings planned and booked, and a bag turned into another finish or colour."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import Field
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.stock.job import read_coil_job, read_coil_request, read_process_job
from models.intake.stock.place import NO_PLACE
from models.operations.stock.coil_job import make_rings
from models.operations.stock.process_job import process_lot
from models.queries.shop.shop import currency_of
from models.queries.stock.coil_plan import coil_plan
from models.queries.stock.job import job_view, jobs
from models.trade.vocabulary.bench import CUTS, PROCESSES
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.answers import Amount, AnswerModel, LineOut, Millimetres, Units, beneath, filled, path, places, sent
from webapp.api.shapes import ANY_NUMBER
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, readable
from webapp.web.numbers import Whole
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["jobs"])

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


class JobOut(AnswerModel):
    """One job; quantities in the units of its items."""

    id: int
    kind: str = Field(description="coil or process")
    process: str
    act_id: int = Field(description="What /api/acts takes back.")
    done_on: date
    words: str
    from_item_id: int
    used: Units = path("used_milli")
    to_item_id: int
    lot_id: int
    made: Units = path("made_milli")
    minutes: float
    cost: Amount = path("cost_micros")
    each: Amount
    mandrel_mm: Millimetres | None = path("mandrel_nm")
    measured_inner_mm: Millimetres | None = path("measured_inner_nm")
    note: str
    undone_by: int | None


class JobsOut(AnswerModel):
    """A page of jobs, newest first; `before` asks for the next page, null at the end."""

    jobs: list[JobOut]
    before: int | None


class CoilPlanOut(AnswerModel, alias_generator=beneath("plan")):
    """What a batch of rings would take and give; all of it is an estimate."""

    wire_id: int = path("wire", "id")
    rings: int = path("question", "rings")
    mandrel_mm: Millimetres = path("mandrel_nm")
    coil_inner_mm: Millimetres | None = path(
        "opening", "inner_nm", says="How wide the coil opens; null where no springback is known."
    )
    coil_inner_low_mm: Millimetres | None = path("opening", "low_nm")
    coil_inner_high_mm: Millimetres | None = path("opening", "high_nm")
    finished_inner_mm: Millimetres = path("finished", "inner_nm")
    finished_aspect_ratio: Annotated[float, places(4)] = path("finished", "aspect_ratio")
    wire_mm: Annotated[float, places(3)]
    in_rings_mm: Annotated[float, places(3)]
    sawn_mm: Annotated[float, places(3)]
    ends_mm: Annotated[float, places(3)]
    coils: int
    needed: Units = path("needed_milli", says="In the wire's unit.")
    free: Units = path("balance", "free_milli")
    enough: bool
    possible_rings: int = path("possible")
    cost: LineOut | None = path("cost", "line", says="Null where nobody knows what the wire costs.")
    each: Amount | None
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
    question = readable(read_coil_request({name: text for name, text in asked.items() if text}))
    session = reading(request)
    return filled(CoilPlanOut, coil_plan(session, question), currency=currency_of(session))


@router.get("/jobs", responses=problems(422))
def list_jobs(
    request: Request,
    before: Annotated[Whole | None, Query(ge=1)] = None,
    item_id: Annotated[Whole | None, Query(ge=1, description="That went in or came out.")] = None,
) -> JobsOut:
    """The jobs of the shop, newest first."""
    session = reading(request)
    found = jobs(session, before=before, item_id=item_id)
    return filled(JobsOut, found, currency=currency_of(session))


@router.get("/jobs/{job_id}", responses=problems(404, 422))
def get_job(request: Request, job_id: int) -> JobOut:
    """One job: what went in, what came out, what it cost."""
    session = reading(request)
    return filled(JobOut, job_view(session, job_id), currency=currency_of(session))


@router.post(
    "/jobs/make-rings",
    status_code=201,
    responses={201: {"model": JobOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(COIL_FIELDS, ("wire_id", "made", "used")),
)
@writes
def book_coil(session: Session, body: Body) -> Answer:
    """Book rings that were made from wire as a new lot at its real cost, the time included."""
    return _created(session, make_rings(session, fit(read_coil_job(body))).job_id)


@router.post(
    "/jobs/process",
    status_code=201,
    responses={201: {"model": JobOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(PROCESS_FIELDS, ("lot_id", "process")),
)
@writes
def book_process(session: Session, body: Body) -> Answer:
    """Book a bag, or a part of it, that was turned into another finish or colour."""
    draft = fit(read_process_job(fit(plain_amounts(body, currency_of(session)))))
    return _created(session, process_lot(session, draft).job_id)


def _created(session: Session, job_id: int) -> Answer:
    body = sent(JobOut, job_view(session, job_id), currency=currency_of(session))
    return Answer(body, status=201, location=f"/api/jobs/{job_id}")
