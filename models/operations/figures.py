"""Keeping the figures of designs fresh: called by whatever changes an input, in the same transaction."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict

from sqlalchemy import delete, insert, select
from sqlmodel import Session, col

from models.queries.costing.figures import StaleFigure, compute_figures, stale_figures
from models.queries.newest_revision import newest_revisions
from models.queries.shop.gathering import Gathering, gathering_in
from models.tables import DesignFigure, Part, PriceFigure, Revision

__all__ = ["StaleFigure", "refresh_figures", "refresh_gathered", "stale_figures"]

_DUE = "figures that are due"


def refresh_figures(session: Session, *, design_ids: Collection[int] | None = None, item_id: int | None = None) -> int:
    """Recompute the kept costs and prices of the designs named, of those that use an item, or else of all.

    Call it after what changed was written, in the same transaction: after a design was saved or a price was listed (its
    id), an item or an offer changed (`item_id`), and after settings, rates, own metals, outlets or fees changed
    (neither). Answers how many designs were recomputed.
    """
    if (gathering := gathering_in(session)) is not None:
        gathering.once(_DUE, Due).note(design_ids, item_id)
        return 0
    session.flush()
    wanted = None if design_ids is None else set(design_ids)
    if item_id is not None:
        using = _designs_using(session, (item_id,))
        wanted = using if wanted is None else wanted | using
    if wanted is not None and not wanted:
        return 0
    due = compute_figures(session, wanted)
    for table in (PriceFigure, DesignFigure):
        gone = delete(table)
        if wanted is not None:
            gone = gone.where(col(table.design_id).in_(wanted))
        session.execute(gone.execution_options(synchronize_session=False))
    if due.costs:
        session.execute(insert(DesignFigure), [asdict(figure) for figure in due.costs])
    if due.prices:
        session.execute(insert(PriceFigure), [asdict(figure) for figure in due.prices])
    # What the session already holds of these rows would be out of date.
    for kept in list(session.identity_map.values()):
        if isinstance(kept, DesignFigure | PriceFigure):
            session.expunge(kept)
    return len(due.costs)


class Due:
    """Whose figures are to be computed anew once what was gathered is written."""

    def __init__(self) -> None:
        self.all = False
        self.designs: set[int] = set()
        self.items: set[int] = set()

    def note(self, design_ids: Collection[int] | None, item_id: int | None) -> None:
        """Remember what `refresh_figures` was called with."""
        self.designs |= set(design_ids or ())
        if item_id is not None:
            self.items.add(item_id)
        self.all = self.all or (design_ids is None and item_id is None)


def refresh_gathered(session: Session, gathering: Gathering) -> None:
    """After a gathering was written, compute once what its acts asked for one by one."""
    due = gathering.once(_DUE, Due)
    if due.all:
        refresh_figures(session)
    elif due.designs or due.items:
        refresh_figures(session, design_ids=due.designs | _designs_using(session, due.items))


def _designs_using(session: Session, item_ids: Collection[int]) -> set[int]:
    """The designs whose latest revision uses any of these items."""
    if not item_ids:
        return set()
    newest = newest_revisions()
    rows = session.execute(
        select(col(Revision.design_id))
        .join(newest, (newest.c.design_id == col(Revision.design_id)) & (newest.c.number == col(Revision.number)))
        .join(Part, col(Part.revision_id) == col(Revision.id))
        .where(col(Part.item_id).in_(item_ids))
        .distinct()
    )
    return {design_id for (design_id,) in rows}
