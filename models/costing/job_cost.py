"""What a job at the bench costs: what went in at its real cost, the time at the shop's wage, overhead, and extras.

For rings made from wire and lots turned into another finish. What leaves the stock costs what the ledger says.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from models.costing.exact import MINUTES_PER_HOUR, ZERO, exactly, not_negative
from models.costing.inputs import ShopRates
from models.costing.lines import Line
from models.costing.work_cost import overhead_of, wage_of
from models.trade.money import millionth, to_micros

_SETTINGS = "your settings"


@dataclass(frozen=True, slots=True)
class JobCost:
    """A job's cost as one line with its parts, which add up to it exactly."""

    line: Line

    @property
    def value_micros(self) -> int:
        """What the job's product is worth, in whole millionths."""
        return to_micros(self.line.amount)

    @property
    def work_micros(self) -> int:
        """The part that did not come from stock: time, overhead and extras."""
        return to_micros(sum((line.amount for line in self.line.lines[1:]), ZERO))


@exactly
def job_cost(
    materials: Decimal, minutes: Decimal, rates: ShopRates, *, extras: Decimal = ZERO, extras_label: str = "Extras"
) -> JobCost:
    """The cost of a job; each part is rounded once to a millionth, half to even.

    Overhead goes by the hour, or as a share of materials, work and extras, as the settings say.
    Raises: ValueError for what is below zero, TypeError for a float.
    """
    for name, value in (("materials", materials), ("minutes", minutes), ("extras", extras)):
        not_negative(name, value)
    work = Line(
        "Work",
        wage_of(minutes, rates),
        minutes,
        "min",
        rates.wage_per_hour / MINUTES_PER_HOUR,
        reason="The minutes of this job at your wage.",
        source=_SETTINGS,
    )
    parts = [Line("From stock", materials, reason="What it took, at what it cost you.", source="your stock"), work]
    if extras:
        parts.append(Line(extras_label, millionth(extras), reason="As you typed it.", source="typed with the job"))
    parts.append(_overhead(sum((line.amount for line in parts), ZERO), minutes, rates))
    whole = sum((line.amount for line in parts), ZERO)
    return JobCost(Line("This job", whole, reason="What it took, and the work put into it.", lines=tuple(parts)))


def _overhead(base: Decimal, minutes: Decimal, rates: ShopRates) -> Line:
    amount = overhead_of(minutes, base, rates)
    if rates.overhead_mode == "hour":
        return Line(
            "Overhead",
            amount,
            minutes,
            "min",
            rates.overhead_per_hour / MINUTES_PER_HOUR,
            reason="The minutes of this job at your overhead an hour.",
            source=_SETTINGS,
        )
    return Line(
        "Overhead",
        amount,
        reason=f"{rates.overhead_percent} % of all the rest.",
        source=_SETTINGS,
    )
