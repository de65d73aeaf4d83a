"""Costs and prices as the API sends them. Nothing is read here.

Money is exact decimal text with its currency. Unrounded figures (a unit cost, a density) are told to twelve decimals.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, ValidationInfo

from models.costing.lines import Impossible
from models.costing.prices import Price
from models.costing.sale import Sale
from models.trade.money import millionth
from webapp.api.answers import Amount, AnswerModel, Currency, PlainNumber, beneath, path
from webapp.api.shapes import MoneyOut

_FINE = Decimal("0.000000000001")
_CONTEXT = Context(prec=60)


def _fine(value: Decimal) -> Decimal:
    return value.quantize(_FINE, rounding=ROUND_HALF_EVEN, context=_CONTEXT)


def _short(amount: Decimal) -> Decimal:
    """Without zeros at its end beyond two decimals."""
    bare = amount.normalize(_CONTEXT)
    exponent = bare.as_tuple().exponent
    return bare if isinstance(exponent, int) and exponent < -2 else amount.quantize(Decimal("0.01"), context=_CONTEXT)


def _shown(price: Price | Impossible | None) -> Decimal | None:
    return price.shown if isinstance(price, Price) else None


Fine = Annotated[PlainNumber, BeforeValidator(_fine)]
"""A number to twelve decimals."""
FineAmount = Annotated[Amount, BeforeValidator(lambda amount: _short(_fine(amount)))]
"""Money to twelve decimals."""
Rounded = Annotated[Amount, BeforeValidator(lambda amount: _short(millionth(amount)))]
"""Money to a millionth, as costs are kept."""
PriceShown = Annotated[Rounded | None, BeforeValidator(_shown)]
"""What the tag says; null where no price can pay, or none is wanted."""


class HourlyOut(MoneyOut):
    """Money for an hour."""

    per: Literal["hour"]


class ValueOut(AnswerModel):
    """A fact with its unit."""

    value: Fine
    unit: str


def _amount(amount: Decimal, info: ValidationInfo) -> object:
    unit = info.data["counted_in"]
    if unit not in ("", "an hour"):
        return {"value": amount, "unit": unit}
    money = {"amount": format(_short(_fine(amount)), "f"), "currency": (info.context or {})["currency"]}
    return {**money, "per": "hour"} if unit else money


class CostLineOut(AnswerModel):
    """`lines` add up to `amount` exactly; `because` are the facts behind it. Amounts are money, or values in a unit."""

    counted_in: str = Field(validation_alias="amount_unit", exclude=True)
    label: str
    amount: Annotated[HourlyOut | ValueOut | MoneyOut, BeforeValidator(_amount)]
    quantity: Fine | None
    unit: str
    unit_amount: FineAmount | None
    reason: str
    source: str
    provisional: bool
    lines: list[CostLineOut]
    because: list[CostLineOut]


class OptionOut(AnswerModel):
    """One alternative of a choice."""

    choice: str = path("name")
    picked: bool


class ChoiceOut(AnswerModel):
    """A group of alternatives, one of which is picked."""

    group: str
    options: list[OptionOut]


class OptionalPartOut(AnswerModel):
    """An optional part, and whether it is counted in."""

    place: int = path("part", "position")
    part: str = path("part", "thing", "name")
    counted: bool


class UnpricedOut(AnswerModel):
    """A part without a price, and why."""

    part: str = path("name")
    why: str
    item: int | None = path("item_id")


class BasisOut(AnswerModel):
    """What one piece costs to buy again beside what the stock cost; `by` is the way that counts."""

    by: str
    again: Rounded
    stock: Rounded
    parts: int
    parts_in_stock: int = path("in_stock")


class _Costed(AnswerModel):
    design: int | None = path("design_id")
    name: str
    revision: int | None = path("inputs", "number")
    quantity: int = path("pieces")
    currency: Currency
    choices: list[ChoiceOut]
    optional: list[OptionalPartOut]
    provisional: bool
    unpriced: list[UnpricedOut]
    guessed: list[str]
    basis: BasisOut | None = Field(description="Null where none of its parts is in stock.")
    untimed: list[str] = path("cost", "untimed")


class PieceCostOut(AnswerModel):
    """What one piece costs."""

    materials: Rounded = path("materials", "amount")
    labour: Rounded = path("labour", "amount")
    overhead: Rounded = path("overhead", "amount")
    total: Rounded = path("per_piece")


class KindMinutesOut(AnswerModel):
    """The minutes of one kind of work for one piece, with the tenth and the ninetieth of a hundred."""

    kind: str
    label: str
    likely: Fine
    low: Fine
    high: Fine
    source: str


class MinutesOut(AnswerModel):
    """The minutes of one piece, with the tenth and the ninetieth of a hundred."""

    likely: Fine
    low: Fine
    high: Fine
    kinds: list[KindMinutesOut]


class PartFitOut(AnswerModel, alias_generator=beneath("fit")):
    """How the rings of a part suit the weave."""

    part: str = path("part", "thing", "name")
    weave: str = path("fit", "weave", "code")
    verdict: str
    aspect_ratio: Fine
    deciding: Fine
    reason: str
    own_record: bool


class CostOut(_Costed):
    """Materials, labour, overhead and total of all the pieces with all their lines, and the amounts of one."""

    materials: CostLineOut = path("cost", "batch", "lines", 0)
    labour: CostLineOut = path("cost", "batch", "lines", 1)
    overhead: CostLineOut = path("cost", "batch", "lines", 2)
    total: CostLineOut = path("cost", "batch")
    per_piece: PieceCostOut = path("cost")
    minutes_per_piece: MinutesOut = path("cost", "minutes")
    mass_g: Fine
    mass_measured: bool = path("measured")
    unweighed: Annotated[list[str], BeforeValidator(lambda names: list(dict.fromkeys(names)))] = path(
        "cost", "unweighed"
    )
    fits: list[PartFitOut]


class EarnedOut(AnswerModel):
    """What is earned in an hour, at the likely time and at the ends of its range."""

    low: Rounded
    likely: Rounded
    high: Rounded


class OutletPricesOut(AnswerModel):
    """One outlet's prices, and the sale at the price tried, else listed, else suggested."""

    outlet: int = path("outlet_id")
    name: str
    kind: str = path("outlet", "kind")
    impossible: Annotated[str | None, BeforeValidator(lambda why: why or None)] = path(
        "no_price", says="Why no price can pay here."
    )
    break_even: PriceShown = path("prices", "break_even")
    for_margin: PriceShown = path("prices", "for_margin")
    for_wage: PriceShown = path("prices", "for_wage")
    target: Rounded | None
    suggested: Rounded | None
    decided_by: str = path("prices", "decided_by")
    listed: Rounded | None = path("listed", "price")
    listed_version: Annotated[int, BeforeValidator(lambda version: version or 0)] = path("listed", "version")
    standing: str
    retail: Rounded | None
    at: Literal["tried", "listed", "suggested"] | None = path("sale_at")
    price: Rounded | None = path("sale", "price_shown")
    buyer_pays: Rounded | None = path("sale", "buyer_pays")
    fees: Rounded | None = path("sale", "fees_total")
    fee_lines: list[CostLineOut] | None = path("sale", "fees")
    tax: Rounded | None = path("sale", "tax")
    postage: Rounded | None = path("sale", "postage")
    period_share: Rounded | None = path("sale", "period_share")
    profit: Rounded | None = path("sale", "profit")
    margin: Fine | None = path("sale", "margin", says="A share of the price without tax.")
    earned_per_hour: EarnedOut | None = path("sale", "earned")
    sales_to_cover: int | None = path("sale", "sales_to_cover")
    lines: list[CostLineOut] | None = path("sale", "line", "lines")


