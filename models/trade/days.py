"""Days in words, as messages name them: a number for the month is read otherwise in the next country."""

from __future__ import annotations

from datetime import date

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def day_words(day: date) -> str:
    """Name a day: 7 March 2026."""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
