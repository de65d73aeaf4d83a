"""What a receipt cost, under /api: reading it, looking at what another cost changes, and correcting it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Unfit
from models.intake.faults import Faults
from models.intake.stock.cost_correction import CostCorrectionDraft, read_cost_correction
from models.intake.stock.offer import from_milli
from models.operations.stock.cost_correction import CostLook, correct_cost, look_at_cost
from models.queries.shop.shop import currency_of
from models.queries.stock.cost_correction import LeftWrong, LineChange, ReceiptView, receipt_view
from models.trade.money import from_micros
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.shapes import MoneyOut, money_out
from webapp.api.stock.movements import ActOut, act_body
from webapp.web.json_api import Answer, json_body, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["receipts"])
Body = Annotated[dict[str, Any], Depends(read_json)]


class ReceiptLineOut(BaseModel):
    """One lot of a receipt, in the shop's currency; `cost` is without its share of the freight."""

    lot_id: int
    item_id: int
    item: str
    batch: str
    unit: str = Field(description="piece, m or g")
    received: float
    left: float
    cost: MoneyOut
    freight: MoneyOut
    paid: MoneyOut | None = Field(description="What was asked for it, in the receipt's currency; null: nobody said.")
    provisional: bool


class ReceiptOut(BaseModel):
    """A receipt as it stands; `corrections` are the acts that corrected what it cost, the latest first."""

    id: int = Field(description="The act that booked it.")
    words: str
    received_on: date
    supplier: str
    currency: str
    exchange_rate: float
    lines: list[ReceiptLineOut]
    corrections: list[int]


class LeftWrongOut(BaseModel):
    """Something that left at another cost; it stays as it was booked. `off` is what it would have cost more."""

    kind: str = Field(description="build, act, lot (an earlier average mixed it in there) or rounding")
    id: int
    words: str
    off: MoneyOut
    pieces: int = Field(description="The good pieces of a build that bear it.")


class CostChangeOut(BaseModel):
    """What changes for one lot. `more` is what its receipt cost more: `on_hand` of it is still here, `left` is not."""

    lot_id: int
    item_id: int
    before: MoneyOut = Field(description="What the receipt cost by what was booked, freight included.")
    after: MoneyOut
    freight: MoneyOut = Field(description="Its share of the freight, by what the lines really cost.")
    each_before: MoneyOut
    each_after: MoneyOut
    more: MoneyOut
    on_hand: MoneyOut = Field(description="How much more what is left is worth.")
    left: MoneyOut = Field(description="What belongs to what had left already.")
    valued_by: str = Field(description="lot, or average: then the whole stock of the item is one pool")
    there: float = Field(description="How much is there to value anew, of the lot or of the pool.")
    worth_before: MoneyOut
    worth_after: MoneyOut
    left_wrong: list[LeftWrongOut]


class CostLookOut(BaseModel):
    """What another cost of a receipt changes; nothing is booked."""

    receipt_id: int
    more: MoneyOut
    on_hand: MoneyOut
    left: MoneyOut
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
    with request.app.state.store.reading() as session:
        return _receipt(receipt_view(session, act_id), currency_of(session))


@router.post(
    "/receipts/{act_id}/correct-cost/look",
    responses={200: {"model": CostLookOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(COST_FIELDS),
)
def look(request: Request, act_id: int, body: Body) -> CostLookOut:
    """What it changes when a receipt cost something else, and what left at the old cost; nothing is booked."""
    with request.app.state.store.reading() as session:
        draft = _draft(session, act_id, body)
        if isinstance(draft, Faults):
            raise Unfit(draft)
        return CostLookOut(**_look(look_at_cost(session, act_id, draft), currency_of(session)))


@router.post(
    "/receipts/{act_id}/correct-cost",
    status_code=201,
    responses={201: {"model": CostCorrectedOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(COST_FIELDS),
)
def correct(request: Request, act_id: int, body: Body) -> Response:
    """Book what a receipt really cost: what is left is valued anew, what left at the old cost is named and stays."""

    def act(session: Session) -> Answer | Faults:
        draft = _draft(session, act_id, body)
        if isinstance(draft, Faults):
            return draft
        done = correct_cost(session, act_id, draft)
        out = CostCorrectedOut(
            **_look(done.look, currency_of(session)),
            act=ActOut.model_validate(act_body(session, done.act_id)),
        )
        return Answer(out.model_dump(mode="json"), status=201)

    return write_once(request, body, act)


def _draft(session: Session, act_id: int, body: Mapping[str, object]) -> CostCorrectionDraft | Faults:
    """Read a correction; amounts with a currency must be in the receipt's. Raises: Missing, Conflict."""
    plain = plain_amounts(body, receipt_view(session, act_id).currency or currency_of(session))
    return plain if isinstance(plain, Faults) else read_cost_correction(plain)


def _receipt(view: ReceiptView, currency: str) -> ReceiptOut:
    own = view.currency or currency
    return ReceiptOut(
        id=view.act_id,
        words=view.words,
        received_on=view.received_on,
        supplier=view.supplier,
        currency=own,
        exchange_rate=float(view.exchange_rate),
        lines=[
            ReceiptLineOut(
                lot_id=line.lot_id,
                item_id=line.item.id,
                item=line.item.name,
                batch=line.batch,
                unit=line.item.unit,
                received=float(from_milli(line.received_milli)),
                left=float(from_milli(line.left_milli)),
                cost=_money(line.cost_micros, currency),
                freight=_money(line.freight_micros, currency),
                paid=None if line.paid_micros is None else _money(line.paid_micros, own),
                provisional=line.provisional,
            )
            for line in view.lines
        ],
        corrections=list(view.corrections),
    )


def _look(found: CostLook, currency: str) -> dict[str, Any]:
    return {
        "receipt_id": found.receipt.act_id,
        "more": _money(found.more_micros, currency),
        "on_hand": _money(found.here_micros, currency),
        "left": _money(found.carried_micros, currency),
        "changes": [_change(change, currency) for change in found.changes],
    }


def _change(change: LineChange, currency: str) -> CostChangeOut:
    return CostChangeOut(
        lot_id=change.line.lot_id,
        item_id=change.line.item.id,
        before=_money(change.line.received_micros, currency),
        after=_money(change.after_micros, currency),
        freight=_money(change.freight_after_micros, currency),
        each_before=money_out(change.each_before, currency),
        each_after=money_out(change.each_after, currency),
        more=_money(change.more_micros, currency),
        on_hand=_money(change.here_micros, currency),
        left=_money(change.carried_micros, currency),
        valued_by="average" if change.pooled else "lot",
        there=float(from_milli(change.there_milli)),
        worth_before=_money(change.worth_micros, currency),
        worth_after=_money(change.worth_micros + change.here_micros, currency),
        left_wrong=[_wrong(wrong, currency) for wrong in change.left_wrong],
    )


def _wrong(wrong: LeftWrong, currency: str) -> LeftWrongOut:
    return LeftWrongOut(
        kind=wrong.kind,
        id=wrong.number,
        words=wrong.words,
        off=_money(wrong.micros, currency),
        pieces=wrong.pieces,
    )


def _money(micros: int, currency: str) -> MoneyOut:
    return money_out(from_micros(micros), currency)
