"""Plans of the best mix as the API sends them: the shapes of its answers, and how they are filled."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Literal

from pydantic import BaseModel, Field

from models.queries.planning.answer import PlanAnswer, PlanLimits
from models.queries.planning.make_plan import PlanView
from models.trade.money import from_micros
from models.trade.vocabulary.plans import AnswerKind, Goal, Limiting, SeenState, Stopped
from webapp.api.shapes import MoneyOut, money_out

State = SeenState


class PlanLineOut(BaseModel):
    """Pieces of one design and choice; time and money of all of them."""

    key: str
    design_id: int
    design: str
    choice: str
    pieces: int
    minutes: float
    profit: MoneyOut
    sales: MoneyOut
    outlet: str = Field(description="Where they are sold: the outlet that was asked for, or where each earns most.")
    builds: list[int]
    waits: int = Field(description="Pieces of a booked plan whose rings are not here yet.")


class BagOut(BaseModel):
    """How much comes from one bag."""

    lot_id: int
    place: str
    quantity: float


class UseOut(BaseModel):
    """What the plan takes of one item, in its unit; `left` is null where there is no end to it."""

    item_id: int
    item: str
    unit: str
    taken: float
    bought: float
    left: float | None
    rough: bool
    bags: list[BagOut]


class PacksOut(BaseModel):
    """Packs of one offer."""

    offer_id: int
    item_id: int
    item: str
    packs: int
    quantity: float
    price: MoneyOut
    amount: MoneyOut


class OrderOut(BaseModel):
    """What is bought of one supplier, with its postage."""

    supplier: str
    postage: MoneyOut
    total: MoneyOut
    packs: list[PacksOut]


class ShortOut(BaseModel):
    """A wish that cannot be met."""

    wish: str
    wanted: int
    possible: int
    message: str


class ProofOut(BaseModel):
    """How good the answer is: no mix is worth more than `bound`, in money or in pieces; a gap of 0 is proven best."""

    value: MoneyOut | int
    bound: MoneyOut | int
    gap: float
    stopped: Stopped
    seconds: float


class LimitOut(BaseModel):
    """One unit more of something, and what it would bring in the plan's own measure."""

    what: Limiting
    item_id: int | None
    item: str
    unit: float = Field(description="Hours, the item's unit, or money.")
    gain: MoneyOut | int
    at_most: MoneyOut | int


class LimitsOut(BaseModel):
    """What would bring more, most first; each was searched again with so much more of it alone."""

    tried: list[LimitOut]
    not_tried: list[str]


class PlanOut(BaseModel):
    """A plan: how far its search is, and its answer once it is done.

    `answer` is 'plan', 'unmeetable' (then `message` and `short` say which wishes fail and by how much), 'none' where
    the time ran out before any mix was found, or empty while it is searched and where it failed. Whatever ends a
    search without a mix, `message` says what happened; `limits_message` does so for `limits`.
    """

    id: int
    state: State
    goal: Goal
    answer: AnswerKind
    message: str
    short: list[ShortOut]
    instead: list[str]
    proof: ProofOut | None
    pieces: int
    minutes: float
    profit: MoneyOut
    sales: MoneyOut
    spend: MoneyOut
    lines: list[PlanLineOut]
    rings: list[UseOut]
    orders: list[OrderOut]
    rests_on: list[str] = Field(description="What was only counted roughly.")
    left_out: list[str] = Field(description="Designs that could not be in any mix, each with the reason.")
    booked: bool
    purchases: list[int]
    limits_state: Literal["", SeenState]
    limits: LimitsOut | None
    limits_message: str
    created_at: datetime
    version: int


