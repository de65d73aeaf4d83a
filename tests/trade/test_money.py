"""Money is exact: no float gets in, every rounding is one named step, and what is stored comes back."""

from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.trade.money import (
    Money,
    Unreadable,
    amount,
    cash_round,
    from_micros,
    is_currency,
    millionth,
    minor_digits,
    parse_amount,
    round_to_pay,
    to_micros,
)

amounts = st.decimals(-(10**9), 10**9, places=9, allow_nan=False, allow_infinity=False)
micros = st.integers(-(10**15), 10**15)
currencies = st.sampled_from(["EUR", "JPY", "KWD", "CLF", "USD"])


@pytest.mark.parametrize("value", [1.5, 0.0, float("nan"), True, None, [], b"1"])
def test_money_is_never_a_float_nor_another_thing(value: object) -> None:
    with pytest.raises(TypeError, match="money is never a"):
        amount(value)  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        Money(value, "EUR")  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        to_micros(value)  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        round_to_pay(value, "EUR")  # type: ignore[arg-type]


@pytest.mark.parametrize("value", ["", "abc", "NaN", "sNaN", "Infinity", "-inf", Decimal("NaN"), Decimal("Infinity")])
def test_money_is_a_finite_number(value: str | Decimal) -> None:
    with pytest.raises(ValueError, match="not an amount"):
        amount(value)


def test_millionths_of_money_are_whole_numbers() -> None:
    with pytest.raises(TypeError):
        from_micros(1.0)  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        from_micros(True)


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("4.50", "4.50"),
        ("4,50", "4.5"),
        (" 4,5 ", "4.5"),
        ("0,034", "0.034"),
        ("12,3456", "12.3456"),
        ("1234", "1234"),
        ("1234,567", "1234.567"),
        (".5", "0.5"),
        (3, "3"),
        (Decimal("0.0345"), "0.0345"),
        ("1000000000", "1000000000"),
        ("0.000000000001", "0.000000000001"),
    ],
)
def test_reads_amounts_that_people_type(typed: str | int | Decimal, value: str) -> None:
    assert parse_amount(typed) == Decimal(value)


@pytest.mark.parametrize(
    ("typed", "part"),
    [
        ("", "Nothing was typed"),
        ("free", "not a number"),
        ("NaN", "not a number"),
        ("1e9", "plain digits"),
        ("1,234", "1234 or 1.234"),
        ("-1,234", "-1234 or -1.234"),
        ("1,234.50", "more than one separator"),
        ("1.234,50", "more than one separator"),
        ("1 234", "more than one separator"),
        ("1/2", "not an amount"),
        ("-4.50", "below zero"),
        ("1000000000.01", "more than 1,000,000,000"),
        (4.5, "as text"),
        (True, "as text"),
    ],
)
def test_refuses_amounts_in_plain_words(typed: object, part: str) -> None:
    with pytest.raises(Unreadable) as refused:
        parse_amount(typed)  # type: ignore[arg-type]
    assert part in refused.value.message


def test_an_amount_below_zero_is_read_where_it_is_allowed() -> None:
    assert parse_amount("-4,50", negative=True) == Decimal("-4.5")


@given(amounts)
def test_an_amount_typed_out_reads_back(value: Decimal) -> None:
    assert parse_amount(format(value, "f"), negative=True) == value


@given(micros)
def test_what_is_stored_comes_back(value: int) -> None:
    assert to_micros(from_micros(value)) == value
    assert -6 <= from_micros(value).as_tuple().exponent <= -2  # type: ignore[operator]
    assert parse_amount(format(from_micros(value), "f"), negative=True) == from_micros(value)


@given(amounts)
def test_the_named_step_of_a_cost_line_is_what_is_stored(value: Decimal) -> None:
    assert from_micros(to_micros(value)) == millionth(value)
    assert abs(millionth(value) - value) <= Decimal("0.0000005")
    assert millionth(millionth(value)) == millionth(value)


def test_a_millionth_rounds_half_to_even() -> None:
    assert millionth(Decimal("0.0000005")) == 0
    assert millionth(Decimal("0.0000015")) == Decimal("0.000002")
    assert millionth(Decimal("0.0000025")) == Decimal("0.000002")
    assert to_micros(Decimal("-0.0000015")) == -2


def test_money_beyond_64_bits_cannot_be_stored() -> None:
    assert to_micros(Decimal("9223372036854.775807")) == 2**63 - 1
    with pytest.raises(ValueError, match="too large"):
        to_micros(Decimal("9223372036854.775808"))


def test_amounts_keep_two_decimals_at_least_and_no_zeros_beyond() -> None:
    assert str(from_micros(4_500_000)) == "4.50"
    assert str(from_micros(34_567)) == "0.034567"
    assert str(from_micros(34_500)) == "0.0345"
    assert str(from_micros(0)) == "0.00"


@given(amounts, currencies)
def test_what_is_asked_to_pay_is_the_nearest_minor_unit(value: Decimal, currency: str) -> None:
    step = Decimal(1).scaleb(-minor_digits(currency))
    paid = round_to_pay(value, currency)
    assert abs(paid - value) <= step / 2
    assert paid == paid.quantize(step)
    assert round_to_pay(-value, currency) == -paid
    assert round_to_pay(paid, currency) == paid


@given(amounts, st.sampled_from(["AUD", "CAD", "CHF", "NZD"]))
def test_cash_is_the_nearest_coin(value: Decimal, currency: str) -> None:
    coin = Decimal("0.10") if currency == "NZD" else Decimal("0.05")
    paid = cash_round(value, currency)
    assert paid % coin == 0
    assert abs(paid - value) <= coin / 2


def test_cash_is_rounded_once_and_not_in_stages() -> None:
    # 0.0249 is under half a coin; rounding first to 0.02 or to 0.03 must not matter.
    assert cash_round(Decimal("0.0249"), "CHF") == 0
    assert cash_round(Decimal("0.025"), "CHF") == Decimal("0.05")
    assert cash_round(Decimal("12.34"), "EUR") == Decimal("12.34")
    assert cash_round(Decimal("12.34"), "EUR", Decimal("0.5")) == Decimal("12.50")
    with pytest.raises(ValueError, match="above zero"):
        cash_round(Decimal(1), "EUR", Decimal(0))


def test_only_a_currency_that_one_can_pay_in_is_a_currency() -> None:
    assert is_currency("EUR")
    for code in ("XAU", "XXX", "XTS", "eur", "EURO", "", "ZZZ", "DEM"):
        assert not is_currency(code)
        with pytest.raises(ValueError, match="not a currency"):
            minor_digits(code)
        with pytest.raises(ValueError, match="not a currency"):
            Money(Decimal(1), code)


def test_money_adds_within_one_currency_and_rounds_to_pay() -> None:
    assert Money(Decimal("1.005"), "EUR").to_pay() == Money(Decimal("1.01"), "EUR")
    assert Money(Decimal(1), "EUR") + Money(Decimal(2), "EUR") == Money(Decimal(3), "EUR")
    with pytest.raises(ValueError, match="can't be added"):
        Money(Decimal(1), "EUR") + Money(Decimal(1), "USD")


@given(st.lists(amounts, max_size=30))
def test_totals_of_rounded_lines_equal_their_lines_exactly(values: list[Decimal]) -> None:
    lines = [millionth(value) for value in values]
    assert from_micros(sum(to_micros(line) for line in lines)) == sum(lines)
    assert sum(line.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP) for line in lines) == sum(
        round_to_pay(line, "EUR") for line in lines
    )
