"""The order of work of a design's rows under /api: the same way and the same steps as its page."""

from __future__ import annotations

from operator import not_
from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, BeforeValidator, Field
from starlette.responses import JSONResponse, Response

from models.layouts.steps.route import Method, Sides, Turn, Way, When
from models.queries.designs.order_of_work import order_view
from models.trade.vocabulary.pieces import Whose
from webapp.api.answers import AnswerModel, beneath, path, sent
from webapp.api.layouts.shapes import RingNames
from webapp.web.json_api import faulty, problems
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["designs"])


class RouteParameters(BaseModel):
    """A way through the piece; what is left out is as it was kept."""

    start_row: int | None = Field(None, ge=1, description="The row that the work begins with.")
    sides: Sides | None = None
    method: Method | None = None
    turn: Turn | None = None
    when: When | None = None
    way: Way | None = None
    whose: Whose | None = Field(
        None, description="Whether the rings closed beforehand are those that the way gives, or the `closed` ones."
    )
    closed: str | None = Field(None, description="Rings to close: '1, 3.7, 5.2-6' (rows, rings, rings side by side).")

    def raw(self) -> dict[str, object]:
        """The fields that were given, as they are read."""
        return {name: str(value) for name, value in self.model_dump().items() if value is not None}


class StepOut(AnswerModel):
    """One step of the work in a maker's words, and the rings that it adds, by name."""

    title: str
    lines: list[str]
    extras: list[str]
    rows: list[int]
    rings: RingNames = path("added")


class PreparedOut(AnswerModel):
    """How many rings of one item are closed and opened beforehand."""

    key: str
    name: str = path("label")
    close: int = path("closed")
    open: int = path("opened")


class OrderOut(AnswerModel, alias_generator=beneath("way", "layout", "route")):
    """The order of work. `most` is the largest number of rings that could be closed, or what no number can exceed."""

    design: int = path("design", "id")
    revision: int = path("design", "number")
    kept: Annotated[bool, BeforeValidator(not_)] = path(
        "changed", says="Whether this way is the one that is kept with the design."
    )
    own_choice: bool = path("way", "own")
    start_row: int
    sides: str
    method: str
    turn: str
    when: str
    way: str = path("way", "layout", "route", "way")
    closed: RingNames = path("work", "closed", says="The rings that are closed beforehand, by name.")
    close: int = path("work", "prepared", "close")
    open: int = path("work", "prepared", "open")
    weave: int = path("work", "prepared", "weave")
    most: int = path("work", "most")
    most_words: str = path("work", "most_words")
    minutes_per_piece: float = path("minutes")
    prepared: list[PreparedOut]
    steps: list[StepOut] = path("work", "steps")


@router.get("/designs/{design_id}/order-of-work", responses={200: {"model": OrderOut}, **problems(404, 422)})
def order_of_work(request: Request, design_id: int, query: Annotated[RouteParameters, Query()]) -> Response:
    """What is closed and opened beforehand along a way, and the steps of the work."""
    view, faults = order_view(reading(request), design_id, query.raw())
    if faults is not None:
        return faulty(faults)
    return JSONResponse(sent(OrderOut, view, names=view.layout.worked.net.names))
