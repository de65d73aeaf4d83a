"""What is wrong with a question put to the planning room: values that a page can show beside the field.

Questions that read well but have no answer (a wish that cannot be met) are answers, not troubles, and stand elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that is wrong: its field (`offers.12.pack` for the offer with key 12) and what would be right."""

    field: str
    message: str


def listed(names: Sequence[str], *, last: str = "and", most: int = 5) -> str:
    """Return names as a person would list them, 'A, B and C'; of a long list the first few and how many more."""
    shown = list(names[:most])
    if len(names) > most:
        shown.append(f"{len(names) - most} more")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} {last} {shown[-1]}"


def in_hours(seconds: int) -> str:
    """Return a time as '2 h 05 min', rounded up to whole minutes."""
    minutes = -(-seconds // 60)
    hours, minutes = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes:02} min" if minutes else f"{hours} h"


def in_units(milli: int) -> str:
    """Return thousandths of a unit as a plain number without zeros at its end."""
    whole, rest = divmod(abs(milli), 1000)
    text = f"{whole}.{rest:03}".rstrip("0").rstrip(".")
    return f"-{text}" if milli < 0 else text
