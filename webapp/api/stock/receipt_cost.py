"""What a receipt cost, under /api: reading it, looking at what another cost changes, and correcting it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from fastapi import APIRouter, Request
from pydantic import Field
from sqlmodel import Session

from models.errors import fit
from models.intake.stock.cost_correction import CostCorrectionDraft, read_cost_correction
from models.operations.stock.cost_correction import correct_cost, look_at_cost
from models.queries.shop.shop import currency_of
from models.queries.stock.cost_correction import receipt_view
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.answers import Amount, AnswerModel, Asked, Currency, Units, filled, path, sent
from webapp.api.stock.movements import ActOut, act_out
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["receipts"])


class ReceiptLineOut(AnswerModel):
    """One lot of a receipt, in the shop's currency; `cost` is without its share of the freight."""

    lot_id: int
    item_id: int = path("item", "id")
    item: str = path("item", "name")
    batch: str
    unit: str = path("item", "unit", says="piece, m or g")
    received: Units = path("received_milli")
    left: Units = path("left_milli")
    cost: Amount = path("cost_micros")
    freight: Amount = path("freight_micros")
    paid: Asked | None = path(
        "paid_micros", says="What was asked for it, in the receipt's currency; null: nobody said."
    )
    provisional: bool


class ReceiptOut(AnswerModel):
    """A receipt as it stands; `corrections` are the acts that corrected what it cost, the latest first."""

    id: int = path("act_id", says="The act that booked it.")
    words: str
    received_on: date
    supplier: str
    currency: Currency
    exchange_rate: float
    lines: list[ReceiptLineOut]
    corrections: list[int]


class LeftWrongOut(AnswerModel):
    """Something that left at another cost; it stays as it was booked. `off` is what it would have cost more."""

    kind: str = Field(description="build, act, lot (an earlier average mixed it in there) or rounding")
    id: int = path("number")
    words: str
    off: Amount = path("micros")
    pieces: int = Field(description="The good pieces of a build that bear it.")


class CostChangeOut(AnswerModel):
    """What changes for one lot. `more` is what its receipt cost more: `on_hand` of it is still here, `left` is not."""

    lot_id: int = path("line", "lot_id")
    item_id: int = path("line", "item", "id")
    before: Amount = path("line", "received_micros", says="What the receipt cost by what was booked, freight included.")
    after: Amount = path("after_micros")
    freight: Amount = path("freight_after_micros", says="Its share of the freight, by what the lines really cost.")
    each_before: Amount
    each_after: Amount
    more: Amount = path("more_micros")
    on_hand: Amount = path("here_micros", says="How much more what is left is worth.")
    left: Amount = path("carried_micros", says="What belongs to what had left already.")
    valued_by: str = Field(description="lot, or average: then the whole stock of the item is one pool")
    there: Units = path("there_milli", says="How much is there to value anew, of the lot or of the pool.")
    worth_before: Amount = path("worth_micros")
    worth_after: Amount = path("worth_after_micros")
    left_wrong: list[LeftWrongOut]


class CostLookOut(AnswerModel):
    """What another cost of a receipt changes; nothing is booked."""

    receipt_id: int = path("receipt", "act_id")
    more: Amount = path("more_micros")
    on_hand: Amount = path("here_micros")
    left: Amount = path("carried_micros")
    changes: list[CostChangeOut]


class CostCorrectedOut(CostLookOut):
    """A correction as it was booked, with its movements."""

    act: ActOut


LINE_FIELDS: dict[str, object] = {
    "lot_id": {"type": "integer", "description": "Left out, the receipt's only lot."},
    "total_cost": {**MONEY_SCHEMA, "description": "What the whole line really cost, without freight."},
    "unit_cost": {**MONEY_SCHEMA, "description": "The same for one unit; one of both is enough."},
}
COST_FIELDS: dict[str, object] = {
    "lines": {
        "type": "array",
        "items": {"type": "object", "properties": LINE_FIELDS},
        "description": "The lines that cost something else, in the receipt's currency and at its rate; one line alone "
        "may stand in the body itself.",
    },
    **LINE_FIELDS,
    "freight": {**MONEY_SCHEMA, "description": "The freight in all; left out, as it was. Its shares follow the costs."},
    "note": {"type": "string"},
}


@router.get("/receipts/{act_id}", responses=problems(404, 409))
def receipt(request: Request, act_id: int) -> ReceiptOut:
    """What came in by a receipt and what it costs by today's word; `id` is the act that booked it."""
    session = reading(request)
    view, currency = receipt_view(session, act_id), currency_of(session)
    return filled(ReceiptOut, view, currency=currency, asks_in=view.currency or currency)


@router.post(
    "/receipts/{act_id}/correct-cost/look",
    responses={200: {"model": CostLookOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(COST_FIELDS),
)
def look(request: Request, act_id: int, body: Body) -> CostLookOut:
    """What it changes when a receipt cost something else, and what left at the old cost; nothing is booked."""
    session = reading(request)
    draft = _draft(session, act_id, body)
    return filled(CostLookOut, look_at_cost(session, act_id, draft), currency=currency_of(session))


@router.post(
    "/receipts/{act_id}/correct-cost",
    status_code=201,
    responses={201: {"model": CostCorrectedOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(COST_FIELDS),
)
@writes
def correct(session: Session, act_id: int, body: Body) -> Answer:
    """Book what a receipt really cost: what is left is valued anew, what left at the old cost is named and stays."""
    draft = _draft(session, act_id, body)
    done = correct_cost(session, act_id, draft)
    made = act_out(session, done.act_id)
    return Answer(sent(CostCorrectedOut, done.look, act=made, currency=currency_of(session)), status=201)


def _draft(session: Session, act_id: int, body: Mapping[str, object]) -> CostCorrectionDraft:
    """Read a correction; amounts with a currency must be in the receipt's. Raises: Missing, Conflict, Unfit."""
    currency = receipt_view(session, act_id).currency or currency_of(session)
    return fit(read_cost_correction(fit(plain_amounts(body, currency))))
