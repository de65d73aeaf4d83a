"""How figures are shown: in the shop's currency, language of numbers, units and time zone."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.queries.shop.shop import UNFOUNDED
from models.trade.money import parse_amount
from webapp.web import filters as show
from webapp.web.prefs import showing
from webapp.web.render import environment

PLAIN = replace(UNFOUNDED, currency="EUR", locale="en", length_unit="mm", time_zone="UTC")


@contextmanager
def shop(**changes: str) -> Iterator[None]:
    kept = showing.set(replace(PLAIN, **changes))  # type: ignore[arg-type]
    try:
        yield
    finally:
        showing.reset(kept)


def test_money_is_rounded_half_away_from_zero_to_the_minor_unit() -> None:
    with shop():
        assert show.money(Decimal("38")) == "€38.00"
        assert show.money(Decimal("0.125")) == "€0.13"
        assert show.money(Decimal("-0.125")) == "-€0.13"
        assert show.money(1_234_567_890_000) == "€1,234,567.89"


def test_minor_units_are_those_of_the_currency() -> None:
    with shop(currency="JPY"):
        assert show.money(Decimal("1234.5")) == "¥1,235"
    with shop(currency="KWD"):
        assert show.money(Decimal("1.2345")).endswith("1.235")


def test_the_cost_of_one_ring_is_shown_to_the_millionth() -> None:
    with shop():
        assert show.money_fine(Decimal("0.0312")) == "€0.0312"
        assert show.money_fine(31_250) == "€0.03125"
        assert show.money_fine(Decimal(2)) == "€2.00"
        assert show.amount_fine(Decimal("0.0312")) == "0.0312"


def test_numbers_follow_the_language() -> None:
    with shop(locale="de_DE"):
        assert show.money(Decimal("1234.5")) == "1.234,50\xa0€"
        assert show.qty(Decimal("1234.5"), "m") == "1.234,5 m"
        assert show.percent(Decimal("0.065")) == "6,5 %"
    with shop(locale="xx_nowhere"):
        assert show.amount(Decimal("1234.5")) == "1,234.50"


def test_money_refuses_a_float() -> None:
    with pytest.raises(TypeError):
        show.money(0.1)  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        show.money(True)


@given(st.integers(min_value=0, max_value=999_999_999_999_999))
def test_an_amount_put_back_into_a_field_reads_as_itself(micros: int) -> None:
    with shop():
        assert parse_amount(show.typed_money(micros)) == Decimal(micros) / 1_000_000


def test_an_empty_amount_leaves_its_field_empty() -> None:
    assert show.typed_money(None) == ""


@pytest.mark.parametrize(
    ("minutes", "shown"),
    [
        ("40", "40 min"),
        ("59.6", "1 h 00 min"),
        ("125", "2 h 05 min"),
        ("60", "1 h 00 min"),
        ("1.5", "1.5 min"),
        ("1.95", "2 min"),
        ("9.97", "10 min"),
        ("0", "0 min"),
        ("0.01", "under 0.1 min"),
        ("-75", "−1 h 15 min"),
    ],
)
def test_minutes_are_shown_as_a_clock_would_say_them(minutes: str, shown: str) -> None:
    with shop():
        assert show.minutes(Decimal(minutes)) == shown


def test_millimetres_stay_in_sight_beside_inches_and_gauges() -> None:
    with shop():
        assert show.mm(1_000_000) == "1.0 mm"
        assert show.wire(1_000_000) == "1.0 mm"
        assert "1.6" in show.wire(1_600_000, "16 SWG")
        assert "16 SWG" in show.wire(1_600_000, "16 SWG")
    with shop(length_unit="in"):
        assert show.mm(3_968_750) == "5/32 in (3.969 mm)"


def test_a_mass_is_grams_as_decimal_and_micrograms_as_whole_number() -> None:
    assert show.grams(Decimal("8.41")) == show.grams(8_410_000)
    assert show.grams(Decimal("8.41")).endswith(" g")


def test_an_aspect_ratio_has_two_decimals() -> None:
    with shop():
        assert show.aspect_ratio(3_600_000, 1_000_000) == "3.60"


def test_days_are_those_of_the_shops_own_clock() -> None:
    with shop(time_zone="Pacific/Auckland"):
        assert show.day(datetime(2026, 3, 30, 20, 0, tzinfo=UTC)) == "Mar 31, 2026"
        assert show.day(date(2026, 3, 31)) == "Mar 31, 2026"
        shown = show.moment(datetime(2026, 3, 30, 20, 0, 41, tzinfo=UTC))
        assert "31" in shown
        assert "41" not in shown


def test_one_compiled_template_serves_shops_with_other_currencies() -> None:
    template = environment().from_string("{{ 1500000|money }}")
    with shop(currency="EUR"):
        assert template.render() == "€1.50"
    with shop(currency="GBP"):
        assert template.render() == "£1.50"


def test_the_cost_of_one_piece_is_not_shown_to_the_millionth() -> None:
    with shop():
        assert show.money_fine(Decimal("7.070064")) == "€7.0701"
        assert show.money_fine(Decimal("-24.710256")) == "-€24.7103"
        assert show.money_fine(Decimal("0.999999")) == "€0.999999"
        assert show.amount_fine(Decimal("2.9")) == "2.90"
