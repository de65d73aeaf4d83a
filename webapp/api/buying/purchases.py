"""Purchases under /api: drafted, sent, received in parts, cancelled; the same operations as their pages."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.buying.purchase import read_came, read_purchase, read_sent
from models.intake.faults import Faults
from models.intake.stock.offer import from_milli
from models.operations.buying import purchase as operations
from models.operations.buying.receipt import receive_purchase
from models.queries.buying.purchase import PurchasePage, PurchaseRow, purchase_list, purchase_page
from models.trade.money import from_micros
from models.trade.vocabulary.plans import PurchaseState
from webapp.api.shapes import ANY_NUMBER, VERSION, MoneyOut, money_out
from webapp.api.stock.items import read_version
from webapp.web.json_api import Answer, json_body, problems, read_json, write_once
from webapp.web.numbers import Whole

router = APIRouter(prefix="/api", tags=["purchases"])
Body = Annotated[dict[str, Any], Depends(read_json)]
State = PurchaseState

_DAY: dict[str, object] = {"type": ["string", "null"], "format": "date"}
_LINE: dict[str, object] = {
    "item_id": {"type": "integer"},
    "item": {"type": "string", "description": "The item by its name, in the place of its number."},
    "packs": {"type": "integer", "minimum": 1},
    "offer_id": {"type": "integer", "description": "Which of the supplier's offers; the current one when left out."},
    "pack": {"type": "string", "description": "What one pack holds, such as '100' or '50 g'; else the offer's."},
    "price": {**ANY_NUMBER, "description": "What one pack costs, in the supplier's currency; else the offer's."},
}
PURCHASE_FIELDS: dict[str, object] = {
    "supplier": {"type": "string", "description": "Its name; a new one is added. Empty: nobody named."},
    "supplier_id": {"type": "integer"},
    "lines": {"type": "array", "items": {"type": "object", "properties": _LINE, "required": ["packs"]}},
    "postage": {**ANY_NUMBER, "description": "Left out, it follows from the supplier's terms."},
    "reference": {"type": "string"},
    "note": {"type": "string"},
    "due_on": _DAY,
}
SENT_FIELDS: dict[str, object] = {
    "sent_on": {**_DAY, "description": "Today when left out."},
    "due_on": {**_DAY, "description": "As it usually takes when left out."},
}
CAME_FIELDS: dict[str, object] = {
    "lines": {
        "type": "array",
        "items": {
            "type": "object",
            "properties": {
                "line_id": {"type": "integer"},
                "packs": {"type": "integer", "minimum": 0},
                "quantity": {"type": "string", "description": "What was counted or weighed in all these packs."},
                "place": {"type": "string"},
                "batch": {"type": "string"},
            },
            "required": ["line_id", "packs"],
        },
    },
    "received_on": {**_DAY, "description": "Today when left out."},
    "freight": {**ANY_NUMBER, "description": "Postage for this; else its share of what no receipt noted yet."},
    "note": {"type": "string"},
}


class PurchaseOut(BaseModel):
    """One purchase without its lines."""

    id: int
    supplier_id: int | None
    supplier: str
    state: State
    goods: MoneyOut
    postage: MoneyOut = Field(description="What it comes to: as said, or as the receipts noted it.")
    postage_said: MoneyOut = Field(description="As it was ordered.")
    postage_noted: MoneyOut = Field(description="What receipts that still hold have noted of it.")
    total: MoneyOut
    exchange_rate: str = Field(description="What one of its currency costs in the shop's own.")
    packs: int
    received_packs: int
    reference: str
    note: str
    sent_on: date | None
    due_on: date | None
    closed_on: date | None
    version: int


class PurchaseLineOut(BaseModel):
    """One line of a purchase; `quantity` is what all its packs hold, in the item's unit."""

    id: int
    item_id: int
    item: str
    unit: str
    offer_id: int | None
    packs: int
    received_packs: int
    pack: str
    quantity: float
    on_order: float
    price: MoneyOut
    amount: MoneyOut


class ReceiptOut(BaseModel):
    """One act that took packs of a purchase in."""

    act_id: int
    done_on: date
    words: str
    packs: int
    postage: MoneyOut = Field(description="What it noted as postage, or bore as its share.")
    taken_back: bool


class PurchaseWithLines(PurchaseOut):
    """One purchase with its lines and what came of it, the latest first."""

    lines: list[PurchaseLineOut]
    receipts: list[ReceiptOut]


class PurchasesOut(BaseModel):
    """Purchases, those that still run first."""

    purchases: list[PurchaseOut]


@router.get("/purchases", responses=problems(404, 422))
def list_purchases(
    request: Request, state: State | Literal["open", ""] = "", item: Whole | None = None
) -> PurchasesOut:
    """All purchases, those in one state ('open' for all that still run), or those of one item."""
    with request.app.state.store.reading() as session:
        found = purchase_list(session, state=state, item_id=item)
    return PurchasesOut(purchases=[PurchaseOut(**row_fields(row)) for row in found.rows])


