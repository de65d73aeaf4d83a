"""Variants of a design side by side, and the copy that makes one a design of its own. Nothing is computed here."""

from __future__ import annotations

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Unfit
from models.intake.designs.variant import VariantDraft, read_variant
from models.intake.faults import Faults
from models.intake.raw import Reader
from models.operations.designs.design import add_design
from models.queries.designs.variants import VariantsPage, variants_page, varied_draft
from models.queries.shop.shop import shop_settings
from models.queries.stock.metal import all_metals
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()


@router.get("/designs/{design_id}/variants")
def show_variants(request: Request, design_id: int) -> Response:
    """A design beside a variant of it; the address holds all that is different."""
    return _variants(request, design_id, read_address(request), None)


@router.post("/designs/{design_id}/variants")
@submits(lambda request, design_id, raw, form: _variants(request, design_id, raw, form))
def copy_variant(session: Session, design_id: int, raw: RawForm) -> Done:
    """Make the variant a design of its own."""
    page, faults = _read(session, design_id, raw)
    if faults is not None:
        raise Unfit(faults)
    reader = Reader(raw.raw())
    name = reader.text("name", required="Give the new design a name.")
    if reader.faults() is not None or page.other is None:
        raise Unfit(reader.faults() or Faults.of("", "Nothing is different yet, so there is nothing to copy."))
    draft = varied_draft(session, design_id, page, name)
    copied = add_design(session, draft, photo=None, copied_from_id=design_id)
    return Done(f"/designs/{copied}", f"“{name}” is a design of its own now.")


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
