"""All that follows from a layout, for pages: counts, checks, size, the order of work, and the price."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlmodel import Session

from models.intake.designs.design import DesignDraft
from models.intake.layouts.layout import LayoutDraft
from models.layouts.engine.piece import Worked
from models.layouts.engine.rows import Layout
from models.layouts.steps.chain_work import chain_work
from models.layouts.steps.work import OrderOfWork, order_of_work
from models.queries.costing.costing import CostView, cost_of_draft
from models.queries.designs.layout import LayoutFacts, laid_out, layout_facts, work_out_draft
from models.queries.designs.short_names import short_names
from models.trade.faults import Fault


@dataclass(frozen=True, slots=True)
class CostedLayout:
    """A layout worked out and costed. `design` is the whole draft that was costed, its parts counted anew.

    `cost` has the prices at every outlet.
    """

    draft: LayoutDraft
    facts: LayoutFacts
    worked: Worked
    design: DesignDraft
    cost: CostView


@dataclass(frozen=True, slots=True)
class LayoutView(CostedLayout):
    """A layout with all that follows from it. `work` is the order of work, or why the chosen way cannot be gone."""

    work: OrderOfWork | tuple[Fault, ...]


def worked(
    session: Session, draft: LayoutDraft, *, design: DesignDraft | None = None, design_id: int | None = None
) -> LayoutView:
    """Work a layout out; `design` is what stands around it, `design_id` says whose listed prices count."""
    return followed(costed(session, draft, design=design, design_id=design_id))


def costed(
    session: Session,
    draft: LayoutDraft,
    *,
    design: DesignDraft | None = None,
    design_id: int | None = None,
    of: CostedLayout | None = None,
) -> CostedLayout:
    """Work a layout out without the way through it; `of` is the same piece with another way, worked out before."""
    facts = of.facts if of else layout_facts(session, draft)
    done = of.worked if of else work_out_draft(draft, facts)
    whole = laid_out(session, replace(design or DesignDraft(""), layout=draft), net=done.net)
    return CostedLayout(draft, facts, done, whole, cost_of_draft(session, whole, design_id=design_id))


def followed(laid: CostedLayout) -> LayoutView:
    """A layout that is worked out, with the way through it."""
    work = way_through(laid.draft, laid.facts, laid.worked)
    return LayoutView(laid.draft, laid.facts, laid.worked, laid.design, laid.cost, work)


def way_through(draft: LayoutDraft, facts: LayoutFacts, done: Worked) -> OrderOfWork | tuple[Fault, ...]:
    """The order of work along the maker's route and with what the maker closes beforehand."""
    net, items = done.net, short_names(facts)
    closed = None if draft.closed is None else [net.index(name) for name in draft.closed]
    if isinstance(draft.plan, Layout):
        return order_of_work(net, draft.plan, items, draft.route, closed)
    return chain_work(net, draft.plan, items, closed)
