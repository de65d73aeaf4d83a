"""One thing that is wrong with what was handed in: a value, never an exception."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong: its field (`parts.3.quantity` for the fourth part) and what would be right."""

    field: str
    message: str
