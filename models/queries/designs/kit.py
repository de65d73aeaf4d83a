"""The kit of a design: its bags, what one costs and sells for, the kits that are kept already, and a class sheet.

How parts become bags stands in `kit_bags`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from sqlalchemy import select as columns
from sqlmodel import Session, col

from models.errors import Conflict
from models.intake.designs.design import DesignDraft
from models.intake.designs.kit import KitRequest
from models.queries.costing.costing import CostSettings, CostView, build_view
from models.queries.costing.inputs import ShopFacts, inputs_of_draft, load_shop_facts
from models.queries.costing.part_facts import one_piece
from models.queries.designs.design import DesignView, design_view, draft_of, free_name
from models.queries.designs.kit_bags import MINUTES_A_BAG, KitBag, kit_bags, kit_draft, left_out
from models.queries.stock.balance import balances
from models.queries.stock.weave import shop_weaves
from models.tables import Design, Item
from models.trade.units import unit_words

_ZERO = Decimal(0)
SECONDS_A_MINUTE = Decimal(60)


@dataclass(frozen=True, slots=True)
class KeptKit:
    """A kit of a design that is kept as a design of its own; `revision` is that of the design that it was made from.

    `packed` are the kits on the shelf that nobody has reserved.
    """

    id: int
    name: str
    version: int
    retired: bool
    revision: int
    newest: int
    question: KitRequest
    packed: int = 0

    @property
    def behind(self) -> bool:
        """Whether the design has a newer revision than the kit."""
        return self.revision < self.newest


@dataclass(frozen=True, slots=True)
class KitView:
    """The kit of one design as asked for. `costing` is of one kit, with its price per outlet, whether kept or not.

    `left_out` are parts that no kit holds; `name` and `pack_minutes` are what a kept kit would start with.
    """

    design: DesignView
    question: KitRequest
    bags: tuple[KitBag, ...]
    left_out: tuple[str, ...]
    costing: CostView
    kits: tuple[KeptKit, ...]
    name: str
    pack_minutes: Decimal

    @property
    def rings(self) -> Decimal:
        """How many rings are in a kit of the usual choices, spares and all."""
        return self._rings("total")

    @property
    def spares(self) -> Decimal:
        """How many of them are to spare."""
        return self._rings("spare")

    @property
    def scale_nm(self) -> int:
        """The outer diameter of the largest ring, so that all are drawn to one scale."""
        return max((bag.thing.size.outer_nm for bag in self.bags if bag.thing.size), default=1)

    @property
    def usual(self) -> tuple[KitBag, ...]:
        """The bags of a kit with the usual choices and without what is optional."""
        return usual_bags(self.bags)

    @property
    def choices_made(self) -> bool:
        """Whether there are bags that a kit of the usual choices does not hold."""
        return len(self.usual) < len(self.bags)

    def _rings(self, what: str) -> Decimal:
        return sum((getattr(bag, what) for bag in self.usual if bag.thing.kind == "ring"), _ZERO)


def usual_bags(bags: Sequence[KitBag]) -> tuple[KitBag, ...]:
    """The bags of a kit with the usual choices and without what is optional."""
    picked: dict[str, str] = {}
    for bag in bags:
        if bag.part.choice_group:
            picked.setdefault(bag.part.choice_group, bag.part.choice_name)
    return tuple(
        bag
        for bag in bags
        if not bag.part.optional
        and (not bag.part.choice_group or picked[bag.part.choice_group] == bag.part.choice_name)
    )


@dataclass(frozen=True, slots=True)
class ClassBag:
    """One bag of a class: what it holds for one person, and how much for all kits that are still to be packed."""

    bag: KitBag
    kits: int

    @property
    def total(self) -> Decimal:
        """How much for all of them."""
        return self.bag.total * self.kits


@dataclass(frozen=True, slots=True)
class ClassNeed:
    """One thing that a class needs: how much in all, how much of it is free in stock. Typed things have no stock."""

    name: str
    item_id: int | None
    unit: str
    total: Decimal
    free: Decimal

    @property
    def lacks(self) -> Decimal:
        """How much is short."""
        return max(self.total - self.free, _ZERO)


@dataclass(frozen=True, slots=True)
class ClassView:
    """A class for so many people: kits that stand packed on the shelf, kits to pack, their bags, what stock lacks."""

    kit: KitView
    people: int
    packed: int
    lines: tuple[ClassBag, ...]
    needs: tuple[ClassNeed, ...]

    @property
    def to_pack(self) -> int:
        """How many kits are still to be packed."""
        return max(self.people - self.packed, 0)

    @property
    def lacking(self) -> tuple[ClassNeed, ...]:
        """What the stock does not have enough of."""
        return tuple(need for need in self.needs if need.lacks)

    @property
    def to_list(self) -> tuple[ClassNeed, ...]:
        """What is lacking and can be bought, because it is a stock item."""
        return tuple(need for need in self.lacking if need.item_id is not None)

    @property
    def purpose(self) -> str:
        """What the list of what to buy says that it is for."""
        return f"{self.to_pack} × {self.kit.design.name[:100]} kit"


def kit_view(session: Session, design_id: int, question: KitRequest, *, number: int | None = None) -> KitView:
    """The kit of a design's latest revision, or of the one of this number.

    Raises: Missing; Conflict for a design that is itself a kit.
    """
    view = design_view(session, design_id, number)
    kit_of = session.execute(columns(col(Design.kit_of_id)).where(col(Design.id) == design_id)).scalar()
    if kit_of is not None:
        raise Conflict(f"{view.name} is a kit itself. Look at the design that it is a kit for.")
    shop = load_shop_facts(session)
    bags, not_held = bags_of_draft(session, view.draft, question, shop)
    minutes = usual_pack_minutes(shop, len(bags))
    name = free_name(session, f"{view.name[:180]} kit")
    draft = kit_draft(view.draft, name, bags, question, int(minutes * 1000))
    inputs = inputs_of_draft(session, draft, shop.metals)
    costing = build_view(inputs, shop, shop_weaves(session), CostSettings())
    return KitView(
        design=view,
        question=question,
        bags=bags,
        left_out=not_held,
        costing=costing,
        kits=kits_of(session, design_id, view.newest),
        name=name,
        pack_minutes=minutes,
    )


def class_view(session: Session, design_id: int, people: int, question: KitRequest) -> ClassView:
    """The kit of a design for a class of so many people. Raises as `kit_view`."""
    kit = kit_view(session, design_id, question)
    packed = sum(one.packed for one in kit.kits if not one.behind and one.question.prepared == question.prepared)
    to_pack = max(people - packed, 0)
    lines = tuple(ClassBag(bag, to_pack) for bag in kit.usual)
    totals: dict[tuple[int | None, str, str, str], Decimal] = {}
    for line in lines:
        thing = line.bag.thing
        key = (thing.item_id, thing.name, thing.kind, thing.unit)
        totals[key] = totals.get(key, _ZERO) + line.total
    found = balances(session, {key[0] for key in totals if key[0] is not None})
    needs = tuple(
        ClassNeed(
            name,
            item_id,
            unit_words(kind, unit, total),
            total,
            Decimal(found[item_id].free_milli).scaleb(-3) if item_id in found else _ZERO,
        )
        for (item_id, name, kind, unit), total in totals.items()
    )
    return ClassView(kit, people, packed, lines, needs)


def bags_of_draft(
    session: Session, draft: DesignDraft, question: KitRequest, shop: ShopFacts
) -> tuple[tuple[KitBag, ...], tuple[str, ...]]:
    """The bags of a kit of a draft, and what no kit holds. Choices stay choices, what is optional stays optional."""
    facts = inputs_of_draft(session, draft, shop.metals).parts
    return kit_bags(zip(draft.parts, facts, strict=True), question), left_out(one_piece(facts))


def bags_of_revision(
    session: Session, design_id: int, number: int, question: KitRequest, shop: ShopFacts
) -> tuple[KitBag, ...]:
    """The bags of a kit of one saved revision. Raises: Missing."""
    return bags_of_draft(session, draft_of(session, design_id, number), question, shop)[0]


def usual_pack_minutes(shop: ShopFacts, bags: int) -> Decimal:
    """The minutes to count and pack a kit: the shop's packing time and half a minute for each bag."""
    rate = shop.rates.rates.get("pack")
    packing = rate.seconds / SECONDS_A_MINUTE if rate is not None else _ZERO
    return (packing + MINUTES_A_BAG * bags).quantize(Decimal("0.1"))


