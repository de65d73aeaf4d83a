"""Designs under /api: the same reading and the same operations as their pages. What a design costs is in `costing`.

What a GET answers can be sent back with PUT as it is: sizes with `_mm` are plain millimetres, a guessed price is an
object.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session

from models.errors import Unfit, fit
from models.intake.costing.part import PART_COLUMNS
from models.intake.designs.design import DESIGN_COLUMNS, DesignDraft, read_design
from models.intake.faults import Fault, Faults
from models.intake.fields import properties_of
from models.operations.designs import design as operations
from models.queries.designs.design import design_view
from models.queries.designs.history import design_history
from models.queries.designs.layout_size import finished_size
from models.queries.designs.list import ORDERS, DesignFilter, design_list
from models.queries.shop.shop import currency_of
from models.queries.stock.item import load_materials
from models.trade.vocabulary.plans import DesignOrder
from models.trade.vocabulary.things import PART_KINDS, UNITS
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.answers import filled
from webapp.api.designs.shapes import (
    WORK_FIELDS,
    DesignOut,
    DesignsOut,
    RevisionsOut,
    design_out,
)
from webapp.api.layouts.shapes import LAYOUT_FIELDS
from webapp.api.plain_names import as_sent, with_plain_names
from webapp.api.shapes import ANY_NUMBER, VERSION
from webapp.web.acting import Answer, Body, writes, writes_without_body
from webapp.web.json_api import json_body, problems, read_version
from webapp.web.numbers import Whole
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["designs"])

NO_PARTS = "Send the parts; an empty list takes them all out."
NO_WORK = "Send the work, such as the object that was read."


def _shape(name: str, says: str, holds: str) -> dict[str, object]:
    shape: dict[str, object] = {"type": "string"}
    if name == "guess":
        return {**MONEY_SCHEMA, "description": says}
    if holds in {"number", "size"}:
        shape = dict(ANY_NUMBER)
    if holds == "yes or no":
        shape = {"type": "boolean"}
    if name in {"kind", "unit"}:
        shape["enum"] = list(PART_KINDS if name == "kind" else UNITS)
    return {**shape, "description": says}


PART_FIELDS: dict[str, object] = {
    "item_id": {"type": ["integer", "null"], "description": "A stock item; without one the thing itself is described."},
    **{column.name: _shape(column.name, column.says, column.holds) for column in PART_COLUMNS[2:]},
}
DESIGN_FIELDS: dict[str, object] = {
    **properties_of(DesignDraft),
    "work": {
        "type": "object",
        "properties": {
            column.name: _shape(column.name, column.says, column.holds)
            for column in DESIGN_COLUMNS
            if column.name in WORK_FIELDS
        },
    },
    "parts": {"type": "array", "maxItems": 200, "items": {"type": "object", "properties": PART_FIELDS}},
    "rows": {
        "description": "How it is laid out, as /api/designs/{id}/layout takes it; null for a plain list.",
        "anyOf": [{"type": "null"}, {"type": "object", "properties": LAYOUT_FIELDS}],
    },
}


class DesignParameters(BaseModel):
    """What is asked of the list."""

    find: str = Field("", max_length=200)
    piece: str = ""
    weave: str = Field("", description="A weave's code.")
    metal: str = Field("", description="A metal's code.")
    retired: bool = False
    order: DesignOrder = ORDERS[0]


@router.get("/designs", response_model=DesignsOut, responses=problems(422))
def list_designs(request: Request, asked: Annotated[DesignParameters, Query()]) -> DesignsOut:
    """All designs, or those that match, with what they cost and earn."""
    wanted = DesignFilter(asked.find.strip(), asked.piece, asked.weave, asked.metal, asked.retired, asked.order)
    session = reading(request)
    return filled(DesignsOut, design_list(session, wanted), currency=currency_of(session))


@router.post(
    "/designs",
    status_code=201,
    responses={201: {"model": DesignOut}, **problems(400, 415, 422)},
    openapi_extra=json_body(DESIGN_FIELDS, ("name",)),
)
@writes
def add_design(session: Session, body: Body) -> Answer:
    """Write down a design; work that is left out starts as a new design's does."""
    draft = fit(_read(session, body))
    design_id = operations.add_design(session, draft)
    return Answer(_shown(session, design_id), status=201, location=f"/api/designs/{design_id}")


