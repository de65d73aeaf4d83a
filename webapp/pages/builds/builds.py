"""The Builds room: the list, starting a build, its page, taking out, the stop-watch, taking back, and its papers.

Pieces that were made already are booked in `build_made`; finishing, giving up and unpicking stand in `build_finish`.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Query, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.builds.build import read_start, read_take_out
from models.intake.stock.label import read_paper_request
from models.operations.builds import start as operations
from models.operations.builds.undo import undo_build
from models.queries.builds.build import build_view
from models.queries.builds.list import BuildRow, build_list
from models.queries.builds.sheet import build_sheet
from models.queries.stock.cost_correction import build_off
from webapp.pages.builds.forms import (
    asked_values,
    fields_of,
    line_rows,
    line_values,
    look,
    none_free,
    plan_rows,
    plan_values,
)
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.labels import PAPER_CHOICES, code_address, lay_out
from webapp.web.numbers import Whole
from webapp.web.qr import qr_path
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()
USUAL_KIT_PAPER = "roll-62x29"


@router.get("/builds")
def list_page(request: Request, page: Annotated[int, Query(ge=1, le=100_000)] = 1) -> Response:
    """What is under way, and what was made at what cost."""
    view = build_list(reading(request), page)
    return render(request, "builds/list.html", view, form=Form.blank({"pieces": 1}))


@router.get("/builds/new")
def start_page(request: Request) -> Response:
    """What a build would take from where, before it is started."""
    return _start(request, read_address(request), None)


@router.post("/builds/new")
@submits(lambda request, raw, form: _start(request, raw, form))
def start(session: Session, raw: RawForm) -> Done:
    """Start a build: what it needs is reserved."""
    draft = fit(read_start(fields_of(raw)))
    return done_with(operations.start_build(session, draft))


@router.get("/builds/{build_id}")
def build_page(request: Request, build_id: int) -> Response:
    """One build: what there is to do, or what it cost."""
    return show(request, build_id, None)


@router.post("/builds/{build_id}/take-out")
@submits(lambda request, build_id, form: show(request, build_id, form))
def take_out(session: Session, build_id: int, raw: RawForm) -> Done:
    """Take the rings out of their bags."""
    draft = fit(read_take_out(fields_of(raw)))
    done = operations.take_out(session, build_id, draft, version=raw.version)
    return done_with(done, said="The rings are out of their bags.")


@router.post("/builds/{build_id}/watch")
@submits(lambda request, build_id, form: show(request, build_id, form))
def watch(session: Session, build_id: int, raw: RawForm) -> Done:
    """Let the stop-watch run, stop it, or set it back."""
    acts = {"start": operations.start_watch, "stop": operations.stop_watch, "clear": operations.clear_watch}
    acts.get(raw.get("do"), operations.stop_watch)(session, build_id)
    return Done(f"/builds/{build_id}#watch")


@router.post("/builds/{build_id}/undo")
@submits(lambda request, build_id, form: show(request, build_id, form))
def undo(session: Session, build_id: int, raw: RawForm, version: Whole | None = None) -> Done:
    """Take back the latest thing that was done with a build; `version` is that of the page that offered it."""
    seen = version if raw.version is None else raw.version
    done = undo_build(session, build_id, version=seen)
    return Done("/builds" if done.gone else f"/builds/{build_id}", done.words)


@router.get("/builds/{build_id}/sheet")
def sheet_page(request: Request, build_id: int) -> Response:
    """The work sheet, for paper."""
    view = build_sheet(reading(request), build_id)
    return render(request, "builds/sheet.html", view, qr=qr_path(_address(request, build_id)))


@router.get("/builds/{build_id}/label")
def label_page(request: Request, build_id: int, what: str = "kit") -> Response:
    """The label of the kit, or one for each of its bags, on a small label or on a sheet."""
    raw = read_address(request)
    question, faults = read_paper_request(raw.raw(), usual=USUAL_KIT_PAPER)
    view = build_sheet(reading(request), build_id)
    of_bags = what == "bags"
    asked = Form.sent(raw, faults)
    return render(
        request,
        "builds/label.html",
        view,
        status=asked.status,
        of_bags=of_bags,
        laid=lay_out(view.lines if of_bags else (view,), question),
        papers=PAPER_CHOICES,
        qr=qr_path(_address(request, build_id)),
        asked=asked,
    )


def show(request: Request, build_id: int, form: Form | None) -> Response:
    """The page of one build; `form` where something was refused."""
    session = reading(request)
    view = build_view(session, build_id)
    off = build_off(session, build_id)
    fresh = Form.blank({"lines": line_values(view.lines)}, version=view.row.version)
    seconds = watch_seconds(view.row)
    return render(
        request,
        "builds/show.html",
        view,
        form=form,
        fresh=form or fresh,
        rows=line_rows(view.lines),
        off=off,
        watch=seconds,
        watch_words=f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}",
    )


def watch_seconds(row: BuildRow) -> int:
    """What the stop-watch shows at this moment, in whole seconds."""
    running = (datetime.now(UTC) - row.timer_started_at).total_seconds() if row.timer_started_at else 0
    return row.timed_milli * 60 // 1000 + int(running)


def done_with(done: operations.BuildAct, *, said: str = "") -> Done:
    """Back to the build's page, which says what was done and offers to take it back."""
    undo_path = f"/builds/{done.build_id}/undo?version={done.version}"
    return Done(f"/builds/{done.build_id}", said or done.words, undo_path)


def _address(request: Request, build_id: int) -> str:
    """Where the build's page is, for a phone that reads it from paper."""
    return f"{code_address(request).base}builds/{build_id}"


def _start(request: Request, raw: RawForm, form: Form | None) -> Response:
    """The page that starts a build: first the design, then what it takes."""
    spare = raw.get("spare") == "yes"
    looked = look(request, raw, spare=spare)
    asking = Form.sent(raw, looked.faults)
    if form is None and looked.plan is not None and looked.ask is not None:
        form = Form.blank({**asked_values(looked.ask), "spare": spare, "lines": plan_values(looked.plan)})
    return render(
        request,
        "builds/start.html",
        looked.plan,
        block="plan",
        status=(form or asking).status,
        form=form,
        asking=asking,
        looked=looked,
        spare=spare,
        changed=bool(raw.token),
        rows=plan_rows(request, looked.plan, form),
        none_free=none_free(looked.plan),
    )
