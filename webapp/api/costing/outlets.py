"""Outlets under /api: the same reading and the same operations as their pages."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from fastapi import APIRouter, Request
from pydantic import Field
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.errors import fit
from models.intake.costing.outlet import OutletDraft, read_outlet, read_sample
from models.intake.fields import properties_of, starting
from models.operations.costing import outlet as operations
from models.queries.costing.outlet import OutletView, outlet_view, outlets_page
from models.queries.shop.shop import currency_of
from webapp.api.amounts import plain_amounts
from webapp.api.answers import Amount, ClosedAnswer, answer_of, path, sent
from webapp.api.shapes import VERSION
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import flag_of, json_body, problems, readable, version_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["outlets"])


class ExampleOut(ClosedAnswer):
    """One sale at a price: who gets what; `left` must pay the materials, the work and the overhead."""

    price: Amount = path("sale", "price_shown")
    buyer_pays: Amount = path("sale", "buyer_pays")
    tax: Amount = path("sale", "tax")
    fees: Amount = path("sale", "fees_total")
    postage: Amount = path("sale", "postage")
    period_share: Amount = path("sale", "period_share")
    left: Amount = path("leaves")
    retail: Amount | None = Field(description="Wholesale: what the shop that buys would ask.")


class _KeptOutlet(ClosedAnswer):
    id: int
    retired: bool
    version: int
    example: ExampleOut


OutletOut = answer_of(
    "OutletOut",
    OutletDraft,
    extra=_KeptOutlet,
    beneath="draft",
    says="An outlet. Percentages are numbers like 6.5; a null margin or wage, and an empty ending, take the shop's.",
)


class OutletsOut(ClosedAnswer):
    """Outlets in their order."""

    outlets: list[OutletOut]  # type: ignore[valid-type]


_RETIRED = {"retired": {"type": "boolean", "description": "True takes the outlet out of use, false brings it back."}}


@router.get("/outlets", response_model=OutletsOut, responses=problems(422))
def list_outlets(request: Request, price: str = "", retired: bool = False) -> Response:
    """Every outlet in use (or, with `retired`, every retired one) with what it takes of a price."""
    sample = readable(read_sample({"price": price}))
    session = reading(request)
    view, currency = outlets_page(session, sample), currency_of(session)
    return JSONResponse(sent(OutletsOut, outlets=view.retired if retired else view.outlets, currency=currency))


@router.post(
    "/outlets",
    status_code=201,
    response_model=OutletOut,
    responses=problems(400, 409, 415, 422),
    openapi_extra=json_body(properties_of(OutletDraft), ("name", "kind")),
)
@writes
def add_outlet(session: Session, body: Body) -> Answer:
    """Add an outlet; `prices_include_tax` is true when it is left out."""
    number = operations.add_outlet(session, _read(session, body, starting(OutletDraft)))
    sent = _sent(outlet_view(session, number), currency_of(session))
    return Answer(sent, status=201, location=f"/api/outlets/{number}")


@router.get("/outlets/{outlet_id}", response_model=OutletOut, responses=problems(404, 422))
def show_outlet(request: Request, outlet_id: int, price: str = "") -> Response:
    """One outlet with what it takes of a price."""
    sample = readable(read_sample({"price": price}))
    session = reading(request)
    return JSONResponse(_sent(outlet_view(session, outlet_id, sample), currency_of(session)))


@router.put(
    "/outlets/{outlet_id}",
    response_model=OutletOut,
    responses=problems(400, 404, 409, 415, 422),
    openapi_extra=json_body({**properties_of(OutletDraft), "version": VERSION, **_RETIRED}, ("version",)),
)
@writes
def change_outlet(session: Session, outlet_id: int, body: Body) -> Answer:
    """Change an outlet: what is left out stays as it is."""
    kept = outlet_view(session, outlet_id)
    draft = _read(session, body, asdict(kept.draft))
    version = version_of(body)
    if draft != kept.draft or version != kept.version:
        operations.change_outlet(session, outlet_id, draft, version=version)
    retired = flag_of(body, "retired", kept.retired)
    if retired != kept.retired:
        (operations.retire_outlet if retired else operations.bring_back_outlet)(session, outlet_id)
    return Answer(_sent(outlet_view(session, outlet_id), currency_of(session)))


def _read(session: Session, body: dict[str, Any], kept: dict[str, object]) -> OutletDraft:
    """What was sent, over what is kept where it was left out."""
    return fit(read_outlet(kept | fit(plain_amounts(body, currency_of(session)))))


def _sent(view: OutletView, currency: str) -> dict[str, object]:
    return sent(OutletOut, view, currency=currency)
