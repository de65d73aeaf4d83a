"""Rings that are taken out before there is a design, under /api, and the design that is made of them."""

from __future__ import annotations

from fastapi import APIRouter
from sqlmodel import Session

from models.errors import fit, fit_both
from models.intake.builds.build import read_new_design, read_rings_first
from models.operations.builds.rings_first import design_of_rings, take_rings
from webapp.api.builds.builds import LINE_FIELDS, BuildWithLines, build_answer
from webapp.api.shapes import VERSION
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, version_if_sent

router = APIRouter(prefix="/api", tags=["builds"])

_LINES: dict[str, object] = {"type": "array", "items": {"type": "object", "properties": LINE_FIELDS}}
TAKE_FIELDS: dict[str, object] = {
    "lines": {**_LINES, "description": "What is taken, and from which bag."},
    "taken_on": {"type": "string", "format": "date", "description": "Today when it is left out."},
    "note": {"type": "string"},
}
DESIGN_FIELDS: dict[str, object] = {
    "name": {"type": "string"},
    "piece": {"type": "string", "description": "The kind of piece, such as pendant."},
    "weave": {"type": "string", "description": "The code of a weave of the catalogue."},
    "lines": {**_LINES, "description": "How much of an item is in the piece; all that was taken when it is left out."},
    "version": VERSION,
}


@router.post(
    "/builds/take",
    status_code=201,
    responses={201: {"model": BuildWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(TAKE_FIELDS, ("lines",)),
)
@writes
def take(session: Session, body: Body) -> Answer:
    """Take rings out for a piece that has no design yet; it is a build that is under way."""
    draft = fit(read_rings_first(body))
    build_id = take_rings(session, draft).build_id
    return Answer(build_answer(session, build_id), status=201, location=f"/api/builds/{build_id}")


@router.post(
    "/builds/{build_id}/design",
    responses={200: {"model": BuildWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(DESIGN_FIELDS, ("name",)),
)
@writes
def make_design(session: Session, build_id: int, body: Body) -> Answer:
    """Make a design of the rings that were taken out; the build then makes it, and names it in `design_id`."""
    version, draft = fit_both(version_if_sent(body), read_new_design(body))
    design_of_rings(session, build_id, draft, version=version)
    return Answer(build_answer(session, build_id))
