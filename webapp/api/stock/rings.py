"""Ring facts under /api: any wire, opening, metal and cut, whether or not such a ring is in stock."""

from __future__ import annotations

from fastapi import APIRouter, Query, Request
from pydantic import Field
from starlette.responses import Response

from models.intake.stock.ring import read_ring
from models.queries.stock.item_page import ring_sheet
from models.queries.stock.metal import all_metals
from webapp.api.answers import AnswerModel, Millimetres, beneath, filled, path
from webapp.web.json_api import problems, readable
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["rings"])


class FitOut(AnswerModel, alias_generator=beneath("fit")):
    """How a ring suits a weave, with the number that decided it."""

    weave: str = path("fit", "weave", "code")
    name: str = path("fit", "weave", "name")
    verdict: str = Field(description="comfortable, tight, loose or too small")
    deciding: float
    reason: str
    own_record: bool = Field(description="Whether the shop's own record of what fitted decided it.")


class RingOut(AnswerModel, alias_generator=beneath("facts")):
    """What a ring is. Lengths in mm, masses in g; `rings_per_…` are of rings as sized, before the cut."""

    wire_mm: Millimetres = path("facts", "size", "wire_nm")
    wire_label: str = path("question", "wire_label")
    inner_mm: Millimetres = path("facts", "size", "inner_nm")
    outer_mm: float
    aspect_ratio: float
    metal: str = path("question", "metal", "code")
    metal_name: str = path("question", "metal", "name")
    density: float = path("question", "metal", "density", says="g/cm³ at 20 °C")
    density_source: str = path("question", "metal", "source")
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
    session = reading(request)
    question = readable(
        read_ring({"wire": wire, "inner": inner, "metal": metal, "kerf": kerf}, metals=all_metals(session))
    )
    sheet = ring_sheet(session, question.size, question.metal, kerf_mm=question.kerf_mm)
    return filled(RingOut, sheet, question=question)
