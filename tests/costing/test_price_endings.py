"""A price is rounded up to the shop's ending, and never below what it must bring."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.costing.price_endings import round_up_to_ending
from models.trade.money import minor_digits
from models.trade.vocabulary.selling import PRICE_ENDINGS
from tests.budget import budget


@pytest.mark.parametrize(
    ("amount", "ending", "price"),
    [
        ("37.001", "any", "37.01"), ("37.01", "any", "37.01"), ("0", "any", "0.00"),
        ("37.001", "x.00", "38.00"), ("37", "x.00", "37.00"),
        ("37.5", "x.50", "37.50"), ("37.51", "x.50", "38.50"), ("0.2", "x.50", "0.50"),
        ("37.9", "x.90", "37.90"), ("37.9000001", "x.90", "38.90"), ("0", "x.90", "0.90"),
        ("37.2", "x.95", "37.95"), ("37.96", "x.95", "38.95"), ("37.99", "x.99", "37.99"), ("37.991", "x.99", "38.99"),
        ("35", "5", "35.00"), ("35.01", "5", "40.00"), ("-3", "x.00", "0.00"), ("-3", "x.90", "0.90"), ("-3", "any", "0.00"),
    ],
)  # fmt: skip
def test_prices_end_as_the_shop_wants(amount: str, ending: str, price: str) -> None:
    assert str(round_up_to_ending(Decimal(amount), ending, "EUR")) == price


@pytest.mark.parametrize(
    ("ending", "price"),
    [("any", "1235"), ("x.00", "1300"), ("x.50", "1250"), ("x.90", "1290"), ("x.99", "1299"), ("5", "1235")],
)
def test_a_currency_without_small_coins_ends_in_its_last_two_digits(ending: str, price: str) -> None:
    assert str(round_up_to_ending(Decimal("1234.2"), ending, "JPY")) == price


def test_a_currency_of_three_decimals_keeps_them() -> None:
    assert str(round_up_to_ending(Decimal("12.3401"), "any", "KWD")) == "12.341"
    assert str(round_up_to_ending(Decimal("12.3401"), "x.90", "KWD")) == "12.900"


def test_an_unknown_rule_or_currency_is_refused() -> None:
    with pytest.raises(ValueError, match="no rule says"):
        round_up_to_ending(Decimal(1), "x.42", "EUR")
    with pytest.raises(ValueError, match="not a currency"):
        round_up_to_ending(Decimal(1), "any", "ABC")


@settings(max_examples=budget(60))
@given(
    amount=st.decimals(0, 10**7, places=9),
    ending=st.sampled_from(sorted(PRICE_ENDINGS)),
    currency=st.sampled_from(["EUR", "JPY", "KWD", "CLF"]),
)
def test_rounding_is_always_upward_to_the_next_such_price(amount: Decimal, ending: str, currency: str) -> None:
    price = round_up_to_ending(amount, ending, currency)
    assert price >= amount
    assert -price.as_tuple().exponent == minor_digits(currency)  # type: ignore[operator]
    assert round_up_to_ending(price, ending, currency) == price
    step = {"any": Decimal(1).scaleb(-minor_digits(currency)), "5": Decimal(5)}.get(
        ending, Decimal(100 if currency == "JPY" else 1)
    )
    assert price - amount < step or price < step
