"""What people hand in about an outlet and its fees, and the columns of a file of outlets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import cast

from models.costing.design_cost import cost_design
from models.costing.endings import ENDINGS
from models.costing.inputs import FEE_BASES, OUTLET_KINDS, Fee, FeeBase, OutletInput, OutletKind, ShopRates, WorkInput
from models.costing.lines import Impossible
from models.costing.prices import price_outlet
from models.intake.csv_file import Column
from models.intake.faults import Fault, Faults
from models.intake.raw import Raw, Reader

MOST_FEES = 8
"""How many fees an outlet can have; a file of outlets has columns for as many."""

HUNDRED = Decimal(100)
ZERO = Decimal(0)

NOTHING = cost_design((), WorkInput(pack=False, setup=False), ShopRates(rates={}, wage_per_hour=ZERO))
"""A piece that costs nothing and takes no time: what is left of its price is what the outlet leaves."""
_ANY_CURRENCY = "EUR"  # Whether any price can pay does not depend on the size of the smallest coin.

KIND_WORDS = {
    "online": "an online shop or marketplace",
    "market": "a market stall or fair",
    "direct": "straight to the buyer",
    "consignment": "a shop that sells it for you",
    "wholesale": "a shop that buys it from you",
}
BASE_WORDS = {
    "price": "the price",
    "price+shipping": "price and shipping",
    "price+shipping+tax": "price, shipping and tax",
}


@dataclass(frozen=True, slots=True)
class FeeDraft:
    """One fee as handed in: per cent of a base, and a fixed sum for each sale."""

    label: str
    percent: Decimal
    base: str
    fixed: Decimal


@dataclass(frozen=True, slots=True)
class OutletDraft:
    """An outlet as handed in; without a wanted margin or an ending of its own it takes the shop's."""

    name: str
    kind: str
    tax_percent: Decimal
    prices_include_tax: bool
    shipping_charged: Decimal
    postage_paid: Decimal
    fees: tuple[FeeDraft, ...]
    period_fee: Decimal
    period_sales: int
    wanted_margin_percent: Decimal | None
    wanted_wage: Decimal | None
    retail_multiple: Decimal
    ending: str
    note: str


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
        kind=cast(OutletKind, draft.kind),
        tax=share(draft.tax_percent),
        prices_include_tax=draft.prices_include_tax,
        shipping_charged=draft.shipping_charged,
        postage_paid=draft.postage_paid,
        fees=tuple(Fee(fee.label, share(fee.percent), cast(FeeBase, fee.base), fee.fixed) for fee in draft.fees),
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
    rows = reader.each("fees", _read_fee)
    draft = OutletDraft(
        name=reader.text("name", required="Give the outlet a name, such as 'Own web shop'.", most=80),
        kind=reader.choice("kind", OUTLET_KINDS),
        tax_percent=reader.percent("tax_percent", default=ZERO) or ZERO,
        prices_include_tax=reader.flag("prices_include_tax"),
        shipping_charged=reader.money("shipping_charged", default=ZERO) or ZERO,
        postage_paid=reader.money("postage_paid", default=ZERO) or ZERO,
        fees=tuple(fee for fee in rows if fee is not None),
        period_fee=reader.money("period_fee", default=ZERO) or ZERO,
        period_sales=reader.integer("period_sales", least=1, most=1_000_000, default=1) or 1,
        wanted_margin_percent=reader.percent("wanted_margin_percent", below=True, required=False),
        wanted_wage=reader.money("wanted_wage", required=False),
        retail_multiple=reader.decimal(
            "retail_multiple", least=Decimal(1), most=Decimal(20), default=Decimal(2), places=3
        )
        or Decimal(2),
        ending=reader.choice("ending", ("", *ENDINGS), default=""),
        note=reader.text("note", most=2000, lines=True),
    )
    faults = [*(reader.faults() or ()), *_too_many(len(rows))]
    if not any(fault.field.startswith(("fees", "tax_percent", "wanted_margin_percent")) for fault in faults):
        faults += _impossible(draft, rows)
    return Faults(tuple(faults)) if faults else draft


def read_sample(raw: Raw, field: str = "price") -> Decimal | Faults | None:
    """Read the price that outlets are shown by; None when none was given."""
    reader = Reader(raw)
    price = reader.money(field, required=False)
    return reader.faults() or price


