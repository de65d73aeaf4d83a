"""Kits: a design as bags of rings for others to make, kept for sale, labelled, and scaled to a class.

What is in a bag and what a kit costs is worked out in models.
"""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import RedirectResponse, Response

from models.errors import fit
from models.intake.designs.kit import KitRequest, read_kit, read_kit_request, read_people
from models.intake.stock.label import read_paper_request
from models.operations.designs import kit as operations
from models.queries.designs.design import design_view
from models.queries.designs.kit import class_view, kit_origin, kit_view
from models.trade.number_shape import undoubted
from webapp.pages.layouts.drawings import Number
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.labels import PAPER_CHOICES, code_address, lay_out
from webapp.web.numbers import Whole
from webapp.web.qr import qr_path
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()
USUAL_KIT_PAPER = "roll-62x29"


class Before(BaseModel):
    """How a kit was packed: its own revision, that of its design, and the version it has since."""

    number: int = Field(ge=1, le=2**31)
    of: int = Field(ge=1, le=2**31)
    version: Whole | None = None


@router.get("/designs/{design_id}/kit")
def kit_page(request: Request, design_id: int) -> Response:
    """What is in a kit of this design, what it costs and sells for, and the kits that are kept."""
    return _of_design(request, design_id, "kit") or _kit(request, design_id, None)


@router.post("/designs/{design_id}/kit")
@submits(lambda request, design_id, form: _kit(request, design_id, form))
def make_kit(session: Session, design_id: int, raw: RawForm) -> Done:
    """Keep the kit as a design of its own, for sale."""
    draft = fit(read_kit(raw.raw()))
    kit_id = operations.make_kit(session, design_id, draft)
    said = "The kit is a design of its own now: it has its price, can be packed like any build, and lies in stock."
    return Done(f"/designs/{kit_id}", said, f"/designs/{kit_id}/kit/discard")


@router.post("/designs/{kit_id}/kit/discard")
@submits(lambda request, kit_id, form: _refused(request, kit_id, form))
def discard(session: Session, kit_id: int) -> Done:
    """Take a kit that was just made back."""
    return Done("/designs", f"{operations.discard_kit(session, kit_id)} is gone again.")


@router.post("/designs/{kit_id}/kit/up-to-date")
@submits(lambda request, kit_id, form: _refused(request, kit_id, form))
def bring_up_to_date(session: Session, kit_id: int, raw: RawForm) -> Done:
    """Pack a kit by its design's latest revision from now on."""
    done = operations.bring_kit_up_to_date(session, kit_id, raw.version)
    asked = urlencode({"number": done.revision_before, "of": done.of_before, "version": done.version})
    said = f"{done.name} is packed by revision {done.of_now} from now on."
    return Done(f"/designs/{kit_id}", said, f"/designs/{kit_id}/kit/back?{asked}")


@router.post("/designs/{kit_id}/kit/back")
@submits(lambda request, kit_id, form: _refused(request, kit_id, form))
def take_back(session: Session, kit_id: int, before: Annotated[Before, Query()]) -> Done:
    """Pack a kit the way it was packed before."""
    name = operations.take_kit_back(session, kit_id, before.version, number=before.number, of_revision=before.of)
    return Done(f"/designs/{kit_id}", f"{name} is packed as before again.")


@router.get("/designs/{design_id}/kit/labels")
def labels_page(request: Request, design_id: int, revision: Number = None) -> Response:
    """A label for each bag of a kit, and one for the whole; of an earlier revision where a kit is packed by that."""
    of_design = _of_design(request, design_id, "kit/labels")
    if of_design is not None:
        return of_design
    raw = read_address(request)
    asked_kit, kit_faults = read_kit_request(raw.raw())
    paper, paper_faults = read_paper_request(raw.raw(), usual=USUAL_KIT_PAPER)
    view = kit_view(reading(request), design_id, asked_kit, number=revision)
    asked = Form.sent(raw, kit_faults or paper_faults)
    return render(
        request,
        "designs/kit_labels.html",
        view,
        status=asked.status,
        asked=asked,
        query=_as_query(asked_kit),
        revision=revision,
        papers=PAPER_CHOICES,
        laid=lay_out(view.usual if raw.get("what") == "bags" else ("whole", *view.usual), paper),
        of_bags=raw.get("what") == "bags",
        qr=qr_path(f"{code_address(request).base}designs/{design_id}"),
    )


@router.get("/designs/{design_id}/class")
def class_page(request: Request, design_id: int) -> Response:
    """The kit for so many people, and what the free stock lacks for it."""
    of_design = _of_design(request, design_id, "class")
    if of_design is not None:
        return of_design
    raw = read_address(request)
    question, faults = read_kit_request(raw.raw())
    people, people_faults = read_people(raw.raw())
    view = class_view(reading(request), design_id, people, question)
    asked = Form.sent(raw, people_faults or faults)
    return render(
        request, "designs/class.html", view, status=asked.status, asked=asked, query=_as_query(question), people=people
    )


def _kit(request: Request, design_id: int, form: Form | None) -> Response:
    """The page of a kit; the address says how it is put together, a refused form what was typed."""
    raw = read_address(request)
    asked = form if form is not None else Form.sent(raw, None)
    values = {name: asked.value(name) for name in ("spare_percent", "prepared") if asked.value(name)}
    question, faults = read_kit_request(values)
    view = kit_view(reading(request), design_id, question)
    looked = Form.sent(raw, faults)
    keep = form or Form.blank({"name": view.name, "pack_minutes": f"{view.pack_minutes.normalize():f}"})
    return render(
        request,
        "designs/kit.html",
        view,
        status=(form or looked).status,
        form=form,
        asked=looked,
        keep=keep,
        costing=view.costing,
        query=_as_query(question),
    )


def _of_design(request: Request, design_id: int, page: str) -> Response | None:
    """For a design that is a kit: its page stands with the design that it is a kit of, packed the kit's own way."""
    origin = kit_origin(reading(request), design_id)
    if origin is None:
        return None
    of, _, kit = origin
    query = _as_query(kit.question) + (f"&revision={kit.revision}" if page == "kit/labels" else "")
    return RedirectResponse(f"/designs/{of}/{page}?{query}", status_code=303)


def _as_query(question: KitRequest) -> str:
    """How a kit is put together, as the words of an address."""
    said = {"spare_percent": undoubted(f"{question.spare_percent.normalize():f}")}
    return urlencode({**said, "prepared": "yes"} if question.prepared else said)


def _refused(request: Request, kit_id: int, form: Form) -> Response:
    """Say why a kit stays as it is."""
    view = design_view(reading(request), kit_id)
    return render(request, "designs/kit_refused.html", view, form=form)
