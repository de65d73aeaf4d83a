"""Purchases: drafting and changing them, sending, receiving what came, cancelling; each for print and as a file.

What a purchase means is read in `models/intake/buying/purchase.py`; what must be bought stands in `buying`.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.buying.purchase import read_came, read_purchase, read_sent
from models.intake.csv_file import write_csv
from models.intake.faults import Fault, Faults
from models.operations.buying import purchase as operations
from models.operations.buying.receipt import postage_left_micros, receive_purchase
from models.operations.shop.clock import today
from models.queries.buying.purchase import (
    PURCHASE_COLUMNS,
    PurchasePage,
    bags_there,
    purchase_file,
    purchase_list,
    purchase_page,
    purchase_typed,
)
from models.queries.stock.room import item_names, place_names
from models.queries.stock.supplier import list_suppliers, supplier_names, supplier_view
from models.trade.money import from_micros
from webapp.web.acting import Done, renamed, submits
from webapp.web.forms import Form, RawForm
from webapp.web.numbers import Whole
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter(prefix="/buying/purchases")

EMPTY_LINES = 3
MOST_LINES = 60
_TYPED = ("item", "packs", "pack", "price")


@router.get("")
def list_page(request: Request, state: str = "", item: Whole | None = None) -> Response:
    """Every purchase, those that still run first."""
    view = purchase_list(reading(request), state=state, item_id=item)
    return render(request, "buying/purchases.html", view, state=state, today=_today(request))


@router.get("/new")
def new_page(request: Request, supplier: Whole | None = None, item: Whole | None = None) -> Response:
    """The form of a purchase; the address may name the supplier and the first item."""
    values: dict[str, object] = {}
    session = reading(request)
    if supplier is not None:
        values["supplier"] = supplier_view(session, supplier).name
    if item is not None:
        values["lines"] = [{"item": dict(item_names(session)).get(item, "")}]
    return _edit(request, None, Form.blank(values))


@router.post("/new")
@submits(lambda request, raw, form: _edit(request, None, form, more="more" in raw), only_show=("more",))
def add(session: Session, raw: RawForm) -> Done:
    """Draft a purchase as it was typed."""
    with renamed(_on_page):
        number = operations.draft_purchase(session, fit(read_purchase(_fields(raw))))
    return Done(f"/buying/purchases/{number}", "The purchase is drafted.", f"/buying/drafts/{number}/undo")


@router.get("/{purchase_id}")
def show_page(request: Request, purchase_id: int) -> Response:
    """One purchase."""
    return _show(request, purchase_id, None)


@router.get("/{purchase_id}/edit")
def edit_page(request: Request, purchase_id: int) -> Response:
    """The form of a draft."""
    return _edit(request, purchase_id, None)


@router.post("/{purchase_id}/edit")
@submits(
    lambda request, purchase_id, raw, form: _edit(request, purchase_id, form, more="more" in raw), only_show=("more",)
)
def edit(session: Session, purchase_id: int, raw: RawForm) -> Done:
    """Change a draft."""
    with renamed(_on_page):
        operations.edit_purchase(session, purchase_id, fit(read_purchase(_fields(raw))), raw.version or 0)
    return Done(f"/buying/purchases/{purchase_id}", "The change is kept.")


@router.post("/{purchase_id}/send")
@submits(lambda request, purchase_id, form: _show(request, purchase_id, form))
def send(session: Session, purchase_id: int, raw: RawForm) -> Done:
    """Note that it was sent: it is on order from now on."""
    said = fit(read_sent(raw.raw()))
    whom = operations.send_purchase(session, purchase_id, sent_on=said.sent_on, due_on=said.due_on)
    back = f"/buying/purchases/{purchase_id}/unsend"
    return Done(f"/buying/purchases/{purchase_id}", f"It is noted as sent to {whom}, and on order.", back)


@router.post("/{purchase_id}/unsend")
@submits(lambda request, purchase_id, form: _show(request, purchase_id, form))
def unsend(session: Session, purchase_id: int) -> Done:
    """Make it a draft again."""
    operations.unsend_purchase(session, purchase_id)
    return Done(f"/buying/purchases/{purchase_id}", "It is a draft again.")


@router.post("/{purchase_id}/cancel")
@submits(lambda request, purchase_id, form: _show(request, purchase_id, form))
def cancel(session: Session, purchase_id: int) -> Done:
    """Cancel what has not come."""
    operations.cancel_purchase(session, purchase_id)
    back = f"/buying/purchases/{purchase_id}/uncancel"
    return Done(f"/buying/purchases/{purchase_id}", "What has not come is cancelled.", back)


@router.post("/{purchase_id}/uncancel")
@submits(lambda request, purchase_id, form: _show(request, purchase_id, form))
def uncancel(session: Session, purchase_id: int) -> Done:
    """Take a cancelling back."""
    operations.uncancel_purchase(session, purchase_id)
    return Done(f"/buying/purchases/{purchase_id}", "It is not cancelled any more.")


@router.get("/{purchase_id}/receive")
def receive_page(request: Request, purchase_id: int) -> Response:
    """The form of what came: every pack that was still to come, as if all of it did."""
    return _receive(request, purchase_id, None)


@router.post("/{purchase_id}/receive")
@submits(lambda request, purchase_id, form: _receive(request, purchase_id, form))
def receive(session: Session, purchase_id: int, raw: RawForm) -> Done:
    """Take in what came."""
    came = fit(read_came(raw.raw()))
    done = receive_purchase(session, purchase_id, came)
    undo = f"/stock/acts/{done.act_id}/undo"
    return Done(f"/buying/purchases/{purchase_id}", done.words, undo)


@router.get("/{purchase_id}/sheet")
def sheet_page(request: Request, purchase_id: int) -> Response:
    """The purchase for print: what the supplier needs to know."""
    view = purchase_page(reading(request), purchase_id)
    return render(request, "buying/sheet.html", view)


@router.get("/{purchase_id}/purchase.csv")
def purchase_csv(request: Request, purchase_id: int) -> Response:
    """The purchase as a file for a spreadsheet."""
    rows = purchase_file(purchase_page(reading(request), purchase_id))
    text = write_csv([column.name for column in PURCHASE_COLUMNS], rows, columns=PURCHASE_COLUMNS)
    name = f"purchase-{purchase_id}.csv"
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response("\ufeff" + text, media_type="text/csv; charset=utf-8", headers=headers)


def _fields(raw: RawForm) -> Mapping[str, object]:
    """What was typed as `read_purchase` takes it: a line whose name was typed over is another item's."""
    fields = raw.raw()
    rows = fields.get("lines", [])
    kept = []
    for row in rows if isinstance(rows, list) else []:
        line = {name: value for name, value in row.items() if name != "named"}
        if row.get("item", "") != row.get("named", ""):
            line = {name: value for name, value in line.items() if name not in ("item_id", "offer_id")}
        if not any(str(line.get(name, "")).strip() for name in _TYPED):
            line = {}
        kept.append(line)
    return {**fields, "lines": kept}