def read_outlet_row(row: Mapping[str, str]) -> OutletDraft | Faults:
    """Read one line of a file of outlets; a fault's field is the name of its column."""
    raw: dict[str, object] = {name: value for name, value in row.items() if not name.startswith("fee_")}
    if not row.get("prices_include_tax", "").strip():
        raw["prices_include_tax"] = "yes"
    numbers = [
        number
        for number in range(1, MOST_FEES + 1)
        if any(row.get(f"fee_{number}_{part}", "").strip() for part in FEE_PARTS)
    ]
    raw["fees"] = [{part: row.get(f"fee_{number}_{part}", "") for part in FEE_PARTS} for number in numbers]
    found = read_outlet(raw)
    if isinstance(found, OutletDraft):
        return found
    return Faults(tuple(replace(fault, field=_column_of(fault.field, numbers)) for fault in found))


FEE_PARTS = ("label", "percent", "base", "fixed")


def _number(name: str, says: str, example: str = "") -> Column:
    return Column(name, says, example=example, holds="number")


def _fee_columns(number: int) -> tuple[Column, ...]:
    first = number == 1
    return (
        Column(f"fee_{number}_label", f"Fee {number}: what it is called.", example="Commission" if first else ""),
        _number(f"fee_{number}_percent", f"Fee {number}: per cent.", "6.5" if first else ""),
        Column(f"fee_{number}_base", f"Fee {number}: of what. One of: {', '.join(FEE_BASES)}. Empty is price."),
        _number(f"fee_{number}_fixed", f"Fee {number}: a fixed sum for each sale.", "0.20" if first else ""),
    )


OUTLET_COLUMNS: tuple[Column, ...] = (
    Column("name", "What you call the outlet. No two have the same name.", required=True, example="Own web shop"),
    Column("kind", f"One of: {', '.join(OUTLET_KINDS)}.", required=True, example="online", holds="choice"),
    _number("tax_percent", "Sales tax or VAT in per cent. Empty is none.", "20"),
    Column(
        "prices_include_tax",
        "Whether prices are shown with the tax in them. Empty is yes.",
        example="yes",
        holds="yes or no",
    ),
    _number("shipping_charged", "What the buyer pays for shipping.", "3.50"),
    _number("postage_paid", "What sending one piece costs you.", "3.20"),
    _number("period_fee", "What a stall, an event or a month costs, whether you sell or not.", "60"),
    _number("period_sales", "The sales that this fee is spread over.", "15"),
    _number("wanted_margin_percent", "The margin you want there. Empty takes the shop's.", "30"),
    _number("wanted_wage", "What you want to earn an hour there. Empty asks for the wage in the cost.", "20"),
    _number("retail_multiple", "Wholesale: how many times its price the shop asks. Empty is 2.", "2.2"),
    Column("ending", f"How prices end. One of: {', '.join(ENDINGS)}. Empty takes the shop's rule.", example="x.90"),
    Column("note", "Anything to remember."),
    *(column for number in range(1, MOST_FEES + 1) for column in _fee_columns(number)),
)


def _column_of(field: str, numbers: list[int]) -> str:
    group, _, rest = field.partition(".")
    place, _, part = rest.partition(".")
    return f"fee_{numbers[int(place)]}_{part}" if group == "fees" and part else field


def _read_fee(row: Reader) -> FeeDraft | None:
    # A row that was added and left empty is no fee.
    if not any(row.has(field) for field in ("label", "percent", "fixed")):
        return None
    return FeeDraft(
        label=row.text("label", required="Say what this fee is for, such as 'Payment'.", most=80),
        percent=row.percent("percent", default=ZERO) or ZERO,
        base=row.choice("base", FEE_BASES, default="price"),
        fixed=row.money("fixed", default=ZERO) or ZERO,
    )


def _too_many(count: int) -> list[Fault]:
    if count <= MOST_FEES:
        return []
    return [Fault(f"fees.{MOST_FEES}.label", f"An outlet takes at most {MOST_FEES} fees; put small ones together.")]


def _impossible(draft: OutletDraft, rows: tuple[FeeDraft | None, ...]) -> list[Fault]:
    """Fees and tax that leave nothing of any price, said beside the last fee that is a percentage."""
    place = max((n for n, fee in enumerate(rows) if fee is not None and fee.percent), default=None)
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
