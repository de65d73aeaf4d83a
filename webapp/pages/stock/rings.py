"""The ring facts page: any wire, opening, metal and cut, whether or not such a ring is in stock."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.ring import read_ring
from models.queries.shop.shop import shop_settings
from models.queries.stock.item import near_items, near_nm
from models.queries.stock.item_page import metal_options, ring_sheet
from models.queries.stock.metal import all_metals
from models.trade.measures import exact_text
from webapp.web.forms import Form, read_address
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()
ASKED = ("wire", "inner", "metal", "kerf")


@router.get("/stock/rings")
def ring_page(request: Request) -> Response:
    """Answer what a ring is and what it fits; nothing is kept."""
    asked = read_address(request, *ASKED)
    unit = prefs_of(request).length_unit
    session = reading(request)
    metals = metal_options(session)
    more: dict[str, Any] = {"metals": metals, "usual_kerf": exact_text(shop_settings(session).kerf_nm)}
    if not asked.items:
        form = Form.blank({"metal": metals[0][0]})
        return render(request, "stock/rings.html", None, asked=form, **more)
    question = read_ring(asked.raw(), metals=all_metals(session), length_unit=unit)
    if isinstance(question, Faults):
        return render(request, "stock/rings.html", None, status=422, asked=Form.sent(asked, question), **more)
    sheet = ring_sheet(session, question.size, question.metal, kerf_mm=question.kerf_mm)
    near = near_items(session, question.size, question.metal.code, near_nm(session))
    return render(request, "stock/rings.html", sheet, asked=Form.sent(asked), question=question, near=near, **more)