@router.get("/designs/{design_id}", responses=problems(404, 422))
def get_design(request: Request, design_id: int, revision: Annotated[Whole | None, Query(ge=1)] = None) -> DesignOut:
    """One design with its latest revision, or with an earlier one."""
    return _full(reading(request), design_id, revision)


@router.put(
    "/designs/{design_id}",
    responses={200: {"model": DesignOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**DESIGN_FIELDS, "version": VERSION}, ("name", "version", "parts", "work")),
)
@writes
def change_design(session: Session, design_id: int, body: Body) -> Answer:
    """Keep a changed design whole; what is left out is emptied. A revision is made where one is due.

    Only its rows stay as they are where `rows` is left out; null gives them up, and their parts become a plain list.
    Parts that say `from_rows` are counted anew.
    """
    design_view(session, design_id)
    version = read_version(body)
    missing = [Fault(name, words) for name, words in (("parts", NO_PARTS), ("work", NO_WORK)) if name not in body]
    draft = _read(session, body)
    found = [*_faults_in(version), *missing, *_faults_in(draft)]
    if found or isinstance(version, Faults) or isinstance(draft, Faults):
        raise Unfit(Faults(tuple(found)))
    operations.change_design(session, design_id, version, draft, keep_layout="rows" not in body)
    return Answer(_shown(session, design_id))


@router.get("/designs/{design_id}/revisions", responses=problems(404))
def list_revisions(request: Request, design_id: int) -> RevisionsOut:
    """Every revision with its cost at today's prices."""
    session = reading(request)
    return filled(RevisionsOut, design_history(session, design_id), currency=currency_of(session))


@router.post("/designs/{design_id}/copy", status_code=201, responses={201: {"model": DesignOut}, **problems(404)})
@writes_without_body
def copy_design(session: Session, design_id: int) -> Answer:
    """Begin a design of its own from this one."""
    copy_id = operations.copy_design(session, design_id)
    return Answer(_shown(session, copy_id), status=201, location=f"/api/designs/{copy_id}")


@router.post("/designs/{design_id}/retire", responses={200: {"model": DesignOut}, **problems(404)})
@writes_without_body
def retire_design(session: Session, design_id: int) -> Answer:
    """Keep a design out of the list; its history stays."""
    operations.retire_design(session, design_id)
    return Answer(_shown(session, design_id))


@router.post("/designs/{design_id}/bring-back", responses={200: {"model": DesignOut}, **problems(404)})
@writes_without_body
def bring_back_design(session: Session, design_id: int) -> Answer:
    """Put a retired design back into the list."""
    operations.bring_back_design(session, design_id)
    return Answer(_shown(session, design_id))


def _read(session: Session, body: Mapping[str, object]) -> DesignDraft | Faults:
    """Read a body; a fault names the field under which it was sent."""
    plain = plain_amounts(body, currency_of(session))
    if isinstance(plain, Faults):
        return plain
    draft = read_design(with_plain_names(plain))
    return as_sent(draft, body) if isinstance(draft, Faults) else draft


def _faults_in(read: object) -> tuple[Fault, ...]:
    return read.items if isinstance(read, Faults) else ()


def _shown(session: Session, design_id: int) -> dict[str, object]:
    shown: dict[str, object] = _full(session, design_id, None).model_dump(mode="json")
    return shown


def _full(session: Session, design_id: int, revision: int | None) -> DesignOut:
    view = design_view(session, design_id, revision)
    ids = {part.item_id for part in view.draft.parts if part.item_id is not None}
    size = finished_size(session, view.draft)
    return design_out(view, load_materials(session, ids) if ids else {}, currency_of(session), size)
