"""Prices are solved exactly, suggested prices never lose, and what cannot be says why."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from models.costing.design_cost import DesignCost, cost_design
from models.costing.inputs import Fee, OutletInput
from models.costing.lines import Impossible, adds_up, leaves
from models.costing.prices import OnePrice, OutletPrices, Price, one_price, price_at_retail, price_outlet, retail_price
from models.costing.sale import Sale, sell
from models.trade.money import minor_digits
from models.trade.vocabulary.selling import PRICE_ENDINGS
from tests.budget import budget
from tests.costing.example import cost_of, nothing_to_do, outlet, pendant, plain_outlet, rings, shop_rates, work

COST = cost_design(pendant(), work(), shop_rates(), pieces=4, weave_difficulty=2)
CURRENCIES = st.sampled_from(["EUR", "JPY", "KWD"])


def simple(materials: str) -> DesignCost:
    """A piece that costs only its material."""
    return cost_design([rings(1, unit_cost=cost_of(materials))], nothing_to_do(), shop_rates())


def shown(price: Price | Impossible | None) -> Decimal:
    assert isinstance(price, Price)
    return price.shown


def prices(
    cost: DesignCost = COST, *, currency: str = "EUR", listed: str | None = None, **changes: object
) -> OutletPrices:
    return price_outlet(cost, outlet(**changes), currency=currency, listed=None if listed is None else Decimal(listed))


@st.composite
def outlets(draw: st.DrawFn) -> OutletInput:
    """Any outlet with up to three fees of at most 40 per cent each."""
    fees = tuple(
        Fee(
            f"fee {number}",
            draw(st.decimals(0, "0.4", places=4)),
            draw(st.sampled_from(["price", "price+shipping", "price+shipping+tax"])),
            draw(st.decimals(0, 2, places=2)),
        )
        for number in range(draw(st.integers(0, 3)))
    )
    return OutletInput(
        "any", "Any outlet", draw(st.sampled_from(["online", "market", "consignment", "wholesale", "direct"])),
        tax=draw(st.sampled_from(["0", "0.05", "0.0825", "0.1", "0.2", "0.255"]).map(Decimal)),
        prices_include_tax=draw(st.booleans()), shipping_taxed=draw(st.booleans()),
        shipping_charged=draw(st.decimals(0, 8, places=2)), postage_paid=draw(st.decimals(0, 9, places=2)), fees=fees,
        period_fee=draw(st.decimals(0, 90, places=2)), period_sales=draw(st.integers(0, 30).map(Decimal)),
        wanted_margin=draw(st.none() | st.decimals(0, "0.6", places=3)),
        wanted_wage=draw(st.none() | st.decimals(0, 60, places=2)), ending=draw(st.sampled_from(sorted(PRICE_ENDINGS))),
    )  # fmt: skip


def costs() -> st.SearchStrategy[DesignCost]:
    return st.builds(
        lambda count, wage, pieces: cost_design(
            [rings(count), *pendant()[1:]], work(), shop_rates(wage_per_hour=wage), pieces=pieces
        ),
        st.integers(1, 300),
        st.decimals(0, 45, places=2),
        st.integers(1, 9),
    )


def test_without_fees_and_tax_break_even_is_the_cost() -> None:
    found = price_outlet(COST, plain_outlet(), currency="EUR")
    assert shown(found.break_even) == COST.per_piece
    assert found.for_margin is None
    assert found.for_wage is None
    assert found.decided_by == "break-even"


def test_break_even_by_hand_with_a_fee_of_each_sort() -> None:
    # 10.00 of material, prices with 20 % tax; 5 % of price and shipping, 2 % of all that is paid, 0.30 fixed;
    # 3.60 shipping charged (3.00 without tax), 4.00 paid. p/1.2 + 3 - 0.07 (p + 3.6) - 0.3 - 4 - 10 = 0
    fees = (
        Fee("a", Decimal("0.05"), "price+shipping"),
        Fee("b", Decimal("0.02"), "price+shipping+tax", Decimal("0.3")),
    )
    found = prices(simple("10"), fees=fees, shipping_charged=Decimal("3.6"), postage_paid=Decimal(4))
    expected = Fraction("11.552") / (Fraction(1) / Fraction("1.2") - Fraction("0.07"))
    assert abs(Fraction(shown(found.break_even)) - expected) < Fraction(1, 10**45)


def test_break_even_by_hand_with_tax_added() -> None:
    # 10.00 of material, 10 % tax added; 3 % of all that is paid: p - 0.03 x 1.1 p - 10 = 0
    found = prices(simple("10"), tax=Decimal("0.1"), prices_include_tax=False, shipping_charged=Decimal(0),
                   postage_paid=Decimal(0), fees=(Fee("card", Decimal("0.03"), "price+shipping+tax"),))  # fmt: skip
    price = found.break_even
    assert isinstance(price, Price)
    assert abs(Fraction(price.shown) - Fraction(10) / Fraction("0.967")) < Fraction(1, 10**45)
    assert price.without_tax == price.shown
    assert abs(Fraction(price.with_tax) - Fraction(price.shown) * Fraction("1.1")) < Fraction(1, 10**45)


def test_an_exact_break_even_is_not_pushed_up_by_its_own_digits() -> None:
    # 10 / 0.8 and 10 x 1.2 / 1: whole minor units, so rounding up must leave them alone.
    taken = prices(simple("10"), fees=(Fee("x", Decimal("0.2")),), tax=Decimal(0), shipping_charged=Decimal(0),
                   postage_paid=Decimal(0), ending="any", wanted_margin=None, wanted_wage=None)  # fmt: skip
    assert shown(taken.suggested) == shown(taken.break_even) == Decimal("12.5")
    taxed = price_outlet(simple("10"), plain_outlet(tax=Decimal("0.2"), ending="x.00"), currency="EUR")
    assert shown(taxed.suggested) == 12


def test_the_suggested_price_is_the_highest_wish_rounded_up() -> None:
    found = prices()
    wanted = {"break-even": shown(found.break_even), "margin": shown(found.for_margin), "wage": shown(found.for_wage)}
    assert found.decided_by == max(wanted, key=lambda why: wanted[why])
    assert shown(found.suggested) >= max(wanted.values())
    assert shown(found.suggested) < max(wanted.values()) + 1
    assert str(shown(found.suggested)).endswith(".90")
    assert isinstance(found.suggested, Price)
    assert "rounded up by your rule" in found.suggested.reason


def test_the_margin_is_a_share_of_the_price_without_tax() -> None:
    for inclusive in (True, False):
        found = prices(prices_include_tax=inclusive, wanted_margin=Decimal("0.4"))
        sale = sell(COST, found.outlet, shown(found.for_margin), "EUR")
        assert sale.margin is not None
        assert abs(sale.margin - Decimal("0.4")) < Decimal("0.0005")
        share = Fraction(sale.profit) / Fraction(sale.price_without_tax)
        assert abs(Fraction(sale.margin) - share) < Fraction(1, 10**40)


def test_the_price_for_a_wage_brings_that_wage() -> None:
    for wage in (Decimal(5), Decimal(18), Decimal(42)):
        found = prices(wanted_wage=wage)
        sale = sell(COST, found.outlet, shown(found.for_wage), "EUR")
        assert sale.earned is not None
        assert abs(sale.earned.likely - wage) < Decimal("0.03")
    # The wage that is in the cost already is what break-even brings.
    same = prices(wanted_wage=Decimal(18))
    assert abs(shown(same.for_wage) - shown(same.break_even)) < Decimal("0.0001")


def test_what_an_hour_earns_has_a_range_and_follows_the_hours() -> None:
    sale = sell(COST, outlet(), Decimal(60), "EUR")
    assert sale.earned is not None
    assert sale.earned.low < sale.earned.likely < sale.earned.high
    before_hours = sale.profit + COST.labour.amount + COST.overhead.amount
    slow = before_hours * 60 / COST.minutes.high - Decimal("3.50")
    assert abs(sale.earned.low - slow) < Decimal("1e-20")
    by_cent = cost_design(pendant(), work(), shop_rates(overhead_mode="percent", overhead_percent=Decimal(10)))
    earned = sell(by_cent, outlet(), Decimal(60), "EUR").earned
    assert earned is not None
    assert earned.low < earned.likely < earned.high


def test_a_loss_is_told_also_by_the_hour() -> None:
    sale = sell(COST, outlet(), Decimal(3), "EUR")
    assert sale.loses
    assert sale.earned is not None
    assert sale.earned.low <= sale.earned.likely <= sale.earned.high
    assert sale.margin is not None
    assert sale.margin < 0
    free = sell(COST, outlet(), Decimal(0), "EUR")
    assert free.margin is None


def test_without_work_nothing_is_said_about_an_hour() -> None:
    found = price_outlet(simple("10"), plain_outlet(wanted_wage=Decimal(20)), currency="EUR")
    assert found.at_suggested is not None
    assert found.at_suggested.earned is None
    assert shown(found.for_wage) == shown(found.break_even)
    assert found.at_suggested.markup == 0


def test_prices_are_given_with_and_without_tax() -> None:
    included = sell(COST, outlet(), Decimal("49.90"), "EUR")
    assert (included.price_shown, included.price_without_tax, included.price_with_tax) == (
        Decimal("49.90"),
        Decimal("41.58"),
        Decimal("49.90"),
    )
    added = sell(COST, outlet(prices_include_tax=False), Decimal("49.90"), "EUR")
    assert (added.price_shown, added.price_without_tax, added.price_with_tax) == (
        Decimal("49.90"),
        Decimal("49.90"),
        Decimal("59.88"),
    )
    assert added.buyer_pays == Decimal("49.90") + Decimal("3.50") + added.tax
    assert added.tax == Decimal("10.68")


def test_shipping_that_is_not_taxed_leaves_more() -> None:
    taxed = sell(COST, outlet(), Decimal("49.90"), "EUR")
    untaxed = sell(COST, outlet(shipping_taxed=False), Decimal("49.90"), "EUR")
    assert untaxed.tax == Decimal("8.32")
    assert untaxed.profit - taxed.profit == taxed.tax - untaxed.tax


def test_a_stall_fee_is_shared_by_the_sales_expected() -> None:
    stall = plain_outlet(period_fee=Decimal(60), period_sales=Decimal(12))
    sale = sell(simple("10"), stall, Decimal(20), "EUR")
    assert (sale.period_share, sale.profit) == (5, 5)
    assert sale.sales_to_cover == 6
    assert sell(simple("10"), stall, Decimal(10), "EUR").sales_to_cover is None
    assert sell(simple("10"), plain_outlet(), Decimal(20), "EUR").sales_to_cover is None
    alone = sell(simple("10"), replace(stall, period_sales=Decimal(0)), Decimal(20), "EUR")
    assert alone.period_share == 60
    assert any("one carries all of it" in line.reason for line in leaves(alone.line))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"fees": (Fee("greedy", Decimal("0.9")),), "tax": Decimal("0.2")}, "Fees take 108 % of the price without tax"),
        ({"fees": (Fee("all", Decimal(1)),), "tax": Decimal(0)}, "Fees take 100 % of the price without tax"),
        (
            {
                "fees": (Fee("most", Decimal("0.6")), Fee("rest", Decimal("0.4"), "price+shipping+tax")),
                "prices_include_tax": False,
            },
            "Fees take 108 %",
        ),
    ],
)
def test_fees_that_take_everything_make_every_price_impossible(changes: dict[str, object], words: str) -> None:
    found = prices(**changes, listed="50")
    for price in (found.break_even, found.for_wage, found.suggested):
        assert isinstance(price, Impossible)
        assert words in price.reason
    assert isinstance(found.for_margin, Impossible)
    assert found.at_suggested is None
    assert found.at_listed is not None
    assert found.at_listed.loses


def test_a_margin_that_fees_do_not_leave_is_impossible_but_break_even_is_not() -> None:
    found = prices(wanted_margin=Decimal("0.9"))
    assert isinstance(found.break_even, Price)
    assert found.break_even.possible
    assert isinstance(found.for_margin, Impossible)
    assert found.for_margin.reason.startswith(
        "Fees take 11.3 % of the price without tax and 90 % should stay as profit"
    )
    assert isinstance(found.suggested, Impossible)
    assert found.decided_by == "margin"


def test_a_price_beyond_reason_is_impossible() -> None:
    found = prices(fees=(Fee("almost all", 1 - Decimal("1e-20")),), tax=Decimal(0))
    assert isinstance(found.break_even, Impossible)
    assert "beyond all reason" in found.break_even.reason


def test_shipping_that_pays_for_everything_never_makes_a_negative_price() -> None:
    found = prices(
        simple("1"),
        shipping_charged=Decimal(20),
        postage_paid=Decimal(0),
        ending="any",
        wanted_margin=None,
        wanted_wage=None,
    )
    assert shown(found.break_even) == 0
    assert found.at_suggested is not None
    assert found.at_suggested.profit > 0


def test_a_provisional_cost_makes_provisional_prices() -> None:
    guessed = cost_design([rings(9, unit_cost=cost_of("0.1", guessed=True))], work(), shop_rates())
    found = price_outlet(guessed, outlet(), currency="EUR")
    assert found.provisional
    assert found.at_suggested is not None
    assert found.at_suggested.provisional
    assert not prices().provisional


def test_a_price_unfolds_to_where_the_money_goes() -> None:
    found = prices()
    for price in (found.break_even, found.for_margin, found.for_wage, found.suggested):
        assert isinstance(price, Price)
        assert adds_up(price.line)
        labels = [line.label for line in price.line.lines]
        assert labels == [
            "Materials",
            "Labour",
            "Overhead",
            "Selling fee",
            "Card payment",
            "Postage you pay",
            "Tax",
            "Profit",
        ]
        assert all(line.reason and line.source for line in leaves(price.line))
    assert isinstance(found.break_even, Price)
    assert abs(found.break_even.line.lines[-1].amount) <= Decimal("0.00001")


def test_the_wholesale_price_and_what_the_shop_asks() -> None:
    trade = plain_outlet(kind="wholesale", retail_multiple=Decimal("2.2"), ending="x.50", wanted_margin=Decimal("0.2"))
    found = price_outlet(COST, trade, currency="EUR")
    assert found.retail is not None
    assert found.retail >= shown(found.suggested) * Decimal("2.2")
    assert found.retail < shown(found.suggested) * Decimal("2.2") + 1
    assert str(found.retail).endswith(".50")
    assert retail_price(plain_outlet(), Decimal(10), "EUR") is None
    assert price_at_retail(trade, Decimal("44"), "EUR") == 20
    assert price_at_retail(plain_outlet(), Decimal("44"), "EUR") == 44


def test_one_price_everywhere_serves_every_outlet_and_names_where_it_earns_least() -> None:
    everywhere = (
        outlet(),
        plain_outlet(name="Stall", code="stall", wanted_margin=Decimal("0.2")),
        plain_outlet(name="Gallery", code="gallery", kind="consignment", fees=(Fee("commission", Decimal("0.45")),)),
        plain_outlet(name="Shop", code="shop", kind="wholesale"),
    )
    found = one_price(COST, everywhere, currency="EUR", ending="x.00")
    assert isinstance(found, OnePrice)
    each = {o.name: price_outlet(COST, o, currency="EUR").suggested for o in everywhere}
    needed = {name: shown(price) * (2 if name == "Shop" else 1) for name, price in each.items()}
    assert found.decided_by == max(needed, key=lambda name: needed[name])
    assert found.retail >= max(needed.values())
    sales = dict(found.sales)
    assert found.earns_least_at == min(sales, key=lambda name: sales[name].profit)
    assert all(sale.profit > Decimal("-0.01") for sale in sales.values())
    assert sales["Shop"].price_shown == price_at_retail(everywhere[3], found.retail, "EUR")


def test_a_given_price_everywhere_is_taken_as_it_is() -> None:
    found = one_price(COST, (outlet(), plain_outlet(name="Stall")), currency="EUR", retail=Decimal("38"))
    assert isinstance(found, OnePrice)
    assert (found.retail, found.decided_by) == (Decimal("38"), "")
    assert found.earns_least_at == "Web shop"


def test_outlets_that_no_price_serves_are_left_out_and_named() -> None:
    greedy = plain_outlet(name="Greedy", fees=(Fee("all", Decimal(1)),))
    found = one_price(COST, (greedy, plain_outlet(name="Stall")), currency="EUR")
    assert isinstance(found, OnePrice)
    assert [name for name, _ in found.impossible] == ["Greedy"]
    assert [name for name, _ in found.sales] == ["Stall"]
    assert isinstance(one_price(COST, (greedy,), currency="EUR"), Impossible)
    assert isinstance(one_price(COST, (), currency="EUR"), Impossible)


def test_negative_prices_and_nonsense_outlets_are_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        sell(COST, outlet(), Decimal(-1), "EUR")
    with pytest.raises(ValueError, match="not a currency"):
        prices(currency="ABC")
    with pytest.raises(ValueError, match="retail multiple"):
        plain_outlet(retail_multiple=Decimal("0.5"))
    with pytest.raises(ValueError, match="zero or more"):
        Fee("x", Decimal("-0.1"))
    with pytest.raises(ValueError, match="a fee is taken of"):
        Fee("x", Decimal("0.1"), "profit")  # type: ignore[arg-type]


def replay(cost: DesignCost, place: OutletInput, price: Decimal, currency: str) -> Fraction:
    """One sale booked entry by entry from the outlet's own terms, without the costing room: what is left in the till."""
    digits = minor_digits(currency)

    def pay(value: Fraction) -> Fraction:
        scaled = value * 10**digits
        whole = int(abs(scaled) + Fraction(1, 2))
        return Fraction(whole if scaled >= 0 else -whole, 10**digits)

    def cost_line(value: Fraction) -> Fraction:
        return Fraction(round(value * 10**6), 10**6)

    tag, shipping, rate = pay(Fraction(price)), pay(Fraction(place.shipping_charged)), Fraction(place.tax)
    taxable = tag + (shipping if place.shipping_taxed else 0)
    till = tag + shipping
    if place.prices_include_tax:
        paid = till
        till -= taxable - pay(taxable / (1 + rate))
    else:
        paid = till + pay(taxable * rate)
    bases = {"price": tag, "price+shipping": tag + shipping, "price+shipping+tax": paid}
    for fee in place.fees:
        till -= cost_line(Fraction(fee.share) * bases[fee.base] + Fraction(fee.fixed))
    till -= cost_line(Fraction(place.postage_paid))
    till -= cost_line(Fraction(place.period_fee) / Fraction(place.period_sales or 1))
    for line in (cost.materials, cost.labour, cost.overhead):
        till -= Fraction(line.amount)
    return till


