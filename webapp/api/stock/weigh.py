"""Counting by weight under /api: how many rings a weighing says there are, and how sure that is. Nothing is booked."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import Field
from starlette.responses import Response

from models.intake.stock.weigh import read_weigh
from models.queries.stock.metal import all_metals
from models.queries.stock.weighing import scale_step_ug, weigh_bag
from models.trade.vocabulary.ledger import MASS_SOURCES
from webapp.api.answers import AnswerModel, Grams, beneath, filled, path
from webapp.api.shapes import ANY_NUMBER
from webapp.web.json_api import json_body, problems, read_json, readable
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["weigh"])
Body = Annotated[dict[str, Any], Depends(read_json)]

_SAMPLE: dict[str, object] = {
    "type": "object",
    "properties": {"rings": {"type": "integer", "minimum": 1}, "mass_g": ANY_NUMBER},
    "required": ["rings", "mass_g"],
}
SCALE_FIELDS: dict[str, object] = {
    "gross_g": {**ANY_NUMBER, "description": "The bag with all in it: grams, or text with its unit."},
    "tare_g": {**ANY_NUMBER, "description": "The empty bag; nothing when it is left out."},
    "scale_step_g": {**ANY_NUMBER, "description": "The step of the scale's display; the shop's scale when left out."},
    "sample": {
        "description": "Counted rings weighed together, without a bag: one sample, or a list of them.",
        "anyOf": [_SAMPLE, {"type": "array", "items": _SAMPLE}],
    },
    "sample_in_bag": {"type": "boolean", "description": "Whether the sample lies in the bag again; false by default."},
    "scatter_percent": {**ANY_NUMBER, "description": "How much single rings differ; else samples show it, or 1 %."},
    "mass_from": {"type": "string", "enum": ["", *MASS_SOURCES], "description": "Where one ring's mass comes from."},
}
WEIGH_FIELDS: dict[str, object] = {
    "wire": {**ANY_NUMBER, "description": "The ring's wire, with its inner diameter and metal: mm, inches or a gauge."},
    "inner": {**ANY_NUMBER, "description": "The ring's inner diameter."},
    "metal": {"type": "string", "description": "The code or the name of a metal."},
    "item_id": {"type": "integer", "description": "A stock item, in the place of size and metal."},
    "lot_id": {"type": "integer", "description": "A lot, whose own samples are remembered."},
    **SCALE_FIELDS,
}


class OddOut(AnswerModel):
    """A sample that does not weigh what rings of the item do."""

    seen_g: float
    expected_g: float
    likely_item_id: int | None = path("likely_id")
    likely_item: str = path("likely")


class ErrorOut(AnswerModel):
    """One source of the uncertainty, in rings, and its share of the whole variance."""

    label: str
    rings: float
    share: float
    reason: str


class WeighOut(AnswerModel, alias_generator=beneath("count")):
    """How many rings are in the bag. `low` to `high` is the 95 % range over whole counts."""

    count: int = path("count", "count")
    low: int
    high: int
    certain: bool = Field(description="Whether the range holds one count only.")
    estimate: float = Field(description="The count before it is made whole.")
    uncertainty: float = path("count", "u", says="The standard uncertainty, in rings.")
    fits: bool = Field(description="False when no whole number of rings weighs this much.")
    sample_needed: int | None = Field(description="The smallest larger sample that would make the count certain.")
    portion: int | None = Field(description="The most rings that could be weighed at once to be certain.")
    net_g: Grams = path("net_ug")
    ring_mass_g: float = path("ring", "mass_g")
    ring_mass_from: str = path("mass_from")
    ring_mass_source: str = path("ring", "source")
    odd: OddOut | None
    parts: list[ErrorOut] = path("count", "lines")


@router.post(
    "/weigh",
    response_model=WeighOut,
    responses=problems(400, 404, 415, 422),
    openapi_extra=json_body(WEIGH_FIELDS, ("gross_g",)),
)
def weigh(request: Request, body: Body) -> WeighOut | Response:
    """How many rings a bag holds by its weight. Nothing is booked; `/api/counts` does that."""
    session = reading(request)
    draft = readable(read_weigh(body, metals=all_metals(session), step_ug=scale_step_ug(session)))
    return filled(WeighOut, weigh_bag(session, draft))
