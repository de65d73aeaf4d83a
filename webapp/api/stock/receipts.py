"""Taking stock in under /api: the same reading and the same operation as the page and a CSV row."""

from __future__ import annotations

from fastapi import APIRouter
from sqlmodel import Session

from models.errors import fit
from models.intake.stock.receipt import RECEIPT_COLUMNS, read_receipt
from models.operations.stock.receipt import receive_lots
from models.queries.shop.shop import currency_of
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.shapes import ANY_NUMBER
from webapp.api.stock.movements import ActOut, act_body
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems

router = APIRouter(prefix="/api", tags=["receipts"])

_MONEY = {"unit_cost", "total_cost", "pack_price", "freight"}
_OF_A_LINE = ("item", "item_id", "quantity", "packs", "pack", "unit_cost", "total_cost", "pack_price", "batch", "place")


def _schema(name: str, says: str, holds: str) -> dict[str, object]:
    if name in _MONEY:
        return {**MONEY_SCHEMA, "description": says}
    if name == "item_id":
        return {"type": "integer", "description": says}
    if holds == "number" or name == "quantity":
        return {**ANY_NUMBER, "description": says}
    return {"type": "string", "description": says}


_FIELDS: dict[str, object] = {
    column.name: _schema(column.name, column.says, column.holds)
    for column in RECEIPT_COLUMNS
    if column.name != "receipt"
}
LINE_FIELDS: dict[str, object] = {
    **{name: _FIELDS[name] for name in _OF_A_LINE},
    "tare": {**ANY_NUMBER, "description": "What the empty bag weighs, in grams; it is remembered."},
    "line_note": {"type": "string"},
}
RECEIPT_FIELDS: dict[str, object] = {
    "lines": {
        "type": "array",
        "items": {"type": "object", "properties": LINE_FIELDS},
        "description": "The lines of the receipt; one line alone may stand in the receipt itself.",
    },
    "supplier_id": {"type": "integer", "description": "The supplier by its number, in the place of its name."},
    **_FIELDS,
}


@router.post(
    "/receipts",
    status_code=201,
    responses={201: {"model": ActOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(RECEIPT_FIELDS),
)
@writes
def receive(session: Session, body: Body) -> Answer:
    """Take stock in: every line becomes a lot at its real cost; the answer is the movements that it made."""
    said = body.get("currency")
    currency = said.strip().upper() if isinstance(said, str) and said.strip() else currency_of(session)
    draft = fit(read_receipt(fit(plain_amounts(body, currency))))
    return Answer(act_body(session, receive_lots(session, draft).act_id), status=201)
