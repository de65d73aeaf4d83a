"""Rows under /api: counting a layout without keeping it, and the layout of a design. Drawings are in `drawings`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, BeforeValidator, Field
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Missing, fit_both
from models.intake.faults import Fault, Faults
from models.intake.layouts.layout import LayoutDraft, read_layout
from models.layouts.engine.items import Item
from models.layouts.engine.net import FINDING
from models.layouts.engine.piece import Worked
from models.layouts.steps.work import OrderOfWork
from models.operations.designs import layout as operations
from models.queries.designs.design import DesignView, design_view, draft_of
from models.queries.designs.layout import layout_facts, work_out_draft
from models.queries.designs.layout_change import layout_difference
from models.queries.designs.layout_view import way_through
from models.queries.shop.shop import currency_of
from webapp.api.amounts import plain_amounts
from webapp.api.answers import Amount, AnswerModel, beneath, filled, path, sent
from webapp.api.layouts.shapes import LAYOUT_FIELDS, ChainOut, RingNames, SheetOut, SizeOut, layout_out
from webapp.api.plain_names import as_sent, with_plain_names
from webapp.api.shapes import VERSION
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import faulty, json_body, problems, read_version, readable, write_once
from webapp.web.numbers import Whole
from webapp.web.reading import end_reading, reading

router = APIRouter(prefix="/api", tags=["layouts"])
MOST_NAMED = 200
"""So many rings of one check are named; their number is always told."""


class CountedOut(BaseModel):
    """How many of one key a piece takes, and of rings how many are closed and opened beforehand."""

    key: str
    item_id: int | None
    name: str
    count: int
    finding: bool
    closed_beforehand: int
    opened: int
    mass_g: float | None = Field(description="Of all of them; null where one's mass is not known.")


class LinksOut(AnswerModel):
    """So many rings have so many links."""

    links: int
    rings: int


class CheckOut(AnswerModel):
    """Something to look at: a warning or a note, with up to 200 of its rings by name."""

    kind: str
    level: str
    words: str
    rings: Annotated[RingNames, BeforeValidator(lambda rings: rings[:MOST_NAMED])]
    rings_in_all: Annotated[int, BeforeValidator(len)] = path("rings")
    row: Annotated[int | None, BeforeValidator(lambda row: row or None)]
    offer: str = Field(description="'drop' takes the rings away, 'nest' moves the row by half a pitch; else empty.")


class PreparedOut(AnswerModel, alias_generator=beneath("prepared")):
    """What is closed and opened before the weaving, and the most that could be closed."""

    close: int
    open: int
    weave: int
    rings: RingNames = path("closed", says="The names of the rings closed beforehand.")
    most_possible: int = path("most")
    most_words: str


class CountOut(AnswerModel, alias_generator=beneath("totals")):
    """A layout counted: per item, per ring, what to look at, what to prepare, its size and its mass."""

    weave: str
    rings: int
    findings: int
    items: list[CountedOut]
    links: list[LinksOut]
    links_of_rings: dict[str, int] = Field(description="The links of each ring by its name.")
    checks: list[CheckOut]
    prepared: PreparedOut
    size: SizeOut
    mass_g: float = Field(description="Of everything whose mass is known.")
    unweighed: list[str]
    wire_mm: float = Field(description="The developed length of wire in all rings whose size is known.")


class PriceMoveOut(AnswerModel):
    """The suggested price at one outlet before and after a change; null where no price can pay."""

    outlet: str
    before: Amount | None
    after: Amount | None


class ChangeOut(AnswerModel):
    """What a change of rows does to one piece: after less before."""

    rings: int
    mass_g: float
    minutes: float
    cost: Amount
    prices: list[PriceMoveOut]


class LayoutOut(AnswerModel):
    """The layout of a design, with the version to change it by."""

    design_id: int = path("id")
    version: int
    revision: int = path("number")
    layout: SheetOut | ChainOut
    change: ChangeOut | None = Field(None, description="After a change: what it does; null where there were no rows.")


class GoneOut(AnswerModel):
    """A design after its rows were given up."""

    design_id: int = path("id")
    version: int
    revision: int = path("number")


@router.post(
    "/layouts/count",
    response_model=CountOut,
    responses=problems(400, 415, 422),
    openapi_extra=json_body(LAYOUT_FIELDS, ("weave",)),
)
def count_layout(request: Request, body: Body) -> Response | CountOut:
    """Count a layout; nothing is kept. Keys that nothing explains are counted too, without a mass or a size."""
    session = reading(request)
    draft = readable(_read(session, body, loose=True))
    facts = layout_facts(session, draft)
    end_reading(request)
    strange = _strange(draft, facts.things)
    if strange:
        return faulty(strange)
    done = work_out_draft(draft, facts)
    work = way_through(draft, facts, done)
    if not isinstance(work, OrderOfWork):
        return faulty(Faults(tuple(Fault("closed_beforehand", fault.message) for fault in work)))
    return _counted(draft, done, work, facts.items)


@router.get("/designs/{design_id}/layout", responses=problems(404, 422))
def get_layout(request: Request, design_id: int, revision: Annotated[Whole | None, Query(ge=1)] = None) -> LayoutOut:
    """How a design is laid out, in its latest revision or in an earlier one; 404 for a plain list of parts."""
    session = reading(request)
    return _shown(design_view(session, design_id, revision), currency_of(session))


@router.put(
    "/designs/{design_id}/layout",
    responses={200: {"model": LayoutOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**LAYOUT_FIELDS, "version": VERSION}, ("weave", "version")),
)
@writes
def keep_layout(session: Session, design_id: int, body: Body) -> Answer:
    """Lay a design out, or keep its changed rows: its other parts stay. A revision is made where anything differs."""
    before = draft_of(session, design_id)
    version, draft = fit_both(read_version(body), _read(session, body))
    operations.keep_layout(session, design_id, version, draft)
    currency = currency_of(session)
    shown = _shown(design_view(session, design_id), currency)
    after = draft_of(session, design_id)
    if before.layout is not None and after.layout is not None:
        change = layout_difference(session, before.layout, after.layout, design=after, design_id=design_id)
        shown.change = filled(ChangeOut, change, currency=currency)
    return Answer(shown.model_dump(mode="json"))


@router.delete("/designs/{design_id}/layout", responses={200: {"model": GoneOut}, **problems(404, 409, 422)})
def drop_layout(request: Request, design_id: int, version: Annotated[Whole, Query(ge=0)]) -> Response:
    """Give up a design's rows: the parts that they made stay as a plain list."""

    def act(session: Session) -> Answer:
        _shown(design_view(session, design_id), currency_of(session))
        operations.drop_layout(session, design_id, version)
        return Answer(sent(GoneOut, design_view(session, design_id)))

    return write_once(request, {"version": version}, act)


