"""Which revision of a design is its latest, for queries to join."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from sqlmodel import col, func, select

from models.tables import Revision


def newest_revisions(design_ids: Collection[int] | None = None) -> Any:
    """A subquery of `design_id` and the `number` of its latest revision, of all designs or of those named."""
    newest = select(col(Revision.design_id), func.max(col(Revision.number)).label("number")).group_by(
        col(Revision.design_id)
    )
    if design_ids is not None:
        newest = newest.where(col(Revision.design_id).in_(design_ids))
    return newest.subquery()
