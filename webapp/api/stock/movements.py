"""Movements under /api: what an item's stock did, page by page, and taking one thing back.

The shapes here are those that receipts, counts and scrap answer with too.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.stock.offer import from_milli
from models.operations.undo import undo_act
from models.queries.shop.shop import currency_of
from models.queries.stock.item import item_view
from models.queries.stock.ledger import HistoryLine, act_view, item_history
from models.trade.money import from_micros
from webapp.api.shapes import MoneyOut, money_out
from webapp.web.json_api import Answer, problems, write_once
from webapp.web.numbers import Whole

router = APIRouter(prefix="/api", tags=["movements"])
MOST_A_PAGE = 200


class MovementOut(BaseModel):
    """One change of a lot in one place; quantities in the item's unit, signed. Nothing is ever deleted."""

    id: int
    act_id: int
    act_kind: str
    kind: str
    reason: str
    done_on: date
    at: datetime
    words: str
    item_id: int
    lot_id: int
    batch: str
    place: str
    unit: str = Field(description="piece, m or g")
    quantity: float
    value: MoneyOut = Field(description="What it was worth, signed like the quantity.")
    price: MoneyOut | None = Field(description="What the buyer paid, for a sale.")
    on_hand_after: float = Field(description="What the item had on hand after it, over all lots.")
    build_id: int | None
    undone_by: int | None = Field(description="The act that took it back.")
    undoes: int | None = Field(description="The act that it took back itself.")


class MovementsOut(BaseModel):
    """A page of movements, newest first; `before` asks for the next page, null at the end."""

    movements: list[MovementOut]
    before: int | None


class ActOut(BaseModel):
    """One thing that was done, with the movements that it made."""

    act_id: int
    kind: str
    done_on: date
    words: str
    movements: list[MovementOut]


@router.get("/items/{item_id}/movements", responses=problems(404, 422))
def list_movements(
    request: Request,
    item_id: int,
    before: Annotated[Whole | None, Query(ge=1, description="Only movements before this one.")] = None,
    lot: Annotated[Whole | None, Query(ge=1, description="Only those of this lot.")] = None,
    limit: Annotated[int, Query(ge=1, le=MOST_A_PAGE)] = 50,
) -> MovementsOut:
    """What happened to an item, newest first."""
    with request.app.state.store.reading() as session:
        unit = item_view(session, item_id).unit
        page = item_history(session, item_id, before=before, lot_id=lot, per_page=limit)
        currency = currency_of(session)
    return MovementsOut(movements=[movement_out(line, unit, currency) for line in page.lines], before=page.before)


@router.post("/acts/{act_id}/undo", responses={200: {"model": ActOut}, **problems(404, 409)})
def undo(request: Request, act_id: int) -> Response:
    """Take something back at its exact values; what others rest on stays, with the reason."""

    def act(session: Session) -> Answer:
        return Answer(act_body(session, undo_act(session, act_id).act_id))

    return write_once(request, {}, act)


def movement_out(line: HistoryLine, unit: str, currency: str) -> MovementOut:
    """A movement as the API sends it."""
    return MovementOut(
        id=line.id,
        act_id=line.act_id,
        act_kind=line.act_kind,
        kind=line.kind,
        reason=line.reason,
        done_on=line.done_on,
        at=line.at,
        words=line.words,
        item_id=line.item_id,
        lot_id=line.lot_id,
        batch=line.batch,
        place=line.place,
        unit=unit,
        quantity=float(from_milli(line.quantity_milli)),
        value=money_out(from_micros(line.value_micros), currency),
        price=None if line.price_micros is None else money_out(from_micros(line.price_micros), currency),
        on_hand_after=float(from_milli(line.after_milli)),
        build_id=line.build_id,
        undone_by=line.undone_by,
        undoes=line.undoes,
    )


def act_body(session: Session, act_id: int) -> dict[str, object]:
    """An act as the API sends it, made of plain JSON values."""
    view = act_view(session, act_id)
    units = {item.id: item.unit for item in view.items}
    currency = currency_of(session)
    lines: Sequence[HistoryLine] = view.lines
    found = ActOut(
        act_id=view.id,
        kind=view.kind,
        done_on=view.done_on,
        words=view.words,
        movements=[movement_out(line, units[line.item_id], currency) for line in lines],
    )
    return found.model_dump(mode="json")
