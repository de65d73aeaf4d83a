"""The weave catalogue under /api, with the shop's own bands and its records of what fitted."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.weave import BAND_FIELDS, read_band, read_fit
from models.operations.stock import weave as operations
from models.queries.stock.weave import RecordRow, WeavePage, WeaveRow, fit_records, list_weaves, weave_page
from models.trade.vocabulary.things import FIT_VERDICTS
from models.trade.weaves import Band, Weave
from webapp.api.shapes import ANY_NUMBER, VERSION
from webapp.api.stock.items import read_version
from webapp.web.json_api import Answer, json_body, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["weaves"])
Body = Annotated[dict[str, Any], Depends(read_json)]


class BandOut(BaseModel):
    """Aspect ratios: too small under `smallest`, comfortable from `low` to `high`, too open past `largest`."""

    smallest: float
    low: float
    high: float
    largest: float


class WeaveOut(BaseModel):
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


class WeavesOut(BaseModel):
    """Every weave of the catalogue."""

    weaves: list[WeaveOut]


class RecordOut(BaseModel):
    """How one ring size really worked in a weave."""

    id: int
    weave: str
    wire_mm: float
    inner_mm: float
    metal: str | None
    verdict: str
    note: str
    noted_on: date


class OneWeaveOut(WeaveOut):
    """One weave with the shop's records, and the version of its own band (0 while there is none)."""

    version: int
    fits: list[RecordOut]


@router.get("/weaves")
def get_weaves(request: Request) -> WeavesOut:
    """Every weave of the catalogue, in its order."""
    with request.app.state.store.reading() as session:
        return WeavesOut(weaves=[_row_out(row) for row in list_weaves(session)])


@router.get("/weaves/{code}", responses=problems(404))
def get_weave(request: Request, code: str) -> OneWeaveOut:
    """One weave."""
    with request.app.state.store.reading() as session:
        return _page_out(weave_page(session, code))


@router.put(
    "/weaves/{code}/band",
    responses={200: {"model": OneWeaveOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**dict.fromkeys(BAND_FIELDS, ANY_NUMBER), "version": VERSION}, (*BAND_FIELDS, "version")),
)
def set_band(request: Request, code: str, body: Body) -> Response:
    """Put the shop's own band in the place of the catalogue's."""

    def act(session: Session) -> Answer | Faults:
        version, draft = read_version(body), read_band(body)
        if isinstance(version, Faults):
            return version
        if isinstance(draft, Faults):
            return draft
        operations.set_band(session, code, draft, version)
        return Answer(_page_out(weave_page(session, code)).model_dump(mode="json"))

    return write_once(request, body, act)


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
def record_fit(request: Request, body: Body) -> Response:
    """Keep how a ring worked in a weave; for sizes near it this counts before any band."""

    def act(session: Session) -> Answer | Faults:
        draft = read_fit(body)
        if isinstance(draft, Faults):
            return draft
        record_id = operations.record_fit(session, draft)
        kept = next(record for record in fit_records(session, weave=draft.weave) if record.id == record_id)
        return Answer(_record_out(kept).model_dump(mode="json"), status=201)

    return write_once(request, body, act)


def _weave_out(weave: Weave, band: Band, *, own_band: bool, records: int) -> WeaveOut:
    return WeaveOut(
        code=weave.code,
        name=weave.name,
        family=weave.family,
        links=weave.links,
        links_note=weave.links_note,
        difficulty=weave.difficulty,
        band=BandOut(
            smallest=float(band.smallest), low=float(band.low), high=float(band.high), largest=float(band.largest)
        ),
        own_band=own_band,
        computed_min=float(weave.computed_min) if weave.computed_min is not None else None,
        packing_bound=float(weave.packing_bound),
        source=weave.source,
        note=weave.note,
        records=records,
    )


def _row_out(row: WeaveRow) -> WeaveOut:
    return _weave_out(row.weave, row.band, own_band=row.own_band, records=row.records)


def _page_out(page: WeavePage) -> OneWeaveOut:
    weave = _weave_out(page.weave, page.band, own_band=page.own_band, records=len(page.records))
    return OneWeaveOut(
        **weave.model_dump(), version=page.version, fits=[_record_out(record) for record in page.records]
    )


def _record_out(record: RecordRow) -> RecordOut:
    return RecordOut(
        id=record.id,
        weave=record.weave,
        wire_mm=record.size.wire_nm / 1_000_000,
        inner_mm=record.size.inner_nm / 1_000_000,
        metal=record.metal,
        verdict=record.verdict,
        note=record.note,
        noted_on=record.noted_on,
    )
