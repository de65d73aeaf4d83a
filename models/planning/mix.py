"""The best mix of designs for hours, stock and money: the plan, counted again in whole numbers, with its proof.

How it is searched is in `mix_search`; what to say when wishes can't be met is in `mix_wishes`, what one more hour or
ring would bring in `mix_limits`. Which lots the items come from is the ledger's matter.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from time import perf_counter

from models.planning.mix_model import taken_of_each
from models.planning.mix_request import MixRequest, mix_troubles
from models.planning.mix_search import Found, MixSearch
from models.planning.mix_wishes import Unmeetable, unmeetable
from models.planning.offers import Late, SupplierOrder, arriving_milli, in_time, orders_of
from models.planning.packs import cheapest_orders
from models.planning.recipes import stock_of
from models.planning.solver import Search, SolverFailed, Stopped, gap_between
from models.planning.troubles import Trouble
from models.trade.vocabulary.plans import Goal


@dataclass(frozen=True, slots=True)
class MixLine:
    """Pieces of one design in a plan, with the time and money of all of them."""

    key: str
    name: str
    choice: str
    pieces: int
    seconds: int
    profit_micros: int
    sales_micros: int


@dataclass(frozen=True, slots=True)
class ItemUse:
    """What a plan takes of one item, in thousandths of its unit, with the allowance if the question has it.

    `left_milli` is what is free afterwards, what was bought included; None where there is plenty.
    """

    item: int
    taken_milli: int
    bought_milli: int
    left_milli: int | None
    rough: bool


@dataclass(frozen=True, slots=True)
class MixPlan:
    """The best mix that was found; all figures are counted again in whole numbers.

    `value` is in millionths, or pieces where they are the goal; no mix can exceed `bound`. `stopped` says why the
    search ended before a proof. `known` of a later question are its pieces and packs.
    """

    goal: Goal
    lines: tuple[MixLine, ...]
    uses: tuple[ItemUse, ...]
    orders: tuple[SupplierOrder, ...]
    late: tuple[Late, ...]
    value: int
    bound: int
    stopped: Stopped
    search_s: float

    @property
    def pieces(self) -> dict[str, int]:
        """The pieces by the key of the design."""
        return {line.key: line.pieces for line in self.lines}

    @property
    def packs(self) -> dict[str, int]:
        """The packs by the key of the offer."""
        return {line.offer.key: line.packs for order in self.orders for line in order.lines}

    @property
    def seconds(self) -> int:
        """The time that all pieces take."""
        return sum(line.seconds for line in self.lines)

    @property
    def profit_micros(self) -> int:
        """The profit of all pieces, as it was costed; packs bought are stock until they are used."""
        return sum(line.profit_micros for line in self.lines)

    @property
    def sales_micros(self) -> int:
        """What all pieces sell for."""
        return sum(line.sales_micros for line in self.lines)

    @property
    def spend_micros(self) -> int:
        """What the packs cost with their postage."""
        return sum(order.total_micros for order in self.orders)

    @property
    def gap(self) -> Decimal:
        """How far the value can be from the best there is, as a fraction of the value; 0 is proven best."""
        return gap_between(self.value, self.bound)

    @property
    def rests_on(self) -> tuple[int, ...]:
        """The items of the plan that were only counted roughly."""
        return tuple(use.item for use in self.uses if use.rough)


@dataclass(frozen=True, slots=True)
class NoPlanYet:
    """The search stopped before it found any mix that meets the wishes; none can be worth more than the bound."""

    bound: int
    stopped: Stopped
    search_s: float


def plan_mix(
    question: MixRequest, search: Search | None = None, *, known: MixPlan | None = None
) -> MixPlan | Unmeetable | NoPlanYet | tuple[Trouble, ...]:
    """Return the best mix for a question; or which wishes can't be met, or what is wrong with it.

    A `known` plan is where the search starts, if it still stands. Without a time limit of its own a search stops after
    ten seconds. Raises: SolverFailed when a result does not stand a second count.
    """
    search = search or Search()
    began = perf_counter()
    troubles = mix_troubles(question)
    if troubles:
        return troubles
    found = MixSearch(question, search).go(known.pieces if known else None, known.packs if known else None)
    if not isinstance(found, Found):
        if found.impossible:
            left_s = max(search.time_limit_s - (perf_counter() - began), 1.0)
            return unmeetable(question, replace(search, time_limit_s=left_s))
        return NoPlanYet(found.bound, found.stopped, perf_counter() - began)
    pieces = {key: count for key, count in found.pieces.items() if count}
    packs = _cheaper_packs(question, pieces, found.packs)
    plan = plan_of(question, pieces, packs)
    wrong = next(iter(faults_of(question, plan)), "")
    if wrong or plan.value != found.value:
        raise SolverFailed(wrong or f"the plan is worth {plan.value}, not {found.value}")
    return replace(plan, bound=found.bound, stopped=found.stopped, search_s=perf_counter() - began)


def faults_of(question: MixRequest, plan: MixPlan) -> list[str]:
    """Return every wish or limit of a question that a plan breaks, counted in whole numbers from its pieces and packs.

    Nothing of the search is used: a plan that was changed by hand can be counted again.
    """
    wrong = []
    pieces = plan.pieces
    designs = {each.key: each for each in question.designs}
    for key, each in designs.items():
        count = pieces.get(key, 0)
        if count < each.at_least or (each.at_most is not None and count > each.at_most):
            wrong.append(f"{count} of {each.recipe.name}")
        if count and each.recipe.unknown:
            wrong.append(f"{each.recipe.name} has parts that are no stock item")
    made = {designs[key].counts_as for key, count in pieces.items() if count}
    if len(made) < question.different:
        wrong.append(f"{len(made)} different designs")
    seconds = sum(designs[key].seconds * count for key, count in pieces.items())
    if question.seconds is not None and seconds > question.seconds:
        wrong.append(f"{seconds} seconds")
    orders = orders_of(plan.packs, question.timely, question.supplier_by_key)
    if sum(order.total_micros for order in orders) > question.spend_micros:
        wrong.append("more money than there is")
    wrong += [f"an order of {order.supplier.called} is too small" for order in orders if order.too_small]
    arriving = arriving_milli(orders)
    for order in orders:
        for line in order.lines:
            if line.offer.most_packs is not None and line.packs > line.offer.most_packs:
                wrong.append(f"{line.packs} packs of offer {line.offer.key}")
    for item, taken in taken_of_each(question, question.draws(), pieces).items():
        usable = question.usable_milli(item)
        if usable is not None and taken > usable + arriving.get(item, 0):
            wrong.append(f"{taken} thousandths of {stock_of(question.stock, item).called}")
    return wrong


def plan_of(question: MixRequest, pieces: Mapping[str, int], packs: Mapping[str, int]) -> MixPlan:
    """Return a plan from its pieces and packs, every figure counted anew; whether it stands is for `faults_of`.

    Nothing is known of a better one, so its bound is its value. Pieces and packs of unknown keys are passed over.
    """
    lines = tuple(
        MixLine(
            key=each.key,
            name=each.recipe.name,
            choice=each.recipe.choice,
            pieces=pieces[each.key],
            seconds=each.seconds * pieces[each.key],
            profit_micros=each.profit_micros * pieces[each.key],
            sales_micros=each.sales_micros * pieces[each.key],
        )
        for each in question.designs
        if pieces.get(each.key)
    )
    orders = orders_of(packs, question.timely, question.supplier_by_key)
    arriving = arriving_milli(orders)
    uses = []
    for item, taken in taken_of_each(question, question.draws(), pieces).items():
        stock, bought = stock_of(question.stock, item), arriving.get(item, 0)
        left = None if stock.free_milli is None else stock.free_milli + bought - taken
        uses.append(ItemUse(item, taken, bought, left, stock.is_rough))
    value = sum(each.worth(question.goal) * pieces.get(each.key, 0) for each in question.designs)
    _, late = in_time(question.offers, question.supplier_by_key, question.lead_days)
    return MixPlan(question.goal, lines, tuple(uses), orders, late, value, value, "", 0.0)


def _cheaper_packs(question: MixRequest, pieces: Mapping[str, int], packs: Mapping[str, int]) -> Mapping[str, int]:
    """The cheapest packs for the pieces of a mix; the search only kept them within the money."""
    needs = {}
    for item, taken in taken_of_each(question, question.draws(), pieces).items():
        usable = question.usable_milli(item)
        if usable is not None and taken > usable:
            needs[item] = taken - usable
    try:
        cheapest = cheapest_orders(needs, question.timely, question.supplier_by_key, Search(time_limit_s=1.0))
    except SolverFailed:
        return packs
    before = sum(each.total_micros for each in orders_of(packs, question.timely, question.supplier_by_key))
    if cheapest is None or sum(each.total_micros for each in cheapest) > before:
        return packs
    return {line.offer.key: line.packs for order in cheapest for line in order.lines}
