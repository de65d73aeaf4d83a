"""The instruction sheet of a design: what to lay ready, what to prepare, the steps with the state after each, cautions.

Of a laid-out design the steps follow its kept way; of a plain list of parts they are the kinds of work. How pictures
are drawn is not here.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session

from models.intake.designs.kit import KitRequest
from models.layouts.engine.limits import not_at_hand
from models.layouts.engine.net import Net
from models.layouts.steps.sheet import CAUTIONS, MOST_STAGES, TOOLS, Stage, stages_of
from models.queries.costing.costing import CostView, cost_of_draft
from models.queries.costing.inputs import load_shop_facts
from models.queries.designs.design import DesignView, design_view
from models.queries.designs.kit import bags_of_draft, usual_bags
from models.queries.designs.kit_bags import KitBag
from models.queries.designs.layout import LayoutFacts, layout_facts, work_out_draft
from models.queries.designs.layout_size import FinishedSize, finished_size
from models.queries.designs.layout_view import way_through
from models.queries.shop.shop import shop_settings
from models.queries.stock.metal import all_metals
from models.trade.care import GENERAL, SMALL_PARTS, told_to_buyers
from models.trade.metals import Metal, cautions_for
from models.trade.vocabulary.bench import WORK_KINDS

BY_LAW = (
    "Local law decides, not this sheet: look up the rules on nickel, lead and cadmium, on hallmarks, on small parts "
    "and on necklaces for children, and ask a licensed person where you are not sure."
)


@dataclass(frozen=True, slots=True)
class PreparedRings:
    """How many rings of one bag are closed and open before the work begins; spares are left as they are."""

    bag: KitBag
    close: Decimal
    open: Decimal

    @property
    def arrives(self) -> str:
        """How the rings come, in words; empty where that is not known."""
        return f"they come {self.bag.thing.arrives}" if self.bag.thing.arrives else ""


@dataclass(frozen=True, slots=True)
class LaidSheet:
    """What a sheet draws of a laid-out design: its net, what its rings are, and the stages of the work."""

    facts: LayoutFacts
    net: Net
    stages: tuple[Stage, ...]


@dataclass(frozen=True, slots=True)
class InstructionSheet:
    """Everything that the sheet of one design shows, spares for one piece.

    `laid` is None for a plain list of parts, whose `steps` are its kinds of work. `not_workable` says why there are no
    steps: the kept way cannot be gone, or the piece is too large.
    """

    design: DesignView
    question: KitRequest
    bags: tuple[KitBag, ...]
    bench: tuple[str, ...]
    size: FinishedSize
    cost: CostView
    laid: LaidSheet | None
    steps: tuple[str, ...]
    not_workable: str
    tools: tuple[str, ...]
    cautions: tuple[str, ...]
    shop: str

    @property
    def rings(self) -> Decimal:
        """How many rings are in the piece."""
        return sum((bag.needed for bag in self.bags if bag.thing.kind == "ring"), Decimal(0))

    @property
    def prepared(self) -> tuple[PreparedRings, ...]:
        """What to prepare, bag by bag; what cannot be opened needs nothing."""
        return tuple(
            PreparedRings(bag, bag.close_first, bag.needed - bag.close_first)
            for bag in self.bags
            if bag.thing.kind == "ring" and bag.thing.can_open
        )

    @property
    def scale_nm(self) -> int:
        """The outer diameter of the largest ring, so that all are drawn to one scale."""
        return max((bag.thing.size.outer_nm for bag in self.bags if bag.thing.size), default=1)


def instruction_sheet(
    session: Session, design_id: int, question: KitRequest, *, number: int | None = None
) -> InstructionSheet:
    """The sheet of a design's latest revision, or of the one of this number. Raises: Missing."""
    view = design_view(session, design_id, number)
    shop = load_shop_facts(session)
    all_bags, bench = bags_of_draft(session, view.draft, question, shop)
    cost = cost_of_draft(session, view.draft, design_id=design_id)
    laid, trouble = _laid(session, view)
    bags = usual_bags(all_bags)
    metals = list(dict.fromkeys(metal for bag in bags if (metal := bag.thing.body.metal) is not None))
    return InstructionSheet(
        design=view,
        question=question,
        bags=bags,
        bench=bench,
        size=finished_size(session, view.draft, facts=laid.facts if laid else None, net=laid.net if laid else None),
        cost=cost,
        laid=laid,
        steps=() if laid else _plain_steps(cost),
        not_workable=trouble,
        tools=_tools(bags, cost),
        cautions=_cautions(session, view, metals),
        shop=shop_settings(session).name,
    )


def _laid(session: Session, view: DesignView) -> tuple[LaidSheet | None, str]:
    """What is drawn of a laid-out design, and why there are no steps."""
    layout = view.draft.layout
    if layout is None:
        return None, ""
    facts = layout_facts(session, layout)
    done = work_out_draft(layout, facts)
    much = not_at_hand(layout.plan, done.net)
    if much:
        return LaidSheet(facts, done.net, ()), much
    work = way_through(layout, facts, done)
    if isinstance(work, tuple):
        why = " ".join(fault.message for fault in work[:3])
        return LaidSheet(facts, done.net, ()), f"The way that is kept cannot be gone: {why}"
    return LaidSheet(facts, done.net, stages_of(work.steps, MOST_STAGES)), ""


def _plain_steps(cost: CostView) -> tuple[str, ...]:
    """The kinds of work in the order of the bench, as sentences."""
    counts = cost.cost.counts
    found = []
    for kind in (one.kind for one in cost.cost.minutes.kinds):
        if kind not in WORK_KINDS:
            continue
        work = WORK_KINDS.term(kind)
        words = work.step
        count: Decimal = getattr(counts, kind) if work.hand else Decimal(1)
        if words and count:
            one = count == 1
            found.append(
                words.format(
                    count=f"{count.normalize():f}",
                    rings="ring" if one else "rings",
                    findings="finding" if one else "findings",
                )
            )
    return tuple(found)


def _tools(bags: tuple[KitBag, ...], cost: CostView) -> tuple[str, ...]:
    """The usual tools, and what some of the materials ask for."""
    more = []
    smallest = min((bag.thing.size.inner_nm for bag in bags if bag.thing.size), default=None)
    if smallest is not None and smallest < 3_000_000:
        more.append("Good light and a magnifier: the rings are small")
    if any(bag.thing.kind in {"chain", "wire"} for bag in bags):
        more.append("Side cutters and a ruler, for chain and wire")
    kinds = {one.kind for one in cost.cost.minutes.kinds}
    if "tumble" in kinds:
        more.append("A tumbler")
    return (*TOOLS, *more)


def _cautions(session: Session, view: DesignView, metals: list[Metal]) -> tuple[str, ...]:
    """The usual cautions of the work and of the metals, and that local law decides."""
    words = f"{view.draft.piece} {view.draft.name}".lower()
    neck = any(word in words for word in ("neck", "pendant", "chok", "collar"))
    # The sheet's own cautions speak of small parts; how to wear a piece is told to its buyer.
    told = [line for line in told_to_buyers(metals, worn_round_the_neck=neck) if line not in {GENERAL, SMALL_PARTS}]
    looked_up = cautions_for([metal.code for metal in metals], all_metals(session))
    return tuple(dict.fromkeys((*CAUTIONS, *told, *looked_up, BY_LAW)))
