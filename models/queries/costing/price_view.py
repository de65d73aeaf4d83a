"""One design at one outlet, as its page, its fragment and the API show it: prices, the sale at each, and how it stands.

What a price is, is computed in `models/costing`; which revision is priced is decided in `costing`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from models.costing.design_cost import DesignCost
from models.costing.inputs import OutletInput
from models.costing.lines import Impossible, Line, total_line
from models.costing.prices import OnePrice, OutletPrices, one_price, price_outlet, retail_price
from models.costing.sale import Sale, sell
from models.queries.costing.figures import suggestion, target_of
from models.queries.costing.inputs import CostInputs, Listed, ShopFacts
from models.trade.money import round_to_pay
from models.trade.vocabulary.selling import OUTLET_KINDS, Standing


@dataclass(frozen=True, slots=True)
class OutletView:
    """One outlet's prices for a design.

    `suggested` is the outlet's own suggestion, or its share of the one price where the shop holds one everywhere.
    `target` is the price that reaches every wish. `listed` is what is asked today. `typed` is a price that the person
    tries, with the sale at it. `retail` is what a shop that buys at the standing price would ask.
    """

    outlet_id: int
    outlet: OutletInput
    prices: OutletPrices
    break_even: Decimal | None
    target: Decimal | None
    suggested: Decimal | None
    suggested_sale: Sale | None
    listed: Listed | None
    listed_sale: Sale | None
    typed: Decimal | None
    typed_sale: Sale | None
    retail: Decimal | None
    currency: str

    @property
    def name(self) -> str:
        """The outlet's name."""
        return self.outlet.name

    @property
    def kind_words(self) -> str:
        """What kind of outlet it is, in words."""
        return OUTLET_KINDS[self.outlet.kind]

    @property
    def no_price(self) -> str:
        """Why no price can pay here; empty when one can."""
        return self.prices.suggested.reason if isinstance(self.prices.suggested, Impossible) else ""

    @property
    def sale(self) -> Sale | None:
        """The sale that the view stands at: at the typed price, else the listed one, else the suggested one."""
        return self.typed_sale or self.listed_sale or self.suggested_sale

    @property
    def sale_at(self) -> Literal["tried", "listed", "suggested"] | None:
        """At which price that is; None where there is none."""
        if self.typed_sale:
            return "tried"
        return "listed" if self.listed_sale else "suggested" if self.suggested_sale else None

    @property
    def standing(self) -> Standing:
        """How the listed price stands."""
        if self.listed_sale is None:
            return "impossible" if self.no_price else "not listed"
        return self.standing_of(self.listed_sale)

    def where_it_goes(self, sale: Sale) -> tuple[Line, ...]:
        """The buyer's money in at most six lines, as many as a bar has tones: fees and postage are one."""
        made_of, rest, profit = sale.line.lines[:3], list(sale.line.lines[3:-1]), sale.line.lines[-1]
        tax = [rest.pop()] if self.outlet.tax else []
        if len(rest) > 1:
            label = "Fees and postage" if sale.postage else "Fees"
            rest = [total_line(label, rest, reason="All that is taken before the rest is yours.", source=self.name)]
        return (*made_of, *rest, *tax, profit)

    def standing_of(self, sale: Sale) -> Standing:
        """How a sale stands against break-even and the wishes."""
        if self.break_even is None or not reaches(sale.price_shown, self.break_even, self.currency):
            return "below break-even"
        if self.target is None:
            return "pays"
        return "reaches target" if reaches(sale.price_shown, self.target, self.currency) else "below target"


@dataclass(frozen=True, slots=True)
class PriceMove:
    """What a change of a design does to the suggested price at one outlet; None where no price can pay."""

    outlet: str
    before: Decimal | None
    after: Decimal | None

    @property
    def by(self) -> Decimal | None:
        """How much it goes up or down, where there is a price on both sides."""
        return None if self.before is None or self.after is None else self.after - self.before


def price_moves(before: Sequence[OutletView], after: Sequence[OutletView]) -> tuple[PriceMove, ...]:
    """The suggested prices of two states of a design side by side, outlet by outlet."""
    old = {view.outlet_id: view.suggested for view in before}
    return tuple(PriceMove(view.name, old.get(view.outlet_id), view.suggested) for view in after)


def reaches(price: Decimal, floor: Decimal, currency: str) -> bool:
    """Whether a price is at least another; a difference that nobody can pay is none."""
    return round_to_pay(price, currency) >= round_to_pay(floor, currency)


def outlet_views(
    inputs: CostInputs, cost: DesignCost, shop: ShopFacts, typed: Mapping[int, Decimal]
) -> tuple[OutletView, ...]:
    """The design at every outlet in use, in their order; `typed` are prices to try, by the outlet's number."""
    everywhere = everywhere_price(cost, shop) if shop.one_price else None
    retail = everywhere.retail if isinstance(everywhere, OnePrice) else None
    return tuple(
        _outlet_view(inputs, cost, outlet, currency=shop.currency, retail=retail, typed=typed)
        for outlet in shop.outlets
    )


def everywhere_price(cost: DesignCost, shop: ShopFacts, retail: Decimal | None = None) -> OnePrice | Impossible:
    """One retail price at every outlet: the given one, else the lowest that serves them all."""
    return one_price(cost, shop.outlets, currency=shop.currency, retail=retail, ending=shop.ending)


def _outlet_view(
    inputs: CostInputs,
    cost: DesignCost,
    outlet: OutletInput,
    *,
    currency: str,
    retail: Decimal | None,
    typed: Mapping[int, Decimal],
) -> OutletView:
    outlet_id = int(outlet.code)
    listed = inputs.listed.get(outlet_id)
    tried = typed.get(outlet_id)
    prices = price_outlet(cost, outlet, currency=currency, listed=listed.price if listed else None)
    suggested, suggested_sale = suggestion(prices, cost, currency, retail)
    typed_sale = None if tried is None else sell(cost, outlet, tried, currency)
    standing = typed_sale or prices.at_listed or suggested_sale
    return OutletView(
        outlet_id=outlet_id,
        outlet=outlet,
        prices=prices,
        break_even=None if isinstance(prices.break_even, Impossible) else prices.break_even.shown,
        target=target_of(prices),
        suggested=suggested,
        suggested_sale=suggested_sale,
        listed=listed,
        listed_sale=prices.at_listed,
        typed=tried,
        typed_sale=typed_sale,
        retail=None if standing is None else retail_price(outlet, standing.price_shown, currency),
        currency=currency,
    )
