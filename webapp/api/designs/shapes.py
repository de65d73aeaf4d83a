"""Designs as the API sends them: one whole, one in the list, one revision in a history. Nothing is read here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from pydantic import BaseModel, Field

from models.intake.costing.part import PartDraft
from models.intake.designs.design import COUNT_WORK, TIMED_WORK
from models.queries.designs.design import DesignView
from models.queries.designs.export import design_cells
from models.queries.designs.history import RevisionRow
from models.queries.designs.layout_size import FinishedSize
from models.queries.designs.list import DesignRow
from models.queries.stock.item import ItemView
from models.trade.measures import to_grams
from models.trade.money import from_micros
from webapp.api.layouts.shapes import ChainOut, SheetOut, SizeOut, layout_out
from webapp.api.shapes import MoneyOut, mm, money_out

WORK_FIELDS = (
    "setup",
    *(f"{kind}_count" for kind in COUNT_WORK),
    *(name for kind in TIMED_WORK for name in (kind, f"{kind}_minutes")),
)


class PartOut(BaseModel):
    """One part: a stock item, or a typed thing (`item_id` null). Sizes in mm, the quantity for one piece."""

    item_id: int | None
    kind: str
    name: str
    metal: str | None
    colour: str
    wire_mm: float | None
    inner_mm: float | None
    unit: str
    guess: MoneyOut | None
    quantity: float
    purpose: str
    optional: bool
    choice_group: str
    choice_name: str
    allowance_percent: float | None
    joined: bool
    from_rows: bool = Field(description="Whether the design's rows make this part; it is then counted from them.")
    closed_beforehand: float | None = Field(description="Of a part from rows: how many rings are closed beforehand.")


class DesignOut(BaseModel):
    """One design with one of its revisions; sizes in mm, the measured mass in g."""

    id: int
    name: str
    piece: str
    weave: str | None
    weave_name: str
    skill: int
    width_mm: float | None
    height_mm: float | None
    length_mm: float | None
    measured_mass_g: float | None
    allowance_percent: float | None
    once_pieces: int
    note: str
    photo: str | None = Field(description="Where its photo is.")
    retired: bool
    copied_from: int | None
    kit_of: int | None = Field(description="The design that this one is a kit of.")
    kit_of_revision: int | None = Field(description="The revision of that design that the kit is packed by.")
    version: int
    revision: int = Field(description="The number of the revision that parts, work and sizes are of.")
    newest_revision: int
    change_note: str
    changed_at: datetime
    created_at: datetime
    work: dict[str, bool | float | None]
    parts: list[PartOut]
    rows: SheetOut | ChainOut | None = Field(description="How it is laid out; null for a plain list of parts.")
    computed_size: SizeOut | None = Field(
        description="The finished size as it follows from the rows, where none is given."
    )


class DesignInList(BaseModel):
    """One design of the list with the figures kept beside it: the usual piece, made one at a time."""

    id: int
    name: str
    piece: str
    weave: str
    photo: str | None
    retired: bool
    metals: list[str]
    cost: MoneyOut | None
    minutes: float | None
    provisional: bool
    best_outlet: str | None
    best_price: MoneyOut | None
    earned_per_hour: MoneyOut | None


class DesignsOut(BaseModel):
    """The designs that were asked for."""

    designs: list[DesignInList]


class RevisionOut(BaseModel):
    """One saved revision with what it costs at today's prices."""

    number: int
    saved_at: datetime
    change_note: str
    rings: float
    mass_g: float
    minutes: float
    materials: MoneyOut
    cost: MoneyOut
    provisional: bool


class RevisionsOut(BaseModel):
    """Every revision of a design, the latest first."""

    revisions: list[RevisionOut]


