"""The best mix under /api: asking for it, waiting for the search or not, and turning its answer into builds."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.errors import fit_both
from models.intake.planning.make_plan import MOST_SEARCH_S, USUAL_SEARCH_S, read_plan_request
from models.intake.raw import Reader
from models.operations.planning.make_plan import ask_limits, ask_plan, stop_plan
from models.operations.planning.plan_builds import PlanAct, book_plan, start_rest, unbook_plan
from models.operations.shop.clock import now
from models.queries.planning.make_plan import plan_view
from models.queries.shop.shop import currency_of
from models.trade.vocabulary.plans import ALLOWANCES, GOALS, UNSETTLED
from webapp.api.planning.shapes import PlanOut, plan_out
from webapp.api.shapes import ANY_NUMBER
from webapp.web.acting import writes
from webapp.web.json_api import Answer, json_body, problems, read_json, write_once
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["planning"])
Body = Annotated[dict[str, Any], Depends(read_json)]

SPARE_S = 5
"""How long after its time limit a search may still be waited for: it first counts everything again."""
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
    "allowance": {"type": "string", "enum": list(ALLOWANCES)},
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

    def act(session: Session) -> Answer:
        reader = Reader(body)
        reader.integer("wait", most=MOST_SEARCH_S + SPARE_S, required=False)
        question, _ = fit_both(read_plan_request(body), reader.faults())
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
    done = found.state not in UNSETTLED
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

    def act(session: Session) -> Answer:
        stop_plan(session, plan_id)
        return _done(session, PlanAct(plan_id, "The search ends with the best it has."))

    answer = write_once(request, body, act)
    request.app.state.planner.stop(plan_id)
    return answer


@router.post("/make-plan/{plan_id}/limits", **_ACTS)
def limits(request: Request, plan_id: int, body: Body) -> Response:
    """Search what one hour or a few rings more would bring; read the plan again for the answer."""
    asked: list[int] = []

    def act(session: Session) -> Answer:
        new = ask_limits(session, plan_id)
        asked.extend([plan_id] if new else [])
        said = "It is being found out what limits this plan." if new else "That is known already."
        return _done(session, PlanAct(plan_id, said, new))

    answer = write_once(request, body, act)
    for number in asked:
        request.app.state.planner.search(number, limits=True)
    return answer


@router.post("/make-plan/{plan_id}/builds", **_ACTS)
@writes
def book(session: Session, plan_id: int) -> Answer:
    """Start the builds of a plan and draft its purchases; asked a second time it does nothing."""
    return _done(session, book_plan(session, plan_id))


@router.post("/make-plan/{plan_id}/rest", **_ACTS)
@writes
def rest(session: Session, plan_id: int) -> Answer:
    """Start what had to wait for its rings."""
    return _done(session, start_rest(session, plan_id))


@router.post("/make-plan/{plan_id}/undo", **_ACTS)
@writes
def undo(session: Session, plan_id: int) -> Answer:
    """Take the builds and purchases of a plan back."""
    return _done(session, unbook_plan(session, plan_id))


def _done(session: Session, act: PlanAct) -> Answer:
    plan = plan_out(plan_view(session, act.plan_id, now=now()), currency_of(session))
    return Answer({"words": act.words, "done": act.done, "plan": plan.model_dump(mode="json")})


def _read(request: Request, plan_id: int) -> PlanOut:
    session = reading(request)
    return plan_out(plan_view(session, plan_id, now=now()), currency_of(session))
