"""How stock is valued: first in first out, or weighted average. What a change means is shown before it is made."""

from __future__ import annotations

from typing import Annotated, cast

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.operations.stock.lot_state import valuation
from models.operations.stock.valuation import choose_valuation, valuation_change
from models.queries.shop.shop import shop_settings
from models.trade.lots import Method
from models.trade.vocabulary.ledger import VALUATIONS
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.preview import is_booking, mark_of
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]


@router.get("/settings/valuation")
def valuation_page(request: Request) -> Response:
    """How stock is valued now, and the other way."""
    return _page(request, None, "")


@router.post("/settings/valuation")
def change(request: Request, raw: Sent) -> Response:
    """Say what another way of valuing would mean, or change to it once that was seen."""
    method = raw.get("method")
    if method not in VALUATIONS:
        return _page(request, Form.sent(raw, Faults.of("method", "Choose one of the two.")), "")
    if not is_booking(raw, raw.raw()):
        return _page(request, Form.sent(raw), method)

    def act(session: Session) -> Done:
        chosen = choose_valuation(session, cast(Method, method), version=raw.version)
        return Done("/settings/valuation", f"Stock is valued by {VALUATIONS[chosen.method]} from now on.")

    return submit_once(request, raw, act, show_again=lambda form: _page(request, form, method))


def _page(request: Request, form: Form | None, method: str) -> Response:
    session = reading(request)
    now = valuation(session)
    version = shop_settings(session).version
    view = valuation_change(session, cast(Method, method)) if method else None
    return render(
        request,
        "shop/valuation.html",
        view,
        form=form or Form.blank({"method": now}, version=version),
        now=now,
        words=VALUATIONS,
        methods=VALUATIONS.choices,
        version=version,
        seen=mark_of({"method": method}),
    )
