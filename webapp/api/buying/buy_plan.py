"""The cheapest packs under /api: for the shop's own needs or for those that are sent, and drafting what it says."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import Field
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.errors import fit
from models.intake.buying.need import MOST_SECONDS, read_buy_request, read_picks
from models.operations.buying.draft import draft_packs
from models.operations.buying.need import need_items
from models.planning.solver import Search
from models.queries.buying.buy_plan import answer, ask, ask_shop
from models.queries.buying.needs import beyond_stock
from models.queries.buying.purchase import purchase_page
from models.queries.shop.shop import currency_of
from webapp.api.answers import Amount, AnswerModel, DecimalText, Units, each, path, places, sent
from webapp.api.buying.purchases import PurchaseWithLines, full
from webapp.api.shapes import ANY_NUMBER
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, readable
from webapp.web.reading import end_reading, reading

router = APIRouter(prefix="/api", tags=["purchases"])

ASK_FIELDS: dict[str, object] = {
    "needs": {
        "type": "array",
        "description": "What is needed; left out, all that the shop needs: its list, and what is to be bought again.",
        "items": {
            "type": "object",
            "properties": {
                "item_id": {"type": "integer"},
                "item": {"type": "string", "description": "The item by its name, in the place of its number."},
                "quantity": {**ANY_NUMBER, "description": "How much is needed: a count, or text such as '20 g'."},
            },
            "required": ["quantity"],
        },
    },
    "lead_days": {"type": ["integer", "null"], "description": "Leave out what arrives later than in so many days."},
    "seconds": {"type": "integer", "minimum": 1, "maximum": MOST_SECONDS, "description": "How long to look for it."},
}
PACKS_FIELDS: dict[str, object] = {
    "packs": {
        "type": "array",
        "items": {
            "type": "object",
            "properties": {"offer": {"type": "integer"}, "packs": {"type": "integer", "minimum": 1}},
            "required": ["offer", "packs"],
        },
    }
}


class PackOut(AnswerModel):
    """Packs of one offer, and how much of the item they bring, in its unit."""

    offer: int = path("offer_id")
    item_id: int = path("words", "id")
    item: str = path("words", "name")
    packs: int = path("line", "packs")
    quantity: Units = path("line", "milli")
    price: Amount = path("line", "price_micros")
    amount: Amount = path("line", "amount_micros")


class OrderOut(AnswerModel):
    """What is bought of one supplier."""

    supplier_id: int | None
    supplier: str = path("supplier_name")
    lead_days: int | None
    packs: list[PackOut] = path("lines")
    goods: Amount = path("goods_micros")
    postage: Amount = path("postage_micros")
    total: Amount = path("total_micros")


class CoveredOut(AnswerModel):
    """What is to be bought of an item beyond stock, what comes, and what of it is left over."""

    item_id: int = path("words", "id")
    item: str = path("words", "name")
    unit: str = path("words", "unit")
    needed: Units = path("needed_milli")
    arriving: Units = path("arriving_milli")
    left_over: Units = path("left_over_milli")


class NotCoveredOut(AnswerModel):
    """What nobody offers, or not enough of."""

    item_id: int = path("words", "id")
    item: str = path("words", "name")
    unit: str = path("words", "unit")
    quantity: Units = path("milli")


class AloneOut(AnswerModel):
    """What everything from one supplier would cost; null where it does not sell everything."""

    supplier: str = path("supplier", "called")
    total: Amount | None = path("total_micros")
    lacking: Annotated[list[str], each("name")]


class ProofOut(AnswerModel):
    """How sure it is that nothing is cheaper."""

    proven: bool
    bound: Amount = path("bound_micros", says="Nothing that covers the needs can cost less.")
    gap: DecimalText = Field(description="How far the total may be above the cheapest, as a fraction of it.")
    stopped: str = Field(description="Why the search ended early: empty when it did not, else time or failed.")
    seconds: Annotated[float, places(3)]


class BuyPlanOut(AnswerModel):
    """The cheapest packs that cover what is needed beyond what is free, on order and in drafts."""

    orders: list[OrderOut]
    total: Amount = path("total_micros")
    covered: list[CoveredOut] = path("left_over")
    not_covered: list[NotCoveredOut]
    late: list[str] = path("late_words")
    alone: list[AloneOut]
    saved: Amount | None = path("saved_micros", says="What it saves against the cheapest single supplier.")
    message: str = Field(description="In words why there are no packs; empty where there are, or none are needed.")
    proof: ProofOut


class DraftedOut(AnswerModel):
    """The purchases that were drafted."""

    purchases: list[PurchaseWithLines]


@router.post(
    "/buy-plan",
    responses={200: {"model": BuyPlanOut}, **problems(400, 415, 422)},
    openapi_extra=json_body(ASK_FIELDS),
)
def buy_plan(request: Request, body: Body) -> Response:
    """The cheapest set of packs over all suppliers, with postage, smallest orders and price breaks; keeps nothing."""
    asked = readable(read_buy_request(body))
    session = reading(request)
    currency = currency_of(session)
    if asked.needs is None:
        question = ask_shop(session, lead_days=asked.lead_days)
    else:
        wanted = beyond_stock(session, need_items(session, asked.needs))
        question = ask(session, wanted, lead_days=asked.lead_days)
    end_reading(request)
    found = answer(question, Search(time_limit_s=float(asked.seconds)))
    return JSONResponse(sent(BuyPlanOut, found, proof=found, currency=currency))


@router.post(
    "/buy-plan/draft",
    status_code=201,
    responses={201: {"model": DraftedOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(PACKS_FIELDS, ("packs",)),
)
@writes
def draft(session: Session, body: Body) -> Answer:
    """Draft these packs, one purchase for each supplier."""
    picks = fit(read_picks(body))
    made = [full(purchase_page(session, number)) for number in draft_packs(session, picks)]
    return Answer(sent(DraftedOut, purchases=made), status=201)
