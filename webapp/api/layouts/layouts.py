"""Rows under /api: counting a layout without keeping it, and the layout of a design. Drawings are in `drawings`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Missing
from models.intake.faults import Fault, Faults
from models.intake.layouts.layout import LayoutDraft, read_layout
from models.layouts.engine.checks import Check
from models.layouts.engine.items import Item
from models.layouts.engine.links import FINDING, Net
from models.layouts.engine.piece import Worked
from models.layouts.places.sizes import Finished
from models.layouts.steps.work import OrderOfWork
from models.operations.designs import layout as operations
from models.queries.designs.design import DesignView, design_view, draft_of
from models.queries.designs.layout import layout_facts, work_out_draft
from models.queries.designs.layout_change import LayoutChange, layout_difference
from models.queries.designs.layout_view import way_through
from models.queries.shop.shop import currency_of
from webapp.api.amounts import plain_amounts
from webapp.api.layouts.shapes import LAYOUT_FIELDS, ChainOut, SheetOut, SizeOut, layout_out
from webapp.api.plain_names import as_sent, with_plain_names
from webapp.api.shapes import VERSION, MoneyOut, money_out
from webapp.api.stock.items import read_version
from webapp.web.json_api import Answer, faulty, json_body, problems, read_json, write_once
from webapp.web.numbers import Whole

router = APIRouter(prefix="/api", tags=["layouts"])
Body = Annotated[dict[str, Any], Depends(read_json)]
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


class LinksOut(BaseModel):
    """So many rings have so many links."""

    links: int
    rings: int


class CheckOut(BaseModel):
    """Something to look at: a warning or a note, with up to 200 of its rings by name."""

    kind: str
    level: str
    words: str
    rings: list[str]
    rings_in_all: int
    row: int | None
    offer: str = Field(description="'drop' takes the rings away, 'nest' moves the row by half a pitch; else empty.")


class PreparedOut(BaseModel):
    """What is closed and opened before the weaving, and the most that could be closed."""

    close: int
    open: int
    weave: int
    rings: list[str] = Field(description="The names of the rings closed beforehand.")
    most_possible: int
    most_words: str


class CountOut(BaseModel):
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


class PriceMoveOut(BaseModel):
    """The suggested price at one outlet before and after a change; null where no price can pay."""

    outlet: str
    before: MoneyOut | None
    after: MoneyOut | None


class ChangeOut(BaseModel):
    """What a change of rows does to one piece: after less before."""

    rings: int
    mass_g: float
    minutes: float
    cost: MoneyOut
    prices: list[PriceMoveOut]


class LayoutOut(BaseModel):
    """The layout of a design, with the version to change it by."""

    design_id: int
    version: int
    revision: int
    layout: SheetOut | ChainOut
    change: ChangeOut | None = Field(None, description="After a change: what it does; null where there were no rows.")


class GoneOut(BaseModel):
    """A design after its rows were given up."""

    design_id: int
    version: int
    revision: int


@router.post(
    "/layouts/count",
    response_model=CountOut,
    responses=problems(400, 415, 422),
    openapi_extra=json_body(LAYOUT_FIELDS, ("weave",)),
)
def count_layout(request: Request, body: Body) -> Response | CountOut:
    """Count a layout; nothing is kept. Keys that nothing explains are counted too, without a mass or a size."""
    with request.app.state.store.reading() as session:
        draft = _read(session, body, loose=True)
        if isinstance(draft, Faults):
            return faulty(draft)
        facts = layout_facts(session, draft)
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
    with request.app.state.store.reading() as session:
        return _shown(design_view(session, design_id, revision), currency_of(session))


@router.put(
    "/designs/{design_id}/layout",
    responses={200: {"model": LayoutOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body({**LAYOUT_FIELDS, "version": VERSION}, ("weave", "version")),
)
def keep_layout(request: Request, design_id: int, body: Body) -> Response:
    """Lay a design out, or keep its changed rows: its other parts stay. A revision is made where anything differs."""

    def act(session: Session) -> Answer | Faults:
        before = draft_of(session, design_id)
        version, draft = read_version(body), _read(session, body)
        if isinstance(version, Faults) or isinstance(draft, Faults):
            return Faults((*_faults_in(version), *_faults_in(draft)))
        operations.keep_layout(session, design_id, version, draft)
        currency = currency_of(session)
        shown = _shown(design_view(session, design_id), currency)
        after = draft_of(session, design_id)
        if before.layout is not None and after.layout is not None:
            change = layout_difference(session, before.layout, after.layout, design=after, design_id=design_id)
            shown.change = _change_out(change, currency)
        return Answer(shown.model_dump(mode="json"))

    return write_once(request, body, act)


@router.delete("/designs/{design_id}/layout", responses={200: {"model": GoneOut}, **problems(404, 409, 422)})
def drop_layout(request: Request, design_id: int, version: Annotated[Whole, Query(ge=0)]) -> Response:
    """Give up a design's rows: the parts that they made stay as a plain list."""

    def act(session: Session) -> Answer:
        _shown(design_view(session, design_id), currency_of(session))
        operations.drop_layout(session, design_id, version)
        view = design_view(session, design_id)
        return Answer({"design_id": view.id, "version": view.version, "revision": view.number})

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
    net, size = done.net, done.size
    return CountOut(
        weave=draft.weave,
        rings=done.totals.rings,
        findings=done.totals.findings,
        items=[_item_out(draft, key, count, work, items.get(key)) for key, count in net.counts.items()],
        links=[LinksOut(links=links, rings=rings) for links, rings in net.links_of_rings.items()],
        links_of_rings={
            name: len(linked)
            for name, role, linked in zip(net.names, net.roles, net.neighbours, strict=True)
            if role != FINDING
        },
        checks=[_check_out(check, net) for check in done.checks],
        prepared=PreparedOut(
            close=work.prepared.close,
            open=work.prepared.open,
            weave=work.prepared.weave,
            rings=[net.names[index] for index in sorted(work.closed)],
            most_possible=work.most,
            most_words=work.most_words,
        ),
        size=SizeOut(
            width_mm=size.width_mm if isinstance(size, Finished) else None,
            height_mm=size.height_mm if isinstance(size, Finished) else None,
            length_mm=None if isinstance(size, Finished) else size.mm,
            source=size.source,
            notes=list(size.notes),
        ),
        mass_g=float(done.totals.mass_g),
        unweighed=list(done.totals.unweighed),
        wire_mm=float(done.totals.wire_mm),
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


def _check_out(check: Check, net: Net) -> CheckOut:
    return CheckOut(
        kind=check.kind,
        level=check.level,
        words=check.words,
        rings=[net.names[index] for index in check.rings[:MOST_NAMED]],
        rings_in_all=len(check.rings),
        row=check.row or None,
        offer=check.offer,
    )


def _shown(view: DesignView, currency: str) -> LayoutOut:
    """Raises: Missing for a plain list."""
    if view.draft.layout is None:
        raise Missing("layout of design", view.id)
    layout = layout_out(view.draft.layout, currency)
    return LayoutOut(design_id=view.id, version=view.version, revision=view.number, layout=layout, change=None)


def _change_out(change: LayoutChange, currency: str) -> ChangeOut:
    return ChangeOut(
        rings=change.rings,
        mass_g=float(change.mass_g),
        minutes=float(change.minutes),
        cost=money_out(change.cost, currency),
        prices=[
            PriceMoveOut(
                outlet=move.outlet,
                before=None if move.before is None else money_out(move.before, currency),
                after=None if move.after is None else money_out(move.after, currency),
            )
            for move in change.prices
        ],
    )


def _faults_in(read: object) -> tuple[Fault, ...]:
    return read.items if isinstance(read, Faults) else ()
