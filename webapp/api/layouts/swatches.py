"""Measured swatches under /api: the same reading and the same operations as their pages."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import Field
from sqlmodel import Session

from models.errors import fit
from models.intake.layouts.swatch import CHAIN_WEAVES, SHEET_WEAVES, read_swatch
from models.operations.layouts import swatch as operations
from models.queries.layouts.swatch import swatches
from webapp.api.answers import AnswerModel, Millimetres, filled, path, places, sent
from webapp.api.shapes import ANY_NUMBER
from webapp.web.acting import Answer, Body, writes, writes_without_body
from webapp.web.json_api import json_body, problems
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["swatches"])


class SwatchOut(AnswerModel):
    """One measured swatch; sizes in mm. A sheet has rows and two lengths, a chain one length."""

    id: int
    weave: str
    kind: str
    item_id: int | None
    wire_mm: Millimetres = path("size", "wire_nm")
    inner_mm: Millimetres = path("size", "inner_nm")
    rows: int | None
    rings: int
    along_mm: Millimetres | None = path("along_nm")
    across_mm: Millimetres | None = path("across_nm")
    length_mm: Millimetres | None = path("length_nm")
    longer_along: Annotated[float, places(6)] | None = Field(
        description="Measured over computed, less one; null where nothing is computed."
    )
    longer_across: Annotated[float, places(6)] | None
    measured_on: date
    note: str


class SwatchesOut(AnswerModel):
    """Every swatch of the shop."""

    swatches: list[SwatchOut]


@router.get("/swatches")
def list_swatches(request: Request) -> SwatchesOut:
    """Every swatch, by weave, the latest first."""
    return filled(SwatchesOut, swatches=swatches(reading(request)))


@router.post(
    "/swatches",
    status_code=201,
    responses={201: {"model": SwatchOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(
        {
            "weave": {"type": "string", "enum": [*SHEET_WEAVES, *CHAIN_WEAVES]},
            "item_id": {"type": ["integer", "null"], "description": "A ring of the stock; without one give its size."},
            "wire": ANY_NUMBER,
            "inner": ANY_NUMBER,
            "rows": {"type": ["integer", "null"]},
            "rings": {"type": "integer", "description": "In one row of a sheet; in all of a chain."},
            "along": ANY_NUMBER,
            "across": ANY_NUMBER,
            "length": ANY_NUMBER,
            "measured_on": {"type": "string", "format": "date"},
            "note": {"type": "string"},
        },
        ("weave", "rings"),
    ),
)
@writes
def keep_swatch(session: Session, body: Body) -> Answer:
    """Keep a measured swatch; sizes of its weave follow it from now on."""
    draft = fit(read_swatch(body))
    swatch_id = operations.keep_swatch(session, draft)
    kept = next(one for one in swatches(session) if one.id == swatch_id)
    return Answer(sent(SwatchOut, kept), status=201, location=f"/api/swatches/{swatch_id}")


@router.delete("/swatches/{swatch_id}", responses={200: {"model": SwatchOut}, **problems(404, 409)})
@writes_without_body
def remove_swatch(session: Session, swatch_id: int) -> Answer:
    """Take a swatch out; the answer is the swatch as it was."""
    gone = next((one for one in swatches(session) if one.id == swatch_id), None)
    operations.remove_swatch(session, swatch_id)
    return Answer(sent(SwatchOut, gone) if gone else {})
