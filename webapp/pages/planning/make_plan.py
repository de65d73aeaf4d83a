"""The best mix: asking for it, watching the search, its answer, and turning that into builds and purchases."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Request
from sqlmodel import Session
from starlette.responses import RedirectResponse, Response

from models.errors import fit
from models.intake.planning.make_plan import MOST_SEARCH_S, PlanRequest, raw_of, read_plan_request
from models.operations.planning.make_plan import ask_again, ask_limits, ask_plan, stop_plan
from models.operations.planning.plan_builds import book_plan, start_rest, unbook_plan
from models.operations.shop.clock import now
from models.queries.planning.make_plan import PlanView, ask_page, plan_view
from models.trade.vocabulary.plans import GOALS
from webapp.planner import Planner
from webapp.web.acting import submits
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
@submits(lambda request, form: _form(request, form, None))
def ask(session: Session, request: Request, raw: RawForm) -> Done:
    """Ask for the best mix; the search goes on in the background."""
    plan_id = ask_plan(session, fit(read_plan_request(raw.raw())))
    return Done(f"/makeable/plan/{plan_id}", after=_search(request, plan_id))


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
def stop(request: Request, plan_id: int, raw: Sent) -> Response:
    """End a search with the best it has."""

    def act(session: Session) -> Done:
        stop_plan(session, plan_id)
        return Done(f"/makeable/plan/{plan_id}")

    answer = submit_once(request, raw, act, show_again=lambda form: _show(request, plan_id, form))
    planner: Planner = request.app.state.planner
    planner.stop(plan_id)
    planner.wait(plan_id, 1.0)
    return answer


@router.post("/makeable/plan/{plan_id}/again")
@submits(lambda request, plan_id, form: _show(request, plan_id, form))
def again(session: Session, request: Request, plan_id: int) -> Done:
    """Ask the same of the shop as it is now."""
    new_id = ask_again(session, plan_id)
    return Done(f"/makeable/plan/{new_id}", after=_search(request, new_id))


@router.post("/makeable/plan/{plan_id}/limits")
@submits(lambda request, plan_id, form: _show(request, plan_id, form))
def limits(session: Session, request: Request, plan_id: int) -> Done:
    """Find out what one hour, or a few rings more, would bring."""
    new = ask_limits(session, plan_id)
    return Done(f"/makeable/plan/{plan_id}#limits", after=_search(request, plan_id, limits=True) if new else None)


@router.post("/makeable/plan/{plan_id}/book")
@submits(lambda request, plan_id, form: _show(request, plan_id, form))
def book_it(session: Session, plan_id: int) -> Done:
    """Turn the plan into builds and purchases."""
    done = book_plan(session, plan_id)
    path = f"/makeable/plan/{plan_id}"
    return Done(path, done.words, f"{path}/undo" if done.done else "")


@router.post("/makeable/plan/{plan_id}/rest")
@submits(lambda request, plan_id, form: _show(request, plan_id, form))
def rest(session: Session, plan_id: int) -> Done:
    """Start what had to wait for its rings."""
    return Done(f"/makeable/plan/{plan_id}", start_rest(session, plan_id).words)


@router.post("/makeable/plan/{plan_id}/undo")
@submits(lambda request, plan_id, form: _show(request, plan_id, form))
def undo(session: Session, plan_id: int) -> Done:
    """Take the builds and purchases of a plan back."""
    return Done(f"/makeable/plan/{plan_id}", unbook_plan(session, plan_id).words)


def _search(request: Request, plan_id: int, *, limits: bool = False) -> Callable[[Response], None]:
    """What begins the search once its question is kept."""
    planner: Planner = request.app.state.planner
    return lambda _answer: planner.search(plan_id, limits=limits)


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
