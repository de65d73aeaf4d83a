"""The order of work of a design's rows along a way: what is closed beforehand, the steps, and the time it takes."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session

from models.errors import Missing, Unfit
from models.intake.faults import Faults
from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.route import Way, read_way
from models.intake.raw import Raw
from models.layouts.engine.limits import not_at_hand
from models.layouts.engine.rows import Layout
from models.layouts.steps.work import OrderOfWork
from models.queries.designs.design import DesignView, design_view
from models.queries.designs.layout_view import LayoutView, costed, followed


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

    Raises: Missing, also for a design without rows; Unfit for a piece that is too large.
    """
    design = design_view(session, design_id)
    kept = rows_of(design)
    before = costed(session, kept, design=design.draft, design_id=design_id)
    way, faults = read_way(raw, kept, before.facts.items, before.worked.net)
    # A way leaves rings, links and checks as they are.
    now = before
    if way.layout != kept:
        now = costed(session, way.layout, design=design.draft, design_id=design_id, of=before)
    view = followed(now)
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
    """The rows of a design, where a way through them can be worked out.

    Raises: Missing for a design that is a plain list of parts; Unfit for a piece that is too large.
    """
    layout = design.draft.layout
    if layout is None:
        raise Missing("rows of design", design.id)
    much = not_at_hand(layout.plan)
    if much:
        raise Unfit(Faults.of("", much))
    return layout