@settings(max_examples=budget(60))
@given(cost=costs(), place=outlets(), price=st.decimals(0, 300, places=3), currency=CURRENCIES)
def test_one_sale_replayed_as_cash_leaves_exactly_the_stated_profit(
    cost: DesignCost, place: OutletInput, price: Decimal, currency: str
) -> None:
    sale: Sale = sell(cost, place, price, currency)
    assert Fraction(sale.profit) == replay(cost, place, price, currency)
    assert sum(Fraction(entry.amount) for entry in sale.cash_entries) == Fraction(sale.profit)
    assert adds_up(sale.line)
    assert sale.line.amount == sale.buyer_pays
    assert all(line.reason and line.source for line in leaves(sale.line))
    for paid in (sale.price_shown, sale.shipping, sale.tax, sale.buyer_pays):
        assert -paid.as_tuple().exponent <= minor_digits(currency)  # type: ignore[operator]


@settings(max_examples=budget(60))
@given(cost=costs(), place=outlets(), currency=CURRENCIES)
def test_at_the_unrounded_break_even_nothing_is_left_within_one_minor_unit(
    cost: DesignCost, place: OutletInput, currency: str
) -> None:
    found = price_outlet(cost, place, currency=currency).break_even
    assume(isinstance(found, Price) and found.shown > 0)
    sale = sell(cost, place, shown(found), currency)
    assert abs(sale.profit) <= Decimal(1).scaleb(-minor_digits(currency))


