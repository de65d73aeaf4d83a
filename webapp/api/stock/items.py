"""Stock items and their offers under /api: the same reading and the same operations as their pages.

Fields of a request are those of a CSV row.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.costing.inputs import UnitCost
from models.costing.lines import Impossible
from models.intake.faults import Faults
from models.intake.stock.item import ITEM_COLUMNS
from models.intake.stock.item_find import read_item_filter
from models.intake.stock.offer import from_milli, read_offer
from models.intake.stock.supplier import MOST_LEAD_DAYS
from models.operations.shop.clock import today
from models.operations.stock import item as operations
from models.operations.stock import offer as offers
from models.queries.shop.shop import currency_of
from models.queries.stock.balance import Balance, balances
from models.queries.stock.item import ItemView, item_reader, item_view
from models.queries.stock.item_find import find_items
from models.queries.stock.offer import OfferView, item_offers
from models.queries.stock.room import low_among, stock_page
from models.trade.vocabulary.ledger import SHELF_STATES
from models.trade.vocabulary.things import ARRIVALS, PACK_UNITS, PART_KINDS, UNITS
from webapp.api.shapes import ANY_NUMBER, VERSION, LineOut, MoneyOut, line_out, mm, money_out, with_plain_price
from webapp.web.json_api import Answer, faulty, json_body, problems, read_json, write_once
from webapp.web.prefs import prefs_of

router = APIRouter(prefix="/api", tags=["items"])
Body = Annotated[dict[str, Any], Depends(read_json)]

_CHOICES = {"kind": list(PART_KINDS), "unit": list(UNITS), "arrives": list(ARRIVALS), "pack_unit": list(PACK_UNITS)}
_PRICE: dict[str, object] = {
    "description": "The price of one pack: decimal text, or amount and currency as the API sends them.",
    "anyOf": [{"type": "string"}, {"$ref": "#/components/schemas/MoneyOut"}],
}
_OFFER_FIELDS = ("supplier", "pack", "pack_unit", "price", "currency", "exchange_rate", "offer_note")
_BREAKS: dict[str, object] = {
    "description": "From how many packs on each costs less: as text such as '5 at 3.20; 20 at 2.90', or listed.",
    "anyOf": [
        {"type": "string"},
        {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {"from_packs": {"type": "integer", "minimum": 2}, "price": ANY_NUMBER},
                "required": ["from_packs", "price"],
            },
        },
    ],
}


def _field_schema(name: str, says: str, holds: str) -> dict[str, object]:
    if name == "price":
        return _PRICE
    shape: dict[str, object] = {"type": "string"}
    if holds in {"number", "size"} and not name.endswith("_label"):
        shape = dict(ANY_NUMBER)
    if holds == "yes or no":
        shape = {"type": "boolean"}
    if name in _CHOICES:
        shape["enum"] = _CHOICES[name]
    return {**shape, "description": says}


ITEM_FIELDS: dict[str, object] = {
    **{column.name: _field_schema(column.name, column.says, column.holds) for column in ITEM_COLUMNS},
    "mass_of": {"type": "integer", "minimum": 1, "description": "How many were weighed together; 1 when left out."},
    "supplier_id": {"type": "integer", "description": "The supplier by its number, in the place of its name."},
}
OFFER_FIELDS: dict[str, object] = {
    **{name: ITEM_FIELDS[name] for name in (*_OFFER_FIELDS, "supplier_id")},
    "current": {"type": "boolean", "description": "Whether costs follow this offer from now on; true when left out."},
    "standing": {
        "type": "boolean",
        "description": "Whether it may be bought beside the current one; true when left out.",
    },
    "lead_days": {
        "type": ["integer", "null"],
        "minimum": 0,
        "maximum": MOST_LEAD_DAYS,
        "description": "Days until it is here, where that is not the supplier's usual time.",
    },
    "breaks": _BREAKS,
}


class BreakOut(BaseModel):
    """From so many packs on each costs this."""

    from_packs: int
    price: MoneyOut


class OfferOut(BaseModel):
    """What a supplier asks for one pack of an item."""

    id: int
    supplier_id: int | None
    supplier: str
    pack: float
    pack_unit: str
    price: MoneyOut
    exchange_rate: str = Field(description="What one of the price's currency costs in the shop's own.")
    current: bool = Field(description="Whether costs follow it.")
    standing: bool = Field(description="Whether it may be bought.")
    lead_days: int | None
    note: str
    noted_at: datetime
    unit_cost: MoneyOut | None = Field(description="What one unit of the item costs, in the shop's currency.")
    no_unit_cost: str = Field(description="Why no cost of one unit follows from this pack; empty when one does.")


class OfferWithBreaks(OfferOut):
    """What a supplier asks for one pack of an item, with its price breaks."""

    breaks: list[BreakOut]


class ItemOut(BaseModel):
    """One stock item. Lengths in mm, the mass of one unit in g; a field that does not fit its kind is null."""

    id: int
    kind: str
    name: str
    metal: str | None
    metal_name: str
    finish: str
    colour: str
    tint: str
    wire_mm: float | None
    wire_label: str
    inner_mm: float | None
    inner_label: str
    outer_mm: float | None
    aspect_ratio: float | None
    hole_mm: float | None
    unit: str
    mass_g: float | None
    mass_measured: bool
    can_open: bool
    arrives: str
    note: str
    retired: bool
    version: int
    offer: OfferOut | None = Field(description="The current offer.")
    unit_cost: MoneyOut | None = Field(description="What one unit costs to buy again, by the current offer.")
    on_hand: float
    reserved: float = Field(description="What started builds will take.")
    free: float = Field(description="On hand without what is reserved.")
    on_order: float = Field(description="What sent purchases still bring.")
    low: bool = Field(description="Whether no more is free than its reorder point, whatever is on order.")
    rough: str = Field(description="How sure the count is: empty when counted, else about or plenty.")
    average_cost: MoneyOut | None = Field(
        description="What one unit in stock cost on average; null with none in stock."
    )


class ItemWithLines(ItemOut):
    """One stock item with the lines behind what one unit costs."""

    unit_cost_lines: list[LineOut]


class ItemsOut(BaseModel):
    """One page of the items found."""

    items: list[ItemOut]
    total: int
    page: int
    pages: int


class OffersOut(BaseModel):
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
    wanted = read_item_filter(asked)
    if isinstance(wanted, Faults):
        return faulty(wanted)
    day = today(prefs_of(request).time_zone)
    with request.app.state.store.reading() as session:
        found = stock_page(session, wanted, today=day).found if wanted.shelf else find_items(session, wanted)
        held = balances(session, [item.id for item in found.items])
        low = low_among(session, found.items, held)
        currency = currency_of(session)
    return ItemsOut(
        items=[item_out(item, currency, held[item.id], low=item.id in low) for item in found.items],
        total=found.total,
        page=found.page,
        pages=found.pages,
    )


@router.post(
    "/items",
    status_code=201,
    responses={201: {"model": ItemWithLines}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(ITEM_FIELDS, ("kind",)),
)
def add_item(request: Request, body: Body) -> Response:
    """Put an item in stock, with its current offer when a pack and a price come along.

    A near-equal size in stock is a fault of `near_ok` that names it; send `near_ok: true` to keep both.
    """

    def act(session: Session) -> Answer | Faults:
        draft = item_reader(session)(with_plain_price(body))
        if isinstance(draft, Faults):
            return draft
        item_id = operations.add_item(session, draft)
        return Answer(_shown(session, item_id), status=201, location=f"/api/items/{item_id}")

    return write_once(request, body, act)


@router.get("/items/{item_id}", responses=problems(404))
def get_item(request: Request, item_id: int) -> ItemWithLines:
    """One item, with the lines behind what one unit costs."""
    with request.app.state.store.reading() as session:
        return _full(session, item_id)


@router.patch(
    "/items/{item_id}",
    responses={200: {"model": ItemWithLines}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**ITEM_FIELDS, "version": VERSION}, ("version",)),
)
def change_item(request: Request, item_id: int, body: Body) -> Response:
    """Change the fields that are sent; the others stay. Metal and sizes stay once a design uses the item."""

    def act(session: Session) -> Answer | Faults:
        version = read_version(body)
        if isinstance(version, Faults):
            return version
        known = item_view(session, item_id).raw()
        draft = item_reader(session)({**_without_labels(known, body), **with_plain_price(body)})
        if isinstance(draft, Faults):
            return draft
        operations.edit_item(session, item_id, draft, version)
        return Answer(_shown(session, item_id))

    return write_once(request, body, act)


@router.get("/items/{item_id}/offers", responses=problems(404))
def list_offers(request: Request, item_id: int) -> OffersOut:
    """All offers of an item."""
    with request.app.state.store.reading() as session:
        item_view(session, item_id)
        currency = currency_of(session)
        return OffersOut(offers=[offer_with_breaks(offer, currency) for offer in item_offers(session, item_id)])


@router.post(
    "/items/{item_id}/offers",
    status_code=201,
    responses={201: {"model": OfferWithBreaks}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(OFFER_FIELDS, ("pack", "price")),
)
def add_offer(request: Request, item_id: int, body: Body) -> Response:
    """Take down an offer; an offer that says what the current one says is answered with that one."""

    def act(session: Session) -> Answer | Faults:
        currency = currency_of(session)
        draft = read_offer(with_plain_price(body), currency=currency)
        if isinstance(draft, Faults):
            return draft
        offer_id = offers.add_offer(session, item_id, draft)
        kept = next(offer for offer in item_offers(session, item_id) if offer.id == offer_id)
        return Answer(offer_with_breaks(kept, currency).model_dump(mode="json"), status=201)

    return write_once(request, body, act)


@router.post(
    "/items/{item_id}/offers/{offer_id}/current",
    responses={200: {"model": OffersOut}, **problems(404)},
)
def take_offer(request: Request, item_id: int, offer_id: int) -> Response:
    """Let costs follow another offer of the item."""

    def act(session: Session) -> Answer:
        offers.make_current(session, item_id, offer_id)
        currency = currency_of(session)
        shown = OffersOut(offers=[offer_with_breaks(offer, currency) for offer in item_offers(session, item_id)])
        return Answer(shown.model_dump(mode="json"))

    return write_once(request, {}, act)


def read_version(body: dict[str, Any]) -> int | Faults:
    """The version that an edit is based on."""
    version = body.get("version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 0:
        return Faults.of("version", "Send the version that you read, such as 1.")
    return version


def item_out(item: ItemView, currency: str, balance: Balance, *, low: bool) -> ItemOut:
    """An item as the API sends it."""
    return ItemOut(**_fields(item, currency, balance, low=low))


def offer_out(offer: OfferView, currency: str) -> OfferOut:
    """An offer as the API sends it with an item."""
    return OfferOut(**_offer_fields(offer, currency))


def offer_with_breaks(offer: OfferView, currency: str) -> OfferWithBreaks:
    """An offer as the API sends it among an item's offers."""
    breaks = [BreakOut(from_packs=packs, price=money_out(price, offer.currency)) for packs, price in offer.breaks]
    return OfferWithBreaks(**_offer_fields(offer, currency), breaks=breaks)


