"""Metals under /api: the catalogue with its sources, and metals of the shop's own."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.metal import read_metal
from models.operations.stock import metal as operations
from models.queries.stock.metal import metals_page, own_metal
from webapp.api.answers import AnswerModel, filled, path, sent
from webapp.api.shapes import ANY_NUMBER, VERSION
from webapp.web.json_api import Answer, json_body, problems, read_json, version_of, write_once
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["metals"])
Body = Annotated[dict[str, Any], Depends(read_json)]

METAL_FIELDS: dict[str, object] = {
    "name": {"type": "string"},
    "density": {**ANY_NUMBER, "description": "g/cm³ at 20 °C"},
    "source": {"type": "string", "description": "Where the density comes from."},
    "tint": {"type": "string", "description": "What rings of it are drawn in, such as #b97b48."},
    "note": {"type": "string"},
}


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
    openapi_extra=json_body(METAL_FIELDS, ("name", "density", "source")),
)
def add_metal(request: Request, body: Body) -> Response:
    """Add a metal of the shop's own."""

    def act(session: Session) -> Answer | Faults:
        draft = read_metal(body)
        if isinstance(draft, Faults):
            return draft
        return Answer(_shown(session, operations.add_metal(session, draft)), status=201)

    return write_once(request, body, act)


@router.patch(
    "/metals/{code}",
    responses={200: {"model": MetalOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**METAL_FIELDS, "version": VERSION}, ("version",)),
)
def change_metal(request: Request, code: str, body: Body) -> Response:
    """Change one of the shop's own metals; weights and costs follow."""

    def act(session: Session) -> Answer | Faults:
        version = version_of(body)
        draft = read_metal({**own_metal(session, code).raw(), **body})
        if isinstance(draft, Faults):
            return draft
        operations.edit_metal(session, code, draft, version)
        return Answer(_shown(session, code))

    return write_once(request, body, act)


def _shown(session: Session, code: str) -> dict[str, object]:
    return sent(MetalOut, next(row for row in metals_page(session).own if row.code == code))
