"""Days in words."""

from __future__ import annotations

from datetime import date, timedelta

from models.trade.days import day_words


def test_a_day_is_named_by_its_month_in_words() -> None:
    assert day_words(date(2026, 3, 7)) == "7 March 2026"


def test_every_day_of_a_year_is_named_as_the_library_names_it() -> None:
    for number in range(365):
        day = date(2025, 1, 1) + timedelta(days=number)
        assert day_words(day) == f"{day.day} {day:%B} {day.year}"
