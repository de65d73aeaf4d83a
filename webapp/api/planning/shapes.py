"""Plans of the best mix as the API sends them: the shapes of its answers, and how they are filled."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, ValidationInfo

from models.queries.planning.answer import PlanAnswer
from models.queries.planning.make_plan import PlanView
from models.trade.vocabulary.plans import AnswerKind, Goal, Limiting, SeenState, Stopped
from webapp.api.answers import Amount, AnswerModel, TextOrEmpty, Units, amount_in, beneath, each, filled, path, places
from webapp.api.shapes import MoneyOut

State = SeenState


_UNITS = {"hours": 3600, "item": 1000, "money": 1_000_000}


def _worth(value: int, info: ValidationInfo) -> object:
    return value if (info.context or {})["goal"] == "pieces" else amount_in("currency")(value, info)


def _waits(pieces: int, info: ValidationInfo) -> int:
    return pieces if (info.context or {})["booked"] else 0


def _in_units(value: int, info: ValidationInfo) -> float:
    return value / _UNITS[info.data["what"]]


Worth = Annotated[MoneyOut | int, BeforeValidator(_worth)]
"""What a plan reaches for: money, or pieces."""


class PlanLineOut(AnswerModel, alias_generator=beneath("line")):
    """Pieces of one design and choice; time and money of all of them."""

    key: str
    design_id: int
    design: str = path("line", "name")
    choice: str
    pieces: int
    minutes: Annotated[float, places(3)]
    profit: Amount = path("line", "profit_micros")
    sales: Amount = path("line", "sales_micros")
    outlet: str = Field(description="Where they are sold: the outlet that was asked for, or where each earns most.")
    builds: Annotated[list[int], each("id")]
    waits: Annotated[int, BeforeValidator(_waits)] = Field(
        description="Pieces of a booked plan whose rings are not here yet."
    )


class BagOut(AnswerModel):
    """How much comes from one bag."""

    lot_id: int
    place: str
    quantity: Units = path("milli")


class UseOut(AnswerModel):
    """What the plan takes of one item, in its unit; `left` is null where there is no end to it."""

    item_id: int = path("item", "id")
    item: str = path("item", "name")
    unit: str = path("item", "unit")
    taken: Units = path("taken_milli")
    bought: Units = path("bought_milli")
    left: Units | None = path("left_milli")
    rough: bool
    bags: list[BagOut]


class PacksOut(AnswerModel):
    """Packs of one offer."""

    offer_id: int = path("offer")
    item_id: int
    item: str = path("name")
    packs: int
    quantity: Units = path("milli")
    price: Amount = path("price_micros")
    amount: Amount = path("amount_micros")


class OrderOut(AnswerModel):
    """What is bought of one supplier, with its postage."""

    supplier: str
    postage: Amount = path("postage_micros")
    total: Amount = path("total_micros")
    packs: list[PacksOut]


class ShortOut(AnswerModel):
    """A wish that cannot be met."""

    wish: str = path("name")
    wanted: int
    possible: int
    message: str


class ProofOut(AnswerModel):
    """How good the answer is: no mix is worth more than `bound`, in money or in pieces; a gap of 0 is proven best."""

    value: Worth
    bound: Worth
    gap: float
    stopped: Stopped
    seconds: Units = path("search_ms")


class LimitOut(AnswerModel):
    """One unit more of something, and what it would bring in the plan's own measure."""

    what: Limiting
    item_id: int | None = path("item", "id")
    item: TextOrEmpty = path("item", "name")
    unit: Annotated[float, BeforeValidator(_in_units)] = Field(description="Hours, the item's unit, or money.")
    gain: Worth
    at_most: Worth


class LimitsOut(AnswerModel):
    """What would bring more, most first; each was searched again with so much more of it alone."""

    tried: list[LimitOut]
    not_tried: list[str]


class PlanOut(AnswerModel, alias_generator=beneath("answer")):
    """A plan: how far its search is, and its answer once it is done.

    `answer` is 'plan', 'unmeetable' (then `message` and `short` say which wishes fail and by how much), 'none' where
    the time ran out before any mix was found, or empty while it is searched and where it failed. Whatever ends a
    search without a mix, `message` says what happened; `limits_message` does so for `limits`.
    """

    id: int
    state: State
    goal: Goal
    answer: AnswerKind = path("answer", "kind")
    message: str = path("ended")
    short: list[ShortOut]
    instead: list[str]
    proof: ProofOut | None
    pieces: int = path("answer", "all_pieces")
    minutes: Annotated[float, places(3)]
    profit: Amount = path("answer", "profit_micros")
    sales: Amount = path("answer", "sales_micros")
    spend: Amount = path("answer", "spend_micros")
    lines: list[PlanLineOut]
    rings: list[UseOut] = path("answer", "uses")
    orders: list[OrderOut]
    rests_on: list[str] = Field(description="What was only counted roughly.")
    left_out: list[str] = Field(description="Designs that could not be in any mix, each with the reason.")
    booked: bool
    purchases: Annotated[list[int], each("id")]
    limits_state: Literal["", SeenState]
    limits: LimitsOut | None
    limits_message: str = path("limits_ended")
    created_at: datetime
    version: int


def plan_out(view: PlanView, currency: str) -> PlanOut:
    """A plan as the API sends it."""
    answer = view.answer or PlanAnswer("")
    return filled(
        PlanOut,
        view,
        answer=answer,
        goal=view.ask.goal,
        booked=view.booked,
        proof=answer if answer.kind == "plan" else None,
        limits=view.limits if view.limits_state == "done" else None,
        currency=currency,
    )
