"""The list of what is needed, proposals of when to buy again, and the price watch, under /api."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import BeforeValidator, Field
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.buying.need import read_need
from models.intake.buying.price_watch import read_watch_request
from models.intake.buying.reorder import read_accepted
from models.intake.faults import Faults
from models.operations.buying import need as operations
from models.operations.buying.reorder import accept_levels
from models.operations.shop.clock import now, today
from models.queries.buying.needs import needs
from models.queries.buying.price_watch import price_watch, supposed_watch
from models.queries.buying.reorder import reorder_page
from models.queries.shop.shop import currency_of, shop_settings
from models.queries.stock.metal import all_metals
from webapp.api.answers import Amount, AnswerModel, DecimalText, Units, beneath, each, filled, path
from webapp.api.shapes import ANY_NUMBER
from webapp.web.acting import Answer, Body, writes, writes_without_body
from webapp.web.json_api import faulty, json_body, problems, readable
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["buying"])

NEED_FIELDS: dict[str, object] = {
    "item_id": {"type": "integer"},
    "item": {"type": "string", "description": "The item by its name, in the place of its number."},
    "quantity": {**ANY_NUMBER, "description": "How much is needed: a count, or text such as '20 g'."},
    "purpose": {"type": "string"},
}
ACCEPT_FIELDS: dict[str, object] = {
    "items": {
        "type": "array",
        "items": {
            "type": "object",
            "properties": {"item_id": {"type": "integer"}, "reorder": ANY_NUMBER, "target": ANY_NUMBER},
            "required": ["item_id"],
        },
        "description": "Reorder points and targets in the item's unit; without a reorder point it is taken away.",
    }
}


class WishOut(AnswerModel):
    """One thing on the list."""

    id: int
    quantity: Units = path("milli")
    purpose: str


class NeedOut(AnswerModel):
    """One item with what is asked of it; `to_buy` is beyond what is free, on order and in drafts."""

    item_id: int = path("item", "id")
    item: str = path("item", "name")
    unit: str = path("item", "unit")
    wishes: list[WishOut]
    free: Units = path("balance", "free_milli")
    on_order: Units = path("balance", "on_order_milli")
    in_drafts: Units = path("drafted_milli")
    reorder_point: Units | None = path(
        "reorder_milli", says="Where the item is at or below it, itself or once the list is served; else null."
    )
    low: bool = Field(description="Whether no more is free than its reorder point, whatever is coming.")
    to_buy: Units = path("wanted_milli")


class NeedsOut(AnswerModel):
    """Everything on the list or at or below its reorder point."""

    needs: list[NeedOut]


class ReasonOut(AnswerModel):
    """One figure behind a proposal."""

    label: str
    value: DecimalText
    unit: str
    why: str
    source: str


class ReorderOut(AnswerModel, alias_generator=beneath("proposal")):
    """When an item would be bought again and up to how much, in its unit, beside what is set now."""

    item_id: int = path("item", "id")
    item: str = path("item", "name")
    unit: str = path("item", "unit")
    method: str
    reorder: Units = path("proposal", "point_milli")
    target: Units = path("new_target_milli")
    packs: int
    reorder_now: Units | None = path("reorder_milli")
    target_now: Units | None = path("target_milli")
    few: bool = Field(description="Whether the past is short, so that it is taken with care.")
    reasons: list[ReasonOut]


class ReordersOut(AnswerModel):
    """All proposals, and the items that were used without one, with the reason."""

    proposals: list[ReorderOut]
    without: dict[str, str]


class AcceptedOut(AnswerModel):
    """How many reorder points were set."""

    accepted: int


Lost = Annotated[Amount, BeforeValidator(lambda micros: micros.scaleb(-6))]
"""Unrounded millionths as money."""


class MovedOut(AnswerModel):
    """A design that costs another sum."""

    design_id: int
    design: str = path("name")
    before: Amount = path("before_micros")
    after: Amount = path("after_micros")
    pieces_a_month: DecimalText
    lost_a_month: Lost
    no_longer_pays_at: Annotated[list[str], each("outlet")] = path("fallen")


class WatchOut(AnswerModel):
    """What changed prices did to designs since a day, or would do if a metal's price moved."""

    since: date
    supposed: bool
    lost_a_month: Lost
    designs: list[MovedOut]


@router.get("/needs")
def list_needs(request: Request) -> NeedsOut:
    """Everything on the list or at or below its reorder point, with what of it is to be bought."""
    return _needs(reading(request))


@router.post(
    "/needs",
    status_code=201,
    responses={201: {"model": NeedsOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(NEED_FIELDS, ("quantity",)),
)
@writes
def add_need(session: Session, body: Body) -> Answer:
    """Put something on the list; the answer is the whole list."""
    draft = fit(read_need(body))
    operations.add_needs(session, operations.need_items(session, (draft,)))
    return Answer(_needs(session).model_dump(mode="json"), status=201)


@router.delete("/needs/{need_id}", responses={200: {"model": NeedsOut}, **problems(404)})
@writes_without_body
def strike_need(session: Session, need_id: int) -> Answer:
    """Strike something off the list; the answer is the whole list."""
    operations.strike_need(session, need_id)
    return Answer(_needs(session).model_dump(mode="json"))


@router.get("/reorder")
def list_proposals(request: Request) -> ReordersOut:
    """A reorder point and an order quantity for every item that was used, with their reasons."""
    session = reading(request)
    page = reorder_page(session, today(shop_settings(session).time_zone))
    return filled(ReordersOut, proposals=page.rows, without={one.words.name: one.reason for one in page.without})


@router.post(
    "/reorder",
    responses={200: {"model": AcceptedOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(ACCEPT_FIELDS, ("items",)),
)
@writes
def accept(session: Session, body: Body) -> Answer:
    """Set reorder points and targets, as they were proposed or otherwise."""
    accepted = fit(read_accepted(body))
    return Answer({"accepted": len(accept_levels(session, accepted))})


@router.get("/price-watch", response_model=WatchOut, responses=problems(422))
def watch(request: Request, days: str = "", metal: str = "", percent: str = "") -> WatchOut | Response:
    """Which designs cost another sum by prices that changed, or would if a metal's price moved by so many per cent."""
    asked = readable(read_watch_request({"days": days, "metal": metal, "percent": percent}))
    session = reading(request)
    day = today(shop_settings(session).time_zone)
    currency = currency_of(session)
    if asked.metal:
        if asked.metal not in all_metals(session):
            return faulty(Faults.of("metal", f"There is no metal '{asked.metal}' here."))
        found = supposed_watch(session, asked.metal, asked.percent / Decimal(100), today=day)
    else:
        found = price_watch(session, since=_since(asked.days), today=day)
    return filled(WatchOut, found, currency=currency)


def _since(days: int) -> datetime:
    return now() - timedelta(days=days)


def _needs(session: Session) -> NeedsOut:
    return filled(NeedsOut, needs=needs(session))
