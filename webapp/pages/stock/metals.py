"""The metals page: the catalogue with its sources, and metals of the shop's own."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.metal import read_metal
from models.operations.stock import metal as operations
from models.queries.stock.metal import metals_page, own_metal
from models.trade.vocabulary.things import METAL_FAMILIES
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]


@router.get("/stock/metals")
def list_page(request: Request) -> Response:
    """Every metal with its density and where that comes from."""
    view = metals_page(reading(request))
    return render(request, "stock/metals.html", view, family_words=dict(METAL_FAMILIES.choices))


@router.get("/stock/metals/new")
def new_page(request: Request) -> Response:
    """The form of a metal of the shop's own."""
    return _metal_form(request, None, Form.blank())


@router.post("/stock/metals/new")
def add(request: Request, raw: Sent) -> Response:
    """Add a metal of the shop's own."""

    def act(session: Session) -> Done | Faults:
        draft = read_metal(raw.raw())
        if isinstance(draft, Faults):
            return draft
        operations.add_metal(session, draft)
        return Done("/stock/metals", f"{draft.name} is added, and can be chosen for items.")

    return submit_once(request, raw, act, show_again=lambda form: _metal_form(request, None, form))


@router.get("/stock/metals/{code}/edit")
def edit_page(request: Request, code: str) -> Response:
    """The form of one of the shop's own metals."""
    return _metal_form(request, code, None)


@router.post("/stock/metals/{code}/edit")
def edit(request: Request, code: str, raw: Sent) -> Response:
    """Change one of the shop's own metals."""

    def act(session: Session) -> Done | Faults:
        draft = read_metal(raw.raw())
        if isinstance(draft, Faults):
            return draft
        operations.edit_metal(session, code, draft, version=raw.version or 0)
        return Done("/stock/metals", f"{draft.name} is changed; weights and costs follow.")

    return submit_once(request, raw, act, show_again=lambda form: _metal_form(request, code, form))


@router.post("/stock/metals/{code}/remove")
def remove(request: Request, code: str, raw: Sent) -> Response:
    """Take out a metal of the shop's own that nothing is made of."""

    def act(session: Session) -> Done:
        operations.remove_metal(session, code)
        return Done("/stock/metals", "The metal is taken out.")

    return submit_once(request, raw, act, show_again=lambda form: _metal_form(request, code, form))


def _metal_form(request: Request, code: str | None, form: Form | None) -> Response:
    view = None
    if code is not None:
        view = own_metal(reading(request), code)
    if form is None:
        form = Form.blank(view.raw() if view else {}, version=view.version if view else None)
    return render(request, "stock/metal_form.html", view, form=form)
