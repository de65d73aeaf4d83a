"""Cost and prices of a design under /api: the same view as the pages, as nested lines; listing a price."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.errors import fit
from models.intake.costing.cost_request import PRICE_FIELD, read_cost_request
from models.intake.costing.listed_price import read_listed_price
from models.intake.faults import Fault, Faults
from models.operations.costing.listed_price import list_price
from models.queries.costing.costing import CostView, view_asked
from models.queries.shop.shop import currency_of
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.answers import sent
from webapp.api.costing.shapes import CostOut, PricesOut
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import faulty, json_body, problem, problems, version_of
from webapp.web.numbers import Whole
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["costs and prices"])


class CostParameters(BaseModel):
    """How a design is asked to be costed."""

    quantity: str = Field("", description="How many are made together, 1 to 10000; empty means one.")
    choice: list[str] = Field([], description="Picked alternatives as 'group=choice', one each time.")
    optional: list[str] = Field([], alias="with", description="Places of the optional parts that are counted in.")

    by: str = Field("", description="What materials count at: again (what they cost to buy again) or stock.")

    def raw(self) -> dict[str, object]:
        """The fields as they are read."""
        return {"quantity": self.quantity, "choice": self.choice, "with": self.optional, "by": self.by}


class PriceParameters(CostParameters):
    """The same with a price to try."""

    price: str = Field("", description="A price to try, at one outlet or at all.")
    outlet: Whole | None = Field(None, description="Only this outlet.")


@router.get(
    "/designs/{design_id}/cost",
    response_model=CostOut,
    responses=problems(404, 422),
)
def show_cost(request: Request, design_id: int, query: Annotated[CostParameters, Query()]) -> Response:
    """What a design costs to make, down to its reasons."""
    view = _asked(request, design_id, query.raw())
    return view if isinstance(view, Response) else JSONResponse(sent(CostOut, view, currency=view.currency))


@router.get(
    "/designs/{design_id}/prices",
    response_model=PricesOut,
    responses=problems(404, 422),
)
def show_prices(request: Request, design_id: int, query: Annotated[PriceParameters, Query()]) -> Response:
    """What to ask for a design at each outlet, and what is earned there."""
    view = _asked(request, design_id, query.raw(), price=query.price, outlet=query.outlet)
    if isinstance(view, Response):
        return view
    if query.outlet is not None and query.outlet not in {one.outlet_id for one in view.outlets}:
        return problem(404, f"There is no outlet {query.outlet} in use.")
    return JSONResponse(_prices(view, only=query.outlet))


@router.post(
    "/designs/{design_id}/prices",
    response_model=PricesOut,
    responses=problems(400, 404, 409, 415, 422),
    openapi_extra=json_body(
        {
            "outlet": {"type": "integer"},
            "price": {
                **MONEY_SCHEMA,
                "description": "What is asked there from now on; null or left out takes the design off.",
            },
            "version": {
                "type": "integer",
                "description": "The `listed_version` that was read, 0 where nothing was listed; else 409.",
            },
        },
        ("outlet", "version"),
    ),
)
@writes
def list_at(session: Session, design_id: int, body: Body) -> Answer:
    """List a design at a price at one outlet, or take it off there."""
    currency = currency_of(session)
    sent = fit(plain_amounts(body, currency))
    draft = fit(read_listed_price(sent, currency=currency, may_be_empty=True))
    list_price(session, design_id, draft, version_of(body))
    question, _ = read_cost_request({}, currency=currency)
    view, _ = view_asked(session, design_id, question)
    return Answer(_prices(view, only=draft.outlet_id))


def _asked(
    request: Request, design_id: int, raw: dict[str, object], *, price: str = "", outlet: int | None = None
) -> CostView | Response:
    """The view that was asked for, or the refusal; a price is tried at the outlet named, else at all of them."""
    session = reading(request)
    currency = currency_of(session)
    question, faults = read_cost_request(raw | {"retail": price}, currency=currency, pieces_field="quantity")
    if faults is not None:
        named = (Fault("price", fault.message) if fault.field == "retail" else fault for fault in faults)
        return faulty(Faults(tuple(named)))
    view, strange = view_asked(session, design_id, question)
    if strange is None and question.retail is not None:
        tried = {f"{PRICE_FIELD}{one.outlet_id}": price for one in view.outlets if outlet in {None, one.outlet_id}}
        question, _ = read_cost_request(raw | {"retail": price} | tried, currency=currency, pieces_field="quantity")
        view, strange = view_asked(session, design_id, question)
    return view if strange is None else faulty(strange)


def _prices(view: CostView, only: int | None = None) -> dict[str, object]:
    """Prices of all outlets in use, or of one."""
    outlets = [one for one in view.outlets if only in {None, one.outlet_id}]
    return sent(PricesOut, view, outlets=outlets, currency=view.currency)
