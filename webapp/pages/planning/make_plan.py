"""The best mix: asking for it, watching the search, its answer, and turning that into builds and purchases."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from sqlmodel import Session
from starlette.responses import RedirectResponse, Response

from models.intake.faults import Faults
from models.intake.planning.make_plan import MOST_SEARCH_S, PlanRequest, raw_of, read_plan_request
from models.operations.planning.make_plan import ask_again, ask_limits, ask_plan, stop_plan
from models.operations.planning.plan_builds import PlanAct, book_plan, start_rest, unbook_plan
from models.operations.shop.clock import now
from models.queries.planning.make_plan import PlanView, ask_page, plan_view
from models.trade.vocabulary.plans import GOALS
from webapp.planner import Planner
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.reading import reading
from webapp.web.render import is_htmx, render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]

SEARCH_CHOICES = (("5", "5 seconds"), ("10", "10 seconds"), ("30", "30 seconds"), (str(MOST_SEARCH_S), "1 minute"))
EMPTY_ROWS = 3


@router.get("/makeable/plan")
def ask_form(request: Request, like: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None) -> Response:
    """The question: hours, outlet, wishes; with what was asked of an earlier plan, and the latest plans."""
    return _form(request, None, like)


@router.post("/makeable/plan")
def ask(request: Request, sent: Sent) -> Response:
    """Ask for the best mix; the search goes on in the background."""
    asked: list[int] = []

    def act(session: Session) -> Done | Faults:
        question = read_plan_request(sent.raw())
        if isinstance(question, Faults):
            return question
        asked.append(ask_plan(session, question))
        return Done(f"/makeable/plan/{asked[0]}")

    answer = submit_once(request, sent, act, show_again=lambda form: _form(request, form, None))
    return _searching(request, answer, asked)


@router.get("/makeable/plan/{plan_id}")
def plan_page(request: Request, plan_id: int) -> Response:
    """One plan: how far its search is, or what it found and what became of it."""
    return _show(request, plan_id, None)


@router.get("/makeable/plan/{plan_id}/progress")
def progress(request: Request, plan_id: int) -> Response:
    """How far a search is, for the page that waits for it; once it is done that page is told to open anew."""
    view = plan_view(reading(request), plan_id, now=now())
    if view.running and is_htmx(request):
        return render(request, "planning/plan.html", view, block="progress", goal_words="")
    if view.limits_running and is_htmx(request):
        return Response(status_code=204)
    if is_htmx(request):
        return Response(status_code=204, headers={"HX-Refresh": "true"})
    return RedirectResponse(f"/makeable/plan/{plan_id}", status_code=303)


@router.post("/makeable/plan/{plan_id}/stop")
def stop(request: Request, plan_id: int, sent: Sent) -> Response:
    """End a search with the best it has."""

    def act(session: Session) -> Done:
        stop_plan(session, plan_id)
        return Done(f"/makeable/plan/{plan_id}")

    answer = submit_once(request, sent, act, show_again=lambda form: _show(request, plan_id, form))
    planner: Planner = request.app.state.planner
    planner.stop(plan_id)
    planner.wait(plan_id, 1.0)
    return answer


@router.post("/makeable/plan/{plan_id}/again")
def again(request: Request, plan_id: int, sent: Sent) -> Response:
    """Ask the same of the shop as it is now."""
    asked: list[int] = []

    def act(session: Session) -> Done:
        asked.append(ask_again(session, plan_id))
        return Done(f"/makeable/plan/{asked[0]}")

    answer = submit_once(request, sent, act, show_again=lambda form: _show(request, plan_id, form))
    return _searching(request, answer, asked)


@router.post("/makeable/plan/{plan_id}/limits")
def limits(request: Request, plan_id: int, sent: Sent) -> Response:
    """Find out what one hour, or a few rings more, would bring."""
    asked: list[int] = []

    def act(session: Session) -> Done:
        if ask_limits(session, plan_id):
            asked.append(plan_id)
        return Done(f"/makeable/plan/{plan_id}#limits")

    answer = submit_once(request, sent, act, show_again=lambda form: _show(request, plan_id, form))
    return _searching(request, answer, asked, limits=True)


@router.post("/makeable/plan/{plan_id}/book")
def book_it(request: Request, plan_id: int, sent: Sent) -> Response:
    """Turn the plan into builds and purchases."""
    return _act(request, plan_id, sent, book_plan, undo=True)


@router.post("/makeable/plan/{plan_id}/rest")
def rest(request: Request, plan_id: int, sent: Sent) -> Response:
    """Start what had to wait for its rings."""
    return _act(request, plan_id, sent, start_rest)


@router.post("/makeable/plan/{plan_id}/undo")
def undo(request: Request, plan_id: int, sent: Sent) -> Response:
    """Take the builds and purchases of a plan back."""
    return _act(request, plan_id, sent, unbook_plan)


def _act(
    request: Request, plan_id: int, sent: RawForm, does: Callable[[Session, int], PlanAct], *, undo: bool = False
) -> Response:
    def act(session: Session) -> Done:
        done = does(session, plan_id)
        path = f"/makeable/plan/{plan_id}"
        return Done(path, done.words, f"{path}/undo" if undo and done.done else "")

    return submit_once(request, sent, act, show_again=lambda form: _show(request, plan_id, form))


def _searching(request: Request, answer: Response, asked: list[int], *, limits: bool = False) -> Response:
    """Begin the search once the question is kept; a form that was sent twice asked nothing the second time."""
    if answer.status_code == 303:
        for plan_id in asked:
            request.app.state.planner.search(plan_id, limits=limits)
    return answer


def _form(request: Request, form: Form | None, like: int | None) -> Response:
    session = reading(request)
    view = ask_page(session, now=now())
    known = plan_view(session, like, now=now()).ask if like is not None and form is None else PlanRequest()
    if form is None:
        values = dict(raw_of(known))
        for name in ("caps", "keep_back"):
            rows = values[name]
            values[name] = [*rows, *_EMPTY[name]] if isinstance(rows, list) else []
        form = Form.blank(values)
    return render(
        request,
        "planning/ask.html",
        view,
        form=form,
        goals=tuple(GOALS.items()),
        searches=SEARCH_CHOICES,
        any_caps=any(form.value(f"caps.{n}.key") or form.fault(f"caps.{n}.key") for n in form.rows("caps")),
        any_kept=any(form.value(f"keep_back.{n}.item_id") for n in form.rows("keep_back")),
    )


_EMPTY: dict[str, list[dict[str, str]]] = {
    "caps": [{"key": "", "at_least": "", "at_most": ""}] * EMPTY_ROWS,
    "keep_back": [{"item_id": "", "quantity": ""}] * EMPTY_ROWS,
}


def _show(request: Request, plan_id: int, form: Form | None) -> Response:
    view: PlanView = plan_view(reading(request), plan_id, now=now())
    goal = GOALS.term(view.ask.goal).says
    return render(request, "planning/plan.html", view, form=form, goal_words=goal)