def design_out(view: DesignView, items: Mapping[int, ItemView], currency: str, size: FinishedSize) -> DesignOut:
    """One design whole; `items` are those that its parts name, `size` its finished size with what is computed of it."""
    draft = view.draft
    return DesignOut(
        id=view.id,
        name=view.name,
        piece=draft.piece,
        weave=draft.weave,
        weave_name=view.weave_name,
        skill=draft.skill,
        width_mm=mm(draft.width_nm),
        height_mm=mm(draft.height_nm),
        length_mm=mm(draft.length_nm),
        measured_mass_g=None if draft.measured_mass_ug is None else float(to_grams(draft.measured_mass_ug)),
        allowance_percent=_number(draft.allowance_percent),
        once_pieces=draft.once_pieces,
        note=draft.note,
        photo=_photo_path(view.photo),
        retired=view.retired,
        copied_from=view.copied_from.id if view.copied_from else None,
        kit_of=view.kit_of_id,
        kit_of_revision=view.kit_of_revision,
        version=view.version,
        revision=view.number,
        newest_revision=view.newest,
        change_note=view.change_note,
        changed_at=view.changed_at,
        created_at=view.created_at,
        work=_work_out(view),
        parts=[_part_out(part, items.get(part.item_id or 0), currency) for part in draft.parts],
        rows=None if draft.layout is None else layout_out(draft.layout, currency),
        computed_size=_size_out(size),
    )


def _size_out(size: FinishedSize) -> SizeOut | None:
    if not size.computed:
        return None
    return SizeOut(
        width_mm=mm(size.width_nm) if "width" in size.computed else None,
        height_mm=mm(size.height_nm) if "height" in size.computed else None,
        length_mm=mm(size.length_nm) if "length" in size.computed else None,
        source=size.source,
        notes=list(size.notes),
    )


def revision_out(row: RevisionRow, currency: str) -> RevisionOut:
    """One revision in a history."""
    return RevisionOut(
        number=row.number,
        saved_at=row.made_at,
        change_note=row.change_note,
        rings=float(row.rings),
        mass_g=float(row.mass_g),
        minutes=float(row.minutes),
        materials=money_out(row.materials, currency),
        cost=money_out(row.cost, currency),
        provisional=row.provisional,
    )


def _work_out(view: DesignView) -> dict[str, bool | float | None]:
    found: dict[str, bool | float | None] = {}
    for name, value in design_cells(view.draft).items():
        if name in WORK_FIELDS:
            found[name] = value if isinstance(value, bool) else None if value is None else float(str(value))
    return found


def _part_out(part: PartDraft, item: ItemView | None, currency: str) -> PartOut:
    return PartOut(
        item_id=part.item_id,
        kind=item.kind if item else part.typed_kind,
        name=item.name if item else part.typed_name,
        metal=item.metal if item else part.typed_metal,
        colour=item.colour if item else part.typed_colour,
        wire_mm=mm(item.wire_nm if item else part.typed_wire_nm),
        inner_mm=mm(item.inner_nm if item else part.typed_inner_nm),
        unit=item.unit if item else part.typed_unit,
        guess=None if part.guess is None else money_out(part.guess, currency),
        quantity=float(Decimal(part.quantity_milli).scaleb(-3)),
        purpose=part.purpose,
        optional=part.optional,
        choice_group=part.choice_group,
        choice_name=part.choice_name,
        allowance_percent=_number(part.allowance_percent),
        joined=part.joined,
        from_rows=bool(part.layout_key),
        closed_beforehand=None if part.closed_milli is None else part.closed_milli / 1000,
    )


def row_out(row: DesignRow, currency: str) -> DesignInList:
    """One design of the list."""
    best = row.best
    return DesignInList(
        id=row.id,
        name=row.name,
        piece=row.piece,
        weave=row.weave,
        photo=_photo_path(row.photo),
        retired=row.retired,
        metals=list(row.metals),
        cost=None if row.total_micros is None else money_out(from_micros(row.total_micros), currency),
        minutes=_number(row.minutes),
        provisional=row.provisional,
        best_outlet=best.outlet if best else None,
        best_price=money_out(from_micros(best.price_micros), currency) if best else None,
        earned_per_hour=money_out(from_micros(best.hourly_micros), currency) if best else None,
    )


def _photo_path(name: str | None) -> str | None:
    return None if name is None else f"/photos/{name}"


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
