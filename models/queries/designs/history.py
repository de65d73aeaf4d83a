"""Earlier revisions of a design: each with its cost today, and two of them side by side.

Old parts and old work are costed at today's prices, rates and wage, so that only the design itself differs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from sqlalchemy import select as columns
from sqlmodel import Session, col

from models.costing.design_cost import DesignCost
from models.errors import Missing
from models.queries.costing.figures import usual_cost
from models.queries.costing.inputs import CostInputs, ShopFacts, load_cost_inputs, load_shop_facts
from models.queries.costing.part_facts import PartFacts, one_piece
from models.queries.costing.price_view import PriceMove, outlet_views, price_moves
from models.queries.designs.design import drafts_of
from models.queries.designs.words import Change, field_changes, load_namer, part_changes, work_changes
from models.queries.fetch import fetch
from models.queries.layouts.words import layout_changes
from models.tables import Design, Revision
from models.trade.measures import to_grams
from models.trade.vocabulary import plans


@dataclass(frozen=True, slots=True)
class RevisionRow:
    """One saved state with its cost today, of the usual piece made one at a time; `mass_g` measured where it was."""

    number: int
    made_at: datetime
    change_note: str
    parts: int
    rings: Decimal
    mass_g: Decimal
    minutes: Decimal
    materials: Decimal
    cost: Decimal
    provisional: bool


@dataclass(frozen=True, slots=True)
class History:
    """All revisions of a design, the latest first."""

    design_id: int
    name: str
    rows: tuple[RevisionRow, ...]


@dataclass(frozen=True, slots=True)
class ChangedPart:
    """One part that differs, in words; the side on which it is missing is empty."""

    kind: plans.PartChange
    name: str
    before: str
    after: str


@dataclass(frozen=True, slots=True)
class Difference:
    """Two revisions side by side: what was changed, and what that does to rings, weight, minutes, cost and prices."""

    design_id: int
    name: str
    before: RevisionRow
    after: RevisionRow
    fields: tuple[Change, ...]
    work: tuple[Change, ...]
    parts: tuple[ChangedPart, ...]
    layout: tuple[Change, ...]
    """What differs in how it is laid out."""
    prices: tuple[PriceMove, ...]
    """The suggested price at every outlet."""
    numbers: tuple[int, ...]
    """All revisions that can be compared."""

    @property
    def same(self) -> bool:
        """Whether nothing differs."""
        return not (self.fields or self.work or self.parts or self.layout)


def design_history(session: Session, design_id: int) -> History:
    """Every revision of a design with its cost today. Raises: Missing."""
    name, heads = _heads(session, design_id)
    shop = load_shop_facts(session)
    rows = _rows(heads, load_cost_inputs(session, [head.id for head in heads], shop.metals), shop)
    return History(design_id, name, tuple(rows[number] for number in sorted(rows, reverse=True)))


def design_difference(
    session: Session, design_id: int, before: int | None = None, after: int | None = None
) -> Difference:
    """Two revisions side by side: by default the latest and the one before it. Raises: Missing."""
    name, heads = _heads(session, design_id)
    numbers = {head.number: head.id for head in heads}
    after = max(numbers) if after is None else after
    before = max((number for number in numbers if number < after), default=after) if before is None else before
    for wanted in (before, after):
        if wanted not in numbers:
            raise Missing(f"revision of design {design_id} with the number", wanted)
    shop = load_shop_facts(session)
    inputs = load_cost_inputs(session, [numbers[before], numbers[after]], shop.metals)
    rows = _rows([head for head in heads if head.number in {before, after}], inputs, shop)
    views = [
        outlet_views(inputs[numbers[one]], usual_cost(inputs[numbers[one]], shop), shop, {}) for one in (before, after)
    ]
    drafts = drafts_of(session, [numbers[before], numbers[after]])
    old, new = drafts[numbers[before]], drafts[numbers[after]]
    namer = load_namer(session, old, new)
    parts = []
    for change in part_changes(old.parts, new.parts):
        part = change.after or change.before
        if part is not None:
            words = namer.words(change.before), namer.words(change.after)
            parts.append(ChangedPart(change.kind, namer.name(part), *words))
    return Difference(
        design_id=design_id,
        name=name,
        before=rows[before],
        after=rows[after],
        fields=field_changes(old, new),
        work=work_changes(old.work, new.work),
        parts=tuple(parts),
        layout=layout_changes(old.layout, new.layout, namer.name),
        prices=price_moves(*views),
        numbers=tuple(sorted(numbers, reverse=True)),
    )


@dataclass(frozen=True, slots=True)
class _Head:
    id: int
    number: int
    made_at: datetime
    change_note: str


def _heads(session: Session, design_id: int) -> tuple[str, list[_Head]]:
    design = fetch(session, Design, design_id, "design")
    found = session.execute(
        columns(col(Revision.id), col(Revision.number), col(Revision.made_at), col(Revision.change_note)).where(
            col(Revision.design_id) == design_id
        )
    )
    return design.name, [_Head(*row) for row in found]


def _rows(heads: Sequence[_Head], inputs: Mapping[int, CostInputs], shop: ShopFacts) -> dict[int, RevisionRow]:
    """By number, each revision costed at today's prices."""
    return {head.number: _row(head, inputs[head.id], usual_cost(inputs[head.id], shop)) for head in heads}


def _row(head: _Head, inputs: CostInputs, cost: DesignCost) -> RevisionRow:
    measured = inputs.measured_mass_ug
    return RevisionRow(
        number=head.number,
        made_at=head.made_at,
        change_note=head.change_note,
        parts=len(inputs.parts),
        rings=ring_count(one_piece(inputs.parts)),
        mass_g=cost.mass_g if measured is None else to_grams(measured),
        minutes=cost.minutes.likely,
        materials=cost.materials.amount,
        cost=cost.per_piece,
        provisional=cost.provisional,
    )


def ring_count(parts: Sequence[PartFacts]) -> Decimal:
    """How many rings are in one piece."""
    return sum((part.quantity for part in parts if part.thing.kind == "ring"), Decimal(0))
