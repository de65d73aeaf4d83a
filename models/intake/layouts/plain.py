"""Layouts written out: as plain values that read back the same, and as the text that a revision keeps.

Reading what people hand in is in `layout`.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from decimal import Decimal
from typing import Any, Final

from models.intake.costing.part import read_part
from models.intake.layouts.layout import LayoutDraft, PaletteEntry, Plan
from models.intake.raw import Reader
from models.kept import KeptDocument
from models.layouts.document.chain_plain import chain_from_plain, chain_to_plain
from models.layouts.document.plain import from_plain, to_plain
from models.layouts.engine.rows import Layout
from models.layouts.steps.route import Route
from models.trade.measures import exact_text

Plain = dict[str, Any]

KEPT_PLAN: Final[KeptDocument[Plain]] = KeptDocument(Plain)
"""Rows or a chain as a revision keeps them: plain values, which are read with the same distrust as those of a file."""
KEPT_PALETTE: Final[KeptDocument[list[Plain]]] = KeptDocument(list[Plain])
KEPT_ROUTE: Final[KeptDocument[Route]] = KeptDocument(Route)
KEPT_CLOSED: Final[KeptDocument[tuple[str, ...]]] = KeptDocument(tuple[str, ...])


def layout_to_plain(draft: LayoutDraft) -> Plain:
    """A layout as plain values; `read_layout` gives the equal layout back."""
    return {
        "kind": draft.kind,
        **plan_to_plain(draft.plan),
        "palette": [entry_to_plain(entry) for entry in draft.palette],
        "route": route_to_plain(draft.route),
        "closed_beforehand": None if draft.closed is None else list(draft.closed),
    }


def plan_to_plain(plan: Plan) -> Plain:
    """Rows or a chain as plain values."""
    return to_plain(plan) if isinstance(plan, Layout) else chain_to_plain(plan)


def route_to_plain(route: Route) -> Plain:
    """The maker's way as plain values."""
    return asdict(route)


def entry_to_plain(entry: PaletteEntry) -> Plain:
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


def stored_texts(draft: LayoutDraft) -> tuple[str, str, str, str | None]:
    """The texts that a revision keeps: plan, palette, route, and the rings closed beforehand."""
    return (
        KEPT_PLAN.text(plan_to_plain(draft.plan)),
        KEPT_PALETTE.text([entry_to_plain(entry) for entry in draft.palette]),
        KEPT_ROUTE.text(draft.route),
        None if draft.closed is None else KEPT_CLOSED.text(draft.closed),
    )


def from_stored(kind: str, plan: str, palette: str, route: str, closed: str | None) -> LayoutDraft:
    """The layout that a revision keeps. Raises: ValueError for texts that nobody could have kept."""
    told = KEPT_PLAN.read(plan)
    found = chain_from_plain(told) if kind == "chain" else from_plain(told)
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
