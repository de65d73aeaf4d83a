"""Reads plain values that nobody vouches for, and gathers what is wrong with them by its place.

Not here: what a layout is made of (model).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from models.trade.faults import Fault

MAX_KEY = 64
T = TypeVar("T")


class Collector:
    """Reads plain values of a mapping and gathers what is wrong with them."""

    def __init__(self, raw: Any, place: str, faults: list[Fault]) -> None:
        self.place = f"{place}." if place else ""
        self.faults = faults
        self.raw: Mapping[str, Any] = raw if isinstance(raw, Mapping) else {}
        if not isinstance(raw, Mapping):
            self.fault("", "This must be a group of named values.")

    def fault(self, field: str, message: str) -> None:
        """Note one fault at a field."""
        self.faults.append(Fault((self.place + field).strip(".") or "layout", message))

    def text(self, field: str, default: str = "", longest: int = MAX_KEY) -> str:
        """Return a text, or the default when it is missing."""
        value = self.raw.get(field)
        if value is None:
            return default
        if not isinstance(value, str) or len(value) > longest:
            self.fault(field, f"This must be a text of up to {longest} characters.")
            return default
        return value

    def number(self, field: str, default: int, least: int, most: int) -> int:
        """Return a whole number within its limits, or the default when it is missing."""
        value = self.raw.get(field)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            self.fault(field, f"This must be a whole number from {least:,} to {most:,}.")
            return default
        return value

    def choice(self, field: str, choices: Sequence[T], default: T) -> T:
        """Return one of the choices, or the default when it is missing."""
        value = self.raw.get(field)
        if value is None:
            return default
        if value not in choices:
            self.fault(field, "Choose one of: " + ", ".join(str(each) for each in choices) + ".")
            return default
        return choices[choices.index(value)]

    def sequence(self, field: str, most: int) -> Sequence[Any]:
        """Return a list of up to so many values; an empty one when it is missing."""
        value = self.raw.get(field)
        if value is None:
            return ()
        if isinstance(value, str) or not isinstance(value, Sequence) or len(value) > most:
            self.fault(field, f"This must be a list of up to {most:,} entries.")
            return ()
        return value

    def texts(self, field: str, most: int) -> tuple[str, ...]:
        """Return a list of texts."""
        found = self.sequence(field, most)
        if any(not isinstance(each, str) or len(each) > MAX_KEY for each in found):
            self.fault(field, f"Each entry must be a text of up to {MAX_KEY} characters.")
            return ()
        return tuple(found)

    def each(self, field: str, most: int, read: Callable[[Any, str], T]) -> tuple[T, ...]:
        """Read every entry of a list with its place, counted from 1."""
        return tuple(
            read(value, f"{self.place}{field}.{number}") for number, value in enumerate(self.sequence(field, most), 1)
        )
