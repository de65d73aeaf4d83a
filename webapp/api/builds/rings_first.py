"""Rings that are taken out before there is a design, under /api, and the design that is made of them."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.intake.builds.build import read_new_design, read_rings_first
from models.intake.faults import Faults
from models.operations.builds.rings_first import design_of_rings, take_rings
from webapp.api.builds.builds import LINE_FIELDS, BuildWithLines, build_answer
from webapp.api.shapes import VERSION
from webapp.web.json_api import Answer, json_body, problems, read_json, version_if_sent, write_once

router = APIRouter(prefix="/api", tags=["builds"])
Body = Annotated[dict[str, Any], Depends(read_json)]

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
def take(request: Request, body: Body) -> Response:
    """Take rings out for a piece that has no design yet; it is a build that is under way."""

    def act(session: Session) -> Answer | Faults:
        draft = read_rings_first(body)
        if isinstance(draft, Faults):
            return draft
        build_id = take_rings(session, draft).build_id
        return Answer(build_answer(session, build_id), status=201, location=f"/api/builds/{build_id}")

    return write_once(request, body, act)


@router.post(
    "/builds/{build_id}/design",
    responses={200: {"model": BuildWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(DESIGN_FIELDS, ("name",)),
)
def make_design(request: Request, build_id: int, body: Body) -> Response:
    """Make a design of the rings that were taken out; the build then makes it, and names it in `design_id`."""

    def act(session: Session) -> Answer | Faults:
        version, draft = version_if_sent(body), read_new_design(body)
        found = [fault for one in (version, draft) if isinstance(one, Faults) for fault in one]
        if found or isinstance(version, Faults) or isinstance(draft, Faults):
            return Faults(tuple(found))
        design_of_rings(session, build_id, draft, version=version)
        return Answer(build_answer(session, build_id))

    return write_once(request, body, act)
