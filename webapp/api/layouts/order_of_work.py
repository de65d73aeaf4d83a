"""The order of work of a design's rows under /api: the same way and the same steps as its page."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, Field
from starlette.responses import JSONResponse, Response

from models.layouts.steps.route import Method, Sides, Turn, Way, When
from models.queries.designs.order_of_work import OrderView, order_view
from models.trade.vocabulary.pieces import Whose
from webapp.web.json_api import faulty, problems

router = APIRouter(prefix="/api", tags=["designs"])


class WayQuery(BaseModel):
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


class StepOut(BaseModel):
    """One step of the work in a maker's words, and the rings that it adds, by name."""

    title: str
    lines: list[str]
    extras: list[str]
    rows: list[int]
    rings: list[str]


class PreparedOut(BaseModel):
    """How many rings of one item are closed and opened beforehand."""

    key: str
    name: str
    close: int
    open: int


class OrderOut(BaseModel):
    """The order of work. `most` is the largest number of rings that could be closed, or what no number can exceed."""

    design: int
    revision: int
    kept: bool = Field(description="Whether this way is the one that is kept with the design.")
    own_choice: bool
    start_row: int
    sides: str
    method: str
    turn: str
    when: str
    way: str
    closed: list[str] = Field(description="The rings that are closed beforehand, by name.")
    close: int
    open: int
    weave: int
    most: int
    most_words: str
    minutes_per_piece: float
    prepared: list[PreparedOut]
    steps: list[StepOut]


@router.get("/designs/{design_id}/order-of-work", responses={200: {"model": OrderOut}, **problems(404, 422)})
def order_of_work(request: Request, design_id: int, query: Annotated[WayQuery, Query()]) -> Response:
    """What is closed and opened beforehand along a way, and the steps of the work."""
    with request.app.state.store.reading() as session:
        view, faults = order_view(session, design_id, query.raw())
    if faults is not None:
        return faulty(faults)
    return JSONResponse(order_out(view).model_dump(mode="json"))


def order_out(view: OrderView) -> OrderOut:
    """An order of work as the API sends it. Raises: ValueError for rings that cannot be closed together."""
    work, net, route = view.work, view.layout.worked.net, view.way.layout.route
    if work is None:
        raise ValueError("rings that are linked cannot be closed together")
    return OrderOut(
        design=view.design.id,
        revision=view.design.number,
        kept=not view.changed,
        own_choice=view.way.own,
        start_row=route.start_row,
        sides=route.sides,
        method=route.method,
        turn=route.turn,
        when=route.when,
        way=route.way,
        closed=[net.names[index] for index in sorted(work.closed)],
        close=work.prepared.close,
        open=work.prepared.open,
        weave=work.prepared.weave,
        most=work.most,
        most_words=work.most_words,
        minutes_per_piece=float(view.minutes),
        prepared=[
            PreparedOut(key=line.key, name=line.label, close=line.closed, open=line.opened) for line in view.prepared
        ],
        steps=[
            StepOut(
                title=step.title,
                lines=list(step.lines),
                extras=list(step.extras),
                rows=list(step.rows),
                rings=[net.names[index] for index in step.added],
            )
            for step in work.steps
        ],
    )
