"""Lots, levels and history: the pages that say what is where, what was done, and that take something back."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Conflict, fit
from models.intake.stock.levels import read_levels
from models.operations.shop.clock import now
from models.operations.stock.levels import set_levels
from models.operations.stock.weigh import forget_weighing, take_mass
from models.operations.undo import undo_act, undoable
from models.queries.stock.cost_correction import corrected_since, correction_changes, receipt_to_correct
from models.queries.stock.item import item_view
from models.queries.stock.ledger import act_view, item_history, recent_acts
from models.queries.stock.lot import lot_view
from models.queries.stock.room import item_shelf
from webapp.pages.stock.items import item_answer
from webapp.pages.stock.words import movement_word
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm
from webapp.web.numbers import Whole
from webapp.web.preview import then_or
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()
ACTS_A_PAGE = 30
MOST_MASS_UG = 10**12
"""A tonne, as where a mass is typed."""


@router.get("/stock/items/{item_id}/history")
def history_page(request: Request, item_id: int, before: Whole | None = None, lot: Whole | None = None) -> Response:
    """All that ever happened to an item, newest first."""
    session = reading(request)
    item = item_view(session, item_id)
    view = item_history(session, item_id, before=before, lot_id=lot)
    return render(request, "stock/history.html", view, item=item, lot=lot, movement_word=movement_word)


@router.get("/stock/history")
def acts_page(request: Request, before: Whole | None = None) -> Response:
    """What was done lately, with a way to take each thing back."""
    acts = recent_acts(reading(request), before=before, limit=ACTS_A_PAGE)
    return render(request, "stock/acts.html", acts, before=before, full=len(acts) == ACTS_A_PAGE)


@router.get("/stock/acts/{act_id}")
def act_page(request: Request, act_id: int) -> Response:
    """One thing that was done, with everything that it moved."""
    return _act(request, act_id, None)


@router.post("/stock/acts/{act_id}/undo")
@submits(lambda request, act_id, form: _act(request, act_id, form))
def undo(session: Session, act_id: int, raw: RawForm) -> Done:
    """Take something back, exactly."""
    act = act_view(session, act_id)
    undo_act(session, act_id)
    items = act.items
    usual = f"/stock/items/{items[0].id}" if len(items) == 1 else "/stock/history"
    return Done(then_or(raw, usual), f"Taken back: {act.words}")


@router.get("/stock/lots/{lot_id}")
def lot_page(request: Request, lot_id: int, before: Whole | None = None, emptied: str | None = None) -> Response:
    """One lot: what came in, what is left of it and where, and what happened to it.

    Of a bag that is named as `emptied` it says so, as long as that is true.
    """
    session = reading(request)
    view = lot_view(session, lot_id)
    item = item_view(session, view.item_id)
    history = item_history(session, view.item_id, lot_id=lot_id, before=before, per_page=20)
    receipt = receipt_to_correct(session, lot_id)
    return render(
        request,
        "stock/lot.html",
        view,
        receipt=receipt,
        item=item,
        emptied=emptied if view.is_emptied(emptied) else None,
        history=history,
        movement_word=movement_word,
    )


@router.post("/stock/items/{item_id}/levels")
@submits(lambda request, item_id, form: item_answer(request, item_id, levels=form))
def change_levels(session: Session, item_id: int, raw: RawForm) -> Done:
    """Say when to buy an item again, and up to how much."""
    draft = fit(read_levels(raw.raw()))
    set_levels(session, item_id, draft, version=raw.version)
    return Done(f"/stock/items/{item_id}#levels", "The reorder point is kept.")


@router.post("/stock/weighings/{weighing_id}/forget")
@submits(lambda request: acts_page(request))
def forget(session: Session, weighing_id: int) -> Done:
    """Learn nothing from a weighing any more."""
    item_id = forget_weighing(session, weighing_id)
    return Done(f"/stock/items/{item_id}#weighed", "That weighing no longer counts.")


@router.post("/stock/items/{item_id}/mass")
@submits(lambda request, item_id, form: item_answer(request, item_id, form))
def change_mass(
    session: Session, item_id: int, to: Annotated[Whole | None, Query(ge=0, le=MOST_MASS_UG)] = None
) -> Done:
    """Take what the weighings say as what one of an item weighs; `to` is an earlier mass that is put back, 0 none."""
    item = item_view(session, item_id)
    shelf = item_shelf(session, item, now=now())
    mass_ug = shelf.learned_ug if to is None else to or None
    if to is None and mass_ug is None:
        raise Conflict("No counted sample of it was weighed yet. Weigh one when you count a bag.")
    before = take_mass(session, item_id, mass_ug)
    said = "From now on it weighs what your weighings say." if to is None else "It weighs again what it did before."
    undo_path = f"/stock/items/{item_id}/mass?to={before or 0}" if to is None else ""
    return Done(f"/stock/items/{item_id}#weighed", said, undo_path)


def _act(request: Request, act_id: int, form: Form | None) -> Response:
    session = reading(request)
    view = act_view(session, act_id)
    back = undoable(session, act_id)
    changes = correction_changes(session, act_id) if view.kind == "correct_cost" else ()
    corrected = corrected_since(session, act_id) if view.kind == "receive" and not view.undone_by else None
    return render(
        request,
        "stock/act.html",
        view,
        form=form,
        back=back,
        changes=changes,
        corrected=corrected,
        movement_word=movement_word,
    )
