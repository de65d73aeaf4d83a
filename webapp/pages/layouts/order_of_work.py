"""The order of work of a laid-out piece: the maker's way through it, what is closed beforehand, and the steps.

The way stands in the address until it is kept, so that every choice can be looked at first.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Unfit
from models.intake.faults import Faults
from models.intake.layouts.route import read_way
from models.intake.raw import Raw
from models.layouts.drawing.drawing import FULL_UP_TO, Look
from models.operations.designs.layout import keep_layout
from models.queries.designs.design import design_view
from models.queries.designs.layout import layout_items, layout_of
from models.queries.designs.order_of_work import OrderView, order_view, rows_of
from models.trade.vocabulary.pieces import METHODS, ROW_ORDERS, TURNS, WAYS, WHENS, WHOSE
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.numbers import Whole
from webapp.web.piece import PagePiece, page_piece
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()

CHOICES = {
    "sides": tuple(ROW_ORDERS.items()),
    "method": tuple(METHODS.items()),
    "turn": tuple(TURNS.items()),
    "when": tuple(WHENS.items()),
    "way": tuple(WAYS.items()),
    "whose": WHOSE.choices,
}


@router.get("/designs/{design_id}/rows/order")
def order_page(request: Request, design_id: int) -> Response:
    """The kept way, or the one that the address asks for."""
    return _order(request, design_id, read_address(request), None)


@router.post("/designs/{design_id}/rows/order")
@submits(lambda request, design_id, raw, form: _order(request, design_id, raw, form))
def keep(session: Session, design_id: int, raw: RawForm) -> Done:
    """Keep this way as a new revision: the work sheet and the time follow it."""
    design = design_view(session, design_id)
    kept = rows_of(design)
    way, faults = read_way(raw.raw(), kept, layout_items(session, kept))
    if faults is not None:
        raise Unfit(faults)
    saved = keep_layout(session, design_id, raw.version, way.layout, change_note="The order of work.")
    here = f"/designs/{design_id}/rows/order"
    if not saved.changed:
        return Done(here, "This is the way that was kept already.")
    now = design_view(session, design_id)
    back = urlencode({"number": design.number, "version": now.version})
    said = f"Kept as revision {now.number}. The work sheet and the time follow this way."
    return Done(here, said, f"{here}/back?{back}")


@router.post("/designs/{design_id}/rows/order/back")
@submits(lambda request, design_id, form: _order(request, design_id, RawForm(), form))
def go_back(session: Session, design_id: int, number: Annotated[int, Query(ge=1, le=2**31)], version: Whole) -> Done:
    """Go back to the way of an earlier revision."""
    before = layout_of(session, design_id, number)
    rows = before if before is not None else rows_of(design_view(session, design_id))
    keep_layout(session, design_id, version, rows, change_note=f"The order of work of revision {number}.")
    return Done(f"/designs/{design_id}/rows/order", "The way is as it was before.")


def _order(request: Request, design_id: int, raw: RawForm, form: Form | None) -> Response:
    view, faults = order_view(reading(request), design_id, raw.raw())
    asked = form or replace(Form.sent(_shown(view, raw, faults), faults), version=view.design.version)
    return render(
        request,
        "layouts/order.html",
        view,
        block="order",
        status=asked.status,
        form=asked,
        piece=_drawn(view),
        choices=CHOICES,
        can_toggle=_answers(view),
    )


def _drawn(view: OrderView) -> PagePiece:
    """The piece with the closed rings in their own tint and the open ones pale; a small piece's rings are links."""
    layout, way = view.layout, view.way
    net = layout.worked.net
    query = urlencode(_asked(way.raw()))
    look = Look(
        prefix="w",
        title=f"{view.design.name}: rings closed beforehand in colour, open rings pale",
        fresh=way.chosen,
        marks=way.at_fault,
        legend=False,
        answer=_answers(view),
        link=f"/designs/{view.design.id}/rows/order?{query}&flip={{ring}}#piece" if _answers(view) else "",
    )
    return page_piece(layout.draft.plan, layout.facts.items, net, look)


def _answers(view: OrderView) -> bool:
    """Whether each ring of the drawing can be chosen: of a large piece they are too small to be hit."""
    return len(view.layout.worked.net) <= FULL_UP_TO


def _asked(raw: Raw) -> dict[str, str]:
    """A way as the words of an address; its own choice of rings is named even where it is what the way gives."""
    return {name: str(value) for name, value in raw.items()} | {"whose": "own"}


def _shown(view: OrderView, raw: RawForm, faults: Faults | None) -> RawForm:
    """What stands in the fields: the way that is shown, and what was typed where it could not be read."""
    values = {name: str(value) for name, value in view.way.raw().items()}
    for name in faults.by_field() if faults else ():
        if name in values and name in raw and not (name == "closed" and "flip" in raw):
            values[name] = raw.get(name)
    return RawForm(tuple(values.items()))
