"""Cost and price of one design: what to ask at each outlet, trying prices, listing at one. Nothing is computed here."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.costing.cost_request import PRICE_FIELD, read_cost_request
from models.intake.costing.listed_price import ListedPriceDraft, read_listed_price
from models.intake.faults import Fault, Faults
from models.operations.costing.listed_price import Relisted, list_price
from models.queries.costing.costing import view_asked
from models.queries.shop.shop import DisplayPrefs, currency_of
from webapp.web.acting import renamed, submits
from webapp.web.filters import money
from webapp.web.forms import Form, RawForm, read_address, read_form
from webapp.web.numbers import Whole
from webapp.web.prefs import prefs_of, showing
from webapp.web.reading import reading
from webapp.web.render import is_htmx, render
from webapp.web.submit_once import Done

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]

ASKED = ("pieces", "choice", "with", "by")
"""The fields that say how a piece is made; they stay in the address after something was listed."""
SHOWN_FIELD = "shown."
"""Beside each price field stands what it held when the page was shown, so that an untouched one is no price to try."""


class Listing(BaseModel):
    """What a button of the page does with one outlet; `version` is that of the listed price that was seen."""

    do: Literal["list", "off", "back"]
    outlet: Whole
    version: Whole = 0
    price: str = ""

    @property
    def field(self) -> str:
        """The field of the outlet's price."""
        return f"{PRICE_FIELD}{self.outlet}"


@router.get("/designs/{design_id}/prices")
def prices_page(request: Request, design_id: int) -> Response:
    """What to ask for a design, and why."""
    return _prices(request, design_id, read_address(request), None)


@router.post("/designs/{design_id}/prices")
@submits(lambda request, design_id, raw, asked, form: _prices(request, design_id, raw, form, keep=asked.field))
def change_listing(
    session: Session, request: Request, design_id: int, raw: RawForm, asked: Annotated[Listing, Query()]
) -> Done:
    """List a design at the price that was typed for one outlet, take it off there, or put an earlier price back."""
    draft = _draft(asked, raw.get(asked.field), currency_of(session))
    done = list_price(session, design_id, draft, asked.version)
    told = _done(design_id, asked.outlet, done, prefs_of(request), raw)
    return replace(told, undo_path="") if asked.do == "back" else told


def _draft(asked: Listing, typed: str, currency: str) -> ListedPriceDraft:
    """Raises: Unfit beside the price field of the outlet."""
    if asked.do == "off":
        return ListedPriceDraft(asked.outlet, None)
    fields = {"outlet": asked.outlet, "price": typed if asked.do == "list" else asked.price}
    with renamed(lambda faults: _beside(asked.field, faults)):
        return fit(read_listed_price(fields, currency=currency, may_be_empty=asked.do == "back"))


def _beside(field: str, faults: Faults) -> Faults:
    return Faults(tuple(Fault(field if fault.field == "price" else fault.field, fault.message) for fault in faults))


def _prices(request: Request, design_id: int, raw: RawForm, form: Form | None, *, keep: str = "") -> Response:
    """The page with what was asked; `form` when a change was refused: its field `keep` then stays as it was typed."""
    touched = RawForm(tuple(item for item in raw.items if item[0] == keep or not _untouched(raw, *item)))
    asked: dict[str, object] = {
        name: [*touched.all(name)] if name in {"choice", "with"} else value for name, value in touched.items
    }
    session = reading(request)
    question, faults = read_cost_request(asked, currency=currency_of(session))
    costing, strange = view_asked(session, design_id, question, moves=True)
    found = (*(faults or ()), *(strange or ()))
    asked_form = Form.sent(touched, Faults(found) if found else None)
    if form is not None:
        form = asked_form = replace(form, values=asked_form.values)
    return render(
        request,
        "costing/prices.html",
        block="worked",
        status=asked_form.status,
        form=form,
        asked=asked_form,
        costing=costing,
        alone=is_htmx(request),
    )


def _untouched(raw: RawForm, name: str, value: str) -> bool:
    place = name.removeprefix(PRICE_FIELD)
    return place != name and raw.get(f"{SHOWN_FIELD}{place}") == value


def _done(design_id: int, outlet: int, done: Relisted, prefs: DisplayPrefs, raw: RawForm) -> Done:
    here = f"/designs/{design_id}/prices"
    kept = urlencode([(name, value) for name, value in raw.items if name in ASKED and value])
    shown = showing.set(prefs)
    try:
        price = "" if done.after is None else money(done.after, prefs.currency)
    finally:
        showing.reset(shown)
    said = f"Listed at {price} at {done.outlet}." if price else f"No longer listed at {done.outlet}."
    before = "" if done.before is None else format(done.before, "f")
    back = urlencode({"do": "back", "outlet": outlet, "version": done.version, "price": before})
    return Done(f"{here}{'?' if kept else ''}{kept}#outlet-{outlet}", said, undo_path=f"{here}?{back}")
