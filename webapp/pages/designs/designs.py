"""The pages of designs: the list, one design, its revisions and their differences, copies, retiring, and photos.

The editor is in `design_editor`; cost, prices, variants and the listing sheet have modules of their own.
"""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, HTTPException, Query, Request
from fastapi.responses import FileResponse
from markupsafe import Markup
from pydantic import BaseModel
from sqlmodel import Session
from starlette.responses import Response

from models.intake.builds.build import BuildRequest
from models.operations.designs import design as operations
from models.operations.shop.photo import photo_file
from models.queries.builds.list import builds_of_design
from models.queries.builds.parts import build_parts
from models.queries.builds.timings import timing_of
from models.queries.costing.costing import cost_of_design
from models.queries.designs.design import design_view
from models.queries.designs.editor_page import drawing_of
from models.queries.designs.history import design_difference, design_history, ring_count
from models.queries.designs.kit import kit_origin, kits_of
from models.queries.designs.layout_size import finished_size
from models.queries.designs.list import ORDERS, DesignFilter, design_list
from models.queries.planning.recipes import makeable_by_design, makeable_of_design
from webapp.web.acting import Done, submits
from webapp.web.forms import Form
from webapp.web.numbers import Whole
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()

# The name of a photo is the hash of its content, so what was fetched once never changes.
FOREVER = "public, max-age=31536000, immutable"
PHOTO_POLICY = "default-src 'none'; sandbox"
MOST_WORDS = 200
LATEST_BUILDS = 5


class Wanted(BaseModel):
    """What the address asks of the list; anything unknown asks nothing."""

    find: str = ""
    piece: str = ""
    weave: str = ""
    metal: str = ""
    retired: str = ""
    order: str = "name"

    def as_filter(self) -> DesignFilter:
        """The same as the query takes it."""
        return DesignFilter(
            text=self.find[:MOST_WORDS].strip(),
            piece=self.piece[:MOST_WORDS],
            weave=self.weave[:MOST_WORDS],
            metal=self.metal[:MOST_WORDS],
            retired=self.retired == "yes",
            order=self.order if self.order in ORDERS else "name",
        )


@router.get("/designs")
def list_page(request: Request, wanted: Annotated[Wanted, Query()]) -> Response:
    """All designs with what they cost and earn, narrowed as wanted."""
    asked = wanted.as_filter()
    session = reading(request)
    view = design_list(session, asked)
    made = makeable_by_design(session)
    form = Form.blank({**wanted.model_dump(), "retired": asked.retired})
    return render(request, "designs/list.html", view, block="list", asked=form, made=made)


@router.get("/designs/{design_id}")
def show_page(request: Request, design_id: int) -> Response:
    """One design: what it costs and earns, its parts, its facts."""
    return _show(request, design_id, None)


@router.get("/designs/{design_id}/revisions")
def revisions_page(request: Request, design_id: int) -> Response:
    """Every saved revision with its cost today."""
    view = design_history(reading(request), design_id)
    return render(request, "designs/revisions.html", view)


@router.get("/designs/{design_id}/revisions/{number}")
def revision_page(request: Request, design_id: int, number: int) -> Response:
    """One revision as it was, with its cost today."""
    return _show(request, design_id, number)


@router.get("/designs/{design_id}/difference")
def difference_page(
    request: Request, design_id: int, before: Whole | None = None, after: Whole | None = None
) -> Response:
    """Two revisions side by side."""
    view = design_difference(reading(request), design_id, before, after)
    return render(request, "designs/difference.html", view)


@router.post("/designs/{design_id}/copy")
@submits(lambda request, design_id, form: _show(request, design_id, None, form))
def copy(session: Session, design_id: int) -> Done:
    """Begin a design of its own from this one."""
    copy_id = operations.copy_design(session, design_id)
    name = design_view(session, copy_id).name
    return Done(f"/designs/{copy_id}/edit", f"{name} is a design of its own now.", f"/designs/{copy_id}/discard")


@router.post("/designs/{design_id}/discard")
@submits(lambda request, design_id, form: _show(request, design_id, None, form))
def discard(session: Session, design_id: int) -> Done:
    """Take a fresh copy back."""
    return Done("/designs", f"{operations.discard_copy(session, design_id)} is gone again.")


@router.post("/designs/{design_id}/retire")
@submits(lambda request, design_id, form: _show(request, design_id, None, form))
def retire(session: Session, design_id: int) -> Done:
    """Keep a design out of the list."""
    name = operations.retire_design(session, design_id)
    return Done(f"/designs/{design_id}", f"{name} is retired.", f"/designs/{design_id}/bring-back")


@router.post("/designs/{design_id}/bring-back")
@submits(lambda request, design_id, form: _show(request, design_id, None, form))
def bring_back(session: Session, design_id: int) -> Done:
    """Put a retired design back into the list."""
    name = operations.bring_back_design(session, design_id)
    return Done(f"/designs/{design_id}", f"{name} is back in the list.", f"/designs/{design_id}/retire")


@router.get("/photos/{name}")
def photo(request: Request, name: str, small: str = "") -> Response:
    """A photo, or its thumbnail."""
    file = photo_file(request.app.state.store.photos, name, small=bool(small))
    if file is None:
        raise HTTPException(404)
    headers = {"Cache-Control": FOREVER, "Content-Security-Policy": PHOTO_POLICY, "X-Content-Type-Options": "nosniff"}
    return FileResponse(file, media_type="image/jpeg", headers=headers)


def _show(request: Request, design_id: int, number: int | None, form: Form | None = None) -> Response:
    session = reading(request)
    view = design_view(session, design_id, number)
    costing = cost_of_design(session, design_id, number=view.number)
    size = finished_size(session, view.draft)
    laid = drawing_of(session, view.draft.layout, view.name)
    builds = builds_of_design(session, design_id, LATEST_BUILDS)
    timing = timing_of(session, build_parts(session, BuildRequest(design_id)), 1)
    kit_of = kit_origin(session, design_id)
    kits = kits_of(session, design_id, view.newest)
    makeable = makeable_of_design(session, design_id)
    return render(
        request,
        "designs/show.html",
        view,
        form=form,
        costing=costing,
        size=size,
        laid=laid,
        drawing=Markup(laid.svg) if laid and laid.svg else None,  # noqa: S704  (the drawing escapes its words)
        rings=ring_count(costing.parts),
        scale_nm=max((part.thing.size.outer_nm for part in costing.inputs.parts if part.thing.size), default=0),
        query=urlencode({"before": view.number, "after": view.newest}),
        builds=builds,
        timing=timing,
        makeable=makeable,
        made=Form.blank({"pieces": 1}),
        build_optional=[(one.part, one.counted) for one in costing.optional],
        kit_of=kit_of,
        kits=kits,
    )
