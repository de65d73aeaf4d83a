"""Kits and classes under /api: the same bags, cost and prices as their pages, and keeping a kit for sale."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.errors import fit
from models.intake.designs.kit import (
    MOST_PEOPLE,
    MOST_SPARE_PERCENT,
    USUAL_PEOPLE,
    read_kit,
    read_kit_request,
    read_people,
)
from models.operations.designs import kit as operations
from models.queries.designs.kit import class_view, kit_origin, kit_view
from webapp.api.answers import AnswerModel, beneath, path, sent, together
from webapp.api.costing.shapes import CostOut, PricesOut
from webapp.api.shapes import ANY_NUMBER, VERSION
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import faulty, json_body, problems, version_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["kits"])

KIT_FIELDS: dict[str, object] = {
    "name": {"type": "string", "description": "Empty takes the design's name with 'kit' behind it."},
    "spare_percent": {**ANY_NUMBER, "description": f"Rings to spare, 0 to {MOST_SPARE_PERCENT} per cent of each bag."},
    "prepared": {"type": "boolean", "description": "Whether the rings are delivered opened and closed."},
    "pack_minutes": {**ANY_NUMBER, "description": "Minutes to count and pack one kit; empty takes the usual time."},
}


class KitBagOut(AnswerModel):
    """One bag of a kit, in the unit of what is in it; `close_first` rings of it are closed before the weaving."""

    item: int | None = path("thing", "item_id")
    name: str = path("thing", "name")
    state: Literal["", "closed", "open"]
    needed: float
    spare: float
    total: float
    unit: str
    close_first: float
    choice: str
    optional: bool = path("part", "optional")


class KeptKitOut(AnswerModel, alias_generator=beneath("question")):
    """A kit that is kept as a design of its own."""

    id: int
    name: str
    version: int
    retired: bool
    of_revision: int = path("revision")
    newest_revision: int = path("newest")
    behind: bool
    spare_percent: float
    prepared: bool
    packed: int


class _OfDesign(AnswerModel):
    kit_of: int


class MadeKitOut(KeptKitOut, _OfDesign):
    """The kit that is kept; `id` is its design, `kit_of` the design that it is a kit of."""


class KitOut(AnswerModel, alias_generator=beneath("question")):
    """The bags of a kit, its cost, its prices, and the kits that are kept."""

    design: int = path("design", "id")
    revision: int = path("design", "newest")
    spare_percent: float
    prepared: bool
    rings: float
    spare_rings: float = path("spares")
    bags: list[KitBagOut]
    left_out: list[str]
    pack_minutes: float
    cost: CostOut = path("costing")
    prices: PricesOut = path("costing")
    kits: list[KeptKitOut]


class ClassBagOut(KitBagOut):
    """One bag of a kit, and how much of it is for all people."""

    for_all: float


class ClassNeedOut(AnswerModel):
    """One thing that a class needs, and what of it the free stock lacks."""

    item: int | None = path("item_id")
    name: str
    unit: str
    needed: float = path("total")
    free: float
    lacks: float


class ClassOut(AnswerModel):
    """The bags for all people, and what the free stock lacks."""

    design: int = path("kit", "design", "id")
    people: int
    packed: int
    to_pack: int
    bags: list[ClassBagOut]
    needs: list[ClassNeedOut]


class KitParameters(BaseModel):
    """How a kit is put together."""

    spare_percent: str = Field("", description="Rings to spare in per cent of each bag; empty means 5.")
    prepared: str = Field("", description="yes for rings that are delivered opened and closed.")

    def raw(self) -> dict[str, object]:
        """The fields as they are read."""
        return {"spare_percent": self.spare_percent, "prepared": self.prepared}


class ClassParameters(KitParameters):
    """The same for so many people."""

    people: str = Field("", description=f"1 to {MOST_PEOPLE}; empty means {USUAL_PEOPLE}.")


@router.get(
    "/designs/{design_id}/kit",
    response_model=KitOut,
    responses=problems(404, 409, 422),
)
def get_kit(request: Request, design_id: int, query: Annotated[KitParameters, Query()]) -> Response:
    """What is in a kit of a design, what it costs and sells for."""
    question, faults = read_kit_request(query.raw())
    if faults is not None:
        return faulty(faults)
    view = kit_view(reading(request), design_id, question)
    return JSONResponse(sent(KitOut, view, currency=view.costing.currency))


@router.get(
    "/designs/{design_id}/class",
    response_model=ClassOut,
    responses=problems(404, 409, 422),
)
def get_class(request: Request, design_id: int, query: Annotated[ClassParameters, Query()]) -> Response:
    """The kits of a design for so many people."""
    question, faults = read_kit_request(query.raw())
    people, people_faults = read_people({"people": query.people})
    wrong = faults or people_faults
    if wrong is not None:
        return faulty(wrong)
    view = class_view(reading(request), design_id, people, question)
    bags = [together(line.bag, for_all=line.total) for line in view.lines]
    return JSONResponse(sent(ClassOut, view, bags=bags))


@router.post(
    "/designs/{design_id}/kit",
    status_code=201,
    response_model=MadeKitOut,
    responses=problems(400, 404, 409, 415, 422),
    openapi_extra=json_body(KIT_FIELDS),
)
@writes
def make_kit(session: Session, design_id: int, body: Body) -> Answer:
    """Keep the kit of a design as a design of its own, with its price per outlet, its builds and its stock."""
    draft = fit(read_kit(body))
    kit_id = operations.make_kit(session, design_id, draft)
    return Answer(_kept(session, kit_id), status=201, location=f"/api/designs/{kit_id}")


@router.post(
    "/designs/{design_id}/kit/up-to-date",
    response_model=MadeKitOut,
    responses=problems(400, 404, 409, 415, 422),
    openapi_extra=json_body({"version": VERSION}, ("version",)),
)
@writes
def bring_up_to_date(session: Session, design_id: int, body: Body) -> Answer:
    """Pack a kit (its own design is named) by the latest revision of the design that it is a kit of."""
    version = version_of(body)
    operations.bring_kit_up_to_date(session, design_id, version)
    return Answer(_kept(session, design_id))


def _kept(session: Session, kit_id: int) -> dict[str, object]:
    origin = kit_origin(session, kit_id)
    if origin is None:
        raise RuntimeError("a kit that was just kept is a kit")
    return sent(MadeKitOut, origin[2], kit_of=origin[0])
