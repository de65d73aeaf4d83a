"""Correcting what a receipt cost: what that changes, and what left at the old cost, is shown before it is booked."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.faults import Fault, Faults
from models.intake.stock.cost_correction import CostCorrectionDraft, read_cost_correction
from models.operations.stock.cost_correction import CostLook, correct_cost, look_at_cost
from models.queries.stock.cost_correction import receipt_view
from models.trade.vocabulary.ledger import COSTS
from webapp.pages.stock.words import cost_field
from webapp.web.acting import renamed
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.preview import DO_FIELD, SEEN_FIELD, asked, is_booking, mark_of, shown, status_of_look
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]
COSTS_OF_LOTS = tuple((code, words) for code, words in COSTS.items() if code != "pack")
"""What a lot's cost may be of: which packs it came in is not kept."""


@router.get("/stock/receipts/{act_id}/cost")
def cost_page(request: Request, act_id: int) -> Response:
    """The form of what a receipt really cost."""
    return _page(request, act_id, Form.blank())


@router.post("/stock/receipts/{act_id}/cost")
def correct(request: Request, act_id: int, raw: Sent) -> Response:
    """Look at what another cost changes, or book it as it was seen."""
    fields = _typed(raw)
    if raw.get(DO_FIELD) != "book" or not raw.get(SEEN_FIELD):
        return _look(request, act_id, raw, fields)

    def act(session: Session) -> Done:
        draft = _read(fields)
        if not is_booking(raw, _seen(fields, _looked(session, act_id, fields))):
            raise _LookAgain
        done = correct_cost(session, act_id, draft)
        return Done(f"/stock/acts/{done.act_id}", done.words, f"/stock/acts/{done.act_id}/undo")

    try:
        return submit_once(request, raw, act, show_again=lambda form: _page(request, act_id, form))
    except _LookAgain:
        return _look(request, act_id, raw, fields, changed=True)


class _LookAgain(Exception):
    """It comes to something else than what was seen."""


def _look(
    request: Request, act_id: int, raw: RawForm, fields: Mapping[str, object], *, changed: bool = False
) -> Response:
    """The form with what it comes to."""
    found = asked(reading(request), lambda reader: _looked(reader, act_id, fields))
    seen = mark_of(_seen(fields, found))
    return _page(request, act_id, shown(raw, found), looked=found, seen=seen, changed=changed)


def _typed(raw: RawForm) -> dict[str, object]:
    """What was typed as `read_cost_correction` takes it; the page has one field for a cost and a choice of what for."""
    fields = raw.raw()
    lines = []
    rows = fields.get("lines", [])
    for row in rows if isinstance(rows, list) else []:
        cost = str(row.get("cost", "")).strip()
        said: dict[str, object] = {"lot_id": row.get("lot_id", "")}
        if cost:
            said[cost_field(row.get("cost_of"), dict(COSTS_OF_LOTS))] = cost
        lines.append(said)
    return {"lines": lines, "freight": fields.get("freight", ""), "note": fields.get("note", "")}


def _read(fields: Mapping[str, object]) -> CostCorrectionDraft:
    """Read it. Raises: Unfit beside the fields as the page names them."""
    with renamed(_on_page):
        return fit(read_cost_correction(fields))


def _looked(session: Session, act_id: int, fields: Mapping[str, object]) -> CostLook:
    with renamed(_on_page):
        return look_at_cost(session, act_id, fit(read_cost_correction(fields)))


def _on_page(faults: Faults) -> Faults:
    found = []
    for fault in faults:
        before, _, name = fault.field.rpartition(".")
        cost = name in {cost.field for cost in COSTS.terms.values()} or name == "lot_id"
        found.append(Fault(f"{before}.cost" if cost and before else fault.field, fault.message))
    return Faults(tuple(found))


def _seen(fields: Mapping[str, object], found: CostLook | Faults) -> dict[str, object]:
    """What was looked at: what was typed and what it comes to, which changes when stock leaves in between."""
    if isinstance(found, Faults):
        return dict(fields)
    came = [[one.line.lot_id, one.after_micros, one.there_milli, one.here_micros] for one in found.changes]
    return {**fields, "came": came}


def _page(
    request: Request,
    act_id: int,
    form: Form,
    *,
    looked: CostLook | Faults | None = None,
    seen: str = "",
    changed: bool = False,
) -> Response:
    receipt = receipt_view(reading(request), act_id)
    return render(
        request,
        "stock/receipt_cost.html",
        looked if isinstance(looked, CostLook) else None,
        block="looked" if looked is not None else None,
        form=form,
        status=status_of_look(request, looked) or form.status,
        receipt=receipt,
        cost_words=COSTS_OF_LOTS,
        seen=seen,
        changed=changed,
    )
