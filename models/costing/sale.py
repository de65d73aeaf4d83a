"""One sale at one price: where the buyer's money goes, what is left as profit, and what an hour of work earned.

Rounding: what the buyer pays (price, shipping, tax) is rounded by `round_to_pay`; every other line is a cost, kept to a
millionth like all costs (an outlet rounds its fees in its own way, by sale or by payout). Profit is what then remains,
so that it equals the cash entries exactly. Which price to ask is not here (`prices`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal

from models.costing.design_cost import DesignCost
from models.costing.exact import MINUTES_PER_HOUR, ONE, ZERO, exactly
from models.costing.inputs import Fee, OutletInput
from models.costing.lines import Line, add_up
from models.trade.money import millionth, round_to_pay
from models.trade.vocabulary.selling import FEE_BASES, Paid


@dataclass(frozen=True, slots=True)
class Earned:
    """What the maker earns in an hour, wage and profit together, at the likely time and at the ends of its range."""

    low: Decimal
    likely: Decimal
    high: Decimal


@dataclass(frozen=True, slots=True)
class CashEntry:
    """One movement of money in a sale; what comes in is positive. `to` names the other side."""

    label: str
    amount: Decimal
    to: str


@dataclass(frozen=True, slots=True)
class Sale:
    """One piece sold at one price.

    `price_shown` is what the tag says; `margin` is profit / price without tax, `markup` profit / cost of the piece
    (None where the price or the cost is nothing). `earned` is None where no time is known. `sales_to_cover` is how
    many sales like this pay the stall or the month (None without such a fee, or when no number does).
    `line` is the buyer's money unfolded; its lines add up to it exactly.
    """

    price_shown: Decimal
    price_without_tax: Decimal
    price_with_tax: Decimal
    shipping: Decimal
    tax: Decimal
    buyer_pays: Decimal
    fees: tuple[Line, ...]
    fees_total: Decimal
    postage: Decimal
    period_share: Decimal
    profit: Decimal
    margin: Decimal | None
    markup: Decimal | None
    earned: Earned | None
    sales_to_cover: int | None
    line: Line
    cash_entries: tuple[CashEntry, ...]
    provisional: bool

    @property
    def loses(self) -> bool:
        """Whether the piece is sold at a loss."""
        return self.profit < 0


@dataclass(frozen=True, slots=True)
class Split:
    """The buyer's money at one price, divided into lines; `paid` rounded what people pay."""

    shown: Decimal
    without_tax: Decimal
    with_tax: Decimal
    shipping: Decimal
    tax: Decimal
    tax_added: Decimal
    buyer_pays: Decimal
    fees: tuple[Line, ...]
    postage: Decimal
    period_share: Decimal
    profit: Decimal
    line: Line


def period_share_of(outlet: OutletInput) -> Decimal:
    """The part of the stall's or month's fee that one sale carries, to a millionth; all of it if none is expected."""
    return millionth(outlet.period_fee / (outlet.period_sales or ONE)) if outlet.period_fee else ZERO


def split(cost: DesignCost, outlet: OutletInput, price: Decimal, paid: Callable[[Decimal], Decimal]) -> Split:
    """Divide what the buyer pays at a shown price; `paid` is the named step that rounds what people pay."""
    rate = ONE + outlet.tax
    shown, shipping = paid(price), paid(outlet.shipping_charged)
    taxed = shown + shipping if outlet.shipping_taxed else shown
    if outlet.prices_include_tax:
        tax, tax_added = taxed - paid(taxed / rate), ZERO
        without_tax, with_tax = paid(shown / rate), shown
    else:
        tax = tax_added = paid(taxed * outlet.tax)
        without_tax, with_tax = shown, paid(shown * rate)
    buyer_pays = shown + shipping + tax_added
    paid_parts: dict[Paid, Decimal] = {"price": shown, "shipping": shipping, "tax": tax_added}
    fees = tuple(_fee_line(fee, _base(fee, paid_parts), outlet) for fee in outlet.fees)
    postage, period_share = millionth(outlet.postage_paid), period_share_of(outlet)
    lines = [cost.materials, cost.labour, cost.overhead, *fees]
    if period_share:
        lines.append(_period_line(outlet, period_share))
    if postage:
        lines.append(
            Line(
                "Postage you pay", postage, reason="What sending one piece costs you.", source=f"{outlet.name}: postage"
            )
        )
    if outlet.tax:
        lines.append(_tax_line(outlet, tax, taxed))
    profit = buyer_pays - add_up(line.amount for line in lines)
    lines.append(Line("Profit", profit, reason="What is left after everything else is paid.", source="this costing"))
    line = Line(
        "The buyer pays",
        buyer_pays,
        reason="Where the buyer's money goes.",
        source="this costing",
        lines=tuple(lines),
        because=_buyer_lines(outlet, shown, shipping, tax_added),
        provisional=cost.provisional,
    )
    return Split(
        shown, without_tax, with_tax, shipping, tax, tax_added, buyer_pays, fees, postage, period_share, profit, line
    )


@exactly
def sell(cost: DesignCost, outlet: OutletInput, price: Decimal, currency: str) -> Sale:
    """One piece sold through an outlet at a shown price; the price is first rounded to what can be paid.

    Raises: ValueError for a negative price or an unknown currency.
    """
    if price < 0:
        raise ValueError("a price cannot be negative")
    parts = split(cost, outlet, price, lambda value: round_to_pay(value, currency))
    return Sale(
        price_shown=parts.shown,
        price_without_tax=parts.without_tax,
        price_with_tax=parts.with_tax,
        shipping=parts.shipping,
        tax=parts.tax,
        buyer_pays=parts.buyer_pays,
        fees=parts.fees,
        fees_total=add_up(fee.amount for fee in parts.fees),
        postage=parts.postage,
        period_share=parts.period_share,
        profit=parts.profit,
        margin=parts.profit / parts.without_tax if parts.without_tax else None,
        markup=parts.profit / cost.per_piece if cost.per_piece else None,
        earned=earned_at(cost, parts.profit),
        sales_to_cover=_sales_to_cover(outlet, parts.profit + parts.period_share),
        line=parts.line,
        cash_entries=_cash_entries(cost, outlet, parts),
        provisional=cost.provisional,
    )


