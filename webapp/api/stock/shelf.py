"""The shelf as a whole, under /api: what it is worth, what runs low or lies dead, and how stock is valued."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.item_find import ItemFilter
from models.operations.shop.clock import today
from models.operations.stock.lot_state import valuation
from models.operations.stock.valuation import choose_valuation, valuation_change
from models.queries.shop.shop import currency_of, shop_settings
from models.queries.stock.room import stock_page
from models.trade.lots import Method
from models.trade.money import from_micros
from models.trade.vocabulary.ledger import VALUATIONS
from webapp.api.shapes import VERSION, MoneyOut, money_out
from webapp.web.json_api import Answer, json_body, problems, read_json, write_once
from webapp.web.prefs import prefs_of

router = APIRouter(prefix="/api", tags=["stock"])
Body = Annotated[dict[str, Any], Depends(read_json)]


class StockOut(BaseModel):
    """What is on the shelf; `/api/items?shelf=low` and the like name the items."""

    value: MoneyOut
    provisional: MoneyOut = Field(description="How much of it is valued by an offer, since nobody said the cost.")
    items: int = Field(description="How many items are there at all.")
    low: int = Field(description="How many are low: no more is free than their reorder point.")
    dead: int = Field(description="How many were not used for half a year.")
    dead_value: MoneyOut
    rough: int = Field(description="How many are only roughly counted.")
    valuation: Method


class ValuationOut(BaseModel):
    """How what leaves is valued, and what the other way would mean."""

    method: Method
    version: int
    other: Method
    other_says: list[str]
    other_items: int = Field(description="How many items' lots would be worth something else.")
    other_shifted: MoneyOut = Field(description="What would move between lots of the same item; the whole stays.")


@router.get("/stock")
def stock(request: Request) -> StockOut:
    """What the shelf is worth, and what on it wants a look."""
    day = today(prefs_of(request).time_zone)
    with request.app.state.store.reading() as session:
        shelf = stock_page(session, ItemFilter(), today=day).shelf
        currency, method = currency_of(session), valuation(session)
    return StockOut(
        value=money_out(from_micros(shelf.value.value_micros), currency),
        provisional=money_out(from_micros(shelf.value.provisional_micros), currency),
        items=shelf.there,
        low=shelf.low,
        dead=shelf.dead,
        dead_value=money_out(from_micros(shelf.dead_micros), currency),
        rough=shelf.rough,
        valuation=method,
    )


@router.get("/settings/valuation")
def get_valuation(request: Request) -> ValuationOut:
    """How what leaves is valued."""
    with request.app.state.store.reading() as session:
        return _valuation(session)


@router.put(
    "/settings/valuation",
    responses={200: {"model": ValuationOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body({"method": {"type": "string", "enum": list(VALUATIONS)}, "version": VERSION}, ("method",)),
)
def put_valuation(request: Request, body: Body) -> Response:
    """Value by this method from now on; for the average every lot is brought to its item's average once."""

    def act(session: Session) -> Answer | Faults:
        method, version = body.get("method"), body.get("version")
        if method not in ("fifo", "average"):
            return Faults.of("method", "Choose fifo (first in, first out) or average (weighted average).")
        if version is not None and (isinstance(version, bool) or not isinstance(version, int)):
            return Faults.of("version", "The version is a whole number, as it was read.")
        choose_valuation(session, method, version=version)
        return Answer(_valuation(session).model_dump(mode="json"))

    return write_once(request, body, act)


def _valuation(session: Session) -> ValuationOut:
    method = valuation(session)
    other: Method = "average" if method == "fifo" else "fifo"
    change = valuation_change(session, other)
    return ValuationOut(
        method=method,
        version=shop_settings(session).version,
        other=other,
        other_says=list(change.says),
        other_items=change.items,
        other_shifted=money_out(from_micros(change.shifted_micros), currency_of(session)),
    )
