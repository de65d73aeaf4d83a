"""The list of what is needed, proposals of when to buy again, and the price watch, under /api."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.buying.need import read_need
from models.intake.buying.price_watch import read_watch_ask
from models.intake.buying.reorder import read_accepted
from models.intake.faults import Faults
from models.intake.stock.offer import from_milli
from models.operations.buying import need as operations
from models.operations.buying.reorder import accept_levels
from models.operations.shop.clock import now, today
from models.queries.buying.needs import NeedRow, needs
from models.queries.buying.price_watch import PriceWatch, price_watch, supposed_watch
from models.queries.buying.reorder import ReorderRow, reorder_page
from models.queries.shop.shop import currency_of, shop_settings
from models.queries.stock.metal import all_metals
from models.trade.money import from_micros
from webapp.api.shapes import ANY_NUMBER, MoneyOut, decimal_text, money_out
from webapp.web.json_api import Answer, faulty, json_body, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["buying"])
Body = Annotated[dict[str, Any], Depends(read_json)]

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


class WishOut(BaseModel):
    """One thing on the list."""

    id: int
    quantity: float
    purpose: str


class NeedOut(BaseModel):
    """One item with what is asked of it; `to_buy` is beyond what is free, on order and in drafts."""

    item_id: int
    item: str
    unit: str
    wishes: list[WishOut]
    free: float
    on_order: float
    in_drafts: float
    reorder_point: float | None = Field(
        description="Where the item is at or below it, itself or once the list is served; else null."
    )
    low: bool = Field(description="Whether no more is free than its reorder point, whatever is coming.")
    to_buy: float


class NeedsOut(BaseModel):
    """Everything on the list or at or below its reorder point."""

    needs: list[NeedOut]


class ReasonOut(BaseModel):
    """One figure behind a proposal."""

    label: str
    value: str
    unit: str
    why: str
    source: str


class ReorderOut(BaseModel):
    """When an item would be bought again and up to how much, in its unit, beside what is set now."""

    item_id: int
    item: str
    unit: str
    method: str
    reorder: float
    target: float
    packs: int
    reorder_now: float | None
    target_now: float | None
    few: bool = Field(description="Whether the past is short, so that it is taken with care.")
    reasons: list[ReasonOut]


class ReordersOut(BaseModel):
    """All proposals, and the items that were used without one, with the reason."""

    proposals: list[ReorderOut]
    without: dict[str, str]


class AcceptedOut(BaseModel):
    """How many reorder points were set."""

    accepted: int


class MovedOut(BaseModel):
    """A design that costs another sum."""

    design_id: int
    design: str
    before: MoneyOut
    after: MoneyOut
    pieces_a_month: str
    lost_a_month: MoneyOut
    no_longer_pays_at: list[str]


class WatchOut(BaseModel):
    """What changed prices did to designs since a day, or would do if a metal's price moved."""

    since: date
    supposed: bool
    lost_a_month: MoneyOut
    designs: list[MovedOut]


@router.get("/needs")
def list_needs(request: Request) -> NeedsOut:
    """Everything on the list or at or below its reorder point, with what of it is to be bought."""
    with request.app.state.store.reading() as session:
        return NeedsOut(needs=[_need(row) for row in needs(session)])


