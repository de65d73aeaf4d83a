"""The cheapest whole packs that cover a list of needs, over all suppliers, with a proof and what is left over.

Postage, free postage from a sum on, smallest orders and price breaks all count. What is needed, and what to make of it,
is decided elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from time import perf_counter

from models.planning.offers import (
    Basket,
    Late,
    Offer,
    PackLine,
    Supplier,
    SupplierOrder,
    arriving_milli,
    in_time,
    most_milli,
    offer_troubles,
    orders_of,
    within_reach,
)
from models.planning.solver import NotSolved, Programme, Search, Solved, SolverFailed, Stopped, gap_between, solve
from models.planning.troubles import Trouble


@dataclass(frozen=True, slots=True)
class PackRequest:
    """What is needed beyond free stock, by item in thousandths of its unit, and who offers it.

    `lead_days` leaves out what arrives later than that, and what nobody knows the time of.
    """

    needs: Mapping[int, int]
    offers: Sequence[Offer]
    suppliers: Sequence[Supplier] = ()
    lead_days: int | None = None


@dataclass(frozen=True, slots=True)
class Covered:
    """One need and what the packs bring of it, in thousandths of the item's unit."""

    item: int
    needed_milli: int
    arriving_milli: int

    @property
    def left_over_milli(self) -> int:
        """What is left when the need is met."""
        return self.arriving_milli - self.needed_milli


@dataclass(frozen=True, slots=True)
class Alone:
    """Everything bought from one supplier: its order, or the items it can't send enough of.

    `order` is None, with nothing lacking, where no search ended in time. All items are lacking where the supplier's
    smallest order can't be met with them.
    """

    supplier: Supplier
    order: SupplierOrder | None
    lacking: tuple[int, ...] = ()
    proven: bool = False


@dataclass(frozen=True, slots=True)
class BuyPlan:
    """The cheapest packs that were found; money in millionths.

    `bound_micros` is what no other set of packs can cost less than. `not_covered` are needs that the offers can't
    cover, in thousandths: the plan is for the rest. `late` offers come after the wished day; `out_of_reach` are
    suppliers whose smallest order is more than all that they have of what is needed.
    """

    orders: tuple[SupplierOrder, ...]
    covered: tuple[Covered, ...]
    not_covered: Mapping[int, int]
    late: tuple[Late, ...]
    out_of_reach: tuple[Supplier, ...]
    total_micros: int
    bound_micros: int
    stopped: Stopped
    seconds: float
    alone: tuple[Alone, ...] = ()

    @property
    def gap(self) -> Decimal:
        """How far the total may be above the cheapest there is, as a fraction of it; 0 is proven cheapest."""
        return gap_between(-self.total_micros, -self.bound_micros)

    @property
    def lines(self) -> tuple[PackLine, ...]:
        """All packs, over all orders."""
        return tuple(line for order in self.orders for line in order.lines)

    @property
    def cheapest_alone(self) -> SupplierOrder | None:
        """The cheapest order that buys everything from one supplier; None where nobody sends everything."""
        found = [each.order for each in self.alone if each.order is not None]
        return min(found, key=lambda order: order.total_micros, default=None)

    @property
    def saved_micros(self) -> int | None:
        """What the plan saves against the cheapest single supplier; None where nobody sends everything."""
        alone = self.cheapest_alone
        return None if alone is None else alone.total_micros - self.total_micros


@dataclass(frozen=True, slots=True)
class NoPacksYet:
    """The search stopped before it found any packs; nothing can cost less than the bound."""

    bound_micros: int
    stopped: Stopped
    seconds: float


def buy_packs(question: PackRequest, search: Search | None = None) -> BuyPlan | NoPacksYet | tuple[Trouble, ...]:
    """Return the cheapest packs that cover the needs, or what is wrong with the question.

    Needs that the offers can't cover at all are told, and as much of them is bought as there is. Each supplier of a
    needed item is compared with, as if everything came from there. Raises: SolverFailed.
    """
    search = search or Search()
    began = perf_counter()
    troubles = _troubles(question)
    if troubles:
        return troubles
    suppliers = {each.key: each for each in question.suppliers}
    wanted = {item: milli for item, milli in question.needs.items() if milli}
    asked = [offer for offer in question.offers if offer.item in wanted]
    timely, late = in_time(asked, suppliers, question.lead_days)
    offers, out_of_reach = within_reach(timely, suppliers)
    needs, not_covered = _coverable(wanted, offers)
    found = _cheapest(needs, offers, suppliers, search)
    if isinstance(found, NotSolved) and found.impossible:
        # A smallest order that only fewer packs at a higher price reach: rare, and told like packs that run out.
        needs = _most_covered(needs, offers, suppliers, search)
        not_covered = {item: rest for item, milli in wanted.items() if (rest := milli - needs.get(item, 0))}
        found = _cheapest(needs, offers, suppliers, search)
    if isinstance(found, NotSolved):
        return NoPacksYet(max(-found.bound, 0), found.stopped, found.seconds)
    solved, orders = found
    arriving = arriving_milli(orders)
    left_s = max(search.time_limit_s - (perf_counter() - began), 0.1)
    quiet = replace(search, progress=None, time_limit_s=left_s)
    return BuyPlan(
        orders=orders,
        covered=tuple(Covered(item, need, arriving[item]) for item, need in needs.items()),
        not_covered=not_covered,
        late=late,
        out_of_reach=out_of_reach,
        total_micros=-solved.value,
        bound_micros=max(-solved.bound, 0),
        stopped=solved.stopped,
        seconds=solved.seconds,
        alone=_alone(needs, offers, suppliers, quiet),
    )


