"""Designs as the API sends them: one whole, one in the list, one revision in a history. Nothing is read here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Annotated

from pydantic import BeforeValidator, ConfigDict, Field

from models.intake.designs.design import COUNT_WORK, TIMED_WORK, DesignDraft
from models.queries.designs.design import DesignView
from models.queries.designs.export import design_cells
from models.queries.designs.layout_size import FinishedSize
from models.queries.stock.material import Material
from webapp.api.answers import (
    Amount,
    AnswerModel,
    Millimetres,
    Units,
    answer_of,
    beneath,
    either,
    filled,
    path,
    together,
)
from webapp.api.layouts.shapes import ChainOut, SheetOut, SizeOut, layout_out
from webapp.api.shapes import mm

WORK_FIELDS = (
    "setup",
    *(f"{kind}_count" for kind in COUNT_WORK),
    *(name for kind in TIMED_WORK for name in (kind, f"{kind}_minutes")),
)


def _photo_path(name: str | None) -> str | None:
    return None if name is None else f"/photos/{name}"


Photo = Annotated[str | None, BeforeValidator(_photo_path)]


class PartOut(AnswerModel):
    """One part: a stock item, or a typed thing (`item_id` null). Sizes in mm, the quantity for one piece."""

    item_id: int | None
    kind: str = either(("item", "kind"), "typed_kind")
    name: str = either(("item", "name"), "typed_name")
    metal: str | None = either(("item", "metal"), "typed_metal")
    colour: str = either(("item", "colour"), "typed_colour")
    wire_mm: Millimetres | None = either(("item", "wire_nm"), "typed_wire_nm")
    inner_mm: Millimetres | None = either(("item", "inner_nm"), "typed_inner_nm")
    unit: str = either(("item", "unit"), "typed_unit")
    guess: Amount | None
    quantity: Units = path("quantity_milli")
    purpose: str
    optional: bool
    choice_group: str
    choice_name: str
    allowance_percent: float | None
    joined: bool
    from_rows: Annotated[bool, BeforeValidator(bool)] = path(
        "layout_key", says="Whether the design's rows make this part; it is then counted from them."
    )
    closed_beforehand: Units | None = path(
        "closed_milli", says="Of a part from rows: how many rings are closed beforehand."
    )


_FIELDS = answer_of("DesignFields", DesignDraft, extra=AnswerModel, beneath="draft", without=("change_note",))


class DesignOut(_FIELDS):  # type: ignore[misc, valid-type]
    """One design with one of its revisions; sizes in mm, the measured mass in g."""

    model_config = ConfigDict(alias_generator=beneath("draft"))

    id: int
    weave_name: str
    allowance_percent: float | None
    photo: Photo = Field(description="Where its photo is.")
    copied_from: int | None = path("copied_from", "id")
    kit_of: int | None = path("kit_of_id", says="The design that this one is a kit of.")
    kit_of_revision: int | None = Field(description="The revision of that design that the kit is packed by.")
    version: int
    revision: int = path("number", says="The number of the revision that parts, work and sizes are of.")
    newest_revision: int = path("newest")
    change_note: str
    changed_at: datetime
    created_at: datetime
    work: dict[str, bool | float | None]
    parts: list[PartOut]
    rows: SheetOut | ChainOut | None = Field(description="How it is laid out; null for a plain list of parts.")
    computed_size: SizeOut | None = Field(
        description="The finished size as it follows from the rows, where none is given."
    )


class DesignInList(AnswerModel):
    """One design of the list with the figures kept beside it: the usual piece, made one at a time."""

    id: int
    name: str
    piece: str
    weave: str
    photo: Photo
    retired: bool
    metals: list[str]
    cost: Amount | None = path("total_micros")
    minutes: float | None
    provisional: bool
    best_outlet: str | None = path("best", "outlet")
    best_price: Amount | None = path("best", "price_micros")
    earned_per_hour: Amount | None = path("best", "hourly_micros")


class DesignsOut(AnswerModel):
    """The designs that were asked for."""

    designs: list[DesignInList] = path("rows")


class RevisionOut(AnswerModel):
    """One saved revision with what it costs at today's prices."""

    number: int
    saved_at: datetime = path("made_at")
    change_note: str
    rings: float
    mass_g: float
    minutes: float
    materials: Amount
    cost: Amount
    provisional: bool


class RevisionsOut(AnswerModel):
    """Every revision of a design, the latest first."""

    revisions: list[RevisionOut] = path("rows")


def design_out(view: DesignView, items: Mapping[int, Material], currency: str, size: FinishedSize) -> DesignOut:
    """One design whole; `items` are those that its parts name, `size` its finished size with what is computed of it."""
    layout = view.draft.layout
    return filled(
        DesignOut,
        view,
        work=_work_out(view),
        parts=[together(part, item=items.get(part.item_id or 0)) for part in view.draft.parts],
        rows=None if layout is None else layout_out(layout, currency),
        computed_size=_size_out(size),
        currency=currency,
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


def _work_out(view: DesignView) -> dict[str, bool | float | None]:
    found: dict[str, bool | float | None] = {}
    for name, value in design_cells(view.draft).items():
        if name in WORK_FIELDS:
            found[name] = value if isinstance(value, bool) else None if value is None else float(str(value))
    return found
