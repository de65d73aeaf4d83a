"""Which price to ask through an outlet: break-even, for a wanted margin, for a wanted wage, and one suggested price.

Fees, tax, postage and shipping all make profit a straight line in the price, so each price is solved exactly, by one
division to fifty digits, and left unrounded. Only the suggested price is rounded, upward, by the outlet's ending rule.
At a wholesale outlet every price is what the shop pays the maker; the shop's own price is the retail multiple of it,
rounded up by the same rule. What happens at one price is in `sale`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from models.costing.design_cost import DesignCost
from models.costing.exact import EXACT, HUNDRED, ONE, ZERO, exactly
from models.costing.inputs import OutletInput
from models.costing.lines import Impossible, Line
from models.costing.price_endings import round_up_to_ending
from models.costing.sale import Sale, period_share_of, sell, split
from models.trade.money import millionth, round_to_pay
from models.trade.vocabulary.selling import FEE_BASES

# Beyond this, a price is no price: millionths of it would no longer fit where money is kept.
MOST = Decimal(10) ** 12


@dataclass(frozen=True, slots=True)
class Price:
    """A price at an outlet, as shown and with and without tax, and how it comes about.

    All but a suggested price are unrounded (50 digits).
    """

    shown: Decimal
    without_tax: Decimal
    with_tax: Decimal
    reason: str
    cost: DesignCost = field(repr=False)
    outlet: OutletInput = field(repr=False)

    @property
    def possible(self) -> bool:
        """Always True, so that a page can ask a price and an impossible one alike."""
        return True

    @property
    def line(self) -> Line:
        """Where the buyer's money goes at this price, to a millionth; built when a page unfolds it."""
        return _tree(self.cost, self.outlet, self.shown)


@dataclass(frozen=True, slots=True)
class OutletPrices:
    """The prices of one design at one outlet.

    `for_margin` and `for_wage` are None where none is wanted. `decided_by` is what the suggested price rests on:
    'break-even', 'margin' or 'wage'. `retail` is what a shop that buys wholesale would ask at the suggested price.
    """

    outlet: OutletInput
    break_even: Price | Impossible
    for_margin: Price | Impossible | None
    for_wage: Price | Impossible | None
    suggested: Price | Impossible
    decided_by: str
    retail: Decimal | None
    at_suggested: Sale | None
    at_listed: Sale | None
    provisional: bool


@dataclass(frozen=True, slots=True)
class OnePrice:
    """One retail price held everywhere: what it leaves at each outlet, and where it earns least.

    `decided_by` is the outlet that asks for this much, '' for a price that was given. `impossible` names the outlets
    that no price serves.
    """

    retail: Decimal
    decided_by: str
    earns_least_at: str
    sales: tuple[tuple[str, Sale], ...]
    impossible: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class _Straight:
    """Profit as a straight line of the shown price: `scale` x profit = `slope` x price - `burden`.

    `scale` is 1 + tax where prices include tax, so that no division is needed before the last one;
    the price without tax is then price / scale.
    """

    scale: Decimal
    slope: Decimal
    burden: Decimal


@exactly
def price_outlet(
    cost: DesignCost, outlet: OutletInput, *, currency: str, listed: Decimal | None = None
) -> OutletPrices:
    """All prices of one design at one outlet, and what happens at the suggested and the listed one.

    Raises: ValueError for an unknown currency or ending, or a negative listed price.
    """
    straight = _straight(cost, outlet, currency)
    prices = {"break-even": _break_even(cost, outlet, straight)}
    if outlet.wanted_margin is not None:
        prices["margin"] = _for_margin(cost, outlet, straight, outlet.wanted_margin)
    if outlet.wanted_wage is not None:
        prices["wage"] = _for_wage(cost, outlet, straight, outlet.wanted_wage)
    suggested, decided_by = _suggest(cost, outlet, prices, currency)
    at_suggested, retail = None, None
    if isinstance(suggested, Price):
        at_suggested = sell(cost, outlet, suggested.shown, currency)
        retail = retail_price(outlet, suggested.shown, currency)
    return OutletPrices(
        outlet=outlet,
        break_even=prices["break-even"],
        for_margin=prices.get("margin"),
        for_wage=prices.get("wage"),
        suggested=suggested,
        decided_by=decided_by,
        retail=retail,
        at_suggested=at_suggested,
        at_listed=None if listed is None else sell(cost, outlet, listed, currency),
        provisional=cost.provisional,
    )


@exactly
def retail_price(outlet: OutletInput, price: Decimal, currency: str) -> Decimal | None:
    """What a shop that buys at this wholesale price asks: the price x the retail multiple, rounded up by the rule.

    None at any outlet that is not wholesale.
    """
    if outlet.kind != "wholesale":
        return None
    return round_up_to_ending(price * outlet.retail_multiple, outlet.ending, currency)


@exactly
def price_at_retail(outlet: OutletInput, retail: Decimal, currency: str) -> Decimal:
    """What the maker's tag says at an outlet when the piece retails at one price everywhere.

    A wholesale buyer pays the retail price / the retail multiple, rounded to what can be paid; all others pay it whole.
    """
    if outlet.kind != "wholesale":
        return round_to_pay(retail, currency)
    return round_to_pay(retail / outlet.retail_multiple, currency)


