"""The kept figures of designs: what they should be by today's inputs, and which stored ones are stale.

They are written in the transaction that changes an input (`operations/figures`), so that lists of hundreds of designs
stay fast; here they are only computed and compared.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import asdict, dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from sqlalchemy import select as columns
from sqlmodel import Session, select

from models.costing.design_cost import DesignCost, cost_design
from models.costing.inputs import OutletInput
from models.costing.lines import Impossible
from models.costing.prices import OutletPrices, Price, one_price, price_at_retail, price_outlet
from models.costing.sale import Sale, sell
from models.queries.costing.inputs import CostInputs, ShopFacts, latest_revisions, load_cost_inputs, load_shop_facts
from models.queries.costing.part_facts import one_piece
from models.tables import Design, DesignFigure, PriceFigure
from models.trade.money import to_micros
from models.trade.weaves import WEAVES


@dataclass(frozen=True, slots=True)
class CostFigure:
    """The columns of a design's kept cost: the usual piece of the latest revision, one made at a time.

    `mass_ug` is the measured weight where there is one, else the computed one. `unpriced` names the parts, one a line.
    """

    design_id: int
    materials_micros: int
    labour_micros: int
    overhead_micros: int
    total_micros: int
    minutes_milli: int
    low_minutes_milli: int
    high_minutes_milli: int
    mass_ug: int
    provisional: bool
    unpriced: str


@dataclass(frozen=True, slots=True)
class OutletFigure:
    """The columns of a design's kept prices at one outlet. `price_micros` is the listed price, else the suggested one.

    Profit and earnings are at that price; all are None where no price can pay.
    """

    design_id: int
    outlet_id: int
    break_even_micros: int | None
    target_micros: int | None
    suggested_micros: int | None
    price_micros: int | None
    profit_micros: int | None
    hourly_micros: int | None


@dataclass(frozen=True, slots=True)
class Figures:
    """The figures of some designs as they should be by today's inputs."""

    costs: tuple[CostFigure, ...]
    prices: tuple[OutletFigure, ...]


@dataclass(frozen=True, slots=True)
class StaleFigure:
    """A kept figure that today's inputs do not give; `stored` is None for a missing one, `due` for a needless one."""

    design_id: int
    design: str
    what: str
    stored: object
    due: object

    def __str__(self) -> str:
        where = f"'{self.design}' (design {self.design_id})"
        return f"{where}: {self.what} is kept as {self.stored}, but should be {self.due}."


def usual_cost(inputs: CostInputs, shop: ShopFacts) -> DesignCost:
    """The cost of the usual piece: the usual choice of each group, no optional part, made one at a time."""
    weave = WEAVES.get(inputs.weave) if inputs.weave else None
    return cost_design(
        [part.to_input() for part in one_piece(inputs.parts)],
        inputs.work,
        shop.rates_of(inputs.design_id),
        weave_difficulty=weave.difficulty if weave else None,
        allowance=inputs.allowance,
    )


def compute_figures(session: Session, design_ids: Collection[int] | None = None) -> Figures:
    """The figures of all designs, or of those named, in a constant number of queries."""
    shop = load_shop_facts(session)
    revisions = latest_revisions(session, design_ids)
    costs: list[CostFigure] = []
    prices: list[OutletFigure] = []
    for inputs in load_cost_inputs(session, tuple(revisions.values()), shop.metals).values():
        cost = usual_cost(inputs, shop)
        costs.append(_cost_figure(inputs, cost))
        prices.extend(_outlet_figures(inputs, cost, shop))
    return Figures(tuple(costs), tuple(prices))


def stale_figures(session: Session) -> tuple[StaleFigure, ...]:
    """Recompute every figure and name each kept one that is stale, missing or needless."""
    due = compute_figures(session)
    names = dict(session.exec(select(Design.id, Design.name)).all())
    outlets = {int(outlet.code): outlet.name for outlet in load_shop_facts(session).outlets}
    found: list[StaleFigure] = []

    def compare(key: tuple[int, int | None], stored: dict[str, object], wanted: dict[str, object]) -> None:
        design_id, outlet_id = key
        where = f" at {outlets.get(outlet_id, f'outlet {outlet_id}')}" if outlet_id is not None else ""
        for column in {**wanted, **stored}:
            before, after = stored.get(column), wanted.get(column)
            if before != after or (column in stored) != (column in wanted):
                found.append(StaleFigure(design_id, names.get(design_id, "?"), column + where, before, after))

    kept_costs = _kept(session, DesignFigure, CostFigure)
    kept_prices = _kept(session, PriceFigure, OutletFigure)
    due_costs: dict[tuple[int, int | None], dict[str, object]] = {
        (figure.design_id, None): _values(figure) for figure in due.costs
    }
    due_prices: dict[tuple[int, int | None], dict[str, object]] = {
        (figure.design_id, figure.outlet_id): _values(figure) for figure in due.prices
    }
    for kept, wanted in ((kept_costs, due_costs), (kept_prices, due_prices)):
        for key in sorted({*kept, *wanted}, key=lambda key: (key[0], key[1] or 0)):
            compare(key, kept.get(key, {}), wanted.get(key, {}))
    return tuple(found)


