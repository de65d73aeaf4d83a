"""Stock items and their offers under /api: the same reading and the same operations as their pages.

Fields of a request are those of a CSV row.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import BeforeValidator, Field, ValidationInfo
from sqlmodel import Session
from starlette.responses import Response

from models.costing.inputs import UnitCost
from models.costing.lines import Impossible, Line
from models.errors import fit
from models.intake.fields import properties_of
from models.intake.stock.item import ItemDraft
from models.intake.stock.item_find import read_item_filter
from models.intake.stock.offer import OfferDraft, read_offer
from models.operations.shop.clock import today
from models.operations.stock import item as operations
from models.operations.stock import offer as offers
from models.queries.shop.shop import currency_of
from models.queries.stock.balance import balances
from models.queries.stock.item import item_reader, item_view
from models.queries.stock.item_find import find_items
from models.queries.stock.offer import item_offers
from models.queries.stock.room import low_among, stock_page
from models.trade.vocabulary.ledger import SHELF_STATES
from webapp.api.answers import (
    Amount,
    AnswerModel,
    Asked,
    CostOfOne,
    DecimalText,
    Known,
    LineOut,
    Millimetres,
    Units,
    answer_of,
    filled,
    path,
    sent,
)
from webapp.api.shapes import VERSION, MoneyOut, money_out, with_plain_price
from webapp.web.acting import Answer, Body, writes, writes_without_body
from webapp.web.json_api import json_body, problems, readable, version_of
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["items"])

_PRICE: dict[str, object] = {
    "description": "The price of one pack: decimal text, or amount and currency as the API sends them.",
    "anyOf": [{"type": "string"}, {"$ref": "#/components/schemas/MoneyOut"}],
}
ITEM_FIELDS: dict[str, object] = {
    **properties_of(ItemDraft),
    "price": _PRICE,
    "mass_of": {"type": "integer", "minimum": 1, "description": "How many were weighed together; 1 when left out."},
}
OFFER_FIELDS: dict[str, object] = {**properties_of(OfferDraft), "price": _PRICE}


def _why_none(cost: UnitCost | Impossible) -> str:
    return cost.reason if isinstance(cost, Impossible) else ""


def _offered_cost(_: object, info: ValidationInfo) -> MoneyOut | None:
    """The cost that the item's offer was filled with: to work it out again would take longer than the rest."""
    offer = info.data.get("offer")
    return offer.unit_cost if isinstance(offer, OfferOut) else None


def _lines_of(cost: UnitCost | Impossible | None) -> tuple[Line, ...]:
    return cost.lines if isinstance(cost, UnitCost) else ()


def _breaks(breaks: Sequence[tuple[int, Decimal]], info: ValidationInfo) -> list[BreakOut]:
    currency = info.data["asks_in"]
    return [BreakOut(from_packs=packs, price=money_out(price, currency)) for packs, price in breaks]


class BreakOut(AnswerModel):
    """From so many packs on each costs this."""

    from_packs: int
    price: MoneyOut


class OfferOut(AnswerModel):
    """What a supplier asks for one pack of an item."""

    asks_in: str = Field(validation_alias="currency", exclude=True)
    id: int
    supplier_id: int | None
    supplier: str
    pack: float
    pack_unit: str
    price: Asked
    exchange_rate: DecimalText = Field(description="What one of the price's currency costs in the shop's own.")
    current: bool = Field(description="Whether costs follow it.")
    standing: bool = Field(description="Whether it may be bought.")
    lead_days: int | None
    note: str
    noted_at: datetime = path("made_at")
    unit_cost: CostOfOne = Field(description="What one unit of the item costs, in the shop's currency.")
    no_unit_cost: Annotated[str, BeforeValidator(_why_none)] = path(
        "unit_cost", says="Why no cost of one unit follows from this pack; empty when one does."
    )


class OfferWithBreaks(OfferOut):
    """What a supplier asks for one pack of an item, with its price breaks."""

    breaks: Annotated[list[BreakOut], BeforeValidator(_breaks)]


class ItemOut(answer_of("ItemFields", ItemDraft, extra=AnswerModel, without=("mass_ug",))):  # type: ignore[misc]
    """One stock item. Lengths in mm, the mass of one unit in g; a field that does not fit its kind is null."""

    id: int
    metal_name: str
    outer_mm: Millimetres | None = path("size", "outer_nm")
    aspect_ratio: float | None
    mass_g: float | None
    mass_measured: Known = path("measured_mass_ug")
    version: int
    offer: OfferOut | None = Field(description="The current offer.")
    unit_cost: Annotated[MoneyOut | None, BeforeValidator(_offered_cost)] = path(
        "offer", says="What one unit costs to buy again, by the current offer."
    )
    on_hand: Units = path("balance", "on_hand_milli")
    reserved: Units = path("balance", "reserved_milli", says="What started builds will take.")
    free: Units = path("balance", "free_milli", says="On hand without what is reserved.")
    on_order: Units = path("balance", "on_order_milli", says="What sent purchases still bring.")
    low: bool = Field(description="Whether no more is free than its reorder point, whatever is on order.")
    rough: str = path("balance", "rough", says="How sure the count is: empty when counted, else about or plenty.")
    average_cost: Amount | None = path(
        "balance", "unit_cost", says="What one unit in stock cost on average; null with none in stock."
    )


