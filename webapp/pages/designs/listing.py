"""The listing sheet of a design, as a page and as plain text, and its price tag. What they say is read elsewhere."""

from __future__ import annotations

from html import unescape

from fastapi import APIRouter, Request
from starlette.responses import PlainTextResponse, Response

from models.intake.designs.tag import read_tag_request
from models.queries.designs.listing import ListingSheet, listing_sheet
from webapp.web.forms import Form, read_address
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import html, render

router = APIRouter()


@router.get("/designs/{design_id}/listing")
def listing_page(request: Request, design_id: int, outlet: str = "") -> Response:
    """What a buyer is told, to print or to paste."""
    view = _sheet(request, design_id, outlet)
    return render(request, "designs/listing.html", view, text=_text(request, view))


@router.get("/designs/{design_id}/listing.txt")
def listing_text(request: Request, design_id: int, outlet: str = "") -> Response:
    """The same as plain text."""
    return PlainTextResponse(_text(request, _sheet(request, design_id, outlet)))


@router.get("/designs/{design_id}/tag")
def tag_page(request: Request, design_id: int) -> Response:
    """A small tag with the price, for a label printer or to cut from a sheet."""
    raw = read_address(request)
    question, faults = read_tag_request(raw.raw())
    session = reading(request)
    view = listing_sheet(session, design_id, question.outlet_id)
    if question.outlet_id is None and view.outlets:
        first = next((one for one in view.outlets if one.listed), view.outlets[0])
        view = listing_sheet(session, design_id, first.outlet_id)
    asked = Form.sent(raw, faults)
    outlet_choices = tuple((one.outlet_id, one.name) for one in view.outlets)
    return render(
        request,
        "designs/tag.html",
        view,
        status=asked.status,
        asked=asked,
        question=question,
        outlet_choices=outlet_choices,
    )


def _sheet(request: Request, design_id: int, outlet: str) -> ListingSheet:
    """The sheet with the price of the outlet that was picked; nothing picked shows no price."""
    number = int(outlet) if outlet.isascii() and outlet.isdigit() and len(outlet) < 10 else None
    return listing_sheet(reading(request), design_id, number)


def _text(request: Request, view: ListingSheet) -> str:
    # The templates escape for HTML; a plain text has no use for that.
    text = unescape(html("designs/listing.txt", {"view": view}, prefs_of(request)))
    return "\n".join(line.rstrip() for line in text.strip().splitlines()) + "\n"
