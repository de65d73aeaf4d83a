"""Saying when to buy an item again and up to how much, and whether its batches differ. Nothing is bought here."""

from __future__ import annotations

from sqlmodel import Session

from models.errors import Stale, Unfit
from models.intake.faults import Fault, Faults
from models.intake.stock.levels import LevelsDraft
from models.intake.stock.offer import from_milli
from models.queries.fetch import fetch
from models.tables import Item

_LABELS = {"reorder_milli": "Buy again at", "target_milli": "Up to", "batch_colour": "Batches differ"}


def set_levels(session: Session, item_id: int, draft: LevelsDraft, *, version: int | None = None) -> str:
    """Set an item's reorder point and target; answer its name.

    Raises: Missing; Stale when the item changed since `version`; Unfit for a fraction of what is counted one by one.
    """
    item = fetch(session, Item, item_id, "item")
    changed = {field: getattr(draft, field) for field in _LABELS if getattr(item, field) != getattr(draft, field)}
    if version is not None and version != item.version:
        changes = tuple((_LABELS[field], _said(getattr(item, field)), _said(new)) for field, new in changed.items())
        raise Stale("item", changes)
    if item.unit == "piece":
        faults = tuple(
            Fault(name, "These are counted one by one. Give a whole number.")
            for name, milli in (("reorder", draft.reorder_milli), ("target", draft.target_milli))
            if milli is not None and milli % 1000
        )
        if faults:
            raise Unfit(Faults(faults))
    if changed:
        for field, value in changed.items():
            setattr(item, field, value)
        item.version += 1
        session.flush()
    return item.name


def _said(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return format(from_milli(value), "f") if isinstance(value, int) else ""
