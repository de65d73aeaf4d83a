"""Counting bags under /api: what was found, by hand or on a scale; the answer is the movements that it made."""

from __future__ import annotations

from fastapi import APIRouter
from sqlmodel import Session

from models.errors import Unfit, fit
from models.intake.faults import Faults
from models.intake.fields import properties_of
from models.intake.stock.count import CountDraft, read_count
from models.intake.stock.weigh import read_weigh
from models.operations.stock.count import count_bag
from models.operations.stock.weigh import count_weighed_bag
from models.queries.stock.metal import all_metals
from models.queries.stock.weighing import scale_step_ug
from webapp.api.stock.movements import ActOut, act_body
from webapp.api.stock.weigh import SCALE_FIELDS
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems

router = APIRouter(prefix="/api", tags=["counts"])

COUNT_FIELDS: dict[str, object] = {**properties_of(CountDraft), **SCALE_FIELDS}


@router.post(
    "/counts",
    status_code=201,
    responses={201: {"model": ActOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(COUNT_FIELDS),
)
@writes
def count(session: Session, body: Body) -> Answer:
    """Book what was found in a bag: a number (`found`), or its weight on a scale (`gross_g` and the rest)."""
    weighed = body.get("gross_g") not in (None, "")
    if weighed and body.get("found") not in (None, ""):
        raise Unfit(Faults.of("found", "Give the count or the weight, not both."))
    draft = fit(read_count({**body, "found": "0"} if weighed else body))
    if not weighed:
        return Answer(act_body(session, count_bag(session, draft).act_id), status=201)
    weighing = fit(read_weigh(body, metals=all_metals(session), step_ug=scale_step_ug(session)))
    return Answer(act_body(session, count_weighed_bag(session, weighing, draft).act_id), status=201)