@exactly
def one_price(
    cost: DesignCost,
    outlets: Sequence[OutletInput],
    *,
    currency: str,
    retail: Decimal | None = None,
    ending: str = "any",
) -> OnePrice | Impossible:
    """One retail price everywhere: the given one, else the lowest that reaches every outlet's suggested price.

    Outlets that no price serves are left out and named. Impossible when none is left.
    """
    decided_by = ""
    served, impossible = [], []
    wanted = ZERO
    for outlet in outlets:
        suggested = price_outlet(cost, outlet, currency=currency).suggested
        if isinstance(suggested, Impossible):
            impossible.append((outlet.name, suggested.reason))
            continue
        served.append(outlet)
        asked = suggested.shown * outlet.retail_multiple if outlet.kind == "wholesale" else suggested.shown
        if retail is None and (asked > wanted or not decided_by):
            wanted, decided_by = asked, outlet.name
    if not served:
        return Impossible(impossible[0][1] if impossible else "There is no outlet yet. Add one to see a price.")
    price = round_to_pay(retail, currency) if retail is not None else round_up_to_ending(wanted, ending, currency)
    sales = tuple((o.name, sell(cost, o, price_at_retail(o, price, currency), currency)) for o in served)
    worst = min(sales, key=lambda named: named[1].profit)
    return OnePrice(price, decided_by, worst[0], sales, tuple(impossible))


def _straight(cost: DesignCost, outlet: OutletInput, currency: str) -> _Straight:
    """Profit as a straight line of the shown price."""
    rate = ONE + outlet.tax
    shipping = round_to_pay(outlet.shipping_charged, currency)
    inclusive = outlet.prices_include_tax
    all_paid_share = ONE if inclusive else rate
    all_paid_shipping = shipping if inclusive or not outlet.shipping_taxed else shipping * rate
    share, fixed = ZERO, ZERO
    for fee in outlet.fees:
        fixed += fee.fixed
        parts = FEE_BASES.term(fee.base).parts
        if "price" in parts:
            share += fee.share
        if "shipping" in parts:
            fixed += fee.share * shipping
        if "tax" in parts:
            share += fee.share * (all_paid_share - ONE)
            fixed += fee.share * (all_paid_shipping - shipping)
    burden = cost.per_piece + millionth(outlet.postage_paid) + period_share_of(outlet) + fixed
    scale = rate if inclusive else ONE
    kept_shipping = shipping if outlet.shipping_taxed else shipping * scale
    return _Straight(scale=scale, slope=ONE - scale * share, burden=scale * burden - kept_shipping)


def _break_even(cost: DesignCost, outlet: OutletInput, straight: _Straight) -> Price | Impossible:
    if straight.slope <= 0:
        taken = _percent(ONE - straight.slope)
        return Impossible(
            f"Fees take {taken} % of the price without tax, so no price can pay for the piece. "
            f"Lower a fee of {outlet.name}."
        )
    return _price(cost, outlet, straight.burden / straight.slope, "Pays for everything and leaves nothing.")


def _for_margin(cost: DesignCost, outlet: OutletInput, straight: _Straight, margin: Decimal) -> Price | Impossible:
    """The price at which profit is the wanted share of the price without tax."""
    slope = straight.slope - margin
    if slope <= 0:
        fees, wanted = _percent(ONE - straight.slope), _percent(margin)
        return Impossible(
            f"Fees take {fees} % of the price without tax and {wanted} % should stay as profit, "
            "so nothing is left to pay for the piece. Lower the margin you want, or a fee."
        )
    return _price(cost, outlet, straight.burden / slope, "Leaves the margin you want, of the price without tax.")


def _for_wage(cost: DesignCost, outlet: OutletInput, straight: _Straight, wage: Decimal) -> Price | Impossible:
    """The price at which wage and profit together bring the wanted sum an hour; overhead stays as it was costed."""
    if straight.slope <= 0:
        return _break_even(cost, outlet, straight)
    # In sixtieths, so that the minutes need no division of their own.
    sixty = Decimal(60)
    more = wage * cost.minutes.likely - sixty * cost.labour.amount
    burden = sixty * straight.burden + straight.scale * more
    return _price(cost, outlet, burden / (sixty * straight.slope), "Brings what you want to earn in an hour.")


def _suggest(
    cost: DesignCost, outlet: OutletInput, prices: dict[str, Price | Impossible], currency: str
) -> tuple[Price | Impossible, str]:
    """The lowest price that reaches break-even and every wish, rounded up by the ending rule; and what it rests on."""
    highest, decided_by = ZERO, "break-even"
    for why, price in prices.items():
        if isinstance(price, Impossible):
            return price, why
        if price.shown > highest:
            highest, decided_by = price.shown, why
    shown = round_up_to_ending(highest, outlet.ending, currency)
    if shown > MOST:
        return _too_much(), decided_by
    words = {
        "break-even": "The break-even price, rounded up by your rule.",
        "margin": "The price for the margin you want, rounded up by your rule.",
        "wage": "The price for what you want to earn an hour, rounded up by your rule.",
    }
    return _price(cost, outlet, shown, words[decided_by]), decided_by


def _price(cost: DesignCost, outlet: OutletInput, shown: Decimal, reason: str) -> Price | Impossible:
    """A price with its tree; never below zero, as a charge for shipping may already pay for everything."""
    if shown > MOST:
        return _too_much()
    shown = max(shown, ZERO)
    rate = ONE + outlet.tax
    without_tax = shown / rate if outlet.prices_include_tax else shown
    with_tax = shown if outlet.prices_include_tax else shown * rate
    return Price(shown, without_tax, with_tax, reason, cost, outlet)


@exactly
def _tree(cost: DesignCost, outlet: OutletInput, shown: Decimal) -> Line:
    return split(cost, outlet, shown, millionth).line


def _too_much() -> Impossible:
    return Impossible(
        "The price would have to be beyond all reason. Check the costs, the fees and what you want to earn."
    )


def _percent(share: Decimal) -> str:
    """A share as per cent in plain digits, with at most one decimal."""
    return format((share * HUNDRED).quantize(Decimal("0.1"), context=EXACT).normalize(), "f")