def _kept(
    session: Session, table: type[DesignFigure] | type[PriceFigure], figure: type[CostFigure] | type[OutletFigure]
) -> dict[tuple[int, int | None], dict[str, object]]:
    names = list(figure.__dataclass_fields__)
    rows = session.execute(columns(*(getattr(table, name) for name in names))).mappings()
    return {
        (row["design_id"], row.get("outlet_id")): {
            name: row[name] for name in names if name not in {"design_id", "outlet_id"}
        }
        for row in rows
    }


def _values(figure: CostFigure | OutletFigure) -> dict[str, object]:
    return {name: value for name, value in asdict(figure).items() if name not in {"design_id", "outlet_id"}}


def _cost_figure(inputs: CostInputs, cost: DesignCost) -> CostFigure:
    return CostFigure(
        design_id=inputs.design_id or 0,
        materials_micros=to_micros(cost.materials.amount),
        labour_micros=to_micros(cost.labour.amount),
        overhead_micros=to_micros(cost.overhead.amount),
        total_micros=to_micros(cost.per_piece),
        minutes_milli=_milli(cost.minutes.likely),
        low_minutes_milli=_milli(cost.minutes.low),
        high_minutes_milli=_milli(cost.minutes.high),
        mass_ug=inputs.measured_mass_ug or to_micros(cost.mass_g),
        provisional=cost.provisional,
        unpriced="\n".join(cost.unpriced),
    )


def _milli(minutes: Decimal) -> int:
    return int((minutes * 1000).to_integral_value(rounding=ROUND_HALF_EVEN))


def _outlet_figures(inputs: CostInputs, cost: DesignCost, shop: ShopFacts) -> list[OutletFigure]:
    retail = None
    if shop.one_price:
        everywhere = one_price(cost, shop.outlets, currency=shop.currency, ending=shop.ending)
        retail = None if isinstance(everywhere, Impossible) else everywhere.retail
    return [outlet_figure(inputs, cost, outlet, shop.currency, retail) for outlet in shop.outlets]


def outlet_figure(
    inputs: CostInputs, cost: DesignCost, outlet: OutletInput, currency: str, retail: Decimal | None
) -> OutletFigure:
    """The prices of one design at one outlet; `retail` is the one price that holds everywhere, where one is wanted."""
    outlet_id = int(outlet.code)
    listed = inputs.listed.get(outlet_id)
    prices = price_outlet(cost, outlet, currency=currency, listed=listed.price if listed else None)
    suggested, sale = suggestion(prices, cost, currency, retail)
    stands = prices.at_listed if listed else sale
    target = target_of(prices)
    return OutletFigure(
        design_id=inputs.design_id or 0,
        outlet_id=outlet_id,
        break_even_micros=_micros(prices.break_even),
        target_micros=None if target is None else to_micros(target),
        suggested_micros=None if suggested is None else to_micros(suggested),
        price_micros=None if stands is None else to_micros(stands.price_shown),
        profit_micros=None if stands is None else to_micros(stands.profit),
        hourly_micros=None if stands is None or stands.earned is None else to_micros(stands.earned.likely),
    )


def suggestion(
    prices: OutletPrices, cost: DesignCost, currency: str, retail: Decimal | None
) -> tuple[Decimal | None, Sale | None]:
    """The suggested price and the sale at it; `retail` is the one price that holds everywhere, where one is wanted."""
    if isinstance(prices.suggested, Impossible):
        return None, None
    if retail is None:
        return prices.suggested.shown, prices.at_suggested
    price = price_at_retail(prices.outlet, retail, currency)
    return price, sell(cost, prices.outlet, price, currency)


def target_of(prices: OutletPrices) -> Decimal | None:
    """The price that reaches every wish; None where nothing is wished or no price reaches it."""
    wishes = [wish for wish in (prices.for_margin, prices.for_wage) if wish is not None]
    reached = [wish.shown for wish in wishes if isinstance(wish, Price)]
    return max(reached) if reached and len(reached) == len(wishes) else None


def _micros(price: Price | Impossible) -> int | None:
    return None if isinstance(price, Impossible) else to_micros(price.shown)
