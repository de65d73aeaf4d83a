"""Builds under /api: the same reading and the same operations as their pages.

Quantities are numbers in the item's own unit (rings are whole), minutes are numbers, money is text with its currency.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import BeforeValidator, Field
from sqlmodel import Session

from models.errors import fit, fit_both
from models.intake.builds.build import (
    BENCH_KINDS,
    instead_value,
    read_abandon,
    read_finish,
    read_made,
    read_start,
    read_take_out,
    read_unpick,
)
from models.intake.stock.place import NO_PLACE
from models.operations.builds import start as operations
from models.operations.builds.finish import abandon_build, finish_build
from models.operations.builds.made import book_made
from models.operations.builds.undo import undo_build
from models.operations.builds.unpick import unpick_pieces
from models.queries.builds.build import build_view
from models.queries.builds.list import BuildRow, build_rows, open_builds
from models.queries.shop.shop import currency_of
from models.trade.vocabulary.bench import TIMING_ANSWERS, BuildState
from webapp.api.answers import Amount, AnswerModel, LineOut, Units, beneath, filled, path
from webapp.api.shapes import ANY_NUMBER
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems, version_if_sent
from webapp.web.numbers import Whole
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["builds"])
State = BuildState

_DAY: dict[str, object] = {"type": "string", "format": "date", "description": "Today when it is left out."}
_DUE: dict[str, object] = {"type": "string", "format": "date", "description": "The day by which it is wanted."}
_TIME: dict[str, object] = {
    **ANY_NUMBER, "description": "Minutes, or text such as 1:35 or 1 h 35 min.",
}  # fmt: skip
_MASS: dict[str, object] = {**ANY_NUMBER, "description": "A weight: grams, or text with its unit."}
_VERSION: dict[str, object] = {
    "type": "integer",
    "description": "The version that was read; when the build went on since, the answer is 409.",
}
LINE_FIELDS: dict[str, object] = {
    "lot_id": {"type": "integer"},
    "place": {
        "type": "string",
        "description": f"Where the bag lies, or '{NO_PLACE}'. Left out, the fullest bags of the lot go first.",
    },
    "item_id": {"type": "integer", "description": "In the place of a lot: the shop then chooses the bags."},
    "used": {**ANY_NUMBER, "description": "What goes into the pieces, or is taken out."},
    "spoiled": {**ANY_NUMBER, "description": "What was spoiled and replaced."},
    "returned": {**ANY_NUMBER, "description": "What goes back into the bag."},
    "before": _MASS,
    "after": {**_MASS, "description": "What the bag weighs now; with its tare, or the weight before, it is counted."},
    "tare": {**_MASS, "description": "What the empty bag weighs; it is remembered."},
}
_LINES: dict[str, object] = {
    "type": "array",
    "items": {"type": "object", "properties": LINE_FIELDS},
    "description": "Only what differs from what the design says.",
}
ASK_FIELDS: dict[str, object] = {
    "design_id": {"type": "integer"},
    "pieces": {"type": "integer", "minimum": 1},
    "revision": {"type": "integer", "description": "The design's latest when it is left out."},
    "choice": {
        "description": "The picked choice of each group: an object, or texts such as colour=green.",
        "anyOf": [{"type": "object"}, {"type": "array", "items": {"type": "string"}}, {"type": "string"}],
    },
    "with": {"type": "array", "items": {"type": "integer"}, "description": "Optional parts, by their position."},
    "instead": {
        "type": "array",
        "items": {"type": "string"},
        "description": "Items used in the place of others, in this build only: 12:15 uses item 15 instead of item 12.",
    },
}
WORK_FIELDS: dict[str, object] = {
    "minutes": _TIME,
    "times": {"type": "object", "properties": dict.fromkeys(BENCH_KINDS, _TIME), "description": "By kind of work."},
    "timing": {"type": "string", "enum": list(TIMING_ANSWERS), "description": "What to do with a time that looks odd."},
}
_SCRAP: dict[str, object] = {
    "type": "boolean",
    "description": "Whether spoiled precious metal is kept; true by default.",
}
_PLACE: dict[str, object] = {"type": "string", "description": "Where the finished pieces lie."}
_NOTE: dict[str, object] = {"type": "string"}


class BuildLineOut(AnswerModel):
    """What a build takes from one bag; quantities in the item's unit."""

    item_id: int = path("item", "id")
    item: str = path("item", "name")
    unit: str = path("item", "unit")
    lot_id: int
    place: str
    planned: Units = path("planned_milli")
    taken: Units = path("taken_milli")
    extra: Units = path("extra_milli")
    returned: Units = path("returned_milli")
    used: Units = path("used_milli")
    cost: Amount = path("cost_micros")


