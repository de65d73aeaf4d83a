"""The order of work of a design's rows along a way: what is closed beforehand, the steps, and the time it takes."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session

from models.errors import Missing
from models.intake.faults import Faults
from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.route import Way, read_way
from models.intake.raw import Raw
from models.layouts.engine.rows import Layout
from models.layouts.steps.work import OrderOfWork
from models.queries.designs.design import DesignView, design_view
from models.queries.designs.layout import layout_facts
from models.queries.designs.layout_view import LayoutView, worked


@dataclass(frozen=True, slots=True)
class PreparedLine:
    """How many rings of one item are closed and opened beforehand."""

    key: str
    label: str
    tint: str
    closed: int
    opened: int


@dataclass(frozen=True, slots=True)
class OrderView:
    """A design's rows with a way through them. `work` is None where the chosen rings cannot be closed together.

    `minutes` are the likely ones of one piece along this way, `kept_minutes` those of the way that is kept.
    """

    design: DesignView
    way: Way
    layout: LayoutView
    work: OrderOfWork | None
    minutes: Decimal
    kept_minutes: Decimal

    @property
    def rows(self) -> int:
        """How many rows there are; 0 for a chain."""
        plan = self.layout.draft.plan
        return len(plan.rows) if isinstance(plan, Layout) else 0

    @property
    def changed(self) -> bool:
        """Whether this way is another one than the one that is kept."""
        return self.design.draft.layout != self.way.layout

    @property
    def prepared(self) -> tuple[PreparedLine, ...]:
        """What to prepare of each ring."""
        if self.work is None:
            return ()
        done, items = self.work.prepared, self.layout.facts.items
        return tuple(
            PreparedLine(key, items[key].label, items[key].tint, done.closed.get(key, 0), done.opened.get(key, 0))
            for key in self.layout.worked.net.counts
            if key in done.closed or key in done.opened
        )


def order_view(session: Session, design_id: int, raw: Raw) -> tuple[OrderView, Faults | None]:
    """A design's rows with the way that is asked for, and what is wrong with it.

    Raises: Missing, also for a design without rows.
    """
    design = design_view(session, design_id)
    kept = rows_of(design)
    facts = layout_facts(session, kept)
    way, faults = read_way(raw, kept, facts.items)
    view = worked(session, way.layout, design=design.draft, design_id=design_id)
    before = worked(session, kept, design=design.draft, design_id=design_id) if way.layout != kept else view
    return (
        OrderView(
            design=design,
            way=way,
            layout=view,
            work=None if isinstance(view.work, tuple) else view.work,
            minutes=view.cost.cost.minutes.likely,
            kept_minutes=before.cost.cost.minutes.likely,
        ),
        faults,
    )


def rows_of(design: DesignView) -> LayoutDraft:
    """The rows of a design. Raises: Missing for a design that is a plain list of parts."""
    if design.draft.layout is None:
        raise Missing("rows of design", design.id)
    return design.draft.layout