def earned_at(cost: DesignCost, profit: Decimal) -> Earned | None:
    """What an hour earns when a piece leaves this profit: wage and profit by the hours, over their likely range.

    An overhead by the hour grows and shrinks with the hours; one by per cent does not.
    """
    minutes = cost.minutes
    if minutes.low <= 0:
        return None
    likely = (profit + cost.labour.amount) * MINUTES_PER_HOUR / minutes.likely
    if cost.overhead_per_hour:
        before_hours = profit + cost.labour.amount + cost.overhead.amount
        ends = [before_hours * MINUTES_PER_HOUR / end - cost.overhead_per_hour for end in (minutes.high, minutes.low)]
    else:
        ends = [(profit + cost.labour.amount) * MINUTES_PER_HOUR / end for end in (minutes.high, minutes.low)]
    return Earned(low=min(likely, *ends), likely=likely, high=max(likely, *ends))


def _base(fee: Fee, paid_parts: Mapping[Paid, Decimal]) -> Decimal:
    """What a fee is a share of."""
    counted = FEE_BASES.term(fee.base).parts
    return add_up(amount for part, amount in paid_parts.items() if part in counted)


def _fee_line(fee: Fee, base: Decimal, outlet: OutletInput) -> Line:
    words = FEE_BASES.term(fee.base).exactly
    because = []
    source = f"{outlet.name}: fees"
    if fee.share:
        because = [
            Line("Share", fee.share, amount_unit="share", reason=f"Of {words}.", source=source),
            Line("Taken of", base, reason=f"This is {words}.", source="this costing"),
        ]
    if fee.fixed:
        because.append(Line("Fixed", fee.fixed, reason="For each sale.", source=source))
    return Line(
        fee.label,
        millionth(fee.share * base + fee.fixed),
        reason=f"Taken of {words}." if fee.share else "A fixed sum for each sale.",
        source=source,
        because=tuple(because),
    )


def _period_line(outlet: OutletInput, share: Decimal) -> Line:
    source = f"{outlet.name}: fee for the event or month"
    expected = (
        "Sales you expect to carry it." if outlet.period_sales else "No sales are stated, so one carries all of it."
    )
    return Line(
        "Share of the stall or month",
        share,
        reason="The fee for the event or month, spread over the sales you expect.",
        source=source,
        because=(
            Line("Fee", outlet.period_fee, reason="For the event or month.", source=source),
            Line("Sales", outlet.period_sales, amount_unit="sales", reason=expected, source=source),
        ),
    )


def _tax_line(outlet: OutletInput, tax: Decimal, taxed: Decimal) -> Line:
    source = f"{outlet.name}: tax"
    basis = "With" if outlet.prices_include_tax else "Without"
    how = "Held in the price; you pass it on." if outlet.prices_include_tax else "Added to the price; you pass it on."
    return Line(
        "Tax",
        tax,
        reason=how,
        source=source,
        because=(
            Line("Rate", outlet.tax, amount_unit="share", reason="Of the amount without tax.", source=source),
            Line("Taxed amount", taxed, reason=f"{basis} tax.", source="this costing"),
        ),
    )


def _buyer_lines(outlet: OutletInput, shown: Decimal, shipping: Decimal, tax_added: Decimal) -> tuple[Line, ...]:
    """What the buyer sees: the price, and what is added to it."""
    source = f"{outlet.name}: prices"
    reason = "With tax." if outlet.prices_include_tax and outlet.tax else "As shown."
    lines = [Line("Price as shown", shown, reason=reason, source="this costing")]
    if shipping:
        lines.append(Line("Shipping charged", shipping, reason="Added to the price.", source=source))
    if tax_added:
        lines.append(Line("Tax added", tax_added, reason="Added to the price when it is paid.", source=source))
    return tuple(lines)


def _cash_entries(cost: DesignCost, outlet: OutletInput, parts: Split) -> tuple[CashEntry, ...]:
    """Every movement of money of the sale, in the order in which it happens; they add up to the profit."""
    entries = [CashEntry("Price as shown", parts.shown, "buyer")]
    if parts.shipping:
        entries.append(CashEntry("Shipping charged", parts.shipping, "buyer"))
    if parts.tax_added:
        entries.append(CashEntry("Tax added", parts.tax_added, "buyer"))
    entries += [CashEntry(fee.label, -fee.amount, "outlet") for fee in parts.fees]
    if parts.period_share:
        entries.append(CashEntry("Share of the stall or month", -parts.period_share, "outlet"))
    if parts.postage:
        entries.append(CashEntry("Postage you pay", -parts.postage, "carrier"))
    if outlet.tax:
        entries.append(CashEntry("Tax passed on", -parts.tax, "tax office"))
    entries += [
        CashEntry("Materials", -cost.materials.amount, "suppliers"),
        CashEntry("Wage", -cost.labour.amount, "maker"),
        CashEntry("Overhead", -cost.overhead.amount, "overhead"),
    ]
    return tuple(entries)


def _sales_to_cover(outlet: OutletInput, left_per_sale: Decimal) -> int | None:
    """How many such sales pay the whole fee of the event or month."""
    if not outlet.period_fee or left_per_sale <= 0:
        return None
    return int((outlet.period_fee / left_per_sale).to_integral_value(rounding=ROUND_CEILING))
