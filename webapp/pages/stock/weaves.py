"""The weave catalogue with the shop's own bands, and its records of what fitted."""

from __future__ import annotations

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.stock.weave import read_band, read_fit
from models.operations.stock import weave as operations
from models.queries.stock.item_page import metal_options
from models.queries.stock.weave import list_weaves, weave_page
from models.trade.vocabulary.things import FIT_VERDICTS
from models.trade.weaves import WEAVES
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()

WEAVE_OPTIONS = tuple((code, weave.name) for code, weave in WEAVES.items())


@router.get("/stock/weaves")
def list_page(request: Request) -> Response:
    """Every weave of the catalogue with the band that counts here."""
    view = list_weaves(reading(request))
    return render(request, "stock/weaves.html", view)


@router.get("/stock/weaves/{code}")
def show_page(request: Request, code: str) -> Response:
    """One weave: its band to change, and the records."""
    return _weave(request, code, None)


@router.post("/stock/weaves/{code}/band")
@submits(lambda request, code, form: _weave(request, code, form))
def set_band(session: Session, code: str, raw: RawForm) -> Done:
    """Put the shop's own band in the place of the catalogue's."""
    draft = fit(read_band(raw.raw()))
    operations.set_band(session, code, draft, version=raw.version or 0)
    return Done(f"/stock/weaves/{code}", f"Your own band for {WEAVES[code].name} counts from now on.")


@router.post("/stock/weaves/{code}/reset")
@submits(lambda request, code, form: _weave(request, code, form))
def reset_band(session: Session, code: str, raw: RawForm) -> Done:
    """Go back to the catalogue's band."""
    operations.reset_band(session, code, version=raw.version or 0)
    return Done(f"/stock/weaves/{code}", "The catalogue's band counts again.")


@router.get("/stock/fits/new")
def fit_page(request: Request) -> Response:
    """The form for how a ring fitted; the address may fill in what is known."""
    known = {name: read_address(request).get(name) for name in ("weave", "wire", "inner", "metal", "then")}
    return _fit_form(request, Form.blank({**known, "verdict": "comfortable"}))


@router.post("/stock/fits/new")
@submits(lambda request, form: _fit_form(request, form))
def record_fit(session: Session, request: Request, raw: RawForm) -> Done:
    """Keep how a ring fitted; it wins over every band from now on."""
    unit = prefs_of(request).length_unit
    draft = fit(read_fit(raw.raw(), length_unit=unit))
    record_id = operations.record_fit(session, draft)
    then = raw.get("then")
    # Only a page of this room is gone back to, never an address that somebody else put into the form.
    back = then if then.startswith("/stock/") and "//" not in then else f"/stock/weaves/{draft.weave}"
    said = f"Noted: {draft.verdict} in {WEAVES[draft.weave].name}. This counts before any band."
    return Done(back, said, f"/stock/fits/{record_id}/forget")


@router.post("/stock/fits/{record_id}/forget")
@submits(lambda request, form: _fit_form(request, form))
def forget_fit(session: Session, record_id: int) -> Done:
    """Take a record out again, with a way back to its form filled in as it was."""
    weave = operations.forget_fit(session, record_id)
    return Done(f"/stock/weaves/{weave}", "The record is taken out.")


def _weave(request: Request, code: str, form: Form | None) -> Response:
    view = weave_page(reading(request), code)
    return render(request, "stock/weave.html", view, form=form or Form.blank(view.raw(), version=view.version))


def _fit_form(request: Request, form: Form) -> Response:
    metals = metal_options(reading(request))
    return render(
        request,
        "stock/fit_form.html",
        None,
        form=form,
        metals=(("", "Any, or it does not matter"), *metals),
        weaves=WEAVE_OPTIONS,
        verdicts=FIT_VERDICTS.choices,
    )
