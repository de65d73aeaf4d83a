"""Purchases under /api: drafted, sent, received in parts, cancelled; the same operations as their pages."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Request
from pydantic import BeforeValidator, Field, ValidationInfo
from sqlmodel import Session

from models.errors import fit
from models.intake.buying.purchase import (
    GoodsReceiptDraft,
    PurchaseDraft,
    SentDraft,
    read_came,
    read_purchase,
    read_sent,
)
from models.intake.fields import properties_of
from models.operations.buying import purchase as operations
from models.operations.buying.receipt import receive_purchase
from models.queries.buying.purchase import PurchasePage, purchase_list, purchase_page
from models.trade.vocabulary.plans import PurchaseState
from webapp.api.answers import Amount, AnswerModel, Asked, DecimalText, Units, filled, path
from webapp.api.shapes import VERSION
from webapp.web.acting import Answer, Body, writes, writes_without_body
from webapp.web.json_api import json_body, problems, version_of
from webapp.web.numbers import Whole
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["purchases"])
State = PurchaseState


class PurchaseOut(AnswerModel):
    """One purchase without its lines."""

    asks_in: str = Field(validation_alias="currency", exclude=True)
    id: int
    supplier_id: int | None
    supplier: str = path("supplier_name")
    state: State
    goods: Asked = path("goods_micros")
    postage: Asked = path("postage_micros", says="What it comes to: as said, or as the receipts noted it.")
    postage_said: Asked = path("said_postage_micros", says="As it was ordered.")
    postage_noted: Asked = path("noted_postage_micros", says="What receipts that still hold have noted of it.")
    total: Asked = path("total_micros")
    exchange_rate: DecimalText = Field(description="What one of its currency costs in the shop's own.")
    packs: int
    received_packs: int
    reference: str
    note: str
    sent_on: date | None
    due_on: date | None
    closed_on: date | None
    version: int


def _coming(milli: int, info: ValidationInfo) -> float:
    return milli / 1000 if (info.context or {})["coming"] else 0


class PurchaseLineOut(AnswerModel):
    """One line of a purchase; `quantity` is what all its packs hold, in the item's unit."""

    id: int
    item_id: int = path("item", "id")
    item: str = path("item", "name")
    unit: str = path("item", "unit")
    offer_id: int | None
    packs: int
    received_packs: int
    pack: str = path("pack_words")
    quantity: Units = path("milli")
    on_order: Annotated[float, BeforeValidator(_coming)] = path("left_milli")
    price: Amount = path("price_micros")
    amount: Amount = path("amount_micros")


class ReceiptOut(AnswerModel):
    """One act that took packs of a purchase in."""

    act_id: int
    done_on: date
    words: str
    packs: int
    postage: Amount = path("freight_micros", says="What it noted as postage, or bore as its share.")
    taken_back: bool = path("undone")


class PurchaseWithLines(PurchaseOut):
    """One purchase with its lines and what came of it, the latest first."""

    lines: list[PurchaseLineOut]
    receipts: list[ReceiptOut]


class PurchasesOut(AnswerModel):
    """Purchases, those that still run first."""

    purchases: list[PurchaseOut] = path("rows")


@router.get("/purchases", responses=problems(404, 422))
def list_purchases(
    request: Request, state: State | Literal["open", ""] = "", item: Whole | None = None
) -> PurchasesOut:
    """All purchases, those in one state ('open' for all that still run), or those of one item."""
    return filled(PurchasesOut, purchase_list(reading(request), state=state, item_id=item))


@router.post(
    "/purchases",
    status_code=201,
    responses={201: {"model": PurchaseWithLines}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(properties_of(PurchaseDraft), ("lines",)),
)
@writes
def draft(session: Session, body: Body) -> Answer:
    """Draft a purchase: packs and prices that are left out are those of the supplier's standing offers."""
    drafted = fit(read_purchase(body))
    number = operations.draft_purchase(session, drafted)
    return Answer(shown(session, number), status=201, location=f"/api/purchases/{number}")


@router.get("/purchases/{purchase_id}", responses=problems(404))
def get_purchase(request: Request, purchase_id: int) -> PurchaseWithLines:
    """One purchase with its lines and what came of it."""
    return full(purchase_page(reading(request), purchase_id))


@router.put(
    "/purchases/{purchase_id}",
    responses={200: {"model": PurchaseWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**properties_of(PurchaseDraft), "version": VERSION}, ("lines", "version")),
)
@writes
def change(session: Session, purchase_id: int, body: Body) -> Answer:
    """Write a draft anew as a whole."""
    version = version_of(body)
    drafted = fit(read_purchase(body))
    operations.edit_purchase(session, purchase_id, drafted, version)
    return Answer(shown(session, purchase_id))


@router.post(
    "/purchases/{purchase_id}/send",
    responses={200: {"model": PurchaseWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(properties_of(SentDraft)),
)
@writes
def send(session: Session, purchase_id: int, body: Body) -> Answer:
    """Note that a draft was sent: it is on order from now on."""
    said = fit(read_sent(body))
    operations.send_purchase(session, purchase_id, sent_on=said.sent_on, due_on=said.due_on)
    return Answer(shown(session, purchase_id))


@router.post(
    "/purchases/{purchase_id}/receive",
    responses={200: {"model": PurchaseWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(properties_of(GoodsReceiptDraft), ("lines",)),
)
@writes
def receive(session: Session, purchase_id: int, body: Body) -> Answer:
    """Take in what came: one lot for each line, at its price and its share of the postage."""
    came = fit(read_came(body))
    receive_purchase(session, purchase_id, came)
    return Answer(shown(session, purchase_id))


@router.post(
    "/purchases/{purchase_id}/cancel",
    responses={200: {"model": PurchaseWithLines}, **problems(404, 409)},
)
@writes_without_body
def cancel(session: Session, purchase_id: int) -> Answer:
    """Cancel what has not come; what is here stays."""
    operations.cancel_purchase(session, purchase_id)
    return Answer(shown(session, purchase_id))


def shown(session: Session, purchase_id: int) -> dict[str, Any]:
    """One purchase as JSON."""
    return full(purchase_page(session, purchase_id)).model_dump(mode="json")


def full(page: PurchasePage) -> PurchaseWithLines:
    """One purchase as the API sends it."""
    row = page.row
    return filled(
        PurchaseWithLines, row, lines=page.lines, receipts=page.came, coming=row.coming, currency=row.currency
    )