@router.post(
    "/purchases",
    status_code=201,
    responses={201: {"model": PurchaseWithLines}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(PURCHASE_FIELDS, ("lines",)),
)
def draft(request: Request, body: Body) -> Response:
    """Draft a purchase: packs and prices that are left out are those of the supplier's standing offers."""

    def act(session: Session) -> Answer | Faults:
        drafted = read_purchase(body)
        if isinstance(drafted, Faults):
            return drafted
        number = operations.draft_purchase(session, drafted)
        return Answer(shown(session, number), status=201, location=f"/api/purchases/{number}")

    return write_once(request, body, act)


@router.get("/purchases/{purchase_id}", responses=problems(404))
def get_purchase(request: Request, purchase_id: int) -> PurchaseWithLines:
    """One purchase with its lines and what came of it."""
    with request.app.state.store.reading() as session:
        return full(purchase_page(session, purchase_id))


@router.put(
    "/purchases/{purchase_id}",
    responses={200: {"model": PurchaseWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**PURCHASE_FIELDS, "version": VERSION}, ("lines", "version")),
)
def change(request: Request, purchase_id: int, body: Body) -> Response:
    """Write a draft anew as a whole."""

    def act(session: Session) -> Answer | Faults:
        version = read_version(body)
        if isinstance(version, Faults):
            return version
        drafted = read_purchase(body)
        if isinstance(drafted, Faults):
            return drafted
        operations.edit_purchase(session, purchase_id, drafted, version)
        return Answer(shown(session, purchase_id))

    return write_once(request, body, act)


@router.post(
    "/purchases/{purchase_id}/send",
    responses={200: {"model": PurchaseWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(SENT_FIELDS),
)
def send(request: Request, purchase_id: int, body: Body) -> Response:
    """Note that a draft was sent: it is on order from now on."""

    def act(session: Session) -> Answer | Faults:
        said = read_sent(body)
        if isinstance(said, Faults):
            return said
        operations.send_purchase(session, purchase_id, sent_on=said.sent_on, due_on=said.due_on)
        return Answer(shown(session, purchase_id))

    return write_once(request, body, act)


@router.post(
    "/purchases/{purchase_id}/receive",
    responses={200: {"model": PurchaseWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(CAME_FIELDS, ("lines",)),
)
def receive(request: Request, purchase_id: int, body: Body) -> Response:
    """Take in what came: one lot for each line, at its price and its share of the postage."""

    def act(session: Session) -> Answer | Faults:
        came = read_came(body)
        if isinstance(came, Faults):
            return came
        receive_purchase(session, purchase_id, came)
        return Answer(shown(session, purchase_id))

    return write_once(request, body, act)


@router.post(
    "/purchases/{purchase_id}/cancel",
    responses={200: {"model": PurchaseWithLines}, **problems(404, 409)},
)
def cancel(request: Request, purchase_id: int) -> Response:
    """Cancel what has not come; what is here stays."""

    def act(session: Session) -> Answer:
        operations.cancel_purchase(session, purchase_id)
        return Answer(shown(session, purchase_id))

    return write_once(request, {}, act)


def shown(session: Session, purchase_id: int) -> dict[str, Any]:
    """One purchase as JSON."""
    return full(purchase_page(session, purchase_id)).model_dump(mode="json")


def full(page: PurchasePage) -> PurchaseWithLines:
    """One purchase as the API sends it."""
    currency, coming = page.row.currency, page.row.coming
    return PurchaseWithLines(
        **row_fields(page.row),
        lines=[
            PurchaseLineOut(
                id=line.id,
                item_id=line.item.id,
                item=line.item.name,
                unit=line.item.unit,
                offer_id=line.offer_id,
                packs=line.packs,
                received_packs=line.received_packs,
                pack=f"{format(line.pack, 'f')} {line.pack_unit}",
                quantity=float(from_milli(line.milli)),
                on_order=float(from_milli(line.left * line.unit_milli)) if coming else 0,
                price=money_out(from_micros(line.price_micros), currency),
                amount=money_out(from_micros(line.amount_micros), currency),
            )
            for line in page.lines
        ],
        receipts=[
            ReceiptOut(
                act_id=each.act_id,
                done_on=each.done_on,
                words=each.words,
                packs=each.packs,
                postage=money_out(from_micros(each.freight_micros), currency),
                taken_back=each.undone,
            )
            for each in page.came
        ],
    )


def row_fields(row: PurchaseRow) -> dict[str, Any]:
    """The fields of a purchase without its lines."""
    return {
        "id": row.id,
        "supplier_id": row.supplier_id,
        "supplier": row.supplier if row.supplier_id is not None else "",
        "state": row.state,
        "goods": money_out(from_micros(row.goods_micros), row.currency),
        "postage": money_out(from_micros(row.postage_micros), row.currency),
        "postage_said": money_out(from_micros(row.said_postage_micros), row.currency),
        "postage_noted": money_out(from_micros(row.noted_postage_micros), row.currency),
        "total": money_out(from_micros(row.total_micros), row.currency),
        "exchange_rate": format(row.exchange_rate, "f"),
        "packs": row.packs,
        "received_packs": row.received_packs,
        "reference": row.reference,
        "note": row.note,
        "sent_on": row.sent_on,
        "due_on": row.due_on,
        "closed_on": row.closed_on,
        "version": row.version,
    }
