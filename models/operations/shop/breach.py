"""A rule of the shop's data that a row breaks, as `check` tells it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Breach:
    """The first row that breaks a rule: the rule, the table, the row's number, and in plain words what is wrong."""

    rule: str
    table: str
    row: int | str
    says: str

    def __str__(self) -> str:
        return f"{self.rule}: {self.table} {self.row}. {self.says}"
