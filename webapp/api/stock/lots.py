"""Where stock lies, under /api: an item's lots and bags, the places, moving a bag, and when to buy again."""

from __future__ import annotations

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import Field
from sqlmodel import Session

from models.errors import fit
from models.intake.stock.levels import read_levels
from models.intake.stock.place import NO_PLACE
from models.intake.stock.transfer import read_transfer
from models.operations.stock.levels import set_levels
from models.operations.stock.transfer import move_bag
from models.queries.shop.shop import currency_of
from models.queries.stock.item import item_view
from models.queries.stock.lot import lots_of, places
from models.queries.stock.room import Levels, levels_of
from webapp.api.answers import Amount, AnswerModel, Grams, Units, filled, path
from webapp.api.shapes import ANY_NUMBER, VERSION
from webapp.api.stock.movements import ActOut, act_body
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, version_if_sent
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["lots"])

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


class BagOut(AnswerModel):
    """What lies of one lot in one place; quantities in the item's unit."""

    place: str
    quantity: Units = path("quantity_milli")
    reserved: Units = path("reserved_milli")
    free: Units = path("free_milli")
    rough: str = Field(description="How sure the count is: empty for counted, else about or plenty.")
    tare_g: Grams | None = path("tare_ug")
    counted_on: date | None


class LotOut(AnswerModel):
    """One lot: what is left of it and where, and what came in."""

    id: int
    batch: str
    supplier: str
    received_on: date
    received: Units = path("received_milli")
    quantity: Units = path("quantity_milli")
    value: Amount = path("value_micros")
    provisional: bool = Field(description="Whether its value is an offer's, since nobody said what it cost.")
    note: str
    bags: list[BagOut] = path("bags_shown")


class LotsOut(AnswerModel):
    """The lots of an item, the oldest first."""

    lots: list[LotOut]


class PlaceOut(AnswerModel):
    """A place with bags in it; `counted_on` is null while any of them was never counted."""

    place: str
    bags: int
    items: int
    rough: int
    counted_on: date | None


class PlacesOut(AnswerModel):
    """Every place that holds anything, in its natural order."""

    places: list[PlaceOut]


class LevelsOut(AnswerModel):
    """When to buy an item again and up to how much, in its unit; null asks for nothing."""

    item_id: int
    reorder: Units | None = path("reorder_milli")
    target: Units | None = path("target_milli")
    batch_colour: bool
    version: int


@router.get("/items/{item_id}/lots", responses=problems(404, 422))
def list_lots(
    request: Request,
    item_id: int,
    empty: Annotated[bool, Query(description="Whether lots that are used up are listed too.")] = False,
) -> LotsOut:
    """The lots of an item, the oldest first, with what lies of each in which place."""
    session = reading(request)
    item_view(session, item_id)
    lots = lots_of(session, [item_id], empty=empty).get(item_id, ())
    return filled(LotsOut, lots=lots, currency=currency_of(session))


@router.get("/places")
def list_places(request: Request) -> PlacesOut:
    """Every place that holds anything."""
    return filled(PlacesOut, places=places(reading(request)))


@router.post(
    "/transfers",
    status_code=201,
    responses={201: {"model": ActOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(TRANSFER_FIELDS, ("lot_id", "to_place")),
)
@writes
def transfer(session: Session, body: Body) -> Answer:
    """Move a bag, or a part of it, to another place; what builds reserved stays."""
    draft = fit(read_transfer(body))
    return Answer(act_body(session, move_bag(session, draft).act_id), status=201)


@router.get("/items/{item_id}/levels", responses=problems(404, 422))
def get_levels(request: Request, item_id: int) -> LevelsOut:
    """When to buy an item again."""
    return _levels(reading(request), item_id)


@router.put(
    "/items/{item_id}/levels",
    responses={200: {"model": LevelsOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(LEVEL_FIELDS),
)
@writes
def put_levels(session: Session, item_id: int, body: Body) -> Answer:
    """Keep when to buy an item again; what is left out asks for nothing."""
    draft = fit(read_levels(body))
    set_levels(session, item_id, draft, version=fit(version_if_sent(body)))
    return Answer(_levels(session, item_id).model_dump(mode="json"))


def _levels(session: Session, item_id: int) -> LevelsOut:
    item = item_view(session, item_id)
    levels = levels_of(session, [item_id]).get(item_id, Levels())
    return filled(LevelsOut, levels, item_id=item_id, version=item.version)
