"""Outlets: the pages of where pieces are sold and what is taken there. What a fee means lives in `models`."""

from __future__ import annotations

from decimal import Decimal

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit, fit_or
from models.intake.costing.outlet import MOST_FEES, OutletDraft, read_outlet, read_sample
from models.intake.faults import Faults
from models.operations.costing import outlet as operations
from models.queries.costing.outlet import (
    OutletView,
    SaleExample,
    draft_example,
    outlet_view,
    outlets_page,
    usual_sample,
)
from models.queries.shop.shop import shop_settings
from models.trade.vocabulary.selling import FEE_BASES, OUTLET_KINDS, PRICE_ENDINGS
from webapp.web.acting import Done, submits
from webapp.web.filters import typed_money
from webapp.web.form_values import form_values
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()


@router.get("/outlets")
def outlets(request: Request) -> Response:
    """Every outlet with what it takes of one price."""
    typed, sample, faults = _sample(request)
    view = outlets_page(reading(request), sample)
    form = Form.sent(typed, faults) if faults else Form.blank({"price": typed_money(view.sample)})
    return render(request, "costing/outlets.html", view, block="list", form=form, status=200, kind_words=OUTLET_KINDS)


@router.get("/outlets/new")
def new_outlet(request: Request) -> Response:
    """A new outlet."""
    return _edit(request, None, None)


@router.post("/outlets/new")
@submits(lambda request, raw, form: _edit(request, None, form, raw), only_show=("more", "try"))
def add_outlet(session: Session, raw: RawForm) -> Done:
    """Add an outlet, or show the form again with another fee or a worked example."""
    draft = fit(read_outlet(raw.raw()))
    number = operations.add_outlet(session, draft)
    return Done(f"/outlets/{number}", f"“{draft.name}” is added, and every design has its prices there.")


@router.get("/outlets/{outlet_id}")
def show_outlet(request: Request, outlet_id: int) -> Response:
    """One outlet with one sale worked out."""
    typed, sample, faults = _sample(request)
    session = reading(request)
    view = outlet_view(session, outlet_id, sample)
    settings = shop_settings(session)
    form = Form.sent(typed, faults) if faults else Form.blank({"price": typed_money(view.sale.price_shown)})
    return render(
        request,
        "costing/outlet.html",
        view,
        form=form,
        status=200,
        settings=settings,
        kind_words=OUTLET_KINDS,
        base_words=FEE_BASES,
        endings=dict(PRICE_ENDINGS.choices),
    )


@router.get("/outlets/{outlet_id}/edit")
def edit_outlet(request: Request, outlet_id: int) -> Response:
    """An outlet to change."""
    return _edit(request, outlet_id, None)


@router.post("/outlets/{outlet_id}/edit")
@submits(lambda request, outlet_id, raw, form: _edit(request, outlet_id, form, raw), only_show=("more", "try"))
def change_outlet(session: Session, outlet_id: int, raw: RawForm) -> Done:
    """Change an outlet, or show the form again with another fee or a worked example."""
    draft = fit(read_outlet(raw.raw()))
    operations.change_outlet(session, outlet_id, draft, version=raw.version)
    return Done(f"/outlets/{outlet_id}", f"“{draft.name}” is changed, and its prices were worked out again.")


@router.post("/outlets/{outlet_id}/retire")
@submits(lambda request, outlet_id, form: _refused(request, outlet_id, form))
def retire_outlet(session: Session, outlet_id: int) -> Done:
    """Take an outlet out of use."""
    name = operations.retire_outlet(session, outlet_id)
    return Done("/outlets", f"“{name}” is retired.", undo_path=f"/outlets/{outlet_id}/bring-back")


@router.post("/outlets/{outlet_id}/bring-back")
@submits(lambda request, outlet_id, form: _refused(request, outlet_id, form))
def bring_back_outlet(session: Session, outlet_id: int) -> Done:
    """Put a retired outlet back into use."""
    name = operations.bring_back_outlet(session, outlet_id)
    return Done(f"/outlets/{outlet_id}", f"“{name}” is in use again.", undo_path=f"/outlets/{outlet_id}/retire")


def _sample(request: Request) -> tuple[RawForm, Decimal | None, Faults | None]:
    """The sample price in the address, with what was typed when it cannot be read."""
    typed = read_address(request, "price")
    return typed, *fit_or(read_sample(typed.raw()), None)


def _refused(request: Request, outlet_id: int, form: Form) -> Response:
    """The outlet's page with what could not be done said on it."""
    session = reading(request)
    view = outlet_view(session, outlet_id)
    settings = shop_settings(session)
    return render(
        request,
        "costing/outlet.html",
        view,
        form=form,
        settings=settings,
        kind_words=OUTLET_KINDS,
        base_words=FEE_BASES,
        endings=dict(PRICE_ENDINGS.choices),
    )


def _edit(request: Request, outlet_id: int | None, form: Form | None, raw: RawForm | None = None) -> Response:
    """The form of an outlet, with the sale that it would make."""
    session = reading(request)
    view = outlet_view(session, outlet_id) if outlet_id is not None else None
    settings = shop_settings(session)
    sample = usual_sample(session)
    example, trouble = _example(session, view, raw)
    values = form_values(view.draft if view else OutletDraft, {"kind": "online"})
    shown = form or Form.blank(values, version=view.version if view else None)
    rows = len(shown.rows("fees")) + (1 if raw is not None and "more" in raw else 0 if form else 1)
    return render(
        request,
        "costing/outlet_form.html",
        view,
        block="example" if raw is not None and "try" in raw else None,
        form=shown,
        settings=settings,
        rows=min(max(rows, 2), MOST_FEES),
        most_fees=MOST_FEES,
        example=example,
        trouble=trouble,
        sample=typed_money(sample),
        kinds=OUTLET_KINDS.choices,
        bases=tuple(FEE_BASES.items()),
        endings=(("", "The shop's own rule"), *PRICE_ENDINGS.choices),
    )


def _example(session: Session, view: OutletView | None, raw: RawForm | None) -> tuple[SaleExample | None, str]:
    """One sale at the outlet as it stands in the form, or why there is none to show."""
    if raw is None:
        return (view.example if view else None), ""
    draft = read_outlet(raw.raw())
    sample = read_sample(raw.raw())
    for found in (draft, sample):
        if isinstance(found, Faults):
            return None, next(iter(found)).message
    assert isinstance(draft, OutletDraft) and not isinstance(sample, Faults)  # noqa: S101, PT018  (read above)
    return draft_example(session, draft, sample), ""