class OutletProfitOut(AnswerModel):
    """What a price leaves at an outlet."""

    outlet: str
    profit: Rounded


class OutletRefusalOut(AnswerModel):
    """An outlet that no price serves, and why."""

    outlet: str
    reason: str


def _profits(sales: Sequence[tuple[str, Sale]]) -> list[dict[str, object]]:
    return [{"outlet": name, "profit": sale.profit} for name, sale in sales]


def _refusals(outlets: Sequence[tuple[str, str]]) -> list[dict[str, str]]:
    return [{"outlet": name, "reason": reason} for name, reason in outlets]


class OnePriceOut(AnswerModel):
    """One retail price held everywhere, and where it earns least."""

    retail: Rounded
    decided_by: Annotated[str | None, BeforeValidator(lambda outlet: outlet or None)]
    earns_least_at: str
    profits: Annotated[list[OutletProfitOut], BeforeValidator(_profits)] = path("sales")
    impossible: Annotated[list[OutletRefusalOut], BeforeValidator(_refusals)]


class NoOnePriceOut(AnswerModel):
    """Why no price serves all outlets."""

    impossible: str = path("reason")


class PricesOut(_Costed):
    """Per outlet its prices and the sale at one of them; and one price for all outlets, where there are several."""

    outlets: list[OutletPricesOut]
    one_price: OnePriceOut | NoOnePriceOut | None = path("everywhere")
