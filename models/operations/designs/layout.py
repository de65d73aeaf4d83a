"""The rows of a design: laying one out, keeping changed rows, and going back to a plain list.

The rows are kept with the design's revisions (`design`); laying out itself is in the trade room.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

from sqlmodel import Session

from models.errors import Unfit
from models.intake.designs.design import DesignDraft
from models.intake.faults import Fault, Faults
from models.intake.layouts.layout import LayoutDraft
from models.operations.designs.design import Saved, add_design, change_design
from models.queries.designs.design import draft_of


def keep_layout(
    session: Session, design_id: int, version: int | None, layout: LayoutDraft, *, change_note: str = ""
) -> Saved:
    """Keep a design's rows, new or changed: its plain parts stay, a new revision is made where anything differs.

    Raises: Missing; Stale, with both values; Unfit, its fields those of the layout ('palette.0.item_id').
    """
    stored = draft_of(session, design_id)
    with _own_fields():
        return change_design(session, design_id, version, replace(stored, layout=layout, change_note=change_note))


def add_laid_out_design(session: Session, draft: DesignDraft) -> int:
    """Write down a new design that is laid out; answer its id. Raises: Unfit as `keep_layout` and `add_design`."""
    with _own_fields():
        return add_design(session, draft)


def drop_layout(session: Session, design_id: int, version: int | None, *, change_note: str = "") -> Saved:
    """Give up a design's rows: the parts that they made stay as a plain list, those closed beforehand apart.

    Raises: Missing; Stale, with both values.
    """
    stored = draft_of(session, design_id)
    return change_design(session, design_id, version, replace(stored, layout=None, change_note=change_note))


@contextmanager
def _own_fields() -> Iterator[None]:
    """Faults of rows as their own page names them."""
    try:
        yield
    except Unfit as unfit:
        raise Unfit(
            Faults(tuple(Fault(one.field.removeprefix("rows."), one.message) for one in unfit.faults))
        ) from None
