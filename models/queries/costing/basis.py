"""Two ways to say what a design's materials cost: what buying them again would cost, or what those in stock did.

Buying again is the usual way, for prices must pay for the next piece too. What is not in stock costs what it costs to
buy in either way.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from sqlmodel import Session

from models.costing.design_cost import DesignCost
from models.costing.inputs import UnitCost
from models.queries.costing.inputs import CostInputs
from models.queries.costing.part_facts import PartFacts
from models.queries.stock.balance import stock_unit_costs


@dataclass(frozen=True, slots=True)
class CostBasis:
    """What one piece costs in both ways, with its materials; `by` is the way that counts ('again' or 'stock').

    `in_stock` of the `parts` have a cost in stock; the others count alike in both ways.
    """

    by: str
    again: Decimal
    again_materials: Decimal
    stock: Decimal
    stock_materials: Decimal
    in_stock: int
    parts: int

    @property
    def difference(self) -> Decimal:
        """How much more a piece costs to make of what is bought again; below zero when stock was dearer."""
        return self.again - self.stock


def stock_costs_of(session: Session, inputs: CostInputs) -> Mapping[int, UnitCost]:
    """What one unit in stock cost, by item, of the parts of a design; empty where none of them is in stock."""
    ids = {part.thing.item_id for part in inputs.parts if part.thing.item_id is not None}
    return stock_unit_costs(session, ids) if ids else {}


def at_stock_cost(inputs: CostInputs, costs: Mapping[int, UnitCost]) -> CostInputs:
    """The same design with every part that is in stock at what its stock cost."""
    return replace(inputs, parts=tuple(_at_stock_cost(part, costs) for part in inputs.parts))


def basis_of(
    by: str, again: DesignCost, stock: DesignCost, parts: Iterable[PartFacts], costs: Mapping[int, UnitCost]
) -> CostBasis:
    """Both ways beside each other, for one piece made of these parts."""
    parts = tuple(parts)
    return CostBasis(
        by=by,
        again=again.per_piece,
        again_materials=again.materials.amount,
        stock=stock.per_piece,
        stock_materials=stock.materials.amount,
        in_stock=sum(part.thing.item_id in costs for part in parts),
        parts=len(parts),
    )


def _at_stock_cost(part: PartFacts, costs: Mapping[int, UnitCost]) -> PartFacts:
    cost = costs.get(part.thing.item_id) if part.thing.item_id is not None else None
    return part if cost is None else replace(part, thing=replace(part.thing, cost=cost))
