"""Movements under /api: what an item's stock did, page by page, and taking one thing back.

The shapes here are those that receipts, counts and scrap answer with too.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BeforeValidator, Field, ValidationInfo
from sqlmodel import Session

from models.operations.undo import undo_act
from models.queries.shop.shop import currency_of
from models.queries.stock.item import item_view
from models.queries.stock.ledger import act_view, item_history
from webapp.api.answers import Amount, AnswerModel, Units, filled, path
from webapp.web.acting import Answer, writes_without_body
from webapp.web.json_api import problems
from webapp.web.numbers import Whole
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["movements"])
MOST_A_PAGE = 200


def _unit(item_id: int, info: ValidationInfo) -> str:
    return str((info.context or {})["units"][item_id])


class MovementOut(AnswerModel):
    """One change of a lot in one place; quantities in the item's unit, signed. Nothing is ever deleted."""

    id: int
    act_id: int
    act_kind: str
    kind: str
    reason: str
    done_on: date
    at: datetime
    words: str
    person: str = Field(description="Who did it.")
    item_id: int
    lot_id: int
    batch: str
    place: str
    unit: Annotated[str, BeforeValidator(_unit)] = path("item_id", says="piece, m or g")
    quantity: Units = path("quantity_milli")
    value: Amount = path("value_micros", says="What it was worth, signed like the quantity.")
    price: Amount | None = path("price_micros", says="What the buyer paid, for a sale.")
    on_hand_after: Units = path("after_milli", says="What the item had on hand after it, over all lots.")
    build_id: int | None
    undone_by: int | None = Field(description="The act that took it back.")
    undoes: int | None = Field(description="The act that it took back itself.")


class MovementsOut(AnswerModel):
    """A page of movements, newest first; `before` asks for the next page, null at the end."""

    movements: list[MovementOut] = path("lines")
    before: int | None


class ActOut(AnswerModel):
    """One thing that was done, with the movements that it made."""

    act_id: int = path("id")
    kind: str
    done_on: date
    words: str
    movements: list[MovementOut] = path("lines")


@router.get("/items/{item_id}/movements", responses=problems(404, 422))
def list_movements(
    request: Request,
    item_id: int,
    before: Annotated[Whole | None, Query(ge=1, description="Only movements before this one.")] = None,
    lot: Annotated[Whole | None, Query(ge=1, description="Only those of this lot.")] = None,
    limit: Annotated[int, Query(ge=1, le=MOST_A_PAGE)] = 50,
) -> MovementsOut:
    """What happened to an item, newest first."""
    session = reading(request)
    unit = item_view(session, item_id).unit
    page = item_history(session, item_id, before=before, lot_id=lot, per_page=limit)
    return filled(MovementsOut, page, units={item_id: unit}, currency=currency_of(session))


@router.post("/acts/{act_id}/undo", responses={200: {"model": ActOut}, **problems(404, 409)})
@writes_without_body
def undo(session: Session, act_id: int) -> Answer:
    """Take something back at its exact values; what others rest on stays, with the reason."""
    return Answer(act_body(session, undo_act(session, act_id).act_id))


def act_out(session: Session, act_id: int) -> ActOut:
    """An act as the API sends it."""
    view = act_view(session, act_id)
    return filled(ActOut, view, units={item.id: item.unit for item in view.items}, currency=currency_of(session))


def act_body(session: Session, act_id: int) -> dict[str, object]:
    """An act as the API sends it, made of plain JSON values."""
    return act_out(session, act_id).model_dump(mode="json")
