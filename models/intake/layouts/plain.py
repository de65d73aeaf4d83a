"""Layouts written out: as plain values that read back the same, and as the texts that a revision keeps.

Reading what people hand in is in `layout`, rows and chains by themselves are in models/layouts/document.
"""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Annotated, Any, Final, Literal

from pydantic import InstanceOf, PlainSerializer

from models.intake.costing.part import read_part
from models.intake.layouts.layout import LayoutDraft, PaletteEntry
from models.intake.raw import Reader
from models.kept import KeptDocument
from models.layouts.document.model import (
    FORMAT,
    ChainDocument,
    PlanDocument,
    SheetDocument,
    document_of,
    read_chain,
    read_sheet,
)
from models.layouts.engine.rows import Layout
from models.layouts.steps.route import Route
from models.trade.measures import exact_text

Plain = dict[str, Any]

KEPT_PLAN: Final[KeptDocument[Plain]] = KeptDocument(Plain, number=FORMAT)
"""Rows or a chain as a revision keeps them: plain values, which are read with the same distrust as those of a file."""
KEPT_PALETTE: Final[KeptDocument[list[Plain]]] = KeptDocument(list[Plain])
KEPT_ROUTE: Final[KeptDocument[Route]] = KeptDocument(Route)
KEPT_CLOSED: Final[KeptDocument[tuple[str, ...]]] = KeptDocument(tuple[str, ...])


def _written_entry(entry: PaletteEntry) -> Plain:
    """One entry of a palette with what is said of it, sizes as exact text with their unit."""
    thing = entry.thing
    told: Plain = {
        "key": entry.key,
        "item_id": thing.item_id,
        "kind": thing.typed_kind,
        "name": thing.typed_name,
        "metal": thing.typed_metal,
        "colour": thing.typed_colour,
        "wire": None if thing.typed_wire_nm is None else exact_text(thing.typed_wire_nm),
        "inner": None if thing.typed_inner_nm is None else exact_text(thing.typed_inner_nm),
        "unit": "" if thing.typed_unit == "piece" else thing.typed_unit,
        "each": None if thing.quantity_milli == 1000 else _text(Decimal(thing.quantity_milli).scaleb(-3)),
        "guess": None if thing.guess is None else _text(thing.guess),
        "purpose": thing.purpose,
        "allowance_percent": None if thing.allowance_percent is None else _text(thing.allowance_percent),
    }
    return {name: value for name, value in told.items() if value not in (None, "")}


class _Laid(PlanDocument):
    """What a piece keeps beside its plan: what its keys are, the maker's way, and what is closed beforehand."""

    palette: tuple[Annotated[InstanceOf[PaletteEntry], PlainSerializer(_written_entry)], ...]
    route: Route
    closed_beforehand: tuple[str, ...] | None


class _LaidSheet(_Laid, SheetDocument):
    """A piece of rows with all that is handed in beside them."""

    kind: Literal["sheet"] = "sheet"


class _LaidChain(_Laid, ChainDocument):
    """A length of chain with all that is handed in beside it."""

    kind: Literal["chain"] = "chain"


def layout_to_plain(draft: LayoutDraft) -> Plain:
    """A layout as plain values; `read_layout` gives the equal layout back."""
    model = _LaidSheet if isinstance(draft.plan, Layout) else _LaidChain
    plan = dict(document_of(draft.plan))
    document = model(**plan, palette=draft.palette, route=draft.route, closed_beforehand=draft.closed)
    return document.written()


def stored_texts(draft: LayoutDraft) -> tuple[str, str, str, str | None]:
    """The texts that a revision keeps: plan, palette, route, and the rings closed beforehand."""
    plan = layout_to_plain(draft)
    # The envelope says the format.
    palette, *_beside = (plan.pop(name) for name in ("palette", "route", "closed_beforehand", "kind", "format"))
    return (
        KEPT_PLAN.text(plan),
        KEPT_PALETTE.text(palette),
        KEPT_ROUTE.text(draft.route),
        None if draft.closed is None else KEPT_CLOSED.text(draft.closed),
    )


def from_stored(kind: str, plan: str, palette: str, route: str, closed: str | None) -> LayoutDraft:
    """The layout that a revision keeps. Raises: ValueError for texts that nobody could have kept."""
    told = KEPT_PLAN.read(plan)
    found = read_chain(told) if kind == "chain" else read_sheet(told)
    if isinstance(found, tuple):
        raise ValueError(f"a kept layout cannot be read: {found[0].field}: {found[0].message}")
    return LayoutDraft(
        plan=found,
        palette=tuple(_entry(one) for one in KEPT_PALETTE.read(palette)),
        route=KEPT_ROUTE.read(route),
        closed=None if closed is None else KEPT_CLOSED.read(closed),
    )


def canonical(value: object) -> str:
    """JSON text that is the same for the same values."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"), sort_keys=True)


def _entry(told: Plain) -> PaletteEntry:
    thing = read_part(Reader({**told, "quantity": told.get("each", 1)}))
    if thing is None:
        raise ValueError(f"a kept palette cannot be read: {told}")
    return PaletteEntry(told["key"], thing)


def _text(number: Decimal) -> str:
    return format(number.normalize(), "f")
