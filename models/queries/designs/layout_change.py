"""What a change of rows does: rings by item, grams, minutes, cost of a piece, suggested price at each outlet.

What differs in words is in `layout_words`.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session

from models.intake.designs.design import DesignDraft
from models.intake.layouts.layout import LayoutDraft
from models.layouts.engine.piece import Changed, difference
from models.queries.costing.price_view import PriceMove, price_moves
from models.queries.designs.layout_view import CostedLayout, costed


@dataclass(frozen=True, slots=True)
class LayoutChange:
    """What one layout takes more or less than another; every figure is after less before, of one piece."""

    items: tuple[Changed, ...]
    rings: int
    mass_g: Decimal
    minutes: Decimal
    cost: Decimal
    prices: tuple[PriceMove, ...]

    @property
    def same(self) -> bool:
        """Whether nothing moves."""
        return not (self.items or self.rings or self.mass_g or self.minutes or self.cost)


def layout_change(before: CostedLayout, after: CostedLayout) -> LayoutChange:
    """What differs between two layouts that are worked out."""
    found = difference(before.worked, after.worked, {**before.facts.items, **after.facts.items})
    return LayoutChange(
        items=found.items,
        rings=after.worked.totals.rings - before.worked.totals.rings,
        mass_g=found.mass_g,
        minutes=after.cost.cost.minutes.likely - before.cost.cost.minutes.likely,
        cost=after.cost.cost.per_piece - before.cost.cost.per_piece,
        prices=price_moves(before.cost.outlets, after.cost.outlets),
    )


def layout_difference(
    session: Session,
    before: LayoutDraft,
    after: LayoutDraft,
    *,
    design: DesignDraft | None = None,
    design_id: int | None = None,
) -> LayoutChange:
    """What changing one layout into another does to the design around them."""
    old = costed(session, before, design=design, design_id=design_id)
    return layout_change(old, costed(session, after, design=design, design_id=design_id))
