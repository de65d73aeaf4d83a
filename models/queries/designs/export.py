"""All designs, and all their parts, as rows of files that read back as the same designs."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from sqlmodel import Session

from models.intake.costing.part import PartDraft
from models.intake.designs.design import COUNT_WORK, TIMED_WORK, DesignDraft
from models.intake.fields import cells_of
from models.queries.costing.inputs import latest_revisions
from models.queries.designs.design import drafts_of
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.trade.measures import exact_text

Row = dict[str, object]


def export_designs(session: Session) -> Iterator[Row]:
    """Every design with its latest revision, by name, as rows of `DESIGN_COLUMNS`."""
    for draft in _drafts(session):
        yield design_cells(draft)


def export_parts(session: Session) -> Iterator[Row]:
    """The parts of every design's latest revision, design by design, as rows of `PART_COLUMNS`."""
    items = load_materials(session)
    for draft in _drafts(session):
        for part in draft.parts:
            yield {"design": draft.name, **part_cells(part, items.get(part.item_id) if part.item_id else None)}


def design_cells(draft: DesignDraft) -> Row:
    """One design as the fields that it is handed in with, without its parts."""
    work = {row.kind: row for row in draft.work}
    cells: Row = {
        **cells_of(draft),
        "setup": "setup" in work,
    }
    for kind in COUNT_WORK:
        cells[f"{kind}_count"] = work[kind].count if kind in work else None
    for kind in TIMED_WORK:
        milli = work[kind].minutes_milli if kind in work else None
        cells[kind] = kind in work
        cells[f"{kind}_minutes"] = None if milli is None else _plain(Decimal(milli).scaleb(-3))
    return cells


def part_cells(part: PartDraft, item: Material | None) -> Row:
    """One part as the fields that it is handed in with; a stock item by its name and what tells it apart."""
    thing: Row = (
        {
            "item": item.name,
            "kind": item.kind,
            "name": None,
            "metal": item.metal,
            "colour": item.colour,
            "wire": _size(item.wire_nm),
            "inner": _size(item.inner_nm),
            "unit": item.unit,
        }
        if item
        else {
            "item": None,
            "kind": part.typed_kind,
            "name": part.typed_name,
            "metal": part.typed_metal,
            "colour": part.typed_colour,
            "wire": _size(part.typed_wire_nm),
            "inner": _size(part.typed_inner_nm),
            "unit": part.typed_unit,
        }
    )
    return {
        **thing,
        "guess": None if part.guess is None else _plain(part.guess),
        "quantity": _plain(Decimal(part.quantity_milli).scaleb(-3)),
        "purpose": part.purpose,
        "optional": part.optional,
        "choice_group": part.choice_group,
        "choice_name": part.choice_name,
        "allowance_percent": part.allowance_percent,
        "joined": part.joined,
        "from_rows": bool(part.layout_key),
        "closed_beforehand": None if part.closed_milli is None else _plain(Decimal(part.closed_milli).scaleb(-3)),
    }


def _drafts(session: Session) -> list[DesignDraft]:
    found = drafts_of(session, tuple(latest_revisions(session).values()))
    return sorted(found.values(), key=lambda draft: draft.name.casefold())


def _size(nm: int | None) -> str | None:
    return None if nm is None else exact_text(nm)


def _plain(number: Decimal) -> Decimal:
    """A number without zeros at its end, and never as 1E+2."""
    return Decimal(format(number.normalize(), "f"))
