"""Suppliers under /api."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.supplier import MOST_LEAD_DAYS, read_supplier
from models.operations import supplier as operations
from models.queries.supplier import SupplierView, list_suppliers, supplier_view
from webapp.api.items import read_version
from webapp.api.shapes import VERSION
from webapp.frame.problems import Answer, json_body, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["suppliers"])
Body = Annotated[dict[str, Any], Depends(read_json)]

SUPPLIER_FIELDS: dict[str, object] = {
    "name": {"type": "string"},
    "note": {"type": "string"},
    "lead_days": {
        "type": ["integer", "null"],
        "minimum": 0,
        "maximum": MOST_LEAD_DAYS,
        "description": "How many days an order usually takes.",
    },
}


class SupplierOut(BaseModel):
    """One supplier."""

    id: int
    name: str
    note: str
    lead_days: int | None
    items: int = Field(description="How many items are bought here now.")
    version: int


class SuppliersOut(BaseModel):
    """Every supplier, by name."""

    suppliers: list[SupplierOut]


@router.get("/suppliers")
def get_suppliers(request: Request) -> SuppliersOut:
    """Every supplier, by name."""
    with request.app.state.store.reading() as session:
        return SuppliersOut(suppliers=[_out(supplier) for supplier in list_suppliers(session)])


@router.post(
    "/suppliers",
    status_code=201,
    responses={201: {"model": SupplierOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(SUPPLIER_FIELDS, ("name",)),
)
def add_supplier(request: Request, body: Body) -> Response:
    """Take a supplier down."""

    def act(session: Session) -> Answer | Faults:
        draft = read_supplier(body)
        if isinstance(draft, Faults):
            return draft
        supplier_id = operations.add_supplier(session, draft)
        shown = _out(supplier_view(session, supplier_id)).model_dump(mode="json")
        return Answer(shown, status=201, location=f"/api/suppliers/{supplier_id}")

    return write_once(request, body, act)


@router.get("/suppliers/{supplier_id}", responses=problems(404))
def get_supplier(request: Request, supplier_id: int) -> SupplierOut:
    """One supplier."""
    with request.app.state.store.reading() as session:
        return _out(supplier_view(session, supplier_id))


@router.patch(
    "/suppliers/{supplier_id}",
    responses={200: {"model": SupplierOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**SUPPLIER_FIELDS, "version": VERSION}, ("version",)),
)
def change_supplier(request: Request, supplier_id: int, body: Body) -> Response:
    """Change the fields that are sent; the others stay."""

    def act(session: Session) -> Answer | Faults:
        version = read_version(body)
        if isinstance(version, Faults):
            return version
        draft = read_supplier({**supplier_view(session, supplier_id).raw(), **body})
        if isinstance(draft, Faults):
            return draft
        operations.edit_supplier(session, supplier_id, draft, version)
        return Answer(_out(supplier_view(session, supplier_id)).model_dump(mode="json"))

    return write_once(request, body, act)


def _out(supplier: SupplierView) -> SupplierOut:
    return SupplierOut(
        id=supplier.id,
        name=supplier.name,
        note=supplier.note,
        lead_days=supplier.lead_days,
        items=supplier.items,
        version=supplier.version,
    )
