"""The line: one figure, how it came about, and the lines beneath it.

A tree of lines is what a page unfolds. Two kinds of lines stand beneath a line and are never mixed:
`lines` add up to its amount exactly, `because` are the facts it was computed from and add up to nothing.
What a figure costs is not decided here.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from decimal import Decimal

from models.costing.exact import EXACT, ZERO


@dataclass(frozen=True, slots=True)
class Line:
    """One figure with its reasons.

    `amount` is money in the shop's currency, in whole millionths, unless `amount_unit` names another unit
    ('min', 'g', 'mm', 'g/cm³', 'pieces', 'share' …); then it is that, unrounded.
    `quantity` x `unit_amount` is how the amount came about, where it is a product.
    """

    label: str
    amount: Decimal
    quantity: Decimal | None = None
    unit: str = ""
    unit_amount: Decimal | None = None
    reason: str = ""
    source: str = ""
    lines: tuple[Line, ...] = ()
    because: tuple[Line, ...] = ()
    amount_unit: str = ""
    provisional: bool = False

    @property
    def is_money(self) -> bool:
        """Whether the amount is money."""
        return not self.amount_unit

    @property
    def beneath(self) -> tuple[Line, ...]:
        """Everything that unfolds under this line: what adds up to it, then the facts behind it."""
        return self.lines + self.because

    def times(self, count: int) -> Line:
        """The same line for `count` pieces: amounts and quantities multiplied, so that sums stay exact."""
        return replace(
            self,
            amount=EXACT.multiply(self.amount, count),
            quantity=None if self.quantity is None else EXACT.multiply(self.quantity, count),
            lines=tuple(line.times(count) for line in self.lines),
        )


@dataclass(frozen=True, slots=True)
class Impossible:
    """A figure that no number can be, with the reason in plain words."""

    reason: str

    @property
    def possible(self) -> bool:
        """Always False, so that a page can ask a price and an impossible one alike."""
        return False


def add_up(amounts: Iterable[Decimal]) -> Decimal:
    """The exact sum of amounts."""
    total = ZERO
    for amount in amounts:
        total = EXACT.add(total, amount)
    return total


def total_line(label: str, lines: Iterable[Line], *, reason: str = "", source: str = "") -> Line:
    """A line that is the exact sum of the lines beneath it; provisional as soon as one of them is."""
    lines = tuple(lines)
    return Line(
        label=label,
        amount=add_up(line.amount for line in lines),
        reason=reason,
        source=source,
        lines=lines,
        provisional=any(line.provisional for line in lines),
    )


def leaves(line: Line) -> Iterator[Line]:
    """Every line at the ends of the tree, in the order in which a page unfolds them."""
    if not line.beneath:
        yield line
    for lower in line.beneath:
        yield from leaves(lower)


def adds_up(line: Line) -> bool:
    """Whether every sum in the tree equals its lines exactly."""
    own = not line.lines or add_up(lower.amount for lower in line.lines) == line.amount
    return own and all(adds_up(lower) for lower in line.beneath)