def _on_page(faults: Faults) -> Faults:
    """The same faults beside the fields as the page has them: its lines are named by the item's name."""
    return Faults(tuple(Fault(fault.field.replace(".item_id", ".item"), fault.message) for fault in faults))


def _show(request: Request, purchase_id: int, form: Form | None) -> Response:
    view = purchase_page(reading(request), purchase_id)
    return render(request, "buying/purchase.html", view, form=form or Form.blank(), today=_today(request))


def _edit(request: Request, purchase_id: int | None, form: Form | None, *, more: bool = False) -> Response:
    view: PurchasePage | None = None
    session = reading(request)
    if purchase_id is not None:
        view = purchase_page(session, purchase_id)
    names, suppliers = item_names(session), supplier_names(session)
    terms = list_suppliers(session)
    if form is None:
        form = Form.blank(purchase_typed(view) if view else {}, version=view.row.version if view else None)
    rows = len(form.rows("lines"))
    return render(
        request,
        "buying/purchase_form.html",
        view,
        form=form,
        names=names,
        suppliers=suppliers,
        terms=terms,
        rows=min(rows + EMPTY_LINES if more or form.status == 200 else max(rows, EMPTY_LINES), MOST_LINES),
    )


def _receive(request: Request, purchase_id: int, form: Form | None) -> Response:
    session = reading(request)
    view = purchase_page(session, purchase_id)
    open_lines = [line for line in view.lines if line.left]
    there = bags_there(session, [line.item.id for line in open_lines])
    freight = from_micros(postage_left_micros(session, purchase_id))
    places = place_names(session)
    if form is None:
        lines = [{"line_id": line.id, "packs": line.left, "place": there.get(line.item.id, "")} for line in open_lines]
        form = Form.blank({"received_on": _today(request).isoformat(), "lines": lines})
    return render(
        request,
        "buying/receive.html",
        view,
        form=form,
        places=places,
        lines={str(line.id): line for line in view.lines},
        freight=freight,
    )


def _today(request: Request) -> date:
    return today(prefs_of(request).time_zone)