def _offer_fields(offer: OfferView, currency: str) -> dict[str, Any]:
    cost = offer.unit_cost
    return {
        "id": offer.id,
        "supplier_id": offer.supplier_id,
        "supplier": offer.supplier,
        "pack": float(offer.pack),
        "pack_unit": offer.pack_unit,
        "price": money_out(offer.price, offer.currency),
        "exchange_rate": format(offer.exchange_rate, "f"),
        "current": offer.current,
        "standing": offer.standing,
        "lead_days": offer.lead_days,
        "note": offer.note,
        "noted_at": offer.made_at,
        "unit_cost": _cost_out(cost, currency),
        "no_unit_cost": cost.reason if isinstance(cost, Impossible) else "",
    }


def _fields(item: ItemView, currency: str, balance: Balance, *, low: bool) -> dict[str, Any]:
    ratio, mass_g = item.aspect_ratio, item.mass_g
    return {
        "id": item.id,
        "kind": item.kind,
        "name": item.name,
        "metal": item.metal,
        "metal_name": item.metal_name,
        "finish": item.finish,
        "colour": item.colour,
        "tint": item.tint,
        "wire_mm": mm(item.wire_nm),
        "wire_label": item.wire_label,
        "inner_mm": mm(item.inner_nm),
        "inner_label": item.inner_label,
        "outer_mm": mm(item.size.outer_nm) if item.size else None,
        "aspect_ratio": float(ratio) if ratio is not None else None,
        "hole_mm": mm(item.hole_nm),
        "unit": item.unit,
        "mass_g": float(mass_g) if mass_g is not None else None,
        "mass_measured": item.measured_mass_ug is not None,
        "can_open": item.can_open,
        "arrives": item.arrives,
        "note": item.note,
        "retired": item.retired,
        "version": item.version,
        "offer": offer_out(item.offer, currency) if item.offer else None,
        "unit_cost": _cost_out(item.unit_cost, currency),
        "on_hand": float(from_milli(balance.on_hand_milli)),
        "reserved": float(from_milli(balance.reserved_milli)),
        "free": float(from_milli(balance.free_milli)),
        "on_order": float(from_milli(balance.on_order_milli)),
        "low": low,
        "rough": balance.rough,
        "average_cost": None if balance.unit_cost is None else money_out(balance.unit_cost, currency),
    }


def _full(session: Session, item_id: int) -> ItemWithLines:
    item = item_view(session, item_id)
    currency = currency_of(session)
    cost = item.unit_cost
    lines = [line_out(line, currency) for line in cost.lines] if isinstance(cost, UnitCost) else []
    held = balances(session, (item_id,))
    low = item_id in low_among(session, (item,), held)
    return ItemWithLines(**_fields(item, currency, held[item_id], low=low), unit_cost_lines=lines)


def _shown(session: Session, item_id: int) -> dict[str, Any]:
    return _full(session, item_id).model_dump(mode="json")


def _cost_out(cost: UnitCost | Impossible | None, currency: str) -> MoneyOut | None:
    return money_out(cost.amount, currency) if isinstance(cost, UnitCost) else None


def _without_labels(known: dict[str, object], body: dict[str, Any]) -> dict[str, object]:
    """What is known, without the label of a size that is sent anew: the old bag's words say nothing about it."""
    gone = {f"{field}_label" for field in ("wire", "inner") if field in body}
    return {name: value for name, value in known.items() if name not in gone}