class ItemWithLines(ItemOut):
    """One stock item with the lines behind what one unit costs."""

    unit_cost_lines: Annotated[list[LineOut], BeforeValidator(_lines_of)] = path("unit_cost")


class ItemsOut(AnswerModel):
    """One page of the items found."""

    items: list[ItemOut]
    total: int
    page: int
    pages: int


class OffersOut(AnswerModel):
    """All offers of an item: the current one first, then those that may be bought too, then the latest."""

    offers: list[OfferWithBreaks]


@router.get("/items", response_model=ItemsOut, responses=problems(422))
def list_items(
    request: Request,
    *,
    find: str = "",
    kind: str = "",
    metal: str = "",
    colour: str = "",
    wire: str = "",
    inner: str = "",
    ar_from: str = "",
    ar_to: str = "",
    retired: str = "",
    shelf: Annotated[str, Query(description=f"What lies there: {', '.join(SHELF_STATES)}.")] = "",
    page: str = "1",
) -> ItemsOut | Response:
    """Find items by any part of a size or name in any unit, and narrow them; 60 to a page, in the usual order."""
    asked = {
        "find": find, "kind": kind, "metal": metal, "colour": colour, "wire": wire, "inner": inner,
        "ar_from": ar_from, "ar_to": ar_to, "retired": retired, "shelf": shelf, "page": page,
    }  # fmt: skip
    wanted = readable(read_item_filter(asked))
    day = today(prefs_of(request).time_zone)
    session = reading(request)
    found = stock_page(session, wanted, today=day).found if wanted.shelf else find_items(session, wanted)
    held = balances(session, [item.id for item in found.items])
    low = low_among(session, found.items, held)
    currency = currency_of(session)
    items = [
        filled(ItemOut, item, balance=held[item.id], low=item.id in low, currency=currency) for item in found.items
    ]
    return filled(ItemsOut, found, items=items)


@router.post(
    "/items",
    status_code=201,
    responses={201: {"model": ItemWithLines}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(ITEM_FIELDS, ("kind",)),
)
@writes
def add_item(session: Session, body: Body) -> Answer:
    """Put an item in stock, with its current offer when a pack and a price come along.

    A near-equal size in stock is a fault of `near_ok` that names it; send `near_ok: true` to keep both.
    """
    draft = fit(item_reader(session)(with_plain_price(body)))
    item_id = operations.add_item(session, draft)
    return Answer(_shown(session, item_id), status=201, location=f"/api/items/{item_id}")


@router.get("/items/{item_id}", responses=problems(404))
def get_item(request: Request, item_id: int) -> ItemWithLines:
    """One item, with the lines behind what one unit costs."""
    return _full(reading(request), item_id)


@router.patch(
    "/items/{item_id}",
    responses={200: {"model": ItemWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**ITEM_FIELDS, "version": VERSION}, ("version",)),
)
@writes
def change_item(session: Session, item_id: int, body: Body) -> Answer:
    """Change the fields that are sent; the others stay. Metal and sizes stay once a design uses the item."""
    version = version_of(body)
    known = item_view(session, item_id).raw()
    draft = fit(item_reader(session)({**_without_labels(known, body), **with_plain_price(body)}))
    operations.edit_item(session, item_id, draft, version)
    return Answer(_shown(session, item_id))


@router.get("/items/{item_id}/offers", responses=problems(404))
def list_offers(request: Request, item_id: int) -> OffersOut:
    """All offers of an item."""
    session = reading(request)
    item_view(session, item_id)
    return _offers(session, item_id)


@router.post(
    "/items/{item_id}/offers",
    status_code=201,
    responses={201: {"model": OfferWithBreaks}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(OFFER_FIELDS, ("pack", "price")),
)
@writes
def add_offer(session: Session, item_id: int, body: Body) -> Answer:
    """Take down an offer; an offer that says what the current one says is answered with that one."""
    currency = currency_of(session)
    draft = fit(read_offer(with_plain_price(body), currency=currency))
    offer_id = offers.add_offer(session, item_id, draft)
    kept = next(offer for offer in item_offers(session, item_id) if offer.id == offer_id)
    return Answer(sent(OfferWithBreaks, kept, currency=currency), status=201)


@router.post(
    "/items/{item_id}/offers/{offer_id}/current",
    responses={200: {"model": OffersOut}, **problems(404)},
)
@writes_without_body
def take_offer(session: Session, item_id: int, offer_id: int) -> Answer:
    """Let costs follow another offer of the item."""
    offers.make_current(session, item_id, offer_id)
    return Answer(_offers(session, item_id).model_dump(mode="json"))


def _full(session: Session, item_id: int) -> ItemWithLines:
    item = item_view(session, item_id)
    held = balances(session, (item_id,))
    low = item_id in low_among(session, (item,), held)
    return filled(ItemWithLines, item, balance=held[item_id], low=low, currency=currency_of(session))


def _shown(session: Session, item_id: int) -> dict[str, Any]:
    shown: dict[str, Any] = _full(session, item_id).model_dump(mode="json")
    return shown


def _offers(session: Session, item_id: int) -> OffersOut:
    return filled(OffersOut, offers=item_offers(session, item_id), currency=currency_of(session))


def _without_labels(known: dict[str, object], body: dict[str, Any]) -> dict[str, object]:
    """What is known, without the label of a size that is sent anew: the old bag's words say nothing about it."""
    gone = {f"{field}_label" for field in ("wire", "inner") if field in body}
    return {name: value for name, value in known.items() if name not in gone}