@settings(max_examples=budget(60))
@given(cost=costs(), place=outlets(), currency=CURRENCIES)
def test_the_suggested_price_is_never_under_break_even_nor_under_a_wish(
    cost: DesignCost, place: OutletInput, currency: str
) -> None:
    found = price_outlet(cost, place, currency=currency)
    wishes = [found.break_even, *(price for price in (found.for_margin, found.for_wage) if price is not None)]
    if any(isinstance(price, Impossible) for price in wishes):
        assert isinstance(found.suggested, Impossible)
        return
    assert all(shown(found.suggested) >= shown(price) for price in wishes)
    assert -shown(found.suggested).as_tuple().exponent == minor_digits(currency)  # type: ignore[operator]
    assert found.at_suggested is not None
    # Tax is rounded to what can be paid, which may cost half of the smallest coin.
    assert found.at_suggested.profit >= -Decimal("0.51").scaleb(-minor_digits(currency))


@settings(max_examples=budget(60))
@given(place=outlets(), first=st.integers(1, 200), more=st.integers(1, 200))
def test_more_rings_never_ask_for_a_lower_price(place: OutletInput, first: int, more: int) -> None:
    small, large = (cost_design([rings(n)], work(), shop_rates()) for n in (first, first + more))
    low, high = (price_outlet(cost, place, currency="EUR") for cost in (small, large))
    for cheaper, dearer in ((low.break_even, high.break_even), (low.suggested, high.suggested)):
        assert isinstance(cheaper, Impossible) == isinstance(dearer, Impossible)
        if isinstance(cheaper, Price):
            assert shown(dearer) >= cheaper.shown
