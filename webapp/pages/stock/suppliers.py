"""The pages of suppliers. Their offers are noted on the pages of items."""

from __future__ import annotations

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.stock.supplier import read_supplier
from models.operations.stock import supplier as operations
from models.queries.stock.supplier import list_suppliers, supplier_page, supplier_view
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()


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
@submits(lambda request, form: _supplier_form(request, None, form))
def add(session: Session, raw: RawForm) -> Done:
    """Take a supplier down."""
    draft = fit(read_supplier(raw.raw()))
    supplier_id = operations.add_supplier(session, draft)
    return Done(f"/stock/suppliers/{supplier_id}", f"{draft.name} is added.")


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
@submits(lambda request, supplier_id, form: _supplier_form(request, supplier_id, form))
def edit(session: Session, supplier_id: int, raw: RawForm) -> Done:
    """Change a supplier."""
    draft = fit(read_supplier(raw.raw()))
    operations.edit_supplier(session, supplier_id, draft, version=raw.version or 0)
    return Done(f"/stock/suppliers/{supplier_id}", "The change is kept.")


def _supplier_form(request: Request, supplier_id: int | None, form: Form | None) -> Response:
    view = None
    if supplier_id is not None:
        view = supplier_view(reading(request), supplier_id)
    if form is None:
        form = Form.blank(view.raw() if view else {}, version=view.version if view else None)
    return render(request, "stock/supplier_form.html", view, form=form)
