"""Price watch: what changed prices did to designs and their listed prices, and what a metal's price would do."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from fastapi import APIRouter, Request
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.price_watch import WatchAsk, read_watch_ask
from models.operations.clock import now, today
from models.queries.metal import all_metals
from models.queries.price_watch import MONTHS, metals_bought, price_watch, supposed_watch
from webapp.frame.forms import Form, RawForm
from webapp.frame.prefs import prefs_of
from webapp.frame.render import render

router = APIRouter()


@router.get("/buying/prices")
def prices_page(request: Request) -> Response:
    """What moved, or would move if a metal's price did."""
    sent = RawForm(tuple(request.query_params.multi_items()))
    read = read_watch_ask(sent.raw())
    asked = WatchAsk() if isinstance(read, Faults) else read
    day = today(prefs_of(request).time_zone)
    with request.app.state.store.reading() as session:
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
        status=422 if isinstance(read, Faults) else None,
        asked=Form.sent(sent, read if isinstance(read, Faults) else None),
        metal=metals[asked.metal].name if view.supposed else "",
        percent=asked.percent,
        days=asked.days,
        metals=bought,
        months=MONTHS,
    )
