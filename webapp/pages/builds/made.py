"""Pieces that were made already, booked in one act; and rings that are taken out before there is a design."""

from __future__ import annotations

from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Conflict, fit
from models.intake.builds.build import read_made, read_new_design, read_rings_first
from models.operations.builds import rings_first
from models.operations.builds.made import book_made
from models.queries.builds.build import build_view
from models.queries.builds.list import open_builds
from models.queries.builds.rings_first import bags_to_take
from models.trade.weaves import WEAVES
from webapp.pages.builds.builds import done_with
from webapp.pages.builds.forms import (
    asked_values,
    fields_of,
    look,
    none_free,
    over,
    plan_rows,
    plan_values,
    precious,
    units,
)
from webapp.web.acting import Done, Sent, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import submit_once

router = APIRouter()
BESIDE = "beside"
"""The builds of the design under way that the form showed, so that nobody takes a second set of rings unasked."""
QUICK = "quick"
"""What a form sends that shows no bags and no choices: the design's own quantities are meant."""
ROWS_TO_TAKE = 6
WEAVE_CHOICES = (("", "no weave"), *((weave.code, weave.name) for weave in WEAVES.values()))


@router.get("/builds/made")
def made_page(request: Request) -> Response:
    """What pieces that were made already took, to be changed where it was otherwise."""
    return _made(request, read_address(request), None)


@router.post("/builds/made")
def made(request: Request, raw: Sent) -> Response:
    """Book pieces in that were made: start, take-out and finish in one act."""
    if QUICK in raw and "choice" not in raw:
        plan = look(request, raw).plan
        if plan is not None and plan.parts.choices:
            kept = [(name, value) for name, value in raw.items if name in {"design_id", "pieces", "minutes"} and value]
            return RedirectResponse(f"/builds/made?{urlencode(kept)}", status_code=303)

    def act(session: Session) -> Done:
        draft = fit(read_made(fields_of(raw)))
        unseen = _unseen(session, draft.ask.design_id, raw.get(BESIDE))
        if unseen:
            raise Conflict(f"{unseen} Book that in instead, or book these beside it: look below.")
        return done_with(book_made(session, draft))

    return submit_once(request, raw, act, show_again=lambda form: _made(request, raw, form))


@router.get("/builds/take")
def take_page(request: Request) -> Response:
    """Take rings out for a piece that has no design yet."""
    return _take(request, None)


@router.post("/builds/take")
@submits(lambda request, form: _take(request, form))
def take(session: Session, raw: RawForm) -> Done:
    """Take them out."""
    draft = fit(read_rings_first(_rows_that_say(raw)))
    return done_with(rings_first.take_rings(session, draft))


@router.get("/builds/{build_id}/design")
def design_page(request: Request, build_id: int) -> Response:
    """Make a design of the rings that are out."""
    return _design(request, build_id, None)


@router.post("/builds/{build_id}/design")
@submits(lambda request, build_id, form: _design(request, build_id, form))
def make_design(session: Session, build_id: int, raw: RawForm) -> Done:
    """Keep it."""
    draft = fit(read_new_design(fields_of(raw)))
    rings_first.design_of_rings(session, build_id, draft, version=raw.version)
    return Done(f"/builds/{build_id}", f"{draft.name} is a design now, and this build makes it.")


def _unseen(session: Session, design_id: int, beside: str) -> str:
    """What is under way of the design that the form did not show, in words; empty when all of it was seen."""
    seen = set(beside.split(","))
    unseen = [row for row in open_builds(session, design_id) if str(row.id) not in seen]
    if not unseen:
        return ""
    first = unseen[0]
    many = f"{first.pieces} {'piece is' if first.pieces == 1 else 'pieces are'}"
    rings = "its rings are out of their bags" if first.state == "making" else "rings are kept for it"
    return f"{many} of this design under way already in build {first.id}, and {rings}."


def _made(request: Request, raw: RawForm, form: Form | None) -> Response:
    typed = raw.get("spoiled")
    more = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 5 else 0
    looked = look(request, raw, more=more)
    asking = Form.sent(raw, looked.faults)
    if looked.plan is not None and looked.ask is not None and (form is None or not form.rows("lines")):
        # A short form shows no bags; after a refusal the whole form comes, with what was typed in it.
        values = {
            **asked_values(looked.ask), "spoiled": typed, "minutes": raw.get("minutes"),
            "keep_scrap": True,
            "lines": plan_values(looked.plan),
        }  # fmt: skip
        form = over(form, Form.blank(values))
    return render(
        request,
        "builds/made.html",
        looked.plan,
        block="plan",
        status=(form or asking).status,
        form=form,
        asking=asking,
        looked=looked,
        rows=plan_rows(request, looked.plan, form),
        none_free=none_free(looked.plan),
        precious=precious(one.item for one in looked.plan.items) if looked.plan else False,
    )


def _rows_that_say(raw: RawForm) -> dict[str, object]:
    """The form without the rows that were left empty."""
    found = fields_of(raw)
    rows = found.get("lines")
    if isinstance(rows, list):
        found["lines"] = [row for row in rows if str(row.get("bag") or "") or str(row.get("used") or "")]
    return found


def _take(request: Request, form: Form | None) -> Response:
    view = bags_to_take(reading(request))
    blank = Form.blank({"lines": [{"bag": "", "used": ""} for _ in range(ROWS_TO_TAKE)]})
    choices = [(one.value, one.words) for one in view]
    return render(request, "builds/take.html", view, form=form or blank, choices=choices)


def _design(request: Request, build_id: int, form: Form | None) -> Response:
    view = build_view(reading(request), build_id)
    taken: dict[int, int] = {}
    for line in view.lines:
        taken[line.item.id] = taken.get(line.item.id, 0) + line.taken_milli
    values = {"lines": [{"item_id": item_id, "used": units(milli)} for item_id, milli in taken.items()]}
    items = {line.item.id: line for line in view.lines}
    return render(
        request,
        "builds/design.html",
        view,
        form=form or Form.blank(values, version=view.row.version),
        taken=[(n, items[item_id], milli) for n, (item_id, milli) in enumerate(taken.items())],
        weaves=WEAVE_CHOICES,
    )
