"""Suppliers under /api."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from pydantic import Field
from sqlmodel import Session

from models.errors import fit
from models.intake.fields import Money, fields_of, needed_of, properties_of
from models.intake.stock.supplier import SupplierDraft, read_supplier
from models.operations.stock import supplier as operations
from models.queries.shop.shop import currency_of
from models.queries.stock.supplier import list_suppliers, supplier_view
from webapp.api.answers import AnswerModel, Asked, Currency, DecimalText, answer_of, filled, sent
from webapp.api.shapes import VERSION
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, version_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["suppliers"])


class _InItsCurrency(AnswerModel):
    asks_in: Currency = Field(validation_alias="currency", exclude=True)


_FIELDS = answer_of(
    "SupplierFields", SupplierDraft, extra=_InItsCurrency, money=Asked, without=("currency", "exchange_rate")
)


class SupplierOut(_FIELDS):  # type: ignore[misc, valid-type]
    """One supplier."""

    id: int
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
    openapi_extra=json_body(properties_of(SupplierDraft), needed_of(SupplierDraft)),
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
    openapi_extra=json_body({**properties_of(SupplierDraft), "version": VERSION}, ("version",)),
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
        for name, field in fields_of(SupplierDraft).items()
        if isinstance(field, Money)
        and isinstance(value := body.get(name), dict)
        and set(value) == {"amount", "currency"}
    }
    return {**body, **sums}


def _shown(session: Session, supplier_id: int) -> dict[str, object]:
    return sent(SupplierOut, supplier_view(session, supplier_id), currency=currency_of(session))
