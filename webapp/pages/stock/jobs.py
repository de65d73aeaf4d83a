"""Jobs: rings made from wire, and bags turned into another finish or colour. What they cost lives in `models`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Unfit, fit
from models.intake.faults import Faults
from models.intake.stock.job import read_coil_job, read_coil_request, read_process_job
from models.intake.stock.offer import from_milli
from models.operations.stock.coil_job import make_rings
from models.operations.stock.job import JobDone, measure_coil
from models.operations.stock.process_job import process_lot
from models.queries.stock.coil_plan import CoilPlan, coil_plan
from models.queries.stock.job import job_view, jobs, process_page, wires
from models.queries.stock.ledger import act_view
from models.queries.stock.room import place_names
from models.trade.measures import exact_text, parse_inner
from models.trade.typed import Unreadable
from models.trade.vocabulary.bench import PROCESSES
from models.trade.workshop import CHECK_LOCALLY
from webapp.pages.stock.bags import choose_bag, is_emptied, place_named
from webapp.web.acting import Done, Sent, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.numbers import Whole
from webapp.web.prefs import prefs_of
from webapp.web.preview import asked, changed_since_look, is_booking, mark_of, shown, status_of_look, tried
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import submit_once

router = APIRouter()
PLAN_FIELDS = (
    "wire_id", "mandrel", "inner", "rings", "temper", "cutting", "kerf", "mandrel_length", "end_turns", "end_waste",
    "spare", "expected_minutes",
)  # fmt: skip


@router.get("/stock/jobs")
def jobs_page(request: Request, before: Whole | None = None) -> Response:
    """What was made at the bench, newest first."""
    view = jobs(reading(request), before=before)
    return render(request, "stock/jobs.html", view, process_words=dict(PROCESSES.choices))


@router.get("/stock/jobs/{job_id}")
def job_page(request: Request, job_id: int) -> Response:
    """One job: what went in, what came out, what it cost."""
    return _job(request, job_id, None)


@router.post("/stock/jobs/{job_id}/measure")
@submits(lambda request, job_id, form: _job(request, job_id, form))
def measure(session: Session, request: Request, job_id: int, raw: RawForm) -> Done:
    """Keep how wide a coil was inside, off its mandrel."""
    unit = prefs_of(request).length_unit
    typed = raw.get("measured_inner").strip()
    try:
        inner_nm = parse_inner(typed, default_unit=unit, shape=raw.shape).nm if typed else None
    except Unreadable as unreadable:
        raise Unfit(Faults.of("measured_inner", unreadable.message)) from unreadable
    measure_coil(session, job_id, inner_nm)
    said = "The measure is kept; the next coils are foreseen by it." if inner_nm else "The measure is forgotten."
    return Done(f"/stock/jobs/{job_id}", said)


@router.get("/stock/make-rings")
def plan_page(request: Request) -> Response:
    """Plan a batch of rings, and book it once it is made."""
    raw = read_address(request)
    return _coil(request, raw, None)


@router.post("/stock/make-rings")
def make(request: Request, raw: Sent) -> Response:
    """Look at a batch that was made, or book it as it was seen."""
    fields = raw.raw()
    plan = read_address(request)
    if is_booking(raw, fields):

        def act(session: Session) -> Done:
            done = _made(session, fields, prefs_of(request).length_unit)
            return Done(f"/stock/items/{done.item_id}", done.words, f"/stock/acts/{done.act_id}/undo")

        return submit_once(request, raw, act, show_again=lambda form: _coil(request, plan, form))
    unit = prefs_of(request).length_unit
    found = tried(request, lambda session: _made(session, fields, unit))
    return _coil(request, plan, shown(raw, found), looked=found, fields=fields, changed=changed_since_look(raw, fields))


@router.get("/stock/process")
def process_form(request: Request, lot: Whole, place: str | None = None, process: str = "") -> Response:
    """The form of a bag that is turned into another finish or colour."""
    where = place_named(request, lot, place)
    if where is None:
        return choose_bag(lot)
    known = process if process in PROCESSES else ""
    return _process(request, lot, where, Form.blank({"process": known}))


@router.post("/stock/process")
def process(request: Request, lot: Whole, raw: Sent, place: str | None = None) -> Response:
    """Look at what became of a bag, or book it as it was seen."""
    fields, where = raw.raw(), place_named(request, lot, place)
    if where is None:
        return choose_bag(lot)

    def done(session: Session) -> JobDone:
        return process_lot(session, replace(fit(read_process_job({**fields, "lot_id": lot})), place=where))

    if is_booking(raw, fields):

        def act(session: Session) -> Done:
            booked = done(session)
            return Done(f"/stock/items/{booked.item_id}", booked.words, f"/stock/acts/{booked.act_id}/undo")

        return submit_once(request, raw, act, show_again=lambda form: _process(request, lot, where, form))
    found = tried(request, done)
    return _process(
        request,
        lot,
        where,
        shown(raw, found),
        looked=found,
        fields=fields,
        changed=changed_since_look(raw, fields),
    )


def _made(session: Session, fields: Mapping[str, object], length_unit: str) -> JobDone:
    return make_rings(session, fit(read_coil_job(fields, length_unit=length_unit)), length_unit=length_unit)


def _job(request: Request, job_id: int, form: Form | None) -> Response:
    session = reading(request)
    view = job_view(session, job_id)
    act = act_view(session, view.act_id)
    known = {"measured_inner": exact_text(view.measured_inner_nm) if view.measured_inner_nm else ""}
    return render(
        request,
        "stock/job.html",
        view,
        form=form or Form.blank(known),
        act=act,
        process_words=dict(PROCESSES.choices),
    )


def _coil(
    request: Request,
    raw: RawForm,
    form: Form | None,
    *,
    looked: JobDone | Faults | None = None,
    fields: Mapping[str, object] | None = None,
    changed: bool = False,
) -> Response:
    """The page of a batch: the plan as the address asks for it, and what was made of it."""
    typed = RawForm(tuple(item for item in raw.items if item[0] in PLAN_FIELDS))
    said = any(value.strip() for name, value in typed.items if name not in {"wire_id", "cutting", "temper"})
    session = reading(request)
    options = wires(session)
    plan = asked(session, lambda session: _planned(session, typed, prefs_of(request).length_unit)) if said else None
    places = place_names(session)
    first = {"cutting": "saw", "end_turns": "1", "wire_id": typed.get("wire_id")}
    asked_form = Form.sent(typed, plan if isinstance(plan, Faults) else None, status=200) if said else Form.blank(first)
    found = plan if isinstance(plan, CoilPlan) else None
    status = 422 if isinstance(plan, Faults) else status_of_look(request, looked)
    return render(
        request,
        "stock/make_rings.html",
        found,
        block="looked" if fields is not None else "plan",
        form=form or Form.blank(_made_of(found)),
        status=status,
        asked=asked_form,
        plan_fields=PLAN_FIELDS,
        wires=options,
        places=places,
        looked=looked if isinstance(looked, JobDone) else None,
        seen=mark_of(fields) if fields is not None else "",
        changed=changed,
        query=urlencode([item for item in typed.items if item[1].strip()]),
        work_cautions=(),
        check_locally=CHECK_LOCALLY,
    )


def _planned(session: Session, typed: RawForm, length_unit: str) -> CoilPlan:
    return coil_plan(session, fit(read_coil_request(typed.raw(), length_unit=length_unit)))


def _made_of(plan: CoilPlan | None) -> dict[str, object]:
    """What stands in the form of what was made: the plan's own figures."""
    if plan is None:
        return {}
    near = plan.near[0] if plan.near else None
    close = near is not None and near.inner_off_nm <= plan.finished.inner_nm // 50
    minutes = plan.question.minutes_milli
    return {
        "wire_id": plan.wire.id,
        "made": plan.question.rings,
        "used": f"{_plain(plan.needed_milli)} {plan.wire.unit}",
        "wound_on": exact_text(plan.mandrel_nm // 1000 * 1000),
        "ring_id": near.id if near is not None and close else "",
        "new_inner": "" if close else exact_text(round(plan.finished.inner_nm, -4)),
        "minutes": "" if minutes is None else format(Decimal(minutes).scaleb(-3).normalize(), "f"),
    }


def _plain(milli: int) -> str:
    return format(from_milli(milli), "f")


def _process(
    request: Request,
    lot_id: int,
    place: str,
    form: Form,
    *,
    looked: JobDone | Faults | None = None,
    fields: Mapping[str, object] | None = None,
    changed: bool = False,
) -> Response:
    if is_emptied(request, lot_id, place):
        return choose_bag(lot_id, emptied=place)
    session = reading(request)
    view = process_page(session, lot_id, place)
    places = place_names(session)
    chosen = form.value("process")
    return render(
        request,
        "stock/process.html",
        view,
        block="looked" if fields is not None else None,
        form=form,
        status=status_of_look(request, looked) or form.status,
        processes=PROCESSES.choices,
        work_cautions=view.cautions.get(chosen, ()),
        process_words=dict(PROCESSES.choices),
        places=places,
        looked=looked if isinstance(looked, JobDone) else None,
        seen=mark_of(fields) if fields is not None else "",
        changed=changed,
        query=urlencode({"lot": lot_id, "place": place}),
        check_locally=CHECK_LOCALLY,
    )
