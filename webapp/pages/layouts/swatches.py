"""Swatches: the measured pieces of a weave that correct every computed size. What is computed lives in models."""

from __future__ import annotations

from urllib.parse import urlencode

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.layouts.swatch import CHAIN_WEAVES, SHEET_WEAVES, SwatchDraft, read_swatch
from models.operations.layouts import swatch as operations
from models.queries.layouts.swatch import swatch_page
from models.trade.measures import exact_text
from models.trade.weaves import WEAVES
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()

LIST = "/stock/swatches"


@router.get(LIST)
def list_page(request: Request) -> Response:
    """Every swatch, and how far it is from what is computed."""
    view = swatch_page(reading(request))
    return render(request, "layouts/swatches.html", view)


@router.get(f"{LIST}/new")
def new_page(request: Request, kind: str = "sheet") -> Response:
    """The form for a sheet or for a chain; the address may fill in the weave and the ring."""
    known = {name: read_address(request).get(name) for name in ("weave", "item_id", "wire", "inner")}
    if known["weave"] in CHAIN_WEAVES:
        kind = "chain"
    return _form(request, kind, Form.blank(known))


@router.post(f"{LIST}/new")
@submits(lambda request, raw, form: _form(request, _kind_of(raw), form))
def keep(session: Session, request: Request, raw: RawForm) -> Done:
    """Keep a swatch; the sizes of its weave follow it from now on."""
    return _kept(session, fit(read_swatch(raw.raw(), length_unit=prefs_of(request).length_unit)))


@router.post(f"{LIST}/{{swatch_id}}/remove")
@submits(lambda request: list_page(request))
def remove(session: Session, swatch_id: int) -> Done:
    """Take a swatch out; it can be put back."""
    gone = operations.remove_swatch(session, swatch_id)
    said = f"The swatch of {WEAVES[gone.weave].name} is taken out; sizes no longer follow it."
    return Done(LIST, said, f"{LIST}/back?{_as_query(gone)}", "Put it back")


@router.post(f"{LIST}/back")
@submits(lambda request: list_page(request))
def put_back(session: Session, request: Request) -> Done:
    """Put a swatch back as it was; the address says how it was."""
    return _kept(session, fit(read_swatch(read_address(request).raw())))


def _kind_of(raw: RawForm) -> str:
    return "chain" if raw.get("weave") in CHAIN_WEAVES or raw.get("kind") == "chain" else "sheet"


def _kept(session: Session, draft: SwatchDraft) -> Done:
    swatch_id = operations.keep_swatch(session, draft)
    said = f"Kept. Finished sizes in {WEAVES[draft.weave].name} follow your swatch from now on."
    return Done(LIST, said, f"{LIST}/{swatch_id}/remove")


def _as_query(draft: SwatchDraft) -> str:
    """A swatch as the words of an address, exact to the nanometre."""
    said: dict[str, object] = {"weave": draft.weave, "rings": draft.rings, "note": draft.note}
    if draft.item_id is not None:
        said["item_id"] = draft.item_id
    elif draft.size is not None:
        said |= {"wire": exact_text(draft.size.wire_nm), "inner": exact_text(draft.size.inner_nm)}
    if draft.rows is not None:
        said["rows"] = draft.rows
    for name, nm in (("along", draft.along_nm), ("across", draft.across_nm), ("length", draft.length_nm)):
        if nm is not None:
            said[name] = exact_text(nm)
    if draft.measured_on is not None:
        said["measured_on"] = draft.measured_on.isoformat()
    return urlencode(said)


def _form(request: Request, kind: str, form: Form) -> Response:
    view = swatch_page(reading(request))
    sheet = kind != "chain"
    return render(
        request,
        "layouts/swatch_form.html",
        view,
        form=form,
        sheet=sheet,
        weaves=tuple((code, WEAVES[code].name) for code in (SHEET_WEAVES if sheet else CHAIN_WEAVES)),
        rings=(("", "Another ring: type its size"), *view.rings),
    )
