"""What can be made now, and which rings may stand in for others, under /api."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.faults import Faults
from models.intake.planning.makeable import read_make_filter
from models.intake.stock.stand_in import read_stand_in
from models.operations.stock.stand_in import StandInAct, declare_stand_in, drop_stand_in
from models.queries.planning.makeable import makeable_view
from models.queries.shop.shop import currency_of
from models.queries.stock.item import item_view
from models.queries.stock.stand_ins import stand_ins_of
from models.trade.vocabulary.plans import Allowance, MakeOrder, SubstituteWhy
from webapp.api.answers import Amount, AnswerModel, TextOrEmpty, Units, beneath, filled, path, places
from webapp.web.acting import Answer, Body, writes, writes_without_body
from webapp.web.json_api import KEY_HEADER, Problem, json_body, problems, readable
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["planning"])


class MakeableParameters(BaseModel):
    """What is asked; empty asks nothing."""

    find: str = Field("", max_length=100)
    outlet: int | None = Field(None, ge=1, lt=2**31, description="Where it is sold; each at its best outlet without.")
    minutes: float | None = Field(None, ge=0, le=100_000, description="Only what takes at most so long.")
    skill: int | None = Field(None, ge=1, le=5)
    metal: str = Field("", max_length=60)
    weave: str = Field("", max_length=60)
    now: bool = Field(default=False, description="Only what can be made now.")
    allowance: Allowance = Field("with", description="With the allowance for spoiled rings or not.")
    order: MakeOrder = "earns"
    making: str = Field("", max_length=2000, description="The key of a row whose effect on the others is asked for.")
    pieces: int = Field(1, ge=1, le=1000, description="How many of it are made.")
    page: int = Field(1, ge=1, le=10_000)


class ItemRef(AnswerModel):
    """An item by its number and name."""

    item_id: int = path("id")
    item: str = path("name")


class NeedOut(AnswerModel):
    """What one more piece would need beyond what is free, in the item's unit."""

    item_id: int = path("item", "id")
    item: str = path("item", "name")
    quantity: Units = path("milli")
    unit: str = path("item", "unit")
    rough: bool
    on_order: Units = path("on_order_milli", says="What sent purchases still bring of it.")


class StandInOut(AnswerModel, alias_generator=beneath("told")):
    """A ring that may stand in for one that runs out; nothing uses it unless a build says so."""

    item_id: int = path("other", "id")
    item: str = path("other", "name")
    instead_of: int = path("item", "id")
    why: SubstituteWhy
    aspect_ratio: Annotated[float, places(2)]
    same_look: bool
    fits: bool
    differences: list[str]
    more_pieces: int | None


class MakeRowOut(AnswerModel, alias_generator=beneath("answer")):
    """One design with one combination of its choices. `pieces` is null where nothing counted limits it."""

    key: str
    design_id: int
    design: str = path("name")
    choice: str
    choices: list[str] = path("recipe", "choices")
    pieces: int | None
    at_worst: int | None
    at_best: int | None
    sure: bool = Field(description="False where the number rests on a rough count.")
    limiting: list[ItemRef]
    one_more_needs: list[NeedOut] = path("lacks")
    rests_on: list[ItemRef]
    not_in_stock: list[str] = path("answer", "unknown")
    with_allowance: bool
    minutes: float | None
    skill: int
    weave: str
    outlet_id: int | None = path("sold", "outlet_id")
    outlet: TextOrEmpty = path("sold", "outlet")
    price: Amount | None = path("sold", "price_micros")
    profit: Amount | None = path("sold", "profit_micros")
    earned_per_hour: Amount | None = path("sold", "hourly_micros", says="Wage and profit of an hour.")
    profit_per_hour: Amount | None = path("profit_hourly_micros")
    stand_ins: list[StandInOut]
    after: int | None = path(
        "effect", "after", says="What is left of it when `making` is made; null where that touches nothing."
    )
    more_choices: int = path("cut", says="Further combinations of this design that are not worked out.")


class MakeableOut(AnswerModel):
    """What can be made now; `designs` have parts, `can_be_made` of them can be made, `rows` were found in all."""

    designs: int
    can_be_made: int = path("can")
    rows: int = path("found")
    page: int = path("wanted", "page")
    pages: int
    makeable: list[MakeRowOut] = path("rows")


class DeclaredOut(BaseModel):
    """One declared stand-in: `item_id` may be used in the place of `instead_of`, and the other way round if both."""

    id: int
    item_id: int
    item: str
    instead_of: int
    both_ways: bool


class StandInsOut(BaseModel):
    """The declared stand-ins that an item is part of."""

    stand_ins: list[DeclaredOut]


@router.get("/makeable", response_model=MakeableOut, responses=problems(404, 422))
def makeable(request: Request, asked: Annotated[MakeableParameters, Query()]) -> MakeableOut | Response:
    """For every design and choice how many free stock makes, what runs out first, and what one more would need."""
    raw = {name: value for name, value in asked.model_dump().items() if value is not None}
    wanted = readable(
        read_make_filter({**raw, **({"minutes": str(asked.minutes)} if asked.minutes is not None else {})})
    )
    session = reading(request)
    currency = currency_of(session)
    view = makeable_view(session, wanted)
    if view.trouble:
        raise Problem(422, view.trouble, Faults.of("making" if view.making is None else "pieces", view.trouble))
    return filled(MakeableOut, view, currency=currency)


@router.get("/items/{item_id}/stand-ins", response_model=StandInsOut, responses=problems(404, 422))
def list_stand_ins(request: Request, item_id: int) -> StandInsOut:
    """What was declared to stand in for an item, and what it may stand in for."""
    session = reading(request)
    item = item_view(session, item_id)
    page = stand_ins_of(session, item_id)
    found = []
    for row in page.declared:
        for_that = row.way == "for that"
        found.append(
            DeclaredOut(
                id=row.id,
                item_id=item_id if for_that else row.other_id,
                item=item.name if for_that else row.other,
                instead_of=row.other_id if for_that else item_id,
                both_ways=row.way == "both",
            )
        )
    return StandInsOut(stand_ins=found)


@router.post(
    "/items/{item_id}/stand-ins",
    status_code=201,
    responses={201: {"model": DeclaredOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(
        {
            "stand_in_id": {"type": "integer", "description": "The ring that may be used in the place of this one."},
            "both_ways": {"type": "boolean", "description": "Whether each may stand in for the other."},
        },
        ("stand_in_id",),
    ),
)
@writes
def add_stand_in(session: Session, item_id: int, body: Body) -> Answer:
    """Declare what may stand in for an item; a circle of one-way stand-ins is refused."""
    draft = fit(read_stand_in(body))
    done = declare_stand_in(session, item_id, draft)
    return Answer(_declared(session, done), status=201, location=f"/api/items/{item_id}/stand-ins")


@router.delete(
    "/stand-ins/{stand_in_id}",
    response_model=DeclaredOut,
    responses=problems(400, 404, 409, 422),
    openapi_extra={"parameters": [KEY_HEADER]},
)
@writes_without_body
def remove_stand_in(session: Session, stand_in_id: int) -> Answer:
    """Take a declared stand-in back."""
    return Answer(_declared(session, drop_stand_in(session, stand_in_id)))


def _declared(session: Session, done: StandInAct) -> dict[str, object]:
    return {
        "id": done.id,
        "item_id": done.stand_in_id,
        "item": item_view(session, done.stand_in_id).name,
        "instead_of": done.item_id,
        "both_ways": done.both_ways,
    }
