"""Rounding and currencies against ISO 80000-1 and ISO 4217."""

from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from babel.numbers import get_currency_precision

from models.trade.money import CASH_STEPS, is_currency, minor_digits, round_to_pay

# Source: ISO 4217, as the iso4217 package carries its table.
MINOR_UNITS = {
    2: "USD EUR GBP AUD NZD CAD CHF HUF SEK NOK DKK PLN CZK ZAR INR MXN BRL CNY SGD",
    0: "JPY KRW ISK CLP VND",
    3: "KWD BHD JOD OMR TND IQD",
    4: "CLF UYW",
}


@pytest.mark.parametrize(("digits", "codes"), MINOR_UNITS.items())
def test_minor_units_of_iso_4217(digits: int, codes: str) -> None:
    for code in codes.split():
        assert minor_digits(code) == digits, code


def test_gold_has_no_minor_unit_and_cannot_be_paid_in() -> None:
    # Source: ISO 4217: XAU has no minor unit.
    assert not is_currency("XAU")


def test_display_data_is_not_the_standard() -> None:
    # Source: Babel carries CLDR's display data, which prints IQD without decimals and XAU with two.
    assert get_currency_precision("IQD") != minor_digits("IQD")
    assert get_currency_precision("XAU") == 2
    for code in MINOR_UNITS[2].split()[:6]:
        assert get_currency_precision(code) == minor_digits(code)


@pytest.mark.parametrize(
    ("value", "even", "away", "float_round"),
    [
        # Source: ISO 80000-1 Annex B (from memory): rule A to the even digit, rule B to the larger magnitude, once.
        ("0.125", "0.12", "0.13", "0.12"),
        ("2.665", "2.66", "2.67", "2.67"),
        ("2.675", "2.68", "2.68", "2.67"),
        ("1.005", "1.00", "1.01", "1.00"),
        ("12.345", "12.34", "12.35", "12.35"),
        ("-0.125", "-0.12", "-0.13", "-0.12"),
    ],
)
def test_what_is_paid_rounds_away_from_zero(value: str, even: str, away: str, float_round: str) -> None:
    assert round_to_pay(Decimal(value), "EUR") == Decimal(away)
    assert Decimal(value).quantize(Decimal("0.01"), rounding=ROUND_HALF_EVEN) == Decimal(even)
    # Why no float is allowed near money: the same rule on floats goes either way.
    assert round(float(value), 2) == float(float_round)


@pytest.mark.parametrize(
    ("value", "currency", "paid"),
    [
        ("1234.5", "JPY", "1235"),
        ("1.2345", "KWD", "1.235"),
        ("0.00005", "CLF", "0.0001"),
        ("-0.5", "JPY", "-1"),
    ],
)
def test_every_currency_rounds_at_its_own_minor_unit(value: str, currency: str, paid: str) -> None:
    # Source: ISO 4217 minor units, rule B of ISO 80000-1 Annex B (from memory).
    assert round_to_pay(Decimal(value), currency) == Decimal(paid)


def test_the_smallest_coins() -> None:
    # Source: from memory of the central banks' notices; separate from the minor unit of ISO 4217.
    assert {
        "AUD": Decimal("0.05"),
        "CAD": Decimal("0.05"),
        "CHF": Decimal("0.05"),
        "NZD": Decimal("0.10"),
    } == CASH_STEPS
