"""Outlets under /api: the same reading and the same operations as their pages."""

from __future__ import annotations

from dataclasses import asdict
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.costing.endings import ENDINGS
from models.costing.inputs import FEE_BASES, OUTLET_KINDS
from models.intake.costing.outlet import MOST_FEES, OutletDraft, read_outlet, read_sample
from models.intake.faults import Faults
from models.operations.costing import outlet as operations
from models.queries.costing.outlet import OutletView, outlet_view, outlets_page
from models.queries.shop.shop import currency_of
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.shapes import ANY_NUMBER, VERSION, MoneyOut
from webapp.web.json_api import Answer, faulty, json_body, money_json, plain, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["outlets"])
Body = Annotated[dict[str, Any], Depends(read_json)]


class FeeOut(BaseModel):
    """One fee: per cent of a base, a fixed sum for each sale, or both."""

    model_config = ConfigDict(extra="forbid")
    label: str
    percent: float
    base: str
    fixed: MoneyOut


class ExampleOut(BaseModel):
    """One sale at a price: who gets what; `left` must pay the materials, the work and the overhead."""

    model_config = ConfigDict(extra="forbid")
    price: MoneyOut
    buyer_pays: MoneyOut
    tax: MoneyOut
    fees: MoneyOut
    postage: MoneyOut
    period_share: MoneyOut
    left: MoneyOut
    retail: MoneyOut | None = Field(description="Wholesale: what the shop that buys would ask.")


class OutletOut(BaseModel):
    """An outlet. Percentages are numbers like 6.5; a null margin or wage, and an empty ending, take the shop's own."""

    model_config = ConfigDict(extra="forbid")
    id: int
    name: str
    kind: str
    tax_percent: float
    prices_include_tax: bool
    shipping_charged: MoneyOut
    postage_paid: MoneyOut
    fees: list[FeeOut]
    period_fee: MoneyOut
    period_sales: int
    wanted_margin_percent: float | None
    wanted_wage: MoneyOut | None
    retail_multiple: float
    ending: str
    note: str
    retired: bool
    version: int
    example: ExampleOut


class OutletsOut(BaseModel):
    """Outlets in their order."""

    model_config = ConfigDict(extra="forbid")
    outlets: list[OutletOut]


_OUTLET: dict[str, object] = {
    "name": {"type": "string"},
    "kind": {"type": "string", "enum": list(OUTLET_KINDS)},
    "tax_percent": ANY_NUMBER,
    "prices_include_tax": {"type": "boolean"},
    "shipping_charged": MONEY_SCHEMA,
    "postage_paid": MONEY_SCHEMA,
    "fees": {
        "type": "array",
        "maxItems": MOST_FEES,
        "items": {
            "type": "object",
            "properties": {
                "label": {"type": "string"},
                "percent": ANY_NUMBER,
                "base": {"type": "string", "enum": list(FEE_BASES)},
                "fixed": MONEY_SCHEMA,
            },
            "required": ["label"],
        },
    },
    "period_fee": MONEY_SCHEMA,
    "period_sales": {"type": "integer", "minimum": 1},
    "wanted_margin_percent": {**ANY_NUMBER, "description": "Left out, the shop's own is taken."},
    "wanted_wage": MONEY_SCHEMA,
    "retail_multiple": ANY_NUMBER,
    "ending": {"type": "string", "enum": ["", *ENDINGS]},
    "note": {"type": "string"},
}
_RETIRED = {"retired": {"type": "boolean", "description": "True takes the outlet out of use, false brings it back."}}


@router.get("/outlets", response_model=OutletsOut, responses=problems(422))
def list_outlets(request: Request, price: str = "", retired: bool = False) -> Response:
    """Every outlet in use (or, with `retired`, every retired one) with what it takes of a price."""
    sample = read_sample({"price": price})
    if isinstance(sample, Faults):
        return faulty(sample)
    with request.app.state.store.reading() as session:
        view = outlets_page(session, sample)
        currency = currency_of(session)
    shown = view.retired if retired else view.outlets
    return JSONResponse({"outlets": [outlet_json(one, currency) for one in shown]})