def _read(session: Session, body: Mapping[str, object], *, loose: bool = False) -> LayoutDraft | Faults:
    plain = plain_amounts(body, currency_of(session))
    if isinstance(plain, Faults):
        return plain
    found = read_layout(with_plain_names(plain), loose=loose)
    return as_sent(found, body) if isinstance(found, Faults) else found


def _strange(draft: LayoutDraft, things: Mapping[str, Any]) -> Faults | None:
    """Stock items that the shop does not have."""
    faults = [
        Fault(f"palette.{place}.item_id", "This is no stock item of this shop. Choose another one.")
        for place, entry in enumerate(draft.palette)
        if entry.item_id is not None and things[entry.key].item_id is None
    ]
    return Faults(tuple(faults)) if faults else None


def _counted(draft: LayoutDraft, done: Worked, work: OrderOfWork, items: Mapping[str, Item]) -> CountOut:
    net = done.net
    linked = zip(net.names, net.roles, net.neighbours, strict=True)
    return filled(
        CountOut,
        done,
        weave=draft.weave,
        items=[_item_out(draft, key, count, work, items.get(key)) for key, count in net.counts.items()],
        links=[{"links": links, "rings": rings} for links, rings in net.links_of_rings.items()],
        links_of_rings={name: len(others) for name, role, others in linked if role != FINDING},
        prepared=work,
        names=net.names,
    )


def _item_out(draft: LayoutDraft, key: str, count: int, work: OrderOfWork, item: Item | None) -> CountedOut:
    entry = draft.entry(key)
    mass_g = item.one_mass_g if item else None
    return CountedOut(
        key=key,
        item_id=entry.item_id if entry else None,
        name=item.label if item else key,
        count=count,
        finding=item.finding if item else False,
        closed_beforehand=work.prepared.closed.get(key, 0),
        opened=work.prepared.opened.get(key, 0),
        mass_g=None if mass_g is None else float(mass_g * count),
    )


def _shown(view: DesignView, currency: str) -> LayoutOut:
    """Raises: Missing for a plain list."""
    if view.draft.layout is None:
        raise Missing("layout of design", view.id)
    return filled(LayoutOut, view, layout=layout_out(view.draft.layout, currency))
