"""What is wrong with something that was handed in: values, never exceptions."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from models.trade.faults import Fault

__all__ = ["Fault", "Faults"]


@dataclass(frozen=True, slots=True)
class Faults:
    """All that is wrong with one thing handed in; never empty."""

    items: tuple[Fault, ...]

    def __iter__(self) -> Iterator[Fault]:
        return iter(self.items)

    def by_field(self) -> dict[str, str]:
        """The messages by field; several of one field are joined."""
        found: dict[str, str] = {}
        for fault in self.items:
            found[fault.field] = f"{found[fault.field]} {fault.message}" if fault.field in found else fault.message
        return found

    @classmethod
    def of(cls, field: str, message: str) -> Faults:
        """A single fault."""
        return cls((Fault(field, message),))
