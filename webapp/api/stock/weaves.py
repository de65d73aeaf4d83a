"""The weave catalogue under /api, with the shop's own bands and its records of what fitted."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import BeforeValidator, Field
from sqlmodel import Session

from models.errors import fit
from models.intake.stock.weave import BAND_FIELDS, read_band, read_fit
from models.operations.stock import weave as operations
from models.queries.stock.weave import fit_records, list_weaves, weave_page
from models.trade.vocabulary.things import FIT_VERDICTS
from webapp.api.answers import AnswerModel, Millimetres, beneath, filled, path, sent
from webapp.api.shapes import ANY_NUMBER, VERSION
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, version_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["weaves"])


class BandOut(AnswerModel):
    """Aspect ratios: too small under `smallest`, comfortable from `low` to `high`, too open past `largest`."""

    smallest: float
    low: float
    high: float
    largest: float


class WeaveOut(AnswerModel, alias_generator=beneath("weave")):
    """One weave; `band` is the one that counts here."""

    code: str
    name: str
    family: str
    links: int = Field(description="The other rings through one ring inside the piece.")
    links_note: str
    difficulty: int = Field(description="1 (easy) to 5 (hard)")
    band: BandOut
    own_band: bool
    computed_min: float | None = Field(description="Found numerically for ideal rings; it informs, and never warns.")
    packing_bound: float
    source: str
    note: str
    records: int


class WeavesOut(AnswerModel):
    """Every weave of the catalogue."""

    weaves: list[WeaveOut]


class RecordOut(AnswerModel):
    """How one ring size really worked in a weave."""

    id: int
    weave: str
    wire_mm: Millimetres = path("size", "wire_nm")
    inner_mm: Millimetres = path("size", "inner_nm")
    metal: str | None
    verdict: str
    note: str
    noted_on: date


class OneWeaveOut(WeaveOut):
    """One weave with the shop's records, and the version of its own band (0 while there is none)."""

    records: Annotated[int, BeforeValidator(len)]
    version: int
    fits: list[RecordOut] = path("records")


@router.get("/weaves")
def get_weaves(request: Request) -> WeavesOut:
    """Every weave of the catalogue, in its order."""
    return filled(WeavesOut, weaves=list_weaves(reading(request)))


@router.get("/weaves/{code}", responses=problems(404))
def get_weave(request: Request, code: str) -> OneWeaveOut:
    """One weave."""
    return filled(OneWeaveOut, weave_page(reading(request), code))


@router.put(
    "/weaves/{code}/band",
    responses={200: {"model": OneWeaveOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**dict.fromkeys(BAND_FIELDS, ANY_NUMBER), "version": VERSION}, (*BAND_FIELDS, "version")),
)
@writes
def set_band(session: Session, code: str, body: Body) -> Answer:
    """Put the shop's own band in the place of the catalogue's."""
    version, draft = version_of(body), fit(read_band(body))
    operations.set_band(session, code, draft, version)
    return Answer(sent(OneWeaveOut, weave_page(session, code)))


@router.post(
    "/fits",
    status_code=201,
    responses={201: {"model": RecordOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(
        {
            "weave": {"type": "string"},
            "wire": ANY_NUMBER,
            "inner": ANY_NUMBER,
            "metal": {"type": ["string", "null"]},
            "verdict": {"type": "string", "enum": list(FIT_VERDICTS)},
            "note": {"type": "string"},
            "noted_on": {"type": "string", "format": "date"},
        },
        ("weave", "wire", "inner", "verdict"),
    ),
)
@writes
def record_fit(session: Session, body: Body) -> Answer:
    """Keep how a ring worked in a weave; for sizes near it this counts before any band."""
    draft = fit(read_fit(body))
    record_id = operations.record_fit(session, draft)
    kept = next(record for record in fit_records(session, weave=draft.weave) if record.id == record_id)
    return Answer(sent(RecordOut, kept), status=201)
