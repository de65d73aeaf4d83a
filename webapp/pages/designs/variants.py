"""Variants of a design side by side, and the copy that makes one a design of its own. Nothing is computed here."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.intake.designs.variant import VariantDraft, read_variant
from models.intake.faults import Faults
from models.intake.raw import Reader
from models.operations.designs.design import add_design
from models.queries.designs.variants import VariantsPage, variants_page, varied_draft
from models.queries.shop.shop import shop_settings
from models.queries.stock.metal import all_metals
from webapp.web.forms import Form, RawForm, read_address, read_form
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]


@router.get("/designs/{design_id}/variants")
def show_variants(request: Request, design_id: int) -> Response:
    """A design beside a variant of it; the address holds all that is different."""
    return _variants(request, design_id, read_address(request), None)


@router.post("/designs/{design_id}/variants")
def copy_variant(request: Request, design_id: int, raw: Sent) -> Response:
    """Make the variant a design of its own."""

    def act(session: Session) -> Done | Faults:
        page, faults = _read(session, design_id, raw)
        if faults is not None:
            return faults
        reader = Reader(raw.raw())
        name = reader.text("name", required="Give the new design a name.")
        if reader.faults() is not None or page.other is None:
            return reader.faults() or Faults.of("", "Nothing is different yet, so there is nothing to copy.")
        draft = varied_draft(session, design_id, page, name)
        copied = add_design(session, draft, photo=None, copied_from_id=design_id)
        return Done(f"/designs/{copied}", f"“{name}” is a design of its own now.")

    return submit_once(request, raw, act, show_again=lambda form: _variants(request, design_id, raw, form))


def _variants(request: Request, design_id: int, raw: RawForm, form: Form | None) -> Response:
    page, faults = _read(reading(request), design_id, raw)
    asked = form or Form.sent(raw, faults)
    return render(request, "designs/variants.html", page, status=asked.status, form=form, asked=asked)


def _read(session: Session, design_id: int, raw: RawForm) -> tuple[VariantsPage, Faults | None]:
    unit = shop_settings(session).length_unit
    draft, faults = read_variant(_filled(raw), metals=all_metals(session), length_unit=unit)
    return variants_page(session, design_id, draft if faults is None else _without(draft, faults), faults)


def _filled(raw: RawForm) -> dict[str, object]:
    return {name: value for name, value in raw.raw().items() if value != ""}


def _without(draft: VariantDraft, faults: Faults) -> VariantDraft:
    """The draft without the parts that have a fault, so that half of what was typed is never shown as the whole."""
    wrong = {int(fault.field.split(".")[1]) for fault in faults if fault.field.startswith("part.")}
    return VariantDraft(
        draft.from_metal,
        draft.to_metal,
        draft.to_colour,
        {place: swap for place, swap in draft.parts.items() if place not in wrong},
    )