def cheapest_orders(
    needs: Mapping[int, int], offers: Sequence[Offer], suppliers: Mapping[str, Supplier], search: Search
) -> tuple[SupplierOrder, ...] | None:
    """Return the cheapest orders found that cover all needs; None where none do or none were found in time."""
    reachable, _ = within_reach(offers, suppliers)
    _, beyond = _coverable(needs, reachable)
    found = None if beyond else _cheapest(needs, reachable, suppliers, search)
    return found[1] if isinstance(found, tuple) else None


def _troubles(question: PackRequest) -> tuple[Trouble, ...]:
    troubles = [
        Trouble(f"needs.{item}", "What is needed is zero or more.")
        for item, milli in question.needs.items()
        if milli < 0
    ]
    if question.lead_days is not None and question.lead_days < 0:
        troubles.append(Trouble("lead_days", "The days that a delivery may take are zero or more."))
    return (*troubles, *offer_troubles(question.offers, question.suppliers))


def _coverable(needs: Mapping[int, int], offers: Sequence[Offer]) -> tuple[dict[int, int], dict[int, int]]:
    """The needs as far as the offers cover them, and what is beyond."""
    coverable, beyond = {}, {}
    for item, need in needs.items():
        there = most_milli(offer for offer in offers if offer.item == item)
        covered = need if there is None else min(need, there)
        if covered:
            coverable[item] = covered
        if covered < need:
            beyond[item] = need - covered
    return coverable, beyond


def _most_covered(
    needs: Mapping[int, int], offers: Sequence[Offer], suppliers: Mapping[str, Supplier], search: Search
) -> dict[int, int]:
    """The needs as far as packs cover them where the smallest orders allow no more; nothing where time runs out."""
    programme = Programme()
    basket = Basket(programme, offers, suppliers, needs)
    short = {item: programme.column(need, worth=-1) for item, need in needs.items()}
    for item, need in needs.items():
        programme.row({**basket.arriving(item), short[item]: 1}, low=need)
    found = solve(programme, replace(search, progress=None))
    if isinstance(found, NotSolved):
        return {}
    covered = {item: need - found.values[short[item]] for item, need in needs.items()}
    return {item: milli for item, milli in covered.items() if milli}


def _cheapest(
    needs: Mapping[int, int], offers: Sequence[Offer], suppliers: Mapping[str, Supplier], search: Search
) -> tuple[Solved, tuple[SupplierOrder, ...]] | NotSolved:
    """The cheapest orders that cover what can be covered, checked again in whole numbers."""
    programme = Programme()
    basket = Basket(programme, offers, suppliers, needs)
    for column, cost in basket.cost.items():
        programme.worth[column] = -cost
    for item, need in needs.items():
        programme.row(basket.arriving(item), low=need)
    found = solve(programme, search)
    if isinstance(found, NotSolved):
        return found
    orders = orders_of(basket.bought(found.values), offers, suppliers)
    total = sum(order.total_micros for order in orders)
    arriving = arriving_milli(orders)
    enough = all(arriving.get(item, 0) >= need for item, need in needs.items())
    if not enough or total != -found.value or any(order.too_small for order in orders):
        raise SolverFailed(f"packs for {total} millionths do not stand a second check")
    return found, orders


def _alone(
    needs: Mapping[int, int], offers: Sequence[Offer], suppliers: Mapping[str, Supplier], search: Search
) -> tuple[Alone, ...]:
    """Everything from one supplier, for each that sends any of it."""
    alone = []
    if not needs:
        return ()
    for key in dict.fromkeys(offer.supplier for offer in offers):
        supplier = suppliers.get(key) or Supplier(key)
        own = [offer for offer in offers if offer.supplier == key]
        _, lacking = _coverable(needs, own)
        if lacking:
            alone.append(Alone(supplier, None, tuple(lacking)))
            continue
        try:
            found = _cheapest(needs, own, suppliers, search)
        except SolverFailed:
            # Only a comparison: without it the plan itself still stands.
            alone.append(Alone(supplier, None))
            continue
        if isinstance(found, NotSolved):
            alone.append(Alone(supplier, None, tuple(needs) if found.impossible else ()))
        else:
            solved, (order,) = found
            alone.append(Alone(supplier, order, proven=solved.bound == solved.value))
    return tuple(alone)
