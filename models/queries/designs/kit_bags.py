"""The bags of a kit: what each holds, how much of it to spare, and how a kit stands as parts and work of a design.

Plain values only: nothing here reads the database (`kit` does).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal

from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft, WorkDraft
from models.intake.designs.kit import KitRequest
from models.queries.costing.part_facts import PartFacts
from models.queries.stock.material import Material
from models.trade.units import unit_words
from models.trade.vocabulary.bench import HAND_WORK
from models.trade.vocabulary.things import ITEM_KINDS

KIT_PIECE = "kit"
"""What kind of piece a kit is."""
SPARED_KINDS = ITEM_KINDS.those(lambda kind: kind.spoiled and kind.units == ("piece",))
"""Kinds that a student drops or spoils, so that a kit holds some to spare."""
BENCH_KINDS = ("consumable",)
"""Kinds that the work uses up at the bench, and that no kit holds."""
MINUTES_A_BAG = Decimal("0.5")
"""Counting a bag by weight, closing it and labelling it: common practice, no source."""
NO_WORK = tuple(WorkDraft(kind, count=0) for kind in HAND_WORK)

_ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class KitBag:
    """One bag of a kit: what is in it, how much the piece needs and how much is to spare, in the unit of the thing.

    `state` says how rings are delivered: 'closed' or 'open' in a prepared kit, else ''. Of rings that are delivered as
    they are, `close_first` are closed before the weaving begins. `part` is the bag as a part of the kit's own design.
    """

    thing: Material
    part: PartDraft
    needed: Decimal
    spare: Decimal
    state: str = ""
    close_first: Decimal = _ZERO

    @property
    def total(self) -> Decimal:
        """How much lies in the bag."""
        return self.needed + self.spare

    @property
    def unit(self) -> str:
        """The unit in words: 'rings', 'pieces', 'm' or 'g'."""
        return unit_words(self.thing.kind, self.thing.unit, self.total)

    @property
    def state_words(self) -> str:
        """How the rings are delivered, in words."""
        return {"closed": "closed", "open": "opened"}.get(self.state, "")

    @property
    def choice(self) -> str:
        """The alternative that the bag belongs to, in words; empty for what every kit holds."""
        return f"{self.part.choice_group}: {self.part.choice_name}" if self.part.choice_group else ""


@dataclass(frozen=True, slots=True)
class _Heap:
    """What goes into one bag before the spares are counted."""

    facts: PartFacts
    part: PartDraft
    needed: Decimal
    closed: Decimal
    purposes: tuple[str, ...]


def thing_of(part: PartDraft) -> PartDraft:
    """What a part is and which choice it belongs to, without how many and what for: two bags of one thing are equal."""
    return replace(
        part,
        quantity_milli=1000,
        guess=None,
        purpose="",
        allowance_percent=None,
        joined=True,
        layout_key="",
        closed_milli=None,
    )


def kit_bags(parts: Iterable[tuple[PartDraft, PartFacts]], question: KitRequest) -> tuple[KitBag, ...]:
    """The bags of a kit for one piece: one for each thing, or two for rings that are delivered closed and opened.

    Spares are a share of each bag of rings, scales or beads, rounded up to whole ones; other things have none. What
    the work uses up at the bench is left out.
    """
    heaps: dict[PartDraft, _Heap] = {}
    for part, facts in parts:
        if facts.thing.kind in BENCH_KINDS:
            continue
        key = thing_of(part)
        known = heaps.get(key)
        purposes = (part.purpose,) if part.purpose else ()
        heaps[key] = _Heap(
            facts,
            key,
            facts.quantity + (known.needed if known else _ZERO),
            closed_beforehand(part, facts) + (known.closed if known else _ZERO),
            tuple(dict.fromkeys((*(known.purposes if known else ()), *purposes))),
        )
    return tuple(bag for heap in heaps.values() for bag in _bags_of(heap, question))


def left_out(parts: Iterable[PartFacts]) -> tuple[str, ...]:
    """The names of what no kit holds."""
    return tuple(dict.fromkeys(part.thing.name for part in parts if part.thing.kind in BENCH_KINDS))


def closed_beforehand(part: PartDraft, facts: PartFacts) -> Decimal:
    """How many rings of a part are closed before the weaving begins; none of what cannot be opened."""
    if facts.thing.kind != "ring" or not facts.thing.can_open:
        return _ZERO
    if part.closed_milli is not None:
        return Decimal(part.closed_milli).scaleb(-3)
    return _ZERO if facts.joined else facts.quantity


def _bags_of(heap: _Heap, question: KitRequest) -> list[KitBag]:
    thing = heap.facts.thing
    spare = _spare(heap.needed, question.spare_share) if thing.kind in SPARED_KINDS else _ZERO
    opens = thing.kind == "ring" and thing.can_open
    if not question.prepared or not opens:
        return [_bag(heap, heap.needed, spare, "", heap.closed)]
    opened = heap.needed - heap.closed
    bags = []
    if heap.closed:
        bags.append(_bag(heap, heap.closed, _ZERO if opened else spare, "closed", _ZERO))
    if opened:
        bags.append(_bag(heap, opened, spare, "open", _ZERO))
    return bags


def _bag(heap: _Heap, needed: Decimal, spare: Decimal, state: str, close_first: Decimal) -> KitBag:
    words = ", ".join(word for word in ({"closed": "closed", "open": "opened"}.get(state, ""), *heap.purposes) if word)
    part = replace(
        heap.part,
        quantity_milli=int((needed + spare) * 1000),
        guess=heap.facts.thing.unit_cost.amount if heap.part.item_id is None and heap.facts.thing.unit_cost else None,
        purpose=words[:200],
        joined=state != "closed",
    )
    return KitBag(heap.facts.thing, part, needed, spare, state, close_first)


def _spare(needed: Decimal, share: Decimal) -> Decimal:
    return (needed * share).to_integral_value(rounding=ROUND_CEILING)


def kit_work(bags: Sequence[KitBag], pack_minutes_milli: int) -> tuple[WorkDraft, ...]:
    """The work in one kit: counting and packing; opening and closing only where its rings are delivered prepared."""
    work = {row.kind: row for row in NO_WORK}
    for state, kind in (("open", "open"), ("closed", "close")):
        rings = sum((bag.total for bag in bags if bag.state == state and not _arrives(bag, state)), _ZERO)
        work[kind] = WorkDraft(kind, count=int(rings))
    return (*work.values(), WorkDraft("pack", minutes_milli=pack_minutes_milli))


def _arrives(bag: KitBag, state: str) -> bool:
    return bag.thing.arrives == state


def kit_draft(
    base: DesignDraft, name: str, bags: Sequence[KitBag], question: KitRequest, pack_minutes_milli: int
) -> DesignDraft:
    """A kit of a design as a design of its own: its parts are the bags, its spares stand in them already."""
    percent = format(question.spare_percent.normalize(), "f")
    return DesignDraft(
        name=name,
        piece=KIT_PIECE,
        note=f"A kit for {base.name}: everything in bags, with {percent} % of the rings to spare.",
        weave=base.weave,
        skill=base.skill,
        allowance_percent=Decimal(0),
        once_pieces=base.once_pieces,
        parts=tuple(bag.part for bag in bags),
        work=kit_work(bags, pack_minutes_milli),
    )


def kit_again(
    kept: DesignDraft, before: Sequence[KitBag], after: Sequence[KitBag], question: KitRequest
) -> DesignDraft:
    """A kept kit with the bags of a newer state of its design; what else was put in it, and its packing time, stay."""
    ours = {thing_of(bag.part) for bag in before} | {thing_of(bag.part) for bag in after}
    extras = tuple(part for part in kept.parts if thing_of(part) not in ours)
    counts = {row.kind: row for row in kit_work(after, 0) if row.kind in {"open", "close"}}
    work = kept.work
    if question.prepared:
        work = (*(row for row in kept.work if row.kind not in counts), *counts.values())
    return replace(kept, parts=(*(bag.part for bag in after), *extras), work=work)
