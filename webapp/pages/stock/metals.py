"""The metals page: the catalogue with its sources, and metals of the shop's own."""

from __future__ import annotations

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.stock.metal import read_metal
from models.operations.stock import metal as operations
from models.queries.stock.metal import metals_page, own_metal
from models.trade.vocabulary.things import METAL_FAMILIES
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()


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
@submits(lambda request, form: _metal_form(request, None, form))
def add(session: Session, raw: RawForm) -> Done:
    """Add a metal of the shop's own."""
    draft = fit(read_metal(raw.raw()))
    operations.add_metal(session, draft)
    return Done("/stock/metals", f"{draft.name} is added, and can be chosen for items.")


@router.get("/stock/metals/{code}/edit")
def edit_page(request: Request, code: str) -> Response:
    """The form of one of the shop's own metals."""
    return _metal_form(request, code, None)


@router.post("/stock/metals/{code}/edit")
@submits(lambda request, code, form: _metal_form(request, code, form))
def edit(session: Session, code: str, raw: RawForm) -> Done:
    """Change one of the shop's own metals."""
    draft = fit(read_metal(raw.raw()))
    operations.edit_metal(session, code, draft, version=raw.version or 0)
    return Done("/stock/metals", f"{draft.name} is changed; weights and costs follow.")


@router.post("/stock/metals/{code}/remove")
@submits(lambda request, code, form: _metal_form(request, code, form))
def remove(session: Session, code: str) -> Done:
    """Take out a metal of the shop's own that nothing is made of."""
    operations.remove_metal(session, code)
    return Done("/stock/metals", "The metal is taken out.")


def _metal_form(request: Request, code: str | None, form: Form | None) -> Response:
    view = None
    if code is not None:
        view = own_metal(reading(request), code)
    if form is None:
        form = Form.blank(view.raw() if view else {}, version=view.version if view else None)
    return render(request, "stock/metal_form.html", view, form=form)
