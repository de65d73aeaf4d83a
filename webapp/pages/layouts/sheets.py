"""The instruction sheet of a design, for paper: what to lay ready, the steps with pictures, and the cautions."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from models.intake.designs.kit import read_kit_request
from models.layouts.drawing.drawing import Look
from models.layouts.engine.chains import Chain
from models.layouts.engine.limits import not_at_hand
from models.layouts.engine.piece import MOST_CHAIN_DRAWN, Hung, hung_piece
from models.layouts.engine.rows import Layout
from models.layouts.places.sheet import Unplaced
from models.layouts.steps.sheet import Stage
from models.queries.designs.instruction_sheet import InstructionSheet, LaidSheet, instruction_sheet
from models.queries.designs.kit import kit_origin
from webapp.pages.layouts.drawings import Number
from webapp.web.forms import Form, read_address
from webapp.web.piece import PagePiece, page_piece
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()
DETAIL_UP_TO = 300
"""Of a larger piece the small pictures are drawn with fewer, longer lines, so that the page stays light."""

PICTURED_UP_TO = 10_000
"""The steps of a larger sheet stand in words alone: each picture would show all of it that is there by then."""


@dataclass(frozen=True, slots=True)
class Pictured:
    """One stage of the work with its picture; None where nothing new is drawn."""

    stage: Stage
    picture: PagePiece | None


@router.get("/designs/{design_id}/sheet")
def sheet_page(request: Request, design_id: int, revision: Number = None) -> Response:
    """The sheet; the address says how many rings are to spare."""
    raw = read_address(request)
    question, faults = read_kit_request(raw.raw())
    session = reading(request)
    origin = kit_origin(session, design_id)
    if origin is not None:
        # A kit is made up by the sheet of its design, in the revision that it is packed by.
        return RedirectResponse(f"/designs/{origin[0]}/sheet?revision={origin[2].revision}", status_code=303)
    view = instruction_sheet(session, design_id, question, number=revision)
    asked = Form.sent(raw, faults)
    hung = _places(view)
    return render(
        request,
        "layouts/sheet.html",
        view,
        status=asked.status,
        asked=asked,
        piece=_whole(view, hung),
        stages=_pictured(view, hung),
        revision=revision,
    )


def _places(view: InstructionSheet) -> Hung | Unplaced | None:
    """Where the rings of a sheet lie, found once for all pictures of it; None for a chain and for what is not drawn."""
    laid, layout = view.laid, view.design.draft.layout
    if laid is None or layout is None or not isinstance(layout.plan, Layout) or not_at_hand(layout.plan, laid.net):
        return None
    return hung_piece(layout.plan, laid.net, laid.facts.items)


def _whole(view: InstructionSheet, hung: Hung | Unplaced | None) -> PagePiece | None:
    """The finished piece, or why it is not drawn here."""
    laid, layout = view.laid, view.design.draft.layout
    if laid is None or layout is None:
        return None
    much = not_at_hand(layout.plan, laid.net)
    if much:
        return PagePiece(None, (much,))
    look = Look(prefix="whole", title=view.design.name, legend=False)
    return page_piece(layout.plan, laid.facts.items, laid.net, look, hung)


def _pictured(view: InstructionSheet, hung: Hung | Unplaced | None) -> list[Pictured]:
    """The stages with the state after each: new rings in their colour, earlier ones pale; of a large piece in words."""
    laid, layout = view.laid, view.design.draft.layout
    if laid is None or layout is None:
        return []
    if len(laid.net) > PICTURED_UP_TO and isinstance(layout.plan, Layout):
        return [Pictured(stage, None) for stage in laid.stages]
    chain = isinstance(layout.plan, Chain)
    found: list[Pictured] = []
    shown: frozenset[int] = frozenset()
    for place, stage in enumerate(laid.stages, 1):
        present = frozenset(stage.present)
        if chain and laid.net.woven > MOST_CHAIN_DRAWN:
            # Of a long chain only the beginning is drawn, so later stages look like the one before.
            present = frozenset(index for index in present if index < MOST_CHAIN_DRAWN)
        new = bool(present - shown)
        shown = present
        found.append(Pictured(stage, _picture(view, laid, stage, present, place, hung=hung) if new else None))
    return found


def _picture(
    view: InstructionSheet,
    laid: LaidSheet,
    stage: Stage,
    present: frozenset[int],
    place: int,
    *,
    hung: Hung | Unplaced | None,
) -> PagePiece | None:
    layout = view.design.draft.layout
    if layout is None:
        return None
    look = Look(
        prefix=f"s{place}-",
        title=f"After step {place}",
        detail="auto" if len(laid.net) <= DETAIL_UP_TO else "light",
        legend=False,
        size_bar=False,
        only=present,
        fresh=frozenset(stage.fresh) & present,
    )
    drawn = page_piece(layout.plan, laid.facts.items, laid.net, look, hung)
    return drawn if drawn.svg is not None else None