def _instead(pairs: Sequence[tuple[int, int]]) -> list[str]:
    return [instead_value(*pair) for pair in pairs]


class BuildOut(AnswerModel, alias_generator=beneath("picks")):
    """One build without its lines. Costs are of all its pieces, `each` of one good piece."""

    id: int
    design_id: int | None = Field(description="Null while rings that were taken first have no design.")
    design: str
    revision: int | None = path("number")
    state: State
    taken_back: bool = Field(description="Whether it was taken back, so that nothing of it holds any more.")
    pieces: int
    good: int | None
    spoiled: int | None
    choices: dict[str, str]
    with_optional: list[int]
    instead: Annotated[list[str], BeforeValidator(_instead)] = Field(
        description="Items used in the place of others: 12:15 uses item 15 instead of item 12."
    )
    made_on: date = Field(description="The day on which it was finished; until then the day on which it was started.")
    started_on: date
    due_on: date | None = Field(description="The day by which somebody wants it.")
    finished_on: date | None
    created_at: datetime
    note: str
    minutes: Units | None = path("minutes_milli")
    timing_left_out: bool = path("left_out")
    materials: Amount | None = path("materials_micros", says="What came from the stock.")
    guessed: Amount | None = path(
        "guessed_micros",
        says="Parts that are no stock items, at their guessed price; null where the total leaves them out.",
    )
    labour: Amount | None = path("labour_micros")
    overhead: Amount | None = path("overhead_micros")
    total: Amount | None = path("total_micros")
    each: Amount | None
    expected: Amount | None = path("estimate_each", says="What one piece was expected to cost when it was finished.")
    expected_minutes: Units | None = path("estimate_minutes_milli")
    version: int


class BuildWithLines(BuildOut):
    """One build with its bags, and the reasons of what it cost."""

    lines: list[BuildLineOut]
    cost_lines: list[LineOut]
    piece_item_id: int | None = path("lot", "item_id")
    piece_lot_id: int | None = path("lot", "lot_id")
    undo: str = Field(description="What would be taken back next, in words; empty when nothing is left to.")


class BesideOut(AnswerModel):
    """A build of the same design that is under way: its rings are kept for it, or out of their bags."""

    id: int
    state: State
    pieces: int
    finish: Annotated[str, BeforeValidator("/api/builds/{}/finish".format)] = path(
        "id", says="Where it is finished, in the place of booking these as made."
    )


class BuildBesides(BuildWithLines):
    """A build that begins, and what is under way of its design already, whose rings it did not take."""

    under_way: list[BesideOut] = Field(description="Where they are what was made, undo this and finish them instead.")


class BuildsOut(AnswerModel):
    """Some builds, the latest first."""

    builds: list[BuildOut]


@router.get("/builds", response_model=BuildsOut, responses=problems(422))
def list_builds(
    request: Request,
    state: State | None = None,
    design_id: Whole | None = None,
    *,
    taken_back: Annotated[bool, Query(description="Whether builds that were taken back are listed too.")] = False,
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
    before: Annotated[Whole | None, Query(ge=1)] = None,
) -> BuildsOut:
    """The builds, the latest first, before a build's number; of one state or design where that is asked."""
    session = reading(request)
    rows = build_rows(session, state=state, design_id=design_id, taken_back=taken_back, limit=limit, before=before)
    return filled(BuildsOut, builds=rows, currency=currency_of(session))