@router.post(
    "/needs",
    status_code=201,
    responses={201: {"model": NeedsOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(NEED_FIELDS, ("quantity",)),
)
def add_need(request: Request, body: Body) -> Response:
    """Put something on the list; the answer is the whole list."""

    def act(session: Session) -> Answer | Faults:
        draft = read_need(body)
        if isinstance(draft, Faults):
            return draft
        operations.add_needs(session, operations.need_items(session, (draft,)))
        return Answer(NeedsOut(needs=[_need(row) for row in needs(session)]).model_dump(mode="json"), status=201)

    return write_once(request, body, act)


@router.delete("/needs/{need_id}", responses={200: {"model": NeedsOut}, **problems(404)})
def strike_need(request: Request, need_id: int) -> Response:
    """Strike something off the list; the answer is the whole list."""

    def act(session: Session) -> Answer:
        operations.strike_need(session, need_id)
        return Answer(NeedsOut(needs=[_need(row) for row in needs(session)]).model_dump(mode="json"))

    return write_once(request, {}, act)


@router.get("/reorder")
def list_proposals(request: Request) -> ReordersOut:
    """A reorder point and an order quantity for every item that was used, with their reasons."""
    with request.app.state.store.reading() as session:
        page = reorder_page(session, today(shop_settings(session).time_zone))
    return ReordersOut(
        proposals=[_proposal(row) for row in page.rows],
        without={each.words.name: each.reason for each in page.without},
    )


@router.post(
    "/reorder",
    responses={200: {"model": AcceptedOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(ACCEPT_FIELDS, ("items",)),
)
def accept(request: Request, body: Body) -> Response:
    """Set reorder points and targets, as they were proposed or otherwise."""

    def act(session: Session) -> Answer | Faults:
        accepted = read_accepted(body)
        if isinstance(accepted, Faults):
            return accepted
        return Answer({"accepted": len(accept_levels(session, accepted))})

    return write_once(request, body, act)


@router.get("/price-watch", response_model=WatchOut, responses=problems(422))
def watch(request: Request, days: str = "", metal: str = "", percent: str = "") -> WatchOut | Response:
    """Which designs cost another sum by prices that changed, or would if a metal's price moved by so many per cent."""
    asked = read_watch_ask({"days": days, "metal": metal, "percent": percent})
    if isinstance(asked, Faults):
        return faulty(asked)
    with request.app.state.store.reading() as session:
        day = today(shop_settings(session).time_zone)
        currency = currency_of(session)
        if asked.metal:
            if asked.metal not in all_metals(session):
                return faulty(Faults.of("metal", f"There is no metal '{asked.metal}' here."))
            found = supposed_watch(session, asked.metal, asked.percent / Decimal(100), today=day)
        else:
            found = price_watch(session, since=_since(asked.days), today=day)
    return _watched(found, currency)


def _since(days: int) -> datetime:
    return now() - timedelta(days=days)


def _watched(found: PriceWatch, currency: str) -> WatchOut:
    return WatchOut(
        since=found.since,
        supposed=found.supposed,
        lost_a_month=_money(found.lost_a_month, currency),
        designs=[
            MovedOut(
                design_id=row.design_id,
                design=row.name,
                before=money_out(from_micros(row.before_micros), currency),
                after=money_out(from_micros(row.after_micros), currency),
                pieces_a_month=decimal_text(row.pieces_a_month),
                lost_a_month=_money(row.lost_a_month, currency),
                no_longer_pays_at=[each.outlet for each in row.fallen],
            )
            for row in found.designs
        ],
    )


def _money(micros: Decimal, currency: str) -> MoneyOut:
    """Unrounded millionths as money."""
    return money_out(micros.scaleb(-6), currency)


def _need(row: NeedRow) -> NeedOut:
    return NeedOut(
        item_id=row.item.id,
        item=row.item.name,
        unit=row.item.unit,
        wishes=[WishOut(id=wish.id, quantity=_units(wish.milli), purpose=wish.purpose) for wish in row.wishes],
        free=_units(row.balance.free_milli),
        on_order=_units(row.balance.on_order_milli),
        in_drafts=_units(row.drafted_milli),
        reorder_point=None if row.reorder_milli is None else _units(row.reorder_milli),
        low=row.low,
        to_buy=_units(row.wanted_milli),
    )


def _proposal(row: ReorderRow) -> ReorderOut:
    return ReorderOut(
        item_id=row.item.id,
        item=row.item.name,
        unit=row.item.unit,
        method=row.proposal.method,
        reorder=_units(row.proposal.point_milli),
        target=_units(row.new_target_milli),
        packs=row.proposal.packs,
        reorder_now=None if row.reorder_milli is None else _units(row.reorder_milli),
        target_now=None if row.target_milli is None else _units(row.target_milli),
        few=row.proposal.few,
        reasons=[
            ReasonOut(label=one.label, value=decimal_text(one.value), unit=one.unit, why=one.why, source=one.source)
            for one in row.proposal.reasons
        ],
    )


def _units(milli: int) -> float:
    return float(from_milli(milli))
