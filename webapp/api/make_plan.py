"""The best mix under /api: asking for it, waiting for the search or not, and turning its answer into builds."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.intake.faults import Faults
from models.intake.make_plan import GOALS, MOST_SEARCH_S, USUAL_SEARCH_S, read_plan_ask
from models.intake.raw import Reader
from models.operations.clock import now
from models.operations.make_plan import ask_limits, ask_plan, stop_plan
from models.operations.plan_builds import PlanAct, book_plan, start_rest, unbook_plan
from models.queries.make_plan import PlanView, plan_view
from models.queries.plan_answer import PlanAnswer, PlanLimits
from models.queries.shop import currency_of
from models.trade.money import from_micros
from webapp.api.shapes import ANY_NUMBER, MoneyOut, money_out
from webapp.frame.problems import Answer, json_body, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["planning"])
Body = Annotated[dict[str, Any], Depends(read_json)]

SPARE_S = 5
"""How long after its time limit a search may still be waited for: it first counts everything again."""
State = Literal["waiting", "searching", "done", "failed", "broken off"]
CAP_FIELDS: dict[str, object] = {
    "key": {"type": "string", "description": "The key of a row of GET /api/makeable: a design with its choices."},
    "design_id": {"type": "integer", "description": "Instead of a key, for a design without choices."},
    "at_least": {"type": "integer", "minimum": 0},
    "at_most": {"type": "integer", "minimum": 0},
}
ASK_FIELDS: dict[str, object] = {
    "hours": {**ANY_NUMBER, "description": "Hours of work, such as 10, 2.5 or 9:30; no limit when it is left out."},
    "outlet": {"type": "integer", "description": "Where all is sold; each piece where it earns most when left out."},
    "goal": {"type": "string", "enum": list(GOALS)},
    "spend": {**ANY_NUMBER, "description": "Money that may be spent on packs of rings; nothing when it is left out."},
    "lead_days": {"type": "integer", "minimum": 0, "description": "Only packs that are here within so many days."},
    "caps": {
        "type": "array",
        "items": {"type": "object", "properties": CAP_FIELDS},
        "description": "At least and at most so many of single designs.",
    },
    "most_each": {"type": "integer", "minimum": 0, "description": "At most so many of each other design."},
    "different": {"type": "integer", "minimum": 0, "description": "At least so many different designs."},
    "keep_back": {
        "type": "array",
        "items": {"type": "object", "properties": {"item_id": {"type": "integer"}, "quantity": ANY_NUMBER}},
        "description": "What stays in stock, in each item's unit.",
    },
    "allowance": {"type": "string", "enum": ["with", "without"]},
    "search": {
        "type": "integer", "minimum": 1, "maximum": MOST_SEARCH_S,
        "description": f"Seconds after which the search ends with the best it has; {USUAL_SEARCH_S} when left out.",
    },
    "wait": {
        "type": "integer", "minimum": 0, "maximum": MOST_SEARCH_S + SPARE_S,
        "description": (
            "Seconds to wait for the answer: as long as the search may take when it is left out, 0 to be answered "
            "at once. What is not done by then is answered with 202 and the address to look at."
        ),
    },
}  # fmt: skip


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
    stopped: Literal["", "time", "cancelled"]
    seconds: float


class LimitOut(BaseModel):
    """One unit more of something, and what it would bring in the plan's own measure."""

    what: Literal["hours", "item", "money"]
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
    the time ran out before any mix was found, or empty while it is searched.
    """

    id: int
    state: State
    goal: Literal["profit", "sales", "pieces"]
    answer: Literal["", "plan", "unmeetable", "none"]
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
    booked: bool
    purchases: list[int]
    limits_state: Literal["", "waiting", "searching", "done", "failed", "broken off"]
    limits: LimitsOut | None
    created_at: datetime
    version: int


class PlanActOut(BaseModel):
    """What was done with a plan, in words, and whether anything was: a second time does nothing."""

    words: str
    done: bool
    plan: PlanOut


@router.post(
    "/make-plan",
    responses={
        200: {"model": PlanOut, "description": "The search is done."},
        202: {"model": PlanOut, "description": "It goes on; Location says where to look."},
        **problems(400, 409, 415, 422),
    },
    openapi_extra=json_body(ASK_FIELDS),
)
def make_plan(request: Request, body: Body) -> Response:
    """The best mix of designs for hours, stock and money; waits for the search, or for `wait` seconds, else 202."""
    asked: list[int] = []

    def act(session: Session) -> Answer | Faults:
        reader = Reader(body)
        reader.integer("wait", most=MOST_SEARCH_S + SPARE_S, required=False)
        question = read_plan_ask(body)
        faults = reader.faults()
        if isinstance(question, Faults) or faults:
            return Faults((*(question if isinstance(question, Faults) else ()), *(faults or ())))
        plan_id = ask_plan(session, question)
        asked.append(plan_id)
        return Answer({"id": plan_id, "search": question.search_s}, 202, f"/api/make-plan/{plan_id}")

    answer = write_once(request, body, act)
    if answer.status_code != 202:
        return answer
    kept = json.loads(bytes(answer.body))
    plan_id = int(kept["id"])
    planner = request.app.state.planner
    for each in asked:
        planner.search(each)
    wait_s = Reader(body).integer("wait", default=int(kept["search"]) + SPARE_S)
    planner.wait(plan_id, float(wait_s or 0))
    found = _read(request, plan_id)
    done = found.state not in {"waiting", "searching"}
    headers = {name: value for name, value in answer.headers.items() if name in {"location", "idempotency-replayed"}}
    return JSONResponse(found.model_dump(mode="json"), 200 if done else 202, headers)


@router.get("/make-plan/{plan_id}", response_model=PlanOut, responses=problems(404, 422))
def get_plan(request: Request, plan_id: int) -> PlanOut:
    """One plan: how far its search is, or what it found."""
    return _read(request, plan_id)


_ACTS: dict[str, Any] = {
    "responses": {200: {"model": PlanActOut}, **problems(400, 404, 409, 415, 422)},
    "openapi_extra": json_body({}),
}


@router.post("/make-plan/{plan_id}/stop", **_ACTS)
def stop(request: Request, plan_id: int, body: Body) -> Response:
    """Let a search end with the best it has."""

    def does(session: Session, number: int) -> PlanAct:
        stop_plan(session, number)
        return PlanAct(number, "The search ends with the best it has.")

    answer = _act(request, plan_id, body, does)
    request.app.state.planner.stop(plan_id)
    return answer


@router.post("/make-plan/{plan_id}/limits", **_ACTS)
def limits(request: Request, plan_id: int, body: Body) -> Response:
    """Search what one hour or a few rings more would bring; read the plan again for the answer."""
    asked: list[int] = []

    def does(session: Session, number: int) -> PlanAct:
        new = ask_limits(session, number)
        asked.extend([number] if new else [])
        return PlanAct(number, "It is being found out what limits this plan." if new else "That is known already.", new)

    answer = _act(request, plan_id, body, does)
    for number in asked:
        request.app.state.planner.search(number, limits=True)
    return answer


@router.post("/make-plan/{plan_id}/builds", **_ACTS)
def book(request: Request, plan_id: int, body: Body) -> Response:
    """Start the builds of a plan and draft its purchases; asked a second time it does nothing."""
    return _act(request, plan_id, body, book_plan)


@router.post("/make-plan/{plan_id}/rest", **_ACTS)
def rest(request: Request, plan_id: int, body: Body) -> Response:
    """Start what had to wait for its rings."""
    return _act(request, plan_id, body, start_rest)


@router.post("/make-plan/{plan_id}/undo", **_ACTS)
def undo(request: Request, plan_id: int, body: Body) -> Response:
    """Take the builds and purchases of a plan back."""
    return _act(request, plan_id, body, unbook_plan)


def _act(request: Request, plan_id: int, body: Body, does: Callable[[Session, int], PlanAct]) -> Response:
    def act(session: Session) -> Answer:
        done = does(session, plan_id)
        plan = _plan(plan_view(session, plan_id, now=now()), currency_of(session))
        return Answer({"words": done.words, "done": done.done, "plan": plan.model_dump(mode="json")})

    return write_once(request, body, act)


def _read(request: Request, plan_id: int) -> PlanOut:
    with request.app.state.store.reading() as session:
        return _plan(plan_view(session, plan_id, now=now()), currency_of(session))


def _plan(view: PlanView, currency: str) -> PlanOut:
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
            "message": answer.message,
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
            "booked": view.booked,
            "purchases": [each.id for each in view.purchases],
            "limits_state": view.limits_state,
            "limits": None if view.limits is None else _limits(view.limits, worth),
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
