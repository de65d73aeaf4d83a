"""Where stock lies, under /api: an item's lots and bags, the places, moving a bag, and when to buy again."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.levels import read_levels
from models.intake.stock.offer import from_milli
from models.intake.stock.place import NO_PLACE
from models.intake.stock.transfer import read_transfer
from models.operations.stock.levels import set_levels
from models.operations.stock.transfer import move_bag
from models.queries.shop.shop import currency_of
from models.queries.stock.item import item_view
from models.queries.stock.lot import Bag, LotView, lots_of, places
from models.queries.stock.room import Levels, bags_shown, levels_of
from models.trade.money import from_micros
from webapp.api.shapes import ANY_NUMBER, VERSION, MoneyOut, money_out
from webapp.api.stock.movements import ActOut, act_body
from webapp.web.json_api import Answer, json_body, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["lots"])
Body = Annotated[dict[str, Any], Depends(read_json)]

TRANSFER_FIELDS: dict[str, object] = {
    "lot_id": {"type": "integer"},
    "from_place": {
        "type": "string",
        "description": "Where it lies. Empty for the bag that has no place, else for the only one of the lot.",
    },
    "to_place": {"type": "string", "description": f"Where it goes, or '{NO_PLACE}'."},
    "quantity": {**ANY_NUMBER, "description": "How much of it; all of it when it is left out."},
    "moved_on": {"type": "string", "format": "date", "description": "Today when it is left out."},
    "note": {"type": "string"},
}
LEVEL_FIELDS: dict[str, object] = {
    "reorder": {**ANY_NUMBER, "description": "Buy again when so much or less is free; empty asks for nothing."},
    "target": {**ANY_NUMBER, "description": "Up to how much."},
    "batch_colour": {"type": "boolean", "description": "Whether batches differ, so that one piece takes one lot."},
    "version": VERSION,
}


class BagOut(BaseModel):
    """What lies of one lot in one place; quantities in the item's unit."""

    place: str
    quantity: float
    reserved: float
    free: float
    rough: str = Field(description="How sure the count is: empty for counted, else about or plenty.")
    tare_g: float | None
    counted_on: date | None


class LotOut(BaseModel):
    """One lot: what is left of it and where, and what came in."""

    id: int
    batch: str
    supplier: str
    received_on: date
    received: float
    quantity: float
    value: MoneyOut
    provisional: bool = Field(description="Whether its value is an offer's, since nobody said what it cost.")
    note: str
    bags: list[BagOut]


class LotsOut(BaseModel):
    """The lots of an item, the oldest first."""

    lots: list[LotOut]


class PlaceOut(BaseModel):
    """A place with bags in it; `counted_on` is null while any of them was never counted."""

    place: str
    bags: int
    items: int
    rough: int
    counted_on: date | None


class PlacesOut(BaseModel):
    """Every place that holds anything, in its natural order."""

    places: list[PlaceOut]


class LevelsOut(BaseModel):
    """When to buy an item again and up to how much, in its unit; null asks for nothing."""

    item_id: int
    reorder: float | None
    target: float | None
    batch_colour: bool
    version: int


@router.get("/items/{item_id}/lots", responses=problems(404, 422))
def list_lots(
    request: Request,
    item_id: int,
    empty: Annotated[bool, Query(description="Whether lots that are used up are listed too.")] = False,
) -> LotsOut:
    """The lots of an item, the oldest first, with what lies of each in which place."""
    with request.app.state.store.reading() as session:
        item_view(session, item_id)
        lots = lots_of(session, [item_id], empty=empty).get(item_id, ())
        currency = currency_of(session)
    return LotsOut(lots=[_lot(lot, currency) for lot in lots])


@router.get("/places")
def list_places(request: Request) -> PlacesOut:
    """Every place that holds anything."""
    with request.app.state.store.reading() as session:
        found = places(session)
    return PlacesOut(
        places=[
            PlaceOut(place=one.place, bags=one.bags, items=one.items, rough=one.rough, counted_on=one.counted_on)
            for one in found
        ]
    )


@router.post(
    "/transfers",
    status_code=201,
    responses={201: {"model": ActOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(TRANSFER_FIELDS, ("lot_id", "to_place")),
)
def transfer(request: Request, body: Body) -> Response:
    """Move a bag, or a part of it, to another place; what builds reserved stays."""

    def act(session: Session) -> Answer | Faults:
        draft = read_transfer(body)
        if isinstance(draft, Faults):
            return draft
        return Answer(act_body(session, move_bag(session, draft).act_id), status=201)

    return write_once(request, body, act)


@router.get("/items/{item_id}/levels", responses=problems(404, 422))
def get_levels(request: Request, item_id: int) -> LevelsOut:
    """When to buy an item again."""
    with request.app.state.store.reading() as session:
        return _levels(session, item_id)


@router.put(
    "/items/{item_id}/levels",
    responses={200: {"model": LevelsOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(LEVEL_FIELDS),
)
def put_levels(request: Request, item_id: int, body: Body) -> Response:
    """Keep when to buy an item again; what is left out asks for nothing."""

    def act(session: Session) -> Answer | Faults:
        draft, version = read_levels(body), body.get("version")
        if isinstance(draft, Faults):
            return draft
        if version is not None and (isinstance(version, bool) or not isinstance(version, int)):
            return Faults.of("version", "The version is a whole number, as it was read.")
        set_levels(session, item_id, draft, version=version)
        return Answer(_levels(session, item_id).model_dump(mode="json"))

    return write_once(request, body, act)


def _levels(session: Session, item_id: int) -> LevelsOut:
    item = item_view(session, item_id)
    levels = levels_of(session, [item_id]).get(item_id, Levels())
    return LevelsOut(
        item_id=item_id,
        reorder=_units(levels.reorder_milli),
        target=_units(levels.target_milli),
        batch_colour=levels.batch_colour,
        version=item.version,
    )


def _lot(lot: LotView, currency: str) -> LotOut:
    return LotOut(
        id=lot.id,
        batch=lot.batch,
        supplier=lot.supplier or "",
        received_on=lot.received_on,
        received=float(from_milli(lot.received_milli)),
        quantity=float(from_milli(lot.quantity_milli)),
        value=money_out(from_micros(lot.value_micros), currency),
        provisional=lot.provisional,
        note=lot.note,
        bags=[_bag(bag) for bag in bags_shown(lot)],
    )


def _bag(bag: Bag) -> BagOut:
    return BagOut(
        place=bag.place,
        quantity=float(from_milli(bag.quantity_milli)),
        reserved=float(from_milli(bag.reserved_milli)),
        free=float(from_milli(bag.free_milli)),
        rough=bag.rough,
        tare_g=None if bag.tare_ug is None else bag.tare_ug / 1_000_000,
        counted_on=bag.counted_on,
    )


def _units(milli: int | None) -> float | None:
    return None if milli is None else float(from_milli(milli))
