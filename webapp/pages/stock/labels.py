"""Labels of bags, for a label printer or a sheet. What stands on one is read in `models/queries/stock/label`."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from models.intake.stock.label import LabelRequest, read_label_request, read_paper_request
from models.queries.stock.label import label_page
from webapp.web.forms import Form, read_address
from webapp.web.labels import PAPER_CHOICES, code_address, lay_out
from webapp.web.qr import qr_path
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()


@router.get("/stock/labels")
def labels(request: Request) -> Response:
    """The labels of what was picked; nothing picked shows what can be."""
    raw = read_address(request)
    picked = read_label_request(raw.all("items"), raw.all("lots"), raw.all("places"))
    question, faults = read_paper_request(raw.raw())
    view = label_page(reading(request), picked)
    address = code_address(request)
    asked = Form.sent(raw, faults)
    return render(
        request,
        "stock/labels.html",
        view,
        status=asked.status,
        asked=asked,
        papers=PAPER_CHOICES,
        laid=lay_out(view.labels, question),
        codes={label.item.id: qr_path(f"{address.base}stock/items/{label.item.id}") for label in view.labels},
        address=address,
        picked=picked_fields(picked),
    )


def picked_fields(picked: LabelRequest) -> tuple[tuple[str, str], ...]:
    """What was picked, as the hidden fields that ask for it again."""
    found = [
        (name, ",".join(str(one) for one in ids)) for name, ids in (("items", picked.items), ("lots", picked.lots))
    ]
    return tuple((name, ids) for name, ids in found if ids) + tuple(("places", place) for place in picked.places)
