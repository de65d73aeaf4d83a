"""Ring facts under /api: any wire, opening, metal and cut, whether or not such a ring is in stock."""

from __future__ import annotations

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.ring import RingQuestion, read_ring
from models.queries.stock.item_page import RingSheet, ring_sheet
from models.queries.stock.metal import all_metals
from models.trade.weaves import Fit
from webapp.web.json_api import faulty, problems

router = APIRouter(prefix="/api", tags=["rings"])


class FitOut(BaseModel):
    """How a ring suits a weave, with the number that decided it."""

    weave: str
    name: str
    verdict: str = Field(description="comfortable, tight, loose or too small")
    deciding: float
    reason: str
    own_record: bool = Field(description="Whether the shop's own record of what fitted decided it.")


class RingOut(BaseModel):
    """What a ring is. Lengths in mm, masses in g; `rings_per_…` are of rings as sized, before the cut."""

    wire_mm: float
    wire_label: str
    inner_mm: float
    outer_mm: float
    aspect_ratio: float
    metal: str
    metal_name: str
    density: float = Field(description="g/cm³ at 20 °C")
    density_source: str
    mass_g: float
    wire_length_mm: float
    wire_g_per_m: float
    rings_per_100g: float
    rings_per_ozt: float
    rings_per_lb: float
    rings_per_kg: float
    rings_per_metre: int
    kerf_mm: float
    lost_share: float
    mass_after_cut_g: float
    rings_per_kg_after_cut: float
    closed_inner_mm: float
    closed_aspect_ratio: float
    cautions: list[str]
    fits: list[FitOut]


@router.get("/ring", response_model=RingOut, responses=problems(422))
def get_ring(
    request: Request,
    wire: str = Query("", description="The wire: mm, inches, or a gauge with AWG or SWG.", examples=["20 AWG"]),
    inner: str = Query("", description="The inner diameter: mm or inches.", examples=["1/8 in"]),
    metal: str = Query("", description="The code or the name of a metal.", examples=["copper"]),
    kerf: str = Query("", description="What a saw takes of each ring; left out, the shop's usual cut."),
) -> RingOut | Response:
    """The facts of a ring, and how it suits every weave of the catalogue."""
    with request.app.state.store.reading() as session:
        question = read_ring({"wire": wire, "inner": inner, "metal": metal, "kerf": kerf}, metals=all_metals(session))
        if isinstance(question, Faults):
            return faulty(question)
        sheet = ring_sheet(session, question.size, question.metal, kerf_mm=question.kerf_mm)
    return ring_out(question, sheet)


def ring_out(question: RingQuestion, sheet: RingSheet) -> RingOut:
    """A ring as the API sends it."""
    facts = sheet.facts
    return RingOut(
        wire_mm=facts.size.wire_nm / 1_000_000,
        wire_label=question.wire_label,
        inner_mm=facts.size.inner_nm / 1_000_000,
        outer_mm=float(facts.outer_mm),
        aspect_ratio=float(facts.aspect_ratio),
        metal=question.metal.code,
        metal_name=question.metal.name,
        density=float(question.metal.density),
        density_source=question.metal.source,
        mass_g=float(facts.mass_g),
        wire_length_mm=float(facts.wire_length_mm),
        wire_g_per_m=float(facts.wire_g_per_m),
        rings_per_100g=float(facts.rings_per_100g),
        rings_per_ozt=float(facts.rings_per_ozt),
        rings_per_lb=float(facts.rings_per_lb),
        rings_per_kg=float(facts.rings_per_kg),
        rings_per_metre=facts.rings_per_metre,
        kerf_mm=float(facts.kerf_mm),
        lost_share=float(facts.lost_share),
        mass_after_cut_g=float(facts.mass_after_cut_g),
        rings_per_kg_after_cut=float(facts.rings_per_kg_after_cut),
        closed_inner_mm=float(facts.closed_inner_mm),
        closed_aspect_ratio=float(facts.closed_aspect_ratio),
        cautions=list(sheet.cautions),
        fits=[fit_out(row.fit) for row in sheet.fits],
    )


def fit_out(fit: Fit) -> FitOut:
    """A fit as the API sends it."""
    return FitOut(
        weave=fit.weave.code,
        name=fit.weave.name,
        verdict=fit.verdict,
        deciding=float(fit.deciding),
        reason=fit.reason,
        own_record=fit.own_record,
    )