def plan_out(view: PlanView, currency: str) -> PlanOut:
    """A plan as the API sends it."""
    answer = view.answer or PlanAnswer("")

    def money(micros: int) -> MoneyOut:
        return money_out(from_micros(micros), currency)

    def worth(value: int) -> MoneyOut | int:
        return value if view.ask.goal == "pieces" else money(value)

    return PlanOut.model_validate(
        {
            "id": view.id,
            "state": view.state,
            "goal": view.ask.goal,
            "answer": answer.kind,
            "message": view.ended,
            "short": [
                ShortOut(wish=each.name, wanted=each.wanted, possible=each.possible, message=each.message)
                for each in answer.short
            ],
            "instead": list(answer.instead),
            "proof": _proof(view, worth),
            "pieces": answer.all_pieces,
            "minutes": _number(answer.minutes),
            "profit": money(answer.profit_micros),
            "sales": money(answer.sales_micros),
            "spend": money(answer.spend_micros),
            "lines": [
                PlanLineOut(
                    key=each.line.key,
                    design_id=each.line.design_id,
                    design=each.line.name,
                    choice=each.line.choice,
                    pieces=each.line.pieces,
                    minutes=_number(each.line.minutes),
                    profit=money(each.line.profit_micros),
                    sales=money(each.line.sales_micros),
                    outlet=each.line.outlet,
                    builds=[build.id for build in each.builds],
                    waits=each.waits if view.booked else 0,
                )
                for each in view.lines
            ],
            "rings": _uses(answer),
            "orders": [
                OrderOut(
                    supplier=order.supplier,
                    postage=money(order.postage_micros),
                    total=money(order.total_micros),
                    packs=[
                        PacksOut(
                            offer_id=int(each.offer),
                            item_id=each.item_id,
                            item=each.name,
                            packs=each.packs,
                            quantity=each.milli / 1000,
                            price=money(each.price_micros),
                            amount=money(each.amount_micros),
                        )
                        for each in order.packs
                    ],
                )
                for order in answer.orders
            ],
            "rests_on": list(answer.rests_on),
            "left_out": list(answer.left_out),
            "booked": view.booked,
            "purchases": [each.id for each in view.purchases],
            "limits_state": view.limits_state,
            "limits": _limits(view.limits, worth) if view.limits is not None and view.limits_state == "done" else None,
            "limits_message": view.limits_ended,
            "created_at": view.created_at,
            "version": view.version,
        }
    )


def _proof(view: PlanView, worth: Callable[[int], MoneyOut | int]) -> ProofOut | None:
    answer = view.answer
    if answer is None or answer.kind != "plan":
        return None
    return ProofOut.model_validate(
        {
            "value": worth(answer.value),
            "bound": worth(answer.bound),
            "gap": float(answer.gap),
            "stopped": answer.stopped,
            "seconds": answer.search_ms / 1000,
        }
    )


def _uses(answer: PlanAnswer) -> list[UseOut]:
    return [
        UseOut(
            item_id=use.item.id,
            item=use.item.name,
            unit=use.item.unit,
            taken=use.taken_milli / 1000,
            bought=use.bought_milli / 1000,
            left=None if use.left_milli is None else use.left_milli / 1000,
            rough=use.rough,
            bags=[BagOut(lot_id=bag.lot_id, place=bag.place, quantity=bag.milli / 1000) for bag in use.bags],
        )
        for use in answer.uses
    ]


_UNITS = {"hours": 3600, "item": 1000, "money": 1_000_000}


def _limits(limits: PlanLimits, worth: Callable[[int], MoneyOut | int]) -> LimitsOut:
    return LimitsOut.model_validate(
        {
            "tried": [
                {
                    "what": each.what,
                    "item_id": each.item.id if each.item else None,
                    "item": each.item.name if each.item else "",
                    "unit": each.unit / _UNITS[each.what],
                    "gain": worth(each.gain),
                    "at_most": worth(each.at_most),
                }
                for each in limits.tried
            ],
            "not_tried": list(limits.not_tried),
        }
    )


def _number(value: Decimal) -> float:
    return float(value.quantize(Decimal("0.001")))
