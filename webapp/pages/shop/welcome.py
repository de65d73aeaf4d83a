"""The first page of a new shop: the few things that it must know before anything can be costed."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit_both
from models.intake.shop.shop import read_founding
from models.intake.shop.sign_in import read_password_if_any
from models.operations.shop.clock import today
from models.operations.shop.shop import found_shop
from models.operations.shop.sign_in import open_session, set_password
from models.queries.shop.shop import UNFOUNDED, is_founded
from webapp.first_start import FIRST_PAGE
from webapp.pages.shop import choices
from webapp.sign_in import device_words, keep_cookie
from webapp.web.acting import submits
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.reading import reading
from webapp.web.render import bare_frame, html
from webapp.web.submit_once import Done

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]


@router.get(FIRST_PAGE)
def welcome(request: Request) -> Response:
    """Ask what a new shop must know; a shop that knows it already shows its bench."""
    if is_founded(reading(request)):
        return RedirectResponse("/", status_code=303)
    locale = choices.locale_of_browser(request.headers.get("accept-language", ""))
    zone = choices.time_zone_here()
    typed = {"locale": locale, "time_zone": zone, "currency": choices.currency_of_locale(locale, today(zone))}
    return _welcome(Form.blank(typed))


@router.post(FIRST_PAGE)
@submits(lambda form: _welcome(form))
def found(session: Session, request: Request, raw: RawForm) -> Done:
    """Set the shop up; with a password the browser that set it is signed in at once."""
    founding, chosen = read_founding(raw.raw()), read_password_if_any(raw.raw(), studio=raw.get("name"))
    draft, password = fit_both(founding, chosen)
    found_shop(
        session,
        name=draft.name,
        currency=draft.currency,
        locale=draft.locale,
        time_zone=draft.time_zone,
        wage_per_hour=draft.wage_per_hour,
    )
    said = f"{draft.name} is set up. The times of work are guesses until you give your own."
    if not password:
        return Done("/", said)
    set_password(session, password)
    token = open_session(session, device_words(request.headers.get("user-agent", "")))
    return Done("/", said, after=lambda answer: keep_cookie(answer, request, token))


def _welcome(form: Form) -> Response:
    context = {
        "view": None,
        "form": form,
        "frame": bare_frame(FIRST_PAGE),
        "currencies": (("", "Choose one"), *choices.currencies()),
        "locales": choices.locales(form.value("locale")),
        "time_zones": choices.time_zones(form.value("time_zone")),
    }
    page = html("shop/welcome.html", context, UNFOUNDED)
    return HTMLResponse(page, status_code=form.status, headers={"Cache-Control": "no-store"})
