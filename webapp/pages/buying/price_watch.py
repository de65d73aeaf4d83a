"""Price watch: what changed prices did to designs and their listed prices, and what a metal's price would do."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Missing, fit, fit_or
from models.intake.buying.price_watch import PriceWatchRequest, read_watch_request
from models.operations.shop.clock import now, today
from models.operations.stock.metal_price import move_back, move_metal
from models.queries.buying.price_watch import MONTHS, metals_bought, price_watch, supposed_watch
from models.queries.stock.metal import all_metals
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()


@router.get("/buying/prices")
def prices_page(request: Request) -> Response:
    """What moved, or would move if a metal's price did."""
    return _page(request, read_address(request), None)


@router.post("/buying/prices/move")
@submits(lambda request, raw, form: _page(request, raw, form))
def move(session: Session, raw: RawForm) -> Done:
    """Note the supposed prices of a metal as what is asked from now on."""
    asked = fit(read_watch_request(raw.raw()))
    before = move_metal(session, asked.metal, asked.percent)
    many = "One price is" if len(before) == 1 else f"{len(before)} prices are"
    back = "_".join(f"{item_id}-{offer_id}" for item_id, offer_id in before)
    return Done("/buying/prices", f"{many} noted anew.", f"/buying/prices/back/{back}")


@router.post("/buying/prices/back/{offers}")
@submits(lambda request, form: _page(request, RawForm(()), form))
def put_back(session: Session, offers: str) -> Done:
    """Let costs follow the former offers again."""
    pairs = [pair.split("-") for pair in offers.split("_")]
    if not all(len(pair) == 2 and all(_is_number(part) for part in pair) for pair in pairs):
        raise Missing("change", offers)
    move_back(session, [(int(item_id), int(offer_id)) for item_id, offer_id in pairs])
    return Done("/buying/prices", "Costs follow the former prices again.")


def _is_number(part: str) -> bool:
    return part.isascii() and part.isdigit() and len(part) < 10


def _page(request: Request, sent: RawForm, form: Form | None) -> Response:
    sent = read_address(request)
    asked, faults = fit_or(read_watch_request(sent.raw()), PriceWatchRequest())
    day = today(prefs_of(request).time_zone)
    session = reading(request)
    metals = all_metals(session)
    bought = metals_bought(session, metals)
    if asked.metal in metals and asked.percent:
        view = supposed_watch(session, asked.metal, asked.percent / Decimal(100), today=day)
    else:
        view = price_watch(session, since=now() - timedelta(days=asked.days), today=day)
    return render(
        request,
        "buying/prices.html",
        view,
        form=form or Form.blank(),
        status=422 if faults else form.status if form else None,
        asked=Form.sent(sent, faults),
        metal=metals[asked.metal].name if view.supposed else "",
        metal_code=asked.metal,
        percent=asked.percent,
        days=asked.days,
        metals=bought,
        months=MONTHS,
    )
