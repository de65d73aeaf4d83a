"""The cheapest packs under /api: for the shop's own needs or for those that are sent, and drafting what it says."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.buying.need import MOST_SECONDS, read_buy_ask, read_picks
from models.intake.faults import Faults
from models.intake.stock.offer import from_milli
from models.operations.buying.draft import draft_packs
from models.operations.buying.need import need_items
from models.planning.solver import Search
from models.queries.buying.buy_plan import BuyAnswer, answer, ask, ask_shop
from models.queries.buying.needs import beyond_stock
from models.queries.buying.purchase import purchase_page
from models.queries.shop.shop import currency_of
from models.queries.stock.item_words import ItemWords
from models.trade.money import from_micros
from webapp.api.buying.purchases import PurchaseWithLines, full
from webapp.api.shapes import ANY_NUMBER, MoneyOut, decimal_text, money_out
from webapp.web.json_api import Answer, faulty, json_body, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["purchases"])
Body = Annotated[dict[str, Any], Depends(read_json)]

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


class PackOut(BaseModel):
    """Packs of one offer, and how much of the item they bring, in its unit."""

    offer: int
    item_id: int
    item: str
    packs: int
    quantity: float
    price: MoneyOut
    amount: MoneyOut


class OrderOut(BaseModel):
    """What is bought of one supplier."""

    supplier_id: int | None
    supplier: str
    lead_days: int | None
    packs: list[PackOut]
    goods: MoneyOut
    postage: MoneyOut
    total: MoneyOut


class CoveredOut(BaseModel):
    """What is to be bought of an item beyond stock, what comes, and what of it is left over."""

    item_id: int
    item: str
    unit: str
    needed: float
    arriving: float
    left_over: float


class NotCoveredOut(BaseModel):
    """What nobody offers, or not enough of."""

    item_id: int
    item: str
    unit: str
    quantity: float


class AloneOut(BaseModel):
    """What everything from one supplier would cost; null where it does not sell everything."""

    supplier: str
    total: MoneyOut | None
    lacking: list[str]


class ProofOut(BaseModel):
    """How sure it is that nothing is cheaper."""

    proven: bool
    bound: MoneyOut = Field(description="Nothing that covers the needs can cost less.")
    gap: str = Field(description="How far the total may be above the cheapest, as a fraction of it.")
    stopped: str = Field(description="Why the search ended early: empty when it did not, else time or failed.")
    seconds: float


class BuyPlanOut(BaseModel):
    """The cheapest packs that cover what is needed beyond what is free, on order and in drafts."""

    orders: list[OrderOut]
    total: MoneyOut
    covered: list[CoveredOut]
    not_covered: list[NotCoveredOut]
    late: list[str]
    alone: list[AloneOut]
    saved: MoneyOut | None = Field(description="What it saves against the cheapest single supplier.")
    message: str = Field(description="In words why there are no packs; empty where there are, or none are needed.")
    proof: ProofOut


class DraftedOut(BaseModel):
    """The purchases that were drafted."""

    purchases: list[PurchaseWithLines]


@router.post(
    "/buy-plan",
    responses={200: {"model": BuyPlanOut}, **problems(400, 415, 422)},
    openapi_extra=json_body(ASK_FIELDS),
)
def buy_plan(request: Request, body: Body) -> Response:
    """The cheapest set of packs over all suppliers, with postage, smallest orders and price breaks; keeps nothing."""
    asked = read_buy_ask(body)
    if isinstance(asked, Faults):
        return faulty(asked)
    with request.app.state.store.reading() as session:
        currency = currency_of(session)
        if asked.needs is None:
            question = ask_shop(session, lead_days=asked.lead_days)
        else:
            wanted = beyond_stock(session, need_items(session, asked.needs))
            question = ask(session, wanted, lead_days=asked.lead_days)
    found = answer(question, Search(time_limit_s=float(asked.seconds)))
    return Response(_out(found, currency).model_dump_json(), media_type="application/json")


@router.post(
    "/buy-plan/draft",
    status_code=201,
    responses={201: {"model": DraftedOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(PACKS_FIELDS, ("packs",)),
)
def draft(request: Request, body: Body) -> Response:
    """Draft these packs, one purchase for each supplier."""

    def act(session: Session) -> Answer | Faults:
        picks = read_picks(body)
        if isinstance(picks, Faults):
            return picks
        made = [full(purchase_page(session, number)) for number in draft_packs(session, picks)]
        return Answer(DraftedOut(purchases=made).model_dump(mode="json"), status=201)

    return write_once(request, body, act)


def _out(found: BuyAnswer, currency: str) -> BuyPlanOut:
    def money(micros: int) -> MoneyOut:
        return money_out(from_micros(micros), currency)

    return BuyPlanOut(
        orders=[
            OrderOut(
                supplier_id=order.supplier_id,
                supplier=order.supplier.name if order.supplier_id is not None else "",
                lead_days=order.lead_days,
                packs=[
                    PackOut(
                        offer=row.offer_id,
                        item_id=row.words.id,
                        item=row.words.name,
                        packs=row.line.packs,
                        quantity=_units(row.line.milli),
                        price=money(row.line.price_micros),
                        amount=money(row.line.amount_micros),
                    )
                    for row in order.lines
                ],
                goods=money(order.goods_micros),
                postage=money(order.postage_micros),
                total=money(order.total_micros),
            )
            for order in found.orders
        ],
        total=money(found.total_micros),
        covered=[
            CoveredOut(
                item_id=each.words.id,
                item=each.words.name,
                unit=each.words.unit,
                needed=_units(each.needed_milli),
                arriving=_units(each.arriving_milli),
                left_over=_units(each.left_over_milli),
            )
            for each in found.left_over
        ],
        not_covered=[_not_covered(words, milli) for words, milli in (*found.unpriced, *found.short)],
        late=[f"{words.name}, {supplier}" for words, supplier, _ in found.late],
        alone=[
            AloneOut(
                supplier=each.supplier.called,
                total=None if each.total_micros is None else money(each.total_micros),
                lacking=[words.name for words in each.lacking],
            )
            for each in found.alone
        ],
        message=_message(found),
        saved=None if found.saved_micros is None else money(found.saved_micros),
        proof=ProofOut(
            proven=not found.stopped and not found.troubles and found.gap == Decimal(0),
            bound=money(found.bound_micros),
            gap=decimal_text(found.gap),
            stopped=found.stopped,
            seconds=round(found.seconds, 3),
        ),
    )


def _message(found: BuyAnswer) -> str:
    """In words why there are no packs; empty where there are, or where none are needed."""
    if found.troubles:
        return " ".join(found.troubles)
    return "The search was stopped before it found packs." if found.stopped and not found.orders else ""


def _not_covered(words: ItemWords, milli: int) -> NotCoveredOut:
    return NotCoveredOut(item_id=words.id, item=words.name, unit=words.unit, quantity=_units(milli))


def _units(milli: int) -> float:
    return float(from_milli(milli))