@router.post(
    "/outlets",
    status_code=201,
    response_model=OutletOut,
    responses=problems(400, 409, 415, 422),
    openapi_extra=json_body(_OUTLET, ("name", "kind")),
)
def add_outlet(request: Request, body: Body) -> Response:
    """Add an outlet; `prices_include_tax` is true when it is left out."""

    def act(session: Session) -> Answer | Faults:
        draft = _read(session, body, {"prices_include_tax": True})
        if isinstance(draft, Faults):
            return draft
        number = operations.add_outlet(session, draft)
        location = f"/api/outlets/{number}"
        return Answer(outlet_json(outlet_view(session, number), currency_of(session)), status=201, location=location)

    return write_once(request, body, act)


@router.get("/outlets/{outlet_id}", response_model=OutletOut, responses=problems(404, 422))
def show_outlet(request: Request, outlet_id: int, price: str = "") -> Response:
    """One outlet with what it takes of a price."""
    sample = read_sample({"price": price})
    if isinstance(sample, Faults):
        return faulty(sample)
    with request.app.state.store.reading() as session:
        return JSONResponse(outlet_json(outlet_view(session, outlet_id, sample), currency_of(session)))


@router.put(
    "/outlets/{outlet_id}",
    response_model=OutletOut,
    responses=problems(400, 404, 409, 415, 422),
    openapi_extra=json_body({**_OUTLET, "version": VERSION, **_RETIRED}, ("version",)),
)
def change_outlet(request: Request, outlet_id: int, body: Body) -> Response:
    """Change an outlet: what is left out stays as it is."""

    def act(session: Session) -> Answer | Faults:
        currency = currency_of(session)
        kept = outlet_view(session, outlet_id)
        draft = _read(session, body, asdict(kept.draft))
        if isinstance(draft, Faults):
            return draft
        version = body.get("version")
        if not isinstance(version, int) or isinstance(version, bool):
            return Faults.of("version", "Give the version that you read, a whole number.")
        if draft != kept.draft or version != kept.version:
            operations.change_outlet(session, outlet_id, draft, version=version)
        retired = body.get("retired", kept.retired)
        if not isinstance(retired, bool):
            return Faults.of("retired", "Say true or false.")
        if retired != kept.retired:
            (operations.retire_outlet if retired else operations.bring_back_outlet)(session, outlet_id)
        return Answer(outlet_json(outlet_view(session, outlet_id), currency))

    return write_once(request, body, act)


def _read(session: Session, body: dict[str, Any], kept: dict[str, object]) -> OutletDraft | Faults:
    """What was sent, over what is kept where it was left out."""
    sent = plain_amounts(body, currency_of(session))
    return sent if isinstance(sent, Faults) else read_outlet(kept | sent)


def outlet_json(view: OutletView, currency: str) -> dict[str, object]:
    """An outlet as the API sends it; percentages are numbers, money is text with its currency."""

    def money(amount: Decimal | None) -> dict[str, str] | None:
        return None if amount is None else money_json(amount, currency)

    draft, example = view.draft, view.example
    return {
        "id": view.id,
        "name": draft.name,
        "kind": draft.kind,
        "tax_percent": plain(draft.tax_percent),
        "prices_include_tax": draft.prices_include_tax,
        "shipping_charged": money(draft.shipping_charged),
        "postage_paid": money(draft.postage_paid),
        "fees": [
            {"label": fee.label, "percent": plain(fee.percent), "base": fee.base, "fixed": money(fee.fixed)}
            for fee in draft.fees
        ],
        "period_fee": money(draft.period_fee),
        "period_sales": draft.period_sales,
        "wanted_margin_percent": plain(draft.wanted_margin_percent),
        "wanted_wage": money(draft.wanted_wage),
        "retail_multiple": plain(draft.retail_multiple),
        "ending": draft.ending,
        "note": draft.note,
        "retired": view.retired,
        "version": view.version,
        "example": {
            "price": money(view.sale.price_shown),
            "buyer_pays": money(view.sale.buyer_pays),
            "tax": money(view.sale.tax),
            "fees": money(view.sale.fees_total),
            "postage": money(view.sale.postage),
            "period_share": money(view.sale.period_share),
            "left": money(example.leaves),
            "retail": money(view.retail),
        },
    }
