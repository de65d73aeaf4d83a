"""What an operation or a query may refuse, as classes that carry data; the web face gives them status and words."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar

from models.intake.faults import Faults
from models.intake.stock.offer import from_milli

D = TypeVar("D")
E = TypeVar("E")


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
class NotEnoughStock(Conflict):
    """More was asked for than may be taken; quantities in thousandths of the item's unit.

    `available_milli` is what is free there, `reserved_milli` what lies there but is kept for builds. Without `lot_id`
    the whole stock of the item is meant, without `place` (None) the whole lot. `unit` is in words: rings, pieces, m, g.
    """

    message: str = field(init=False, default="")
    needed_milli: int
    available_milli: int
    item: str
    item_id: int
    unit: str = "pieces"
    lot_id: int | None = None
    place: str | None = None
    reserved_milli: int = 0

    def __post_init__(self) -> None:
        self.message = f"{self._free()}, and {from_milli(self.needed_milli)} {self._are(self.needed_milli)} needed."
        if self.reserved_milli:
            kept = from_milli(self.reserved_milli)
            self.message += f" {kept} more {self._are(self.reserved_milli)} there but reserved for builds."

    def __str__(self) -> str:
        return self.message

    @property
    def missing_milli(self) -> int:
        """How much is short."""
        return self.needed_milli - self.available_milli

    def _free(self) -> str:
        where = "in stock" if self.lot_id is None else f"in lot {self.lot_id}"
        if self.place is not None:
            where += f", {self.place or 'without a place'}"
        free = from_milli(self.available_milli)
        unit = self.unit.removesuffix("s") if free == 1 else self.unit
        number = f"Only {free} {unit}" if free else "None"
        verb = "is" if not free or free == 1 else "are"
        return f"{number} of “{self.item}” {verb} free {where}"

    @staticmethod
    def _are(milli: int) -> str:
        return "is" if milli == 1000 else "are"


@dataclass
class NotEnoughForBuild(Conflict):
    """A build needs more than is free: every item that is short, and how many pieces the free stock would make."""

    message: str = field(init=False, default="")
    shorts: tuple[NotEnoughStock, ...]
    possible: int

    def __post_init__(self) -> None:
        few = "1 piece" if self.possible == 1 else f"{self.possible} pieces"
        offer = f" There is enough for {few}." if self.possible else ""
        self.message = " ".join(short.message for short in self.shorts) + offer

    def __str__(self) -> str:
        return self.message


@dataclass
class Unfit(Refused):
    """What was handed in reads well but does not fit what the shop knows; it carries faults by field."""

    faults: Faults

    def __str__(self) -> str:
        return " ".join(fault.message for fault in self.faults)


def fit(read: D | Faults) -> D:
    """What was read, when nothing is wrong with it. Raises `Unfit`."""
    if isinstance(read, Faults):
        raise Unfit(read)
    return read


def fit_both(first: D | Faults, second: E | Faults) -> tuple[D, E]:
    """Two things that were read, when nothing is wrong with either. Raises `Unfit` with the faults of both."""
    if isinstance(first, Faults) and isinstance(second, Faults):
        raise Unfit(Faults((*first, *second)))
    return fit(first), fit(second)


def fit_or(read: D | Faults, otherwise: E) -> tuple[D | E, Faults | None]:
    """What was read, or what stands in its place with what is wrong with it."""
    return (otherwise, read) if isinstance(read, Faults) else (read, None)


@dataclass
class WorkedTooLong(Refused):
    """Work was stopped after so many seconds of processor time."""

    seconds: float

    def __str__(self) -> str:
        return (
            f"This was stopped after {self.seconds:g} seconds of work, and nothing was changed. "
            "A smaller piece, or fewer things at once, can be worked out."
        )


@dataclass
class KeyReused(Refused):
    """A one-time key came again with another body."""

    key: str

    def __str__(self) -> str:
        return "This form was already used for something else. Open the page again and repeat the change."
