"""What people hand in about an outlet and its fees, and the columns of a file of outlets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated

from models.costing.design_cost import cost_design
from models.costing.inputs import Fee, OutletInput, ShopRates, WorkInput
from models.costing.lines import Impossible
from models.costing.prices import price_outlet
from models.intake.csv_file import Column
from models.intake.faults import Fault, Faults
from models.intake.fields import (
    Choice,
    Flag,
    Money,
    Number,
    Percent,
    Rows,
    Text,
    Whole,
    columns_of,
    in_columns,
    kept_places,
    raw_of_cells,
    read_fields,
)
from models.intake.raw import Raw, Reader
from models.trade.vocabulary.selling import FEE_BASES, OUTLET_KINDS, PRICE_ENDINGS

MOST_FEES = 8
"""How many fees an outlet can have; a file of outlets has columns for as many."""

HUNDRED = Decimal(100)
ZERO = Decimal(0)

NOTHING = cost_design((), WorkInput(pack=False, setup=False), ShopRates(rates={}, wage_per_hour=ZERO))
"""A piece that costs nothing and takes no time: what is left of its price is what the outlet leaves."""
_ANY_CURRENCY = "EUR"  # Whether any price can pay does not depend on the size of the smallest coin.


@dataclass(frozen=True, slots=True)
class FeeDraft:
    """One fee as handed in: per cent of a base, and a fixed sum for each sale."""

    label: Annotated[
        str,
        Text(
            label="Name",
            says="What it is called.",
            example="Commission",
            required="Say what this fee is for, such as 'Payment'.",
            most=80,
        ),
    ]
    percent: Annotated[Decimal, Percent(label="Per cent", says="Per cent.", example="6.5", default=ZERO)]
    base: Annotated[
        str, Choice(label="Of", says="Of what. Empty is price.", among=FEE_BASES, default="price", starts="price")
    ]
    fixed: Annotated[Decimal, Money(label="Fixed", says="A fixed sum for each sale.", example="0.20", default=ZERO)]


@dataclass(frozen=True, slots=True)
class OutletDraft:
    """An outlet as handed in; without a wanted margin or an ending of its own it takes the shop's."""

    name: Annotated[
        str,
        Text(
            label="Name",
            says="What you call the outlet. No two have the same name.",
            example="Own web shop",
            required="Give the outlet a name, such as 'Own web shop'.",
            most=80,
        ),
    ]
    kind: Annotated[str, Choice(label="Kind", example="online", among=OUTLET_KINDS)]
    tax_percent: Annotated[
        Decimal, Percent(label="Tax", says="Sales tax or VAT in per cent. Empty is none.", example="20", default=ZERO)
    ]
    prices_include_tax: Annotated[
        bool,
        Flag(
            label="Prices have the tax in them",
            says="Whether prices are shown with the tax in them. Empty is yes.",
            example="yes",
            starts=True,
        ),
    ]
    shipping_charged: Annotated[
        Decimal,
        Money(label="Shipping charged", says="What the buyer pays for shipping.", example="3.50", default=ZERO),
    ]
    postage_paid: Annotated[
        Decimal, Money(label="Postage paid", says="What sending one piece costs you.", example="3.20", default=ZERO)
    ]
    fees: Annotated[
        tuple[FeeDraft, ...],
        Rows(
            label="Fees",
            of=FeeDraft,
            one="fee",
            most=MOST_FEES,
            asks=("label", "percent", "fixed"),
            too_many=f"An outlet takes at most {MOST_FEES} fees; put small ones together.",
        ),
    ]
    period_fee: Annotated[
        Decimal,
        Money(
            label="Fee per event or month",
            says="What a stall, an event or a month costs, whether you sell or not.",
            example="60",
            default=ZERO,
        ),
    ]
    period_sales: Annotated[
        int,
        Whole(
            label="Sales that share it",
            says="The sales that this fee is spread over.",
            example="15",
            least=1,
            most=1_000_000,
            default=1,
        ),
    ]
    wanted_margin_percent: Annotated[
        Decimal | None,
        Percent(
            label="Wanted margin",
            says="The margin you want there. Empty takes the shop's.",
            example="30",
            below=True,
            required=False,
        ),
    ]
    wanted_wage: Annotated[
        Decimal | None,
        Money(
            label="Wanted pay per hour",
            says="What you want to earn an hour there. Empty asks for the wage in the cost.",
            example="20",
            required=False,
        ),
    ]
    retail_multiple: Annotated[
        Decimal,
        Number(
            label="Retail multiple",
            says="Wholesale: how many times its price the shop asks. Empty is 2.",
            example="2.2",
            least=Decimal(1),
            most=Decimal(20),
            default=Decimal(2),
            places=3,
        ),
    ]
    ending: Annotated[
        str,
        Choice(
            label="Price ending",
            says="How prices end. Empty takes the shop's rule.",
            example="x.90",
            among=PRICE_ENDINGS,
            default="",
        ),
    ]
    note: Annotated[str, Text(label="Note", says="Anything to remember.", most=2000, lines=True)]