def kits_of(session: Session, design_id: int, newest: int) -> tuple[KeptKit, ...]:
    """The kits of a design that are kept, those in use first."""
    rows = session.execute(
        columns(
            col(Design.id), col(Design.name), col(Design.version), col(Design.retired), col(Design.kit_of_revision),
            col(Design.kit_spare_percent), col(Design.kit_prepared),
        )
        .where(col(Design.kit_of_id) == design_id)
        .order_by(col(Design.retired), col(Design.id))
    ).all()  # fmt: skip
    kits = tuple(
        KeptKit(
            id=row.id,
            name=row.name,
            version=row.version,
            retired=row.retired,
            revision=row.kit_of_revision or 1,
            newest=newest,
            question=_kept_question(row.kit_spare_percent, prepared=row.kit_prepared),
        )
        for row in rows
    )
    packed = _packed(session, {kit.id for kit in kits})
    return tuple(replace(kit, packed=packed.get(kit.id, 0)) for kit in kits)


def kit_origin(session: Session, design_id: int) -> tuple[int, str, KeptKit] | None:
    """For a design that is a kit: the design that it is a kit of, that one's name, and the kit; None for any other."""
    of = session.execute(columns(col(Design.kit_of_id)).where(col(Design.id) == design_id)).scalar()
    if of is None:
        return None
    view = design_view(session, of)
    kit = next(kit for kit in kits_of(session, of, view.newest) if kit.id == design_id)
    return of, view.name, kit


def _kept_question(spare_percent: Decimal | None, *, prepared: bool) -> KitRequest:
    usual = KitRequest(prepared=prepared)
    return usual if spare_percent is None else replace(usual, spare_percent=spare_percent)


def _packed(session: Session, kit_ids: Collection[int]) -> Mapping[int, int]:
    """How many finished kits of each design are free on the shelf."""
    if not kit_ids:
        return {}
    rows = session.execute(
        columns(col(Item.id), col(Item.design_id)).where(col(Item.kind) == "piece", col(Item.design_id).in_(kit_ids))
    ).all()
    found = balances(session, {item_id for item_id, _ in rows})
    packed: dict[int, int] = {}
    for item_id, kit_id in rows:
        if item_id in found:
            packed[kit_id] = packed.get(kit_id, 0) + found[item_id].free_milli // 1000
    return packed
