"""Costs and prices against worked examples of an open textbook, run through the very functions that cost a pendant.

Source: Franklin, Graybeal, Cooper: Principles of Accounting, Volume 2: Managerial Accounting (OpenStax, 2019); the section
stands beside each example. The tax fractions are arithmetic; that those rates are used where is from memory.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from models.costing.design_cost import DesignCost, cost_design
from models.costing.inputs import OutletInput, PartInput, Rate, ShopRates, WorkInput
from models.costing.margins import margin_of_markup, markup_of_margin
from models.costing.prices import Price, price_outlet
from models.costing.sale import sell
from models.costing.unit_cost import typed_unit_cost

NO_WORK = WorkInput(pack=False, setup=False)


def piece(variable_cost: str) -> DesignCost:
    """A product with one cost, whatever it is made of."""
    unit_cost = typed_unit_cost(Decimal(variable_cost), guessed=False, source="the textbook")
    part = PartInput("product", "consumable", Decimal(1), unit_cost=unit_cost)
    return cost_design([part], NO_WORK, ShopRates({}, Decimal(0)))


def fixed_costs(amount: str, units: int = 1) -> OutletInput:
    """Fixed costs, as a stall's fee is one."""
    return OutletInput("book", "Book", period_fee=Decimal(amount), period_sales=Decimal(units))


@pytest.mark.parametrize(
    ("markup", "margin"), [("0.20", "1/6"), ("0.25", "1/5"), ("0.50", "1/3"), ("1", "1/2"), ("1.5", "3/5")]
)
def test_a_mark_up_is_a_smaller_margin(markup: str, margin: str) -> None:
    # Arithmetic: margin = mark-up / (1 + mark-up).
    assert abs(Fraction(margin_of_markup(Decimal(markup))) - Fraction(margin)) < Fraction(1, 10**45)
    back = markup_of_margin(margin_of_markup(Decimal(markup)))
    assert abs(back - Decimal(markup)) < Decimal("1e-45")


@pytest.mark.parametrize(("cost", "price"), [("8", "9.60"), ("9", "10.80")])
def test_cost_plus_twenty_per_cent(cost: str, price: str) -> None:
    # Section 9.4, transfer price of the paper division: variable cost $8 and full cost $9, each plus 20 %.
    wanted = OutletInput("book", "Book", wanted_margin=margin_of_markup(Decimal("0.20")))
    found = price_outlet(piece(cost), wanted, currency="USD")
    assert isinstance(found.for_margin, Price)
    assert abs(found.for_margin.shown - Decimal(price)) < Decimal("1e-40")
    sale = sell(piece(cost), wanted, Decimal(price), "USD")
    assert sale.markup == Decimal("0.2")


def test_the_full_cost_of_a_job() -> None:
    # Sections 4.2 to 4.4, job MAC001: materials 700, labour 66, overhead $2.50 for each dollar of direct labour = 931.
    # Taken as 3 hours at 22, the overhead is 55 for each hour.
    overhead_rate = Decimal(250_000) / Decimal(100_000)
    rates = ShopRates(
        rates={"weave": Rate("weave", Decimal(3600), "ring")},
        wage_per_hour=Decimal(22),
        overhead_per_hour=Decimal(22) * overhead_rate,
    )
    material = PartInput("materials", "consumable", Decimal(1),
                         unit_cost=typed_unit_cost(Decimal(700), guessed=False, source="the textbook"))  # fmt: skip
    job = cost_design([material], WorkInput(weave=Decimal(3), pack=False, setup=False), rates)
    assert (job.materials.amount, job.labour.amount, job.overhead.amount) == (700, 66, 165)
    assert job.per_piece == 931


