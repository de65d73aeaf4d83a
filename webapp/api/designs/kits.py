"""Kits and classes under /api: the same bags, cost and prices as their pages, and keeping a kit for sale."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.intake.designs.kit import (
    MOST_PEOPLE,
    MOST_SPARE_PERCENT,
    USUAL_PEOPLE,
    read_kit,
    read_kit_question,
    read_people,
)
from models.intake.faults import Faults
from models.operations.designs import kit as operations
from models.queries.designs.kit import ClassView, KeptKit, KitView, class_view, kit_origin, kit_view
from models.queries.designs.kit_bags import KitBag
from webapp.api.costing.costing import cost_json, prices_json
from webapp.api.shapes import ANY_NUMBER, VERSION
from webapp.api.stock.items import read_version
from webapp.web.json_api import Answer, faulty, json_body, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["kits"])
Body = Annotated[dict[str, Any], Depends(read_json)]

KIT_FIELDS: dict[str, object] = {
    "name": {"type": "string", "description": "Empty takes the design's name with 'kit' behind it."},
    "spare_percent": {**ANY_NUMBER, "description": f"Rings to spare, 0 to {MOST_SPARE_PERCENT} per cent of each bag."},
    "prepared": {"type": "boolean", "description": "Whether the rings are delivered opened and closed."},
    "pack_minutes": {**ANY_NUMBER, "description": "Minutes to count and pack one kit; empty takes the usual time."},
}
BAG: dict[str, object] = {
    "type": "object",
    "properties": {
        "item": {"type": ["integer", "null"]},
        "name": {"type": "string"},
        "state": {"type": "string", "enum": ["", "closed", "open"]},
        "needed": {"type": "number"},
        "spare": {"type": "number"},
        "total": {"type": "number"},
        "unit": {"type": "string"},
        "close_first": {"type": "number"},
        "choice": {"type": "string"},
        "optional": {"type": "boolean"},
    },
}


class KitQuery(BaseModel):
    """How a kit is put together."""

    spare_percent: str = Field("", description="Rings to spare in per cent of each bag; empty means 5.")
    prepared: str = Field("", description="yes for rings that are delivered opened and closed.")

    def raw(self) -> dict[str, object]:
        """The fields as they are read."""
        return {"spare_percent": self.spare_percent, "prepared": self.prepared}


class ClassQuery(KitQuery):
    """The same for so many people."""

    people: str = Field("", description=f"1 to {MOST_PEOPLE}; empty means {USUAL_PEOPLE}.")


def _answers(status: int, description: str, **fields: object) -> dict[int | str, dict[str, Any]]:
    schema = {"type": "object", "properties": fields}
    return {status: {"description": description, "content": {"application/json": {"schema": schema}}}}


BAGS = {"type": "array", "items": BAG}


@router.get(
    "/designs/{design_id}/kit",
    responses={
        **_answers(200, "The bags of a kit, its cost, its prices, and the kits that are kept.", bags=BAGS),
        **problems(404, 409, 422),
    },
)
def get_kit(request: Request, design_id: int, query: Annotated[KitQuery, Query()]) -> Response:
    """What is in a kit of a design, what it costs and sells for."""
    question, faults = read_kit_question(query.raw())
    if faults is not None:
        return faulty(faults)
    with request.app.state.store.reading() as session:
        return JSONResponse(kit_json(kit_view(session, design_id, question)))


@router.get(
    "/designs/{design_id}/class",
    responses={
        **_answers(200, "The bags for all people, and what the free stock lacks.", bags=BAGS),
        **problems(404, 409, 422),
    },
)
def get_class(request: Request, design_id: int, query: Annotated[ClassQuery, Query()]) -> Response:
    """The kits of a design for so many people."""
    question, faults = read_kit_question(query.raw())
    people, people_faults = read_people({"people": query.people})
    wrong = faults or people_faults
    if wrong is not None:
        return faulty(wrong)
    with request.app.state.store.reading() as session:
        return JSONResponse(class_json(class_view(session, design_id, people, question)))


@router.post(
    "/designs/{design_id}/kit",
    status_code=201,
    responses={**_answers(201, "The kit that is kept; `id` is its design."), **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(KIT_FIELDS),
)
def make_kit(request: Request, design_id: int, body: Body) -> Response:
    """Keep the kit of a design as a design of its own, with its price per outlet, its builds and its stock."""

    def act(session: Session) -> Answer | Faults:
        draft = read_kit(body)
        if isinstance(draft, Faults):
            return draft
        kit_id = operations.make_kit(session, design_id, draft)
        return Answer(_kept(session, kit_id), status=201, location=f"/api/designs/{kit_id}")

    return write_once(request, body, act)


@router.post(
    "/designs/{design_id}/kit/up-to-date",
    responses={**_answers(200, "The kit as it is packed now."), **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({"version": VERSION}, ("version",)),
)
def bring_up_to_date(request: Request, design_id: int, body: Body) -> Response:
    """Pack a kit (its own design is named) by the latest revision of the design that it is a kit of."""

    def act(session: Session) -> Answer | Faults:
        version = read_version(body)
        if isinstance(version, Faults):
            return version
        operations.bring_kit_up_to_date(session, design_id, version)
        return Answer(_kept(session, design_id))

    return write_once(request, body, act)


def kit_json(view: KitView) -> dict[str, object]:
    """A kit as the API sends it."""
    return {
        "design": view.design.id,
        "revision": view.design.newest,
        "spare_percent": _number(view.question.spare_percent),
        "prepared": view.question.prepared,
        "rings": _number(view.rings),
        "spare_rings": _number(view.spares),
        "bags": [_bag(one) for one in view.bags],
        "left_out": list(view.left_out),
        "pack_minutes": _number(view.pack_minutes),
        "cost": cost_json(view.costing),
        "prices": prices_json(view.costing),
        "kits": [kept_json(one) for one in view.kits],
    }


def class_json(view: ClassView) -> dict[str, object]:
    """A class as the API sends it."""
    return {
        "design": view.kit.design.id,
        "people": view.people,
        "packed": view.packed,
        "to_pack": view.to_pack,
        "bags": [{**_bag(line.bag), "for_all": _number(line.total)} for line in view.lines],
        "needs": [
            {
                "item": need.item_id,
                "name": need.name,
                "unit": need.unit,
                "needed": _number(need.total),
                "free": _number(need.free),
                "lacks": _number(need.lacks),
            }
            for need in view.needs
        ],
    }


def kept_json(kit: KeptKit) -> dict[str, object]:
    """A kit that is kept as a design."""
    return {
        "id": kit.id,
        "name": kit.name,
        "version": kit.version,
        "retired": kit.retired,
        "of_revision": kit.revision,
        "newest_revision": kit.newest,
        "behind": kit.behind,
        "spare_percent": _number(kit.question.spare_percent),
        "prepared": kit.question.prepared,
        "packed": kit.packed,
    }


def _kept(session: Session, kit_id: int) -> dict[str, object]:
    origin = kit_origin(session, kit_id)
    if origin is None:
        raise RuntimeError("a kit that was just kept is a kit")
    return {"kit_of": origin[0], **kept_json(origin[2])}


def _bag(one: KitBag) -> dict[str, object]:
    return {
        "item": one.thing.item_id,
        "name": one.thing.name,
        "state": one.state,
        "needed": _number(one.needed),
        "spare": _number(one.spare),
        "total": _number(one.total),
        "unit": one.unit,
        "close_first": _number(one.close_first),
        "choice": one.choice,
        "optional": one.part.optional,
    }


def _number(value: Decimal) -> float:
    return float(value)
