"""The pages of stock items and their prices. Ring facts, weaves, metals and suppliers have modules of their own."""

from __future__ import annotations

from urllib.parse import urlencode

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit, fit_or
from models.intake.stock.item_find import ItemFilter, read_item_filter
from models.intake.stock.offer import from_milli, read_offer
from models.operations.shop.clock import now, today
from models.operations.stock import item as operations
from models.operations.stock import offer as offers
from models.queries.shop.shop import currency_of
from models.queries.stock.item import item_reader, item_view
from models.queries.stock.item_page import item_form, item_page
from models.queries.stock.offer import item_offers
from models.queries.stock.room import item_shelf, place_names, stock_page
from models.queries.stock.stand_ins import stand_ins_of
from models.trade.vocabulary.ledger import SHELF_STATES
from models.trade.vocabulary.things import PACK_UNITS, PART_KINDS
from webapp.pages.stock.words import movement_word
from webapp.web.acting import Done, Sent, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.graphs import stock_graph
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import submit_once

router = APIRouter()

PREFILLED = ("metal", "colour", "finish", "wire", "inner", "wire_label", "inner_label", "supplier")
"""What a link to the form of a new item may fill in."""


@router.get("/stock")
def list_page(request: Request) -> Response:
    """Find items by any part of a size or name, and narrow them."""
    asked = read_address(request)
    read = read_item_filter(asked.raw(), length_unit=prefs_of(request).length_unit)
    wanted, faults = fit_or(read, ItemFilter())
    day = today(prefs_of(request).time_zone)
    view = stock_page(reading(request), wanted, today=day)
    return render(
        request,
        "stock/list.html",
        view,
        block="list",
        status=422 if faults else 200,
        asked=Form.sent(asked, faults),
        narrowed=wanted.narrows,
        shelf_words=(("", "any"), *SHELF_STATES.items()),
        query=_query_without(asked, "page"),
    )


@router.get("/stock/items/new")
def new_page(request: Request, kind: str = "ring") -> Response:
    """The form of a new item of a kind; the address may fill in what is known."""
    known = dict(read_address(request, *PREFILLED).items)
    return _item_form(request, None, Form.blank({"can_open": "", **known}), kind=kind if kind in PART_KINDS else "ring")


@router.post("/stock/items/new")
def add(request: Request, raw: Sent) -> Response:
    """Put an item in stock."""
    near: list[tuple[int, str]] = []
    unit = prefs_of(request).length_unit

    def act(session: Session) -> Done:
        draft = fit(item_reader(session, length_unit=unit)(raw.raw()))
        try:
            item_id = operations.add_item(session, draft)
        except operations.NearSize as found:
            near.extend(found.found)
            raise
        return Done(f"/stock/items/{item_id}", f"{draft.name} is added.")

    kind = raw.get("kind")
    return submit_once(
        request,
        raw,
        act,
        show_again=lambda form: _item_form(request, None, form, kind=kind if kind in PART_KINDS else "ring", near=near),
    )


@router.get("/stock/items/{item_id}")
def show_page(request: Request, item_id: int) -> Response:
    """One item with its shelf, facts, fits, prices and designs."""
    return item_answer(request, item_id)


@router.get("/stock/items/{item_id}/edit")
def edit_page(request: Request, item_id: int) -> Response:
    """The form of an item."""
    return _item_form(request, item_id, None)


@router.post("/stock/items/{item_id}/edit")
def edit(request: Request, item_id: int, raw: Sent) -> Response:
    """Change an item."""
    near: list[tuple[int, str]] = []
    unit = prefs_of(request).length_unit

    def act(session: Session) -> Done:
        draft = fit(item_reader(session, length_unit=unit)(raw.raw()))
        try:
            operations.edit_item(session, item_id, draft, version=raw.version or 0)
        except operations.NearSize as found:
            near.extend(found.found)
            raise
        return Done(f"/stock/items/{item_id}", "The change is kept.")

    return submit_once(request, raw, act, show_again=lambda form: _item_form(request, item_id, form, near=near))


@router.post("/stock/items/{item_id}/retire")
@submits(lambda request, item_id, form: _item_again(request, item_id, form))
def retire(session: Session, item_id: int) -> Done:
    """Keep an item out of the lists."""
    name = operations.retire_item(session, item_id)
    return Done(f"/stock/items/{item_id}", f"{name} is retired.", f"/stock/items/{item_id}/bring-back")


@router.post("/stock/items/{item_id}/bring-back")
@submits(lambda request, item_id, form: _item_again(request, item_id, form))
def bring_back(session: Session, item_id: int) -> Done:
    """Put a retired item back into the lists."""
    name = operations.bring_back_item(session, item_id)
    return Done(f"/stock/items/{item_id}", f"{name} is back in the lists.", f"/stock/items/{item_id}/retire")


@router.get("/stock/items/{item_id}/price")
def price_page(request: Request, item_id: int) -> Response:
    """The form of a new price."""
    return _price_form(request, item_id, None)


