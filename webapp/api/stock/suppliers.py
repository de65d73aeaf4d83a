"""Suppliers under /api."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from pydantic import Field
from sqlmodel import Session

from models.errors import fit
from models.intake.stock.supplier import MOST_LEAD_DAYS, read_supplier
from models.operations.stock import supplier as operations
from models.queries.shop.shop import currency_of
from models.queries.stock.supplier import list_suppliers, supplier_view
from webapp.api.answers import AnswerModel, Asked, Currency, DecimalText, filled, sent
from webapp.api.shapes import ANY_NUMBER, VERSION
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, version_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["suppliers"])

_OR_NONE: dict[str, object] = {"anyOf": [{"type": "string"}, {"type": "number"}, {"type": "null"}]}
SUPPLIER_FIELDS: dict[str, object] = {
    "name": {"type": "string"},
    "note": {"type": "string"},
    "lead_days": {
        "type": ["integer", "null"],
        "minimum": 0,
        "maximum": MOST_LEAD_DAYS,
        "description": "How many days an order usually takes.",
    },
    "postage": {**ANY_NUMBER, "description": "What an order costs in postage, in the supplier's currency."},
    "free_from": {**_OR_NONE, "description": "The sum of goods from which postage is free; null: never."},
    "minimum": {**ANY_NUMBER, "description": "The smallest sum of goods that an order may have."},
    "currency": {"type": "string", "description": "What the supplier asks in; empty means the shop's own."},
    "exchange_rate": {**_OR_NONE, "description": "What one unit of another currency costs in the shop's own."},
}


class SupplierOut(AnswerModel):
    """One supplier."""

    asks_in: Currency = Field(validation_alias="currency", exclude=True)
    id: int
    name: str
    note: str
    lead_days: int | None
    postage: Asked
    free_from: Asked | None = Field(description="The sum of goods from which postage is free; null: never.")
    minimum: Asked = Field(description="The smallest sum of goods that an order may have.")
    exchange_rate: DecimalText = Field(description="What one of the supplier's currency costs in the shop's own.")
    items: int = Field(description="How many items are bought here now.")
    version: int


class SuppliersOut(AnswerModel):
    """Every supplier, by name."""

    suppliers: list[SupplierOut]


@router.get("/suppliers")
def get_suppliers(request: Request) -> SuppliersOut:
    """Every supplier, by name."""
    session = reading(request)
    return filled(SuppliersOut, suppliers=list_suppliers(session), currency=currency_of(session))


@router.post(
    "/suppliers",
    status_code=201,
    responses={201: {"model": SupplierOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(SUPPLIER_FIELDS, ("name",)),
)
@writes
def add_supplier(session: Session, body: Body) -> Answer:
    """Take a supplier down."""
    draft = fit(read_supplier(with_plain_sums(body)))
    supplier_id = operations.add_supplier(session, draft)
    return Answer(_shown(session, supplier_id), status=201, location=f"/api/suppliers/{supplier_id}")


@router.get("/suppliers/{supplier_id}", responses=problems(404))
def get_supplier(request: Request, supplier_id: int) -> SupplierOut:
    """One supplier."""
    session = reading(request)
    return filled(SupplierOut, supplier_view(session, supplier_id), currency=currency_of(session))


@router.patch(
    "/suppliers/{supplier_id}",
    responses={200: {"model": SupplierOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**SUPPLIER_FIELDS, "version": VERSION}, ("version",)),
)
@writes
def change_supplier(session: Session, supplier_id: int, body: Body) -> Answer:
    """Change the fields that are sent; the others stay."""
    version = version_of(body)
    draft = fit(read_supplier({**supplier_view(session, supplier_id).raw(), **with_plain_sums(body)}))
    operations.edit_supplier(session, supplier_id, draft, version)
    return Answer(_shown(session, supplier_id))


def with_plain_sums(body: dict[str, Any]) -> dict[str, Any]:
    """The body with sums given as objects (amount, currency) as their amounts; they are in the supplier's currency."""
    sums = {
        name: value["amount"]
        for name in ("postage", "free_from", "minimum")
        if isinstance(value := body.get(name), dict) and set(value) == {"amount", "currency"}
    }
    return {**body, **sums}


def _shown(session: Session, supplier_id: int) -> dict[str, object]:
    return sent(SupplierOut, supplier_view(session, supplier_id), currency=currency_of(session))
