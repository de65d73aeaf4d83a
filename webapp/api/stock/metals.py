"""Metals under /api: the catalogue with its sources, and metals of the shop's own."""

from __future__ import annotations

from fastapi import APIRouter, Request
from pydantic import Field
from sqlmodel import Session

from models.errors import fit
from models.intake.fields import needed_of, properties_of
from models.intake.stock.metal import MetalDraft, read_metal
from models.operations.stock import metal as operations
from models.queries.stock.metal import metals_page, own_metal
from webapp.api.answers import AnswerModel, filled, path, sent
from webapp.api.shapes import VERSION
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, version_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["metals"])


class MetalOut(AnswerModel):
    """One metal or other ring material; `version` is null for a metal of the catalogue."""

    code: str
    name: str
    density: float = Field(description="g/cm³ at 20 °C")
    source: str
    family: str
    tint: str
    notes: list[str]
    precious: bool
    weigh_first: bool = Field(description="Whether its density is too uncertain to compute a mass from.")
    items: int
    version: int | None


class MetalsOut(AnswerModel):
    """Every metal, the shop's own first."""

    metals: list[MetalOut] = path("all")


@router.get("/metals")
def get_metals(request: Request) -> MetalsOut:
    """Every metal that an item can be made of."""
    return filled(MetalsOut, metals_page(reading(request)))


@router.post(
    "/metals",
    status_code=201,
    responses={201: {"model": MetalOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(properties_of(MetalDraft), needed_of(MetalDraft)),
)
@writes
def add_metal(session: Session, body: Body) -> Answer:
    """Add a metal of the shop's own."""
    draft = fit(read_metal(body))
    return Answer(_shown(session, operations.add_metal(session, draft)), status=201)


@router.patch(
    "/metals/{code}",
    responses={200: {"model": MetalOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**properties_of(MetalDraft), "version": VERSION}, ("version",)),
)
@writes
def change_metal(session: Session, code: str, body: Body) -> Answer:
    """Change one of the shop's own metals; weights and costs follow."""
    version = version_of(body)
    draft = fit(read_metal({**own_metal(session, code).raw(), **body}))
    operations.edit_metal(session, code, draft, version)
    return Answer(_shown(session, code))


def _shown(session: Session, code: str) -> dict[str, object]:
    return sent(MetalOut, next(row for row in metals_page(session).own if row.code == code))