@router.post("/stock/items/{item_id}/price")
@submits(lambda request, item_id, form: _price_form(request, item_id, form))
def price(session: Session, item_id: int, raw: RawForm) -> Done:
    """Take down what a supplier asks; the price before stays readable."""
    draft = fit(read_offer(raw.raw(), currency=currency_of(session)))
    before = item_view(session, item_id).offer
    offer_id = offers.add_offer(session, item_id, draft)
    changed = before is not None and draft.current and before.id != offer_id
    return Done(
        f"/stock/items/{item_id}#prices",
        "The price is kept.",
        f"/stock/items/{item_id}/offers/{before.id}/current" if before and changed else "",
        "Use the old price",
    )


@router.post("/stock/items/{item_id}/offers/{offer_id}/current")
@submits(lambda request, item_id, form: _item_again(request, item_id, form))
def take_offer(session: Session, item_id: int, offer_id: int) -> Done:
    """Reckon with another of an item's offers."""
    offers.make_current(session, item_id, offer_id)
    return Done(f"/stock/items/{item_id}#prices", "Costs follow this price now.")


@router.post("/stock/items/{item_id}/offers/{offer_id}/stop")
@submits(lambda request, item_id, form: _item_again(request, item_id, form))
def stop_offer(session: Session, item_id: int, offer_id: int) -> Done:
    """Let an offer be bought no more."""
    offers.stand_offer(session, item_id, offer_id, standing=False)
    back = f"/stock/items/{item_id}/offers/{offer_id}/stand"
    return Done(f"/stock/items/{item_id}#prices", "This price is not asked any more.", back)


@router.post("/stock/items/{item_id}/offers/{offer_id}/stand")
@submits(lambda request, item_id, form: _item_again(request, item_id, form))
def stand_offer(session: Session, item_id: int, offer_id: int) -> Done:
    """Let an offer be bought beside the current one."""
    offers.stand_offer(session, item_id, offer_id, standing=True)
    back = f"/stock/items/{item_id}/offers/{offer_id}/stop"
    return Done(f"/stock/items/{item_id}#prices", "It may be bought at this price.", back)


def item_answer(
    request: Request,
    item_id: int,
    form: Form | None = None,
    levels: Form | None = None,
    stand_in: Form | None = None,
) -> Response:
    """An item's page; `form` when something could not be done, `levels` or `stand_in` when those were refused."""
    session = reading(request)
    view = item_page(session, item_id)
    shelf = item_shelf(session, view.item, now=now())
    places = place_names(session)
    stand_ins = stand_ins_of(session, item_id) if view.item.kind == "ring" else None
    typed = {
        "reorder": _plain(shelf.levels.reorder_milli),
        "target": _plain(shelf.levels.target_milli),
        "batch_colour": shelf.levels.batch_colour,
    }
    return render(
        request,
        "stock/item.html",
        view,
        form=form,
        status=refused.status if (refused := levels or stand_in) else None,
        stand_ins=stand_ins,
        stand_in=stand_in or Form.blank(),
        shelf=shelf,
        movement_word=movement_word,
        places=places,
        levels=levels or Form.blank(typed, version=view.item.version),
        graph=stock_graph(
            [(point.at, point.on_hand_milli) for point in shelf.points],
            shelf.since,
            shelf.until,
            reorder_milli=shelf.levels.reorder_milli,
            target_milli=shelf.levels.target_milli,
        ),
    )


def _plain(milli: int | None) -> str:
    return "" if milli is None else format(from_milli(milli), "f")


def _item_again(request: Request, item_id: int, form: Form) -> Response:
    return item_answer(request, item_id, form)


def _item_form(
    request: Request,
    item_id: int | None,
    form: Form | None,
    *,
    kind: str = "ring",
    near: list[tuple[int, str]] | None = None,
) -> Response:
    view = item_form(reading(request), kind, item_id)
    if form is None:
        form = Form.blank(view.item.raw() if view.item else {}, version=view.item.version if view.item else None)
    return render(
        request,
        "stock/item_form.html",
        view,
        form=form,
        near=near or [],
        pack_options=tuple(PACK_UNITS.items()),
    )


def _price_form(request: Request, item_id: int, form: Form | None) -> Response:
    session = reading(request)
    view = item_form(session, "ring", item_id)
    offer = next((each for each in item_offers(session, item_id) if each.current), None)
    if form is None:
        known = (
            {
                "supplier": offer.supplier,
                "pack": offer.pack,
                "pack_unit": offer.pack_unit,
                "price": format(offer.price, "f"),
                "currency": offer.currency if offer.foreign else "",
                "exchange_rate": offer.exchange_rate if offer.foreign else "",
                "breaks": offer.breaks_typed,
                "lead_days": offer.lead_days,
            }
            if offer
            else {}
        )
        form = Form.blank(known)
    return render(request, "stock/price_form.html", view, form=form, pack_options=tuple(PACK_UNITS.items()))


def _query_without(asked: RawForm, *names: str) -> str:
    """What was asked, as the beginning of an address that adds the names left out."""
    return urlencode([(name, value) for name, value in asked.items if name not in (*names, "said") and value])
