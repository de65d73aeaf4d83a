"""The shelf as a whole, under /api: what it is worth, what runs low or lies dead, and how stock is valued."""

from __future__ import annotations

from fastapi import APIRouter, Request
from pydantic import Field
from sqlmodel import Session

from models.errors import Unfit, fit
from models.intake.faults import Faults
from models.intake.stock.item_find import ItemFilter
from models.operations.shop.clock import today
from models.operations.stock.lot_state import valuation
from models.operations.stock.valuation import choose_valuation, valuation_change
from models.queries.shop.shop import currency_of, shop_settings
from models.queries.stock.room import stock_page
from models.trade.lots import Method
from models.trade.vocabulary.ledger import VALUATIONS
from webapp.api.answers import Amount, AnswerModel, filled, path
from webapp.api.shapes import VERSION
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, version_if_sent
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["stock"])


class StockOut(AnswerModel):
    """What is on the shelf; `/api/items?shelf=low` and the like name the items."""

    value: Amount = path("value", "value_micros")
    provisional: Amount = path(
        "value", "provisional_micros", says="How much of it is valued by an offer, since nobody said the cost."
    )
    items: int = path("there", says="How many items are there at all.")
    low: int = Field(description="How many are low: no more is free than their reorder point.")
    dead: int = Field(description="How many were not used for half a year.")
    dead_value: Amount = path("dead_micros")
    rough: int = Field(description="How many are only roughly counted.")
    valuation: Method


class ValuationOut(AnswerModel):
    """How what leaves is valued, and what the other way would mean."""

    method: Method
    version: int
    other: Method
    other_says: list[str] = path("says")
    other_items: int = path("items", says="How many items' lots would be worth something else.")
    other_shifted: Amount = path(
        "shifted_micros", says="What would move between lots of the same item; the whole stays."
    )


@router.get("/stock")
def stock(request: Request) -> StockOut:
    """What the shelf is worth, and what on it wants a look."""
    day = today(prefs_of(request).time_zone)
    session = reading(request)
    shelf = stock_page(session, ItemFilter(), today=day).shelf
    return filled(StockOut, shelf, valuation=valuation(session), currency=currency_of(session))


@router.get("/settings/valuation")
def get_valuation(request: Request) -> ValuationOut:
    """How what leaves is valued."""
    return _valuation(reading(request))


@router.put(
    "/settings/valuation",
    responses={200: {"model": ValuationOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body({"method": {"type": "string", "enum": list(VALUATIONS)}, "version": VERSION}, ("method",)),
)
@writes
def put_valuation(session: Session, body: Body) -> Answer:
    """Value by this method from now on; for the average every lot is brought to its item's average once."""
    method = body.get("method")
    if method not in ("fifo", "average"):
        raise Unfit(Faults.of("method", "Choose fifo (first in, first out) or average (weighted average)."))
    choose_valuation(session, method, version=fit(version_if_sent(body)))
    return Answer(_valuation(session).model_dump(mode="json"))


def _valuation(session: Session) -> ValuationOut:
    method = valuation(session)
    other: Method = "average" if method == "fifo" else "fifo"
    return filled(
        ValuationOut,
        valuation_change(session, other),
        method=method,
        other=other,
        version=shop_settings(session).version,
        currency=currency_of(session),
    )