@pytest.mark.parametrize(
    ("fixed", "wanted_profit", "units"),
    [("18000", "0", 225), ("18000", "16000", 425), ("18000", str(24_000 * 10 // 6), 725)],
)
def test_break_even_in_units(fixed: str, wanted_profit: str, units: int) -> None:
    # Section 3.2, Hicks Manufacturing: price 100, variable cost 20, fixed costs 18,000: 225 units; 16,000 of profit: 425;
    # 24,000 after 40 % of tax, so 40,000 before it: 725.
    carried = str(Decimal(fixed) + Decimal(wanted_profit))
    assert sell(piece("20"), fixed_costs(carried), Decimal(100), "USD").sales_to_cover == units


def test_break_even_in_price_and_the_contribution_ratio() -> None:
    # Section 3.2, the same firm turned round: at 225 units, 100 is the price that leaves nothing; the ratio is 0.80.
    found = price_outlet(piece("20"), fixed_costs("18000", 225), currency="USD")
    assert isinstance(found.break_even, Price)
    assert found.break_even.shown == 100
    assert sell(piece("20"), OutletInput("book", "Book"), Decimal(100), "USD").margin == Decimal("0.8")


@pytest.mark.parametrize(("units", "income"), [(175, -4000), (300, 6000), (225, 0)])
def test_income_on_either_side_of_break_even(units: int, income: int) -> None:
    # Section 3.2, Hicks Manufacturing at 175 and 300 units. A sale's share of fixed costs is kept to a millionth.
    profit = sell(piece("20"), fixed_costs("18000", units), Decimal(100), "USD").profit * units
    assert abs(profit - income) < Decimal("0.001")


@pytest.mark.parametrize(
    ("price", "variable", "fixed", "units"),
    [
        ("3.75", "1.50", "2475", 1100),
        ("4.25", "1.50", "2475", 900),
        ("3.75", "1.55", "2475", 1125),
        ("3.75", "1.50", "2700", 1200),
        ("3.75", "1.45", "2875", 1250),
        ("3.95", "1.45", "2875", 1150),
    ],
)
def test_how_a_change_of_price_or_cost_moves_break_even(price: str, variable: str, fixed: str, units: int) -> None:
    # Section 3.3, the café: units to break even after each change.
    assert sell(piece(variable), fixed_costs(fixed), Decimal(price), "USD").sales_to_cover == units


def test_a_mix_of_products_breaks_even_between_two_whole_sales() -> None:
    # Section 3.4, West Brothers: composite price 73, variable cost 42.25, fixed costs 145,000: 4,715.45 composites.
    assert sell(piece("42.25"), fixed_costs("145000"), Decimal(73), "USD").sales_to_cover == 4716


@pytest.mark.parametrize(
    ("gross", "rate", "net", "tax"),
    [
        ("120.00", "0.20", "100.00", "20.00"),
        ("110.00", "0.10", "100.00", "10.00"),
        ("99.99", "0.15", "86.95", "13.04"),
        ("19.99", "0.20", "16.66", "3.33"),
        ("49.95", "0.0825", "46.14", "3.81"),
        ("24.95", "0.10", "22.68", "2.27"),
    ],
)
def test_tax_held_in_a_price(gross: str, rate: str, net: str, tax: str) -> None:
    # Arithmetic: net = gross / (1 + rate), rounded half up; the parts add up to the gross.
    sale = sell(piece("0"), OutletInput("a", "A", tax=Decimal(rate)), Decimal(gross), "USD")
    assert (sale.price_with_tax, sale.price_without_tax, sale.tax) == (Decimal(gross), Decimal(net), Decimal(tax))


@pytest.mark.parametrize(
    ("net", "rate", "tax", "gross"),
    [
        ("100.00", "0.20", "20.00", "120.00"),
        ("100.00", "0.10", "10.00", "110.00"),
        ("99.99", "0.15", "15.00", "114.99"),
        ("19.99", "0.20", "4.00", "23.99"),
        ("49.95", "0.0825", "4.12", "54.07"),
        ("24.95", "0.10", "2.50", "27.45"),
    ],
)
def test_tax_added_to_a_price(net: str, rate: str, tax: str, gross: str) -> None:
    # Arithmetic: tax = net x rate, rounded half up.
    place = OutletInput("a", "A", tax=Decimal(rate), prices_include_tax=False)
    sale = sell(piece("0"), place, Decimal(net), "USD")
    assert (sale.price_without_tax, sale.tax, sale.buyer_pays) == (Decimal(net), Decimal(tax), Decimal(gross))
    assert sale.profit == Decimal(net)


@pytest.mark.parametrize(
    ("rate", "fraction"), [("0.20", Fraction(1, 6)), ("0.10", Fraction(1, 11)), ("0.15", Fraction(3, 23))]
)
def test_the_tax_in_a_price_is_a_plain_fraction_of_it(rate: str, fraction: Fraction) -> None:
    # From memory: the VAT fraction of the UK, and those of the goods and services tax of Australia and New Zealand.
    sale = sell(piece("0"), OutletInput("a", "A", tax=Decimal(rate)), Decimal("151800.00"), "USD")
    assert Fraction(sale.tax) == fraction * 151_800


def test_a_target_cost_leaves_the_wanted_margin() -> None:
    # From memory: target cost = price x (1 - margin). A price of 40 and a margin of 35 % allow a cost of 26.
    found = price_outlet(piece("26"), OutletInput("a", "A", wanted_margin=Decimal("0.35")), currency="USD")
    assert isinstance(found.for_margin, Price)
    assert found.for_margin.shown == 40