@router.post(
    "/builds",
    status_code=201,
    responses={201: {"model": BuildBesides}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(
        {
            **ASK_FIELDS, "lines": _LINES, "spare": {"type": "boolean"}, "started_on": _DAY, "due_on": _DUE,
            "made_on": {**_DAY, "deprecated": True, "description": "An older word for started_on."}, "note": _NOTE,
        },
        ("design_id",),
    ),
)  # fmt: skip
@writes
def start_build(session: Session, body: Body) -> Answer:
    """Start a build: what it needs is reserved; with too little in stock 409 lists every item that is short."""
    draft = fit(read_start(body))
    before = open_builds(session, draft.ask.design_id)
    return _created(session, operations.start_build(session, draft).build_id, before)


@router.post(
    "/builds/made",
    status_code=201,
    responses={201: {"model": BuildBesides}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(
        {
            **ASK_FIELDS, **WORK_FIELDS, "spoiled": {"type": "integer", "minimum": 0}, "lines": _LINES,
            "made_on": _DAY, "place": _PLACE, "note": _NOTE, "keep_scrap": _SCRAP,
        },
        ("design_id",),
    ),
)  # fmt: skip
@writes
def book_pieces(session: Session, body: Body) -> Answer:
    """Book pieces in that were made: start, take-out and finish in one act, also for a past day.

    Builds of the design that are under way keep their rings, and these take others: `under_way` names them.
    """
    draft = fit(read_made(body))
    before = open_builds(session, draft.ask.design_id)
    return _created(session, book_made(session, draft).build_id, before)


@router.get("/builds/{build_id}", response_model=BuildWithLines, responses=problems(404))
def get_build(request: Request, build_id: int) -> BuildWithLines:
    """One build with its bags."""
    return _full(reading(request), build_id)


_ACTS = {200: {"model": BuildWithLines}, **problems(400, 404, 409, 415, 422)}


@router.post(
    "/builds/{build_id}/take-out",
    responses=_ACTS,
    openapi_extra=json_body({"lines": _LINES, "taken_on": _DAY, "version": _VERSION}),
)
@writes
def take_out(session: Session, build_id: int, body: Body) -> Answer:
    """Take the rings of a started build out of their bags."""
    return _acted(session, build_id, body, read_take_out, operations.take_out)


@router.post(
    "/builds/{build_id}/finish",
    responses=_ACTS,
    openapi_extra=json_body(
        {
            **WORK_FIELDS, "good": {"type": "integer", "minimum": 0}, "spoiled": {"type": "integer", "minimum": 0},
            "lines": _LINES, "finished_on": _DAY, "place": _PLACE, "note": _NOTE, "keep_scrap": _SCRAP,
            "version": _VERSION,
        }
    ),
)  # fmt: skip
@writes
def finish(session: Session, build_id: int, body: Body) -> Answer:
    """Finish a build; without a word all its pieces are good and took what the design says."""
    return _acted(session, build_id, body, read_finish, finish_build)


@router.post(
    "/builds/{build_id}/abandon",
    responses=_ACTS,
    openapi_extra=json_body(
        {"lines": _LINES, "abandoned_on": _DAY, "note": _NOTE, "keep_scrap": _SCRAP, "version": _VERSION}
    ),
)
@writes
def abandon(session: Session, build_id: int, body: Body) -> Answer:
    """Give a build up; what is not said to be spoiled goes back into its bags."""
    return _acted(session, build_id, body, read_abandon, abandon_build)


@router.post(
    "/builds/{build_id}/unpick",
    responses=_ACTS,
    openapi_extra=json_body(
        {
            "pieces": {"type": "integer", "minimum": 1}, "lines": _LINES, "unpicked_on": _DAY, "keep_scrap": _SCRAP,
            "version": _VERSION,
        }
    ),
)  # fmt: skip
@writes
def unpick(session: Session, build_id: int, body: Body) -> Answer:
    """Take finished pieces apart; their rings go back into the bags that they came from."""
    return _acted(session, build_id, body, read_unpick, unpick_pieces)


@router.post(
    "/builds/{build_id}/undo",
    responses=_ACTS,
    openapi_extra=json_body({"version": _VERSION}),
)
@writes
def undo(session: Session, build_id: int, body: Body) -> Answer:
    """Take back the latest thing that was done with a build; one that was only started is then gone."""
    done = undo_build(session, build_id, version=fit(version_if_sent(body)))
    return Answer({"id": build_id, "gone": True} if done.gone else build_answer(session, build_id))


def _acted(
    session: Session,
    build_id: int,
    body: dict[str, Any],
    read: Callable[[dict[str, Any]], Any],
    do: Callable[..., operations.BuildAct],
) -> Answer:
    """Read a body, act on a build, and answer how it is then. Raises: Unfit."""
    version, draft = fit_both(version_if_sent(body), read(body))
    do(session, build_id, draft, version=version)
    return Answer(build_answer(session, build_id))


def _created(session: Session, build_id: int, under_way: Sequence[BuildRow]) -> Answer:
    made = _full(session, build_id, BuildBesides, under_way=under_way)
    return Answer(made.model_dump(mode="json"), status=201, location=f"/api/builds/{build_id}")


def build_answer(session: Session, build_id: int) -> dict[str, object]:
    """One build with its bags, made of plain JSON values."""
    return _full(session, build_id).model_dump(mode="json")


def _full(
    session: Session, build_id: int, model: type[BuildWithLines] = BuildWithLines, **beside: object
) -> BuildWithLines:
    view = build_view(session, build_id)
    return filled(
        model, view.row, lines=view.lines, cost_lines=view.real_cost, lot=view.lot, undo=view.undo,
        currency=currency_of(session), **beside,
    )  # fmt: skip
