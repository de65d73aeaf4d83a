"""Taking out and moving: stock that leaves without a build, bags that go elsewhere, and scrap metal by weight."""

from __future__ import annotations

from dataclasses import replace
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Conflict, fit
from models.intake.builds.build import BAG_SIGN
from models.intake.stock.scrap import read_scrap
from models.intake.stock.stock_out import read_stock_out
from models.intake.stock.transfer import read_transfer
from models.operations.shop.clock import today
from models.operations.stock.scrap_metal import keep_scrap
from models.operations.stock.stock_out import remove_stock
from models.operations.stock.transfer import move_bag
from models.queries.stock.lot import lot_view
from models.queries.stock.metal import all_metals
from models.queries.stock.room import item_names, place_names
from models.queries.stock.stock_out_page import bag_to_take, move_page, scrap_page, stock_out_page
from models.trade.vocabulary.ledger import LEAVING_REASONS
from webapp.pages.stock.bags import choose_bag, place_named
from webapp.web.acting import Done, Sent, submits
from webapp.web.forms import Form, RawForm
from webapp.web.numbers import Whole
from webapp.web.prefs import prefs_of
from webapp.web.preview import then_or
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import submit_once

router = APIRouter()


@router.get("/stock/take-out")
def take_out_page(
    request: Request, item: Whole | None = None, lot: Whole | None = None, place: str | None = None, reason: str = ""
) -> Response:
    """The form of what leaves without a build; the address may name the item, or one bag."""
    bag = ""
    if lot is not None:
        view = lot_view(reading(request), lot)
        item, bag = view.item_id, bag_to_take(view, place)
    return _take_out(request, item, Form.blank({"bag": bag, "reason": reason}))


@router.post("/stock/take-out")
@submits(lambda request, raw, form: _take_out(request, raw.number_of("item_id"), form))
def take_out(session: Session, raw: RawForm) -> Done:
    """Take something out: spoiled, lost, given away or sold as it is."""
    lot_id, named, place = raw.get("bag").partition(BAG_SIGN)
    draft = fit(read_stock_out({**raw.raw(), "lot_id": lot_id}))
    if named:
        draft = replace(draft, place=place)
    left = remove_stock(session, draft)
    said = left.words
    if left.scrap_milli:
        said = f"{said} It is kept as scrap by weight."
    return Done(then_or(raw, f"/stock/items/{left.item_id}"), said, f"/stock/acts/{left.act_id}/undo")


@router.get("/stock/move")
def move_form(
    request: Request, lot: Whole, place: str | None = None, to_place: str = "", quantity: str = ""
) -> Response:
    """The form that moves a bag; the address may hold what was typed for another one. Of an emptied bag, its lot."""
    where = place_named(request, lot, place)
    if where is None:
        return choose_bag(lot)
    gone = move_page(reading(request), lot, where).gone
    if gone:
        return choose_bag(lot, emptied=where)
    return _move(request, lot, where, Form.blank({"to_place": to_place, "quantity": quantity}))


@router.post("/stock/move")
def move(request: Request, lot: Whole, raw: Sent, place: str | None = None) -> Response:
    """Move a bag, or a part of it, to another place."""
    where = place_named(request, lot, place)
    if where is None:
        return choose_bag(lot)

    def act(session: Session) -> Done:
        draft = fit(read_transfer({**raw.raw(), "lot_id": lot}))
        if move_page(session, lot, where).gone:
            raise Conflict("The bag was moved or emptied since this page was opened.")
        draft = replace(draft, from_place=where)
        moved = move_bag(session, draft)
        return Done(then_or(raw, f"/stock/lots/{lot}"), moved.words, f"/stock/acts/{moved.act_id}/undo")

    return submit_once(request, raw, act, show_again=lambda form: _move(request, lot, where, form))


@router.get("/stock/scrap")
def scrap(request: Request) -> Response:
    """Scrap of precious metal, kept by weight."""
    return _scrap(request, None)


@router.post("/stock/scrap")
@submits(lambda request, form: _scrap(request, form))
def put_by(session: Session, raw: RawForm) -> Done:
    """Put scrap by."""
    draft = fit(read_scrap(raw.raw(), metals=all_metals(session)))
    kept = keep_scrap(session, draft)
    return Done("/stock/scrap", kept.words, f"/stock/acts/{kept.act_id}/undo")


def _take_out(request: Request, item_id: int | None, form: Form) -> Response:
    session = reading(request)
    view = stock_out_page(session, item_id) if item_id is not None else None
    names = () if view else item_names(session)
    return render(
        request,
        "stock/take_out.html",
        view,
        form=form,
        names=names,
        reasons=LEAVING_REASONS.choices,
        day=today(prefs_of(request).time_zone),
    )


def _move(request: Request, lot_id: int, place: str, form: Form) -> Response:
    session = reading(request)
    view = move_page(session, lot_id, place)
    names = place_names(session)
    query = urlencode({"lot": lot_id, "place": place})
    return render(request, "stock/move.html", view, form=form, places=names, query=query)


def _scrap(request: Request, form: Form | None) -> Response:
    view = scrap_page(reading(request))
    return render(request, "stock/scrap.html", view, form=form or Form.blank())
