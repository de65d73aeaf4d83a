"""The pages of suppliers. Their offers are noted on the pages of items."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.supplier import read_supplier
from models.operations.stock import supplier as operations
from models.queries.stock.supplier import list_suppliers, supplier_page, supplier_view
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]


@router.get("/stock/suppliers")
def list_page(request: Request) -> Response:
    """Every supplier."""
    view = list_suppliers(reading(request))
    return render(request, "stock/suppliers.html", view)


@router.get("/stock/suppliers/new")
def new_page(request: Request) -> Response:
    """The form of a new supplier."""
    return _supplier_form(request, None, Form.blank())


@router.post("/stock/suppliers/new")
def add(request: Request, raw: Sent) -> Response:
    """Take a supplier down."""

    def act(session: Session) -> Done | Faults:
        draft = read_supplier(raw.raw())
        if isinstance(draft, Faults):
            return draft
        supplier_id = operations.add_supplier(session, draft)
        return Done(f"/stock/suppliers/{supplier_id}", f"{draft.name} is added.")

    return submit_once(request, raw, act, show_again=lambda form: _supplier_form(request, None, form))


@router.get("/stock/suppliers/{supplier_id}")
def show_page(request: Request, supplier_id: int) -> Response:
    """One supplier with all offers."""
    view = supplier_page(reading(request), supplier_id)
    return render(request, "stock/supplier.html", view)


@router.get("/stock/suppliers/{supplier_id}/edit")
def edit_page(request: Request, supplier_id: int) -> Response:
    """The form of a supplier."""
    return _supplier_form(request, supplier_id, None)


@router.post("/stock/suppliers/{supplier_id}/edit")
def edit(request: Request, supplier_id: int, raw: Sent) -> Response:
    """Change a supplier."""

    def act(session: Session) -> Done | Faults:
        draft = read_supplier(raw.raw())
        if isinstance(draft, Faults):
            return draft
        operations.edit_supplier(session, supplier_id, draft, version=raw.version or 0)
        return Done(f"/stock/suppliers/{supplier_id}", "The change is kept.")

    return submit_once(request, raw, act, show_again=lambda form: _supplier_form(request, supplier_id, form))


def _supplier_form(request: Request, supplier_id: int | None, form: Form | None) -> Response:
    view = None
    if supplier_id is not None:
        view = supplier_view(reading(request), supplier_id)
    if form is None:
        form = Form.blank(view.raw() if view else {}, version=view.version if view else None)
    return render(request, "stock/supplier_form.html", view, form=form)
