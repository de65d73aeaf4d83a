"""Taking stock in under /api: the same reading and the same operation as the page and a CSV row."""

from __future__ import annotations

from fastapi import APIRouter
from sqlmodel import Session

from models.errors import fit
from models.intake.fields import properties_of
from models.intake.stock.receipt import OPENING, PACK, PACKS, ReceiptDraft, ReceiptLine, read_receipt
from models.operations.stock.receipt import receive_lots
from models.queries.shop.shop import currency_of
from webapp.api.amounts import plain_amounts
from webapp.api.stock.movements import ActOut, act_body
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems

router = APIRouter(prefix="/api", tags=["receipts"])

LINE_FIELDS: dict[str, object] = {
    **properties_of(ReceiptLine),
    "packs": PACKS.described(),
    "pack": PACK.described(),
}
RECEIPT_FIELDS: dict[str, object] = {
    "lines": {
        "type": "array",
        "items": {"type": "object", "properties": LINE_FIELDS},
        "description": "The lines of the receipt; one line alone may stand in the receipt itself.",
    },
    **{name: schema for name, schema in LINE_FIELDS.items() if name not in {"tare", "line_note"}},
    **properties_of(ReceiptDraft),
    "opening": OPENING.described(),
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
