"""When to order an item again and how much: a proposal from its past use, with the figures it rests on.

The reorder point covers the demand while a delivery is on its way, so often as is wished: order when what is free and
what is on order come down to it. Items that are taken often get it from the normal distribution, those taken rarely
from the takes themselves (Poisson). The order quantity is the cheapest number of packs over a year. Nothing is stored
here; the formulas are in `stock_theory`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import sqrt
from statistics import fmean, stdev
from typing import Literal

from models.planning.offers import Break, break_troubles
from models.planning.recipes import PIECE_MILLI
from models.planning.stock_theory import (
    ZERO,
    compound_quantile,
    economic_order,
    normal_quantile,
    safety_factor,
    whole_up,
    yearly_cost,
)
from models.planning.troubles import Trouble, in_units
from models.trade.money import from_micros, to_micros

Method = Literal["normal", "takes"]

DAYS_A_YEAR = Decimal(365)
SLOW_TAKES = 10
"""Below so many takes expected while a delivery is on its way, each take counts. Common practice, no source."""
FEW_PERIODS = 8
BOOK = "Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd edition"
RECURSION = "Panjer 1981, ASTIN Bulletin 12"
PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class Take:
    """What a build or an order took of an item on one day, in thousandths of its unit."""

    day: date
    milli: int


@dataclass(frozen=True, slots=True)
class Reason:
    """One figure behind a proposal, with where it came from."""

    label: str
    value: Decimal
    unit: str
    why: str = ""
    source: str = ""


@dataclass(frozen=True, slots=True)
class Demand:
    """Past use of an item in whole periods that end today: means and deviations in thousandths of its unit.

    `sd_milli` is the sample deviation between periods, 0 for a single one; `sizes` are the takes by size.
    """

    periods: int
    period_days: int
    total_milli: int
    mean_milli: float
    sd_milli: float
    takes: int
    sizes: dict[int, int]

    @property
    def per_day_milli(self) -> float:
        """The mean use of a day."""
        return self.mean_milli / self.period_days

    @property
    def per_year(self) -> Decimal:
        """The mean use of a year, in whole units of the item; unrounded."""
        days = Decimal(self.periods * self.period_days)
        return Decimal(self.total_milli) * DAYS_A_YEAR / days / PIECE_MILLI


@dataclass(frozen=True, slots=True)
class ReorderRequest:
    """What a proposal rests on: past takes from `first_day` on, and what ordering and holding cost.

    `service` is the share of deliveries during which nothing runs out. Money is in millionths of the shop's currency:
    `order_micros` for placing and receiving one order, `price_micros` for a pack, with `breaks` as in offers.
    `holding_rate` is the share of its price that holding a unit for a year costs. `lead_sd_days` is how much deliveries
    vary.
    """

    takes: Sequence[Take]
    first_day: date
    today: date
    lead_days: int
    service: Decimal
    order_micros: int
    holding_rate: Decimal
    price_micros: int
    pack_milli: int
    breaks: tuple[Break, ...] = ()
    step_milli: int = PIECE_MILLI
    period_days: int = 7
    lead_sd_days: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class ReorderProposal:
    """When to order again and how much, in thousandths of the item's unit; `reasons` are its figures in order.

    `few` warns that the past is short.
    """

    method: Method
    point_milli: int
    safety_milli: int
    packs: int
    quantity_milli: int
    yearly_micros: int
    few: bool
    demand: Demand
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class NothingToGoBy:
    """No proposal can be made, with the reason in plain words."""

    reason: str


def demand_of(takes: Iterable[Take], *, first_day: date, today: date, period_days: int = 7) -> Demand | None:
    """Return the use of an item in the whole periods up to yesterday; None before the first one is over.

    The days before the oldest whole period are left out.
    """
    periods = (today - first_day).days // period_days
    if periods < 1:
        return None
    used = [0] * periods
    sizes: dict[int, int] = {}
    for take in takes:
        days_ago = (today - take.day).days - 1
        if days_ago >= 0 and take.milli > 0 and days_ago // period_days < periods:
            used[days_ago // period_days] += take.milli
            sizes[take.milli] = sizes.get(take.milli, 0) + 1
    return Demand(
        periods=periods,
        period_days=period_days,
        total_milli=sum(used),
        mean_milli=fmean(used),
        sd_milli=stdev(used) if periods > 1 else 0.0,
        takes=sum(sizes.values()),
        sizes=sizes,
    )


def lead_demand(demand: Demand, lead_days: int, lead_sd_days: Decimal = ZERO) -> tuple[float, float]:
    """Return mean and deviation of the use while a delivery is on its way, in thousandths.

    Variance = L var(day) + mean(day)^2 var(L), for independent days. Source: section 5 of the book, from memory.
    """
    share = lead_days / demand.period_days
    variance = share * demand.sd_milli**2 + (demand.per_day_milli * float(lead_sd_days)) ** 2
    return share * demand.mean_milli, sqrt(variance)


def propose_reorder(question: ReorderRequest) -> ReorderProposal | NothingToGoBy | tuple[Trouble, ...]:
    """Return a reorder point and an order quantity for one item; or what is wrong, or why there is no proposal."""
    troubles = _troubles(question)
    if troubles:
        return troubles
    demand = demand_of(
        question.takes, first_day=question.first_day, today=question.today, period_days=question.period_days
    )
    if demand is None:
        return NothingToGoBy(f"It is known for less than {question.period_days} days. Ask again later.")
    if not demand.takes:
        return NothingToGoBy("Nothing was taken of it in this time.")
    method, point_milli, mean_milli, point_reasons = _point(question, demand)
    packs, yearly_micros, quantity_reasons = _quantity(question, demand)
    return ReorderProposal(
        method=method,
        point_milli=point_milli,
        safety_milli=max(point_milli - whole_up(mean_milli), 0),
        packs=packs,
        quantity_milli=packs * question.pack_milli,
        yearly_micros=yearly_micros,
        few=demand.periods < FEW_PERIODS,
        demand=demand,
        reasons=(*_past(demand), *point_reasons, *quantity_reasons),
    )


def _past(demand: Demand) -> tuple[Reason, ...]:
    days = demand.periods * demand.period_days
    warning = f" Fewer than {FEW_PERIODS}: take the proposal with care." if demand.periods < FEW_PERIODS else ""
    return (
        Reason(
            "Whole periods looked at", Decimal(demand.periods), "periods", f"Of {demand.period_days} days.{warning}"
        ),
        Reason("Taken in them", _units(demand.total_milli), "units", f"In {demand.takes} takes over {days} days."),
        Reason("A period on average", _units(demand.mean_milli), "units"),
        Reason("Deviation between periods", _units(demand.sd_milli), "units", "The sample standard deviation."),
    )


def _point(question: ReorderRequest, demand: Demand) -> tuple[Method, int, float, tuple[Reason, ...]]:
    """The reorder point, rounded up to whole steps, by the method that suits how often the item is taken."""
    service = float(question.service)
    mean, sd = lead_demand(demand, question.lead_days, question.lead_sd_days)
    days = demand.periods * demand.period_days
    # Deliveries that vary are covered for as long as they take at that service, when takes are counted one by one.
    longest = normal_quantile(float(question.lead_days), float(question.lead_sd_days), service)
    expected = demand.takes / days * longest
    reasons = [
        Reason("Delivery takes", Decimal(question.lead_days), "days"),
        Reason("Taken meanwhile on average", _units(mean), "units", "Days of delivery times the use of a day."),
        Reason("Nothing runs out in", question.service * 100, "% of deliveries", "Your wish."),
    ]
    if expected < SLOW_TAKES:
        if question.lead_sd_days:
            reasons.append(
                Reason("Delivery at its longest", _rounded(longest), "days", "Longer ones are as rare as that.")
            )
        point = compound_quantile(expected, demand.sizes, service) if expected else 0
        rounded = whole_up(float(point), question.step_milli)
        reasons.append(
            Reason("Takes expected meanwhile", _rounded(expected), "takes",
                   f"Fewer than {SLOW_TAKES}: each take counts, by its size.", PRACTICE)
        )  # fmt: skip
        reasons.append(
            Reason("Reorder point", _units(rounded), "units",
                   "Random takes of the sizes seen stay within it so often.", f"Poisson; {RECURSION}")
        )  # fmt: skip
        return "takes", rounded, mean, tuple(reasons)
    factor = safety_factor(service)
    rounded = whole_up(mean + factor * sd, question.step_milli)
    reasons += [
        Reason("Deviation meanwhile", _units(sd), "units", "Root of delivery time times variance.", BOOK),
        Reason("Safety factor", _rounded(factor), "deviations", "Of the normal distribution.", BOOK),
        Reason("Safety stock", _units(factor * sd), "units", "Factor times deviation."),
        Reason(
            "Reorder point", _units(rounded), "units", "What is taken meanwhile and the safety stock, rounded up.", BOOK
        ),
    ]
    return "normal", rounded, mean, tuple(reasons)


def _quantity(question: ReorderRequest, demand: Demand) -> tuple[int, int, tuple[Reason, ...]]:
    """The packs that cost least over a year, the goods included, and that cost in millionths."""
    pack = Decimal(question.pack_milli) / PIECE_MILLI
    packs_a_year = demand.per_year / pack
    order_cost = from_micros(question.order_micros)
    tiers = [(1, question.price_micros), *((each.from_packs, each.price_micros) for each in question.breaks)]
    found = []
    for (start, price_micros), following in zip(tiers, [*tiers[1:], None], strict=True):
        price = from_micros(price_micros)
        best = economic_order(packs_a_year, order_cost, question.holding_rate * price).quantity
        end = None if following is None else following[0] - 1
        for near in (int(best), int(best) + 1):
            packs = max(near, start) if end is None else min(max(near, start), end)
            cost = yearly_cost(Decimal(packs), packs_a_year, order_cost, question.holding_rate * price)
            found.append((cost + price * packs_a_year, packs, price, best))
    cost, packs, price, best = min(found)
    reasons = (
        Reason("Taken in a year", _rounded(demand.per_year), "units", "At the same pace."),
        Reason("One order costs", order_cost, "money", "Your figure."),
        Reason("Holding costs a year", question.holding_rate * 100, "% of the price", "Your figure."),
        Reason("Best order at this price", _rounded(best), "packs",
               f"Root of twice orders' cost times use over holding, at {price} a pack.", BOOK),
        Reason("Order", Decimal(packs), "packs",
               "The whole packs that cost least over a year, with price breaks and the goods."),
        Reason("A year costs", _rounded(cost), "money", "Goods, orders and holding."),
    )  # fmt: skip
    return packs, to_micros(cost), reasons


def _troubles(question: ReorderRequest) -> tuple[Trouble, ...]:
    troubles = []
    if not Decimal("0.5") <= question.service < 1:
        troubles.append(
            Trouble("service", "Type how often nothing may run out: from 50 % to below 100 %, such as 95 %.")
        )
    for name, value, message in (
        ("lead_days", question.lead_days, "A delivery takes a day or more."),
        ("order_cost", question.order_micros, "Type what placing and receiving one order costs you: above zero."),
        ("price", question.price_micros, "Type what a pack costs: above zero."),
        ("pack", question.pack_milli, "A pack holds something. Type how much is in one."),
        ("holding", question.holding_rate, "Type what holding stock for a year costs, in % of its price: above zero."),
        ("period_days", question.period_days, "A period has a day or more."),
    ):
        if value <= 0:
            troubles.append(Trouble(name, message))
    if question.lead_sd_days < 0:
        troubles.append(Trouble("lead_sd", "How much deliveries vary is zero days or more."))
    if any(each.price_micros <= 0 for each in question.breaks):
        troubles.append(Trouble("breaks", "Type what a pack costs: above zero."))
    troubles += break_troubles("breaks", question.breaks)
    return tuple(troubles)


def _units(milli: float) -> Decimal:
    """Thousandths as whole units, to a thousandth."""
    return Decimal(in_units(round(milli)))


def _rounded(value: Decimal | float) -> Decimal:
    """A figure for a reason, to two decimals."""
    return Decimal(str(value)).quantize(Decimal("0.01"))