def share(percent: Decimal) -> Decimal:
    """A percentage such as 6.5 as the exact fraction 0.065."""
    return percent.scaleb(-2)


def outlet_input(
    draft: OutletDraft, *, code: str, margin_percent: Decimal | None = None, ending: str = "any"
) -> OutletInput:
    """The outlet as costing takes it; `margin_percent` and `ending` are the shop's own, where the outlet names none."""
    margin = draft.wanted_margin_percent if draft.wanted_margin_percent is not None else margin_percent
    return OutletInput(
        code=code,
        name=draft.name,
        kind=draft.kind,
        tax=share(draft.tax_percent),
        prices_include_tax=draft.prices_include_tax,
        shipping_charged=draft.shipping_charged,
        postage_paid=draft.postage_paid,
        fees=tuple(Fee(fee.label, share(fee.percent), fee.base, fee.fixed) for fee in draft.fees),
        period_fee=draft.period_fee,
        period_sales=Decimal(draft.period_sales),
        wanted_margin=None if margin is None else share(margin),
        wanted_wage=draft.wanted_wage,
        retail_multiple=draft.retail_multiple,
        ending=draft.ending or ending,
    )


def read_outlet(raw: Raw) -> OutletDraft | Faults:
    """Read an outlet from a form or a JSON body, its fees as rows `fees.N.label, percent, base, fixed`."""
    reader = Reader(raw)
    draft = read_fields(OutletDraft, reader)
    faults = list(reader.faults() or ())
    if not any(fault.field.startswith(("fees", "tax_percent", "wanted_margin_percent")) for fault in faults):
        faults += _impossible(draft, kept_places(OutletDraft, "fees", raw))
    return Faults(tuple(faults)) if faults else draft


def read_sample(raw: Raw, field: str = "price") -> Decimal | Faults | None:
    """Read the price that outlets are shown by; None when none was given."""
    reader = Reader(raw)
    price = reader.money(field, required=False)
    return reader.faults() or price


def read_outlet_row(row: Mapping[str, str]) -> OutletDraft | Faults:
    """Read one line of a file of outlets; a fault's field is the name of its column."""
    raw, column_of = raw_of_cells(OutletDraft, row)
    read = read_outlet(raw)
    return in_columns(read, column_of) if isinstance(read, Faults) else read


OUTLET_COLUMNS: tuple[Column, ...] = columns_of(OutletDraft)


def _impossible(draft: OutletDraft, places: tuple[int, ...]) -> list[Fault]:
    """Fees and tax that leave nothing of any price, said beside the last fee that is a percentage."""
    place = max((place for place, fee in zip(places, draft.fees, strict=True) if fee.percent), default=None)
    taken = sum((fee.percent for fee in draft.fees), ZERO)
    if place is not None and taken >= HUNDRED:
        words = f"The fees come to {_plain(taken)} % together. From 100 % on nothing is left of any price to pay you."
        return [Fault(f"fees.{place}.percent", words)]
    prices = price_outlet(NOTHING, outlet_input(draft, code="new"), currency=_ANY_CURRENCY)
    if place is not None and isinstance(prices.break_even, Impossible):
        return [Fault(f"fees.{place}.percent", prices.break_even.reason)]
    if isinstance(prices.for_margin, Impossible):
        return [Fault("wanted_margin_percent", prices.for_margin.reason)]
    return []


def _plain(value: Decimal) -> str:
    return format(value.normalize() + 0, "f")
