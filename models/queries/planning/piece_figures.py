"""What one piece of each recipe takes and earns: the kept figures, and for other choices than the usual ones a costing.

A choice is sold at the price of the usual piece, so what it costs more or less is less or more profit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from sqlalchemy import select
from sqlmodel import Session, col

from models.costing.design_cost import DesignCost, cost_design
from models.queries.costing.inputs import latest_revisions, load_cost_inputs, load_shop_facts
from models.queries.costing.part_facts import one_piece
from models.queries.planning.recipes import ShopRecipe
from models.tables import DesignFigure, Outlet, PriceFigure
from models.trade.money import to_micros
from models.trade.weaves import WEAVES

MINUTES_PER_HOUR = 60


@dataclass(frozen=True, slots=True)
class OutletAt:
    """One piece sold at one outlet, at its listed price, else the suggested one; millionths.

    `hourly_micros` is what an hour of work earns: profit and wage; None where no time is known.
    """

    outlet_id: int
    outlet: str
    price_micros: int
    profit_micros: int
    hourly_micros: int | None


@dataclass(frozen=True, slots=True)
class PieceFigure:
    """What one piece takes in likely minutes, and what it earns at each outlet in use, in the order of the outlets."""

    minutes_milli: int
    provisional: bool
    at: tuple[OutletAt, ...]

    @property
    def seconds(self) -> int:
        """The likely time in whole seconds, rounded up."""
        return -(-self.minutes_milli * 60 // 1000)

    @property
    def best(self) -> OutletAt | None:
        """The outlet where an hour earns most; where no time is known, the one with the most profit."""
        timed = [each for each in self.at if each.hourly_micros is not None]
        if timed:
            return max(timed, key=lambda each: each.hourly_micros or 0)
        return max(self.at, key=lambda each: each.profit_micros, default=None)

    def at_outlet(self, outlet_id: int | None) -> OutletAt | None:
        """What it earns at one outlet, or at the best one for None; None where no price can pay."""
        if outlet_id is None:
            return self.best
        return next((each for each in self.at if each.outlet_id == outlet_id), None)


def piece_figures(session: Session, recipes: Iterable[ShopRecipe]) -> dict[str, PieceFigure]:
    """The figures of each recipe by its key, in a constant number of queries; designs without figures are left out."""
    recipes = tuple(recipes)
    usual = _usual(session)
    others = [each for each in recipes if not each.usual and each.design_id in usual]
    costs = _costs(session, others) if others else {}
    found: dict[str, PieceFigure] = {}
    for each in recipes:
        figure = usual.get(each.design_id)
        if figure is None:
            continue
        cost = costs.get(each.key)
        found[each.key] = figure.figure if cost is None else _other(figure, cost)
    return found


@dataclass(frozen=True, slots=True)
class _Usual:
    """The figure of the usual piece, and what it costs in all; millionths."""

    figure: PieceFigure
    total_micros: int


def _usual(session: Session) -> dict[int, _Usual]:
    at: dict[int, list[OutletAt]] = {}
    rows = session.execute(
        select(
            col(PriceFigure.design_id), col(Outlet.id), col(Outlet.name), col(PriceFigure.price_micros),
            col(PriceFigure.profit_micros), col(PriceFigure.hourly_micros),
        )
        .join(Outlet, col(Outlet.id) == col(PriceFigure.outlet_id))
        .where(~col(Outlet.retired), col(PriceFigure.price_micros).is_not(None))
        .order_by(col(Outlet.position), col(Outlet.id))
    )  # fmt: skip
    for design_id, outlet_id, outlet, price, profit, hourly in rows:
        at.setdefault(design_id, []).append(OutletAt(outlet_id, outlet, price, profit, hourly))
    kept = session.execute(
        select(
            col(DesignFigure.design_id), col(DesignFigure.minutes_milli), col(DesignFigure.provisional),
            col(DesignFigure.total_micros),
        )
    )  # fmt: skip
    return {
        design_id: _Usual(PieceFigure(minutes, provisional, tuple(at.get(design_id, ()))), total)
        for design_id, minutes, provisional, total in kept
    }


def _costs(session: Session, recipes: Iterable[ShopRecipe]) -> dict[str, DesignCost]:
    """What one piece of each of these choices costs, made one at a time as the kept figures are."""
    recipes = tuple(recipes)
    shop = load_shop_facts(session)
    revisions = latest_revisions(session, {each.design_id for each in recipes})
    inputs = load_cost_inputs(session, tuple(revisions.values()), shop.metals)
    found = {}
    for each in recipes:
        known = inputs[revisions[each.design_id]]
        weave = WEAVES.get(known.weave) if known.weave else None
        found[each.key] = cost_design(
            [part.to_input() for part in one_piece(known.parts, dict(each.picks))],
            known.work,
            shop.rates_of(each.design_id),
            weave_difficulty=weave.difficulty if weave else None,
            allowance=known.allowance,
        )
    return found


def _other(usual: _Usual, cost: DesignCost) -> PieceFigure:
    """The figure of another choice: the price stays, so the profit takes all that it costs more or less."""
    more_micros = to_micros(cost.per_piece) - usual.total_micros
    minutes_milli = _whole(cost.minutes.likely * 1000)
    labour_micros = to_micros(cost.labour.amount)
    at = tuple(
        OutletAt(
            outlet_id=each.outlet_id,
            outlet=each.outlet,
            price_micros=each.price_micros,
            profit_micros=each.profit_micros - more_micros,
            hourly_micros=_hourly(each.profit_micros - more_micros + labour_micros, minutes_milli),
        )
        for each in usual.figure.at
    )
    return PieceFigure(minutes_milli, cost.provisional, at)


def _hourly(earned_micros: int, minutes_milli: int) -> int | None:
    if minutes_milli <= 0:
        return None
    return _whole(Decimal(earned_micros * MINUTES_PER_HOUR * 1000) / minutes_milli)


def _whole(value: Decimal) -> int:
    return int(value.to_integral_value(rounding=ROUND_HALF_EVEN))


def outlets_in_use(session: Session) -> Mapping[int, str]:
    """The outlets in use by id, in their order."""
    rows = session.execute(
        select(col(Outlet.id), col(Outlet.name))
        .where(~col(Outlet.retired))
        .order_by(col(Outlet.position), col(Outlet.id))
    )
    return {outlet_id: name for outlet_id, name in rows if outlet_id is not None}
