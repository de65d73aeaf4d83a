"""What an operation or a query may refuse, as classes that carry data; the web face gives them status and words."""

from __future__ import annotations

from dataclasses import dataclass

from models.intake.faults import Faults


class Refused(Exception):
    """An operation was refused; nothing was changed."""


@dataclass
class Missing(Refused):
    """There is no such thing."""

    what: str
    key: object

    def __str__(self) -> str:
        return f"There is no {self.what} {self.key}."


@dataclass
class Stale(Refused):
    """Somebody changed it since the page was opened: per field the label, the stored and the typed value."""

    what: str
    changes: tuple[tuple[str, str, str], ...]

    def __str__(self) -> str:
        return f"This {self.what} was changed since you opened it."


@dataclass
class Conflict(Refused):
    """It cannot be done in the present state; the message says why and what would help."""

    message: str

    def __str__(self) -> str:
        return self.message


@dataclass
class Unfit(Refused):
    """What was handed in reads well but does not fit what the shop knows; it carries faults by field."""

    faults: Faults

    def __str__(self) -> str:
        return " ".join(fault.message for fault in self.faults)


@dataclass
class KeyReused(Refused):
    """A one-time key came again with another body."""

    key: str

    def __str__(self) -> str:
        return "This form was already used for something else. Open the page again and repeat the change."
