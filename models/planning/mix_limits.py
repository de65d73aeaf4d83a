"""What limits a mix: how much better the best mix would be with one more hour, one more of an item, or a little money.

Each is a search of its own with one unit more, never a price read off a relaxed problem: one ring more often brings
nothing, because a piece takes twenty. Each search starts from the plan, so none comes out worse.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from time import perf_counter

from models.planning.mix import MixPlan, faults_of, plan_mix
from models.planning.mix_request import MixDesign, MixRequest
from models.planning.recipes import PIECE_MILLI, Stock, steps_taken, stock_of
from models.planning.solver import Search, SolverFailed
from models.trade.vocabulary.plans import Limiting

What = Limiting

HOUR_S = 3600
MONEY_UNIT_MICROS = 1_000_000


@dataclass(frozen=True, slots=True)
class Limit:
    """One unit more of something and what it would bring: seconds, thousandths of an item, or millionths of money.

    `gain` is in the plan's own measure, over the plan as it stands: where that is not proven best, a part of it may be
    what a longer search would have found anyway. `at_most` is what no search could exceed.
    """

    what: What
    item: int | None
    unit: int
    gain: int
    at_most: int

    @property
    def proven(self) -> bool:
        """Whether no more could be gained."""
        return self.gain == self.at_most


@dataclass(frozen=True, slots=True)
class Limits:
    """What one unit more of each thing would bring, most first; `not_tried` items found no time."""

    tried: tuple[Limit, ...]
    not_tried: tuple[int, ...]

    @property
    def best(self) -> Limit | None:
        """What would bring most; None where one unit more of anything brings nothing."""
        return self.tried[0] if self.tried and self.tried[0].gain else None


def what_limits(
    question: MixRequest,
    plan: MixPlan,
    search: Search | None = None,
    *,
    item_units: Mapping[int, int] | None = None,
    most_items: int = 12,
) -> Limits:
    """Return what one more hour, one more unit of money and one more of each short item would bring to a plan.

    First come the items of which the plan leaves too little for one more of some design, those that hold up most
    designs before others; then all that could run out in another mix. `most_items` of them are tried. `item_units` is
    the unit of an item in thousandths where it is not one whole. All searches share the time limit.
    Raises: ValueError for a plan that is not one of this question.
    """
    wrong = faults_of(question, plan)
    if wrong:
        raise ValueError(f"this plan does not answer the question: {wrong[0]}")
    search = replace(search or Search(), progress=None)
    items = _items_that_may_limit(question, plan)
    questions: list[tuple[What, int | None, int, MixRequest]] = []
    if question.seconds is not None:
        questions.append(("hours", None, HOUR_S, replace(question, seconds=question.seconds + HOUR_S)))
    if question.spend_micros and question.timely:
        richer = replace(question, spend_micros=question.spend_micros + MONEY_UNIT_MICROS)
        questions.append(("money", None, MONEY_UNIT_MICROS, richer))
    for item in items[:most_items]:
        unit = (item_units or {}).get(item, PIECE_MILLI)
        questions.append(("item", item, unit, replace(question, stock=_with_more(question, item, unit))))
    tried: list[Limit] = []
    not_tried = list(items[most_items:])
    began = perf_counter()
    for number, (what, which, unit, richer) in enumerate(questions):
        left_s = search.time_limit_s - (perf_counter() - began)
        if left_s <= 0 or (search.cancelled is not None and search.cancelled()):
            not_tried = [each for _, each, _, _ in questions[number:] if each is not None] + not_tried
            break
        try:
            found = plan_mix(richer, replace(search, time_limit_s=left_s / (len(questions) - number)), known=plan)
        except SolverFailed:
            if which is not None:
                not_tried.append(which)
            continue
        if isinstance(found, MixPlan):
            gain = max(found.value - plan.value, 0)
            tried.append(Limit(what, which, unit, gain, max(found.bound - plan.value, gain)))
    tried.sort(key=lambda limit: (-limit.gain, -limit.at_most))
    return Limits(tuple(tried), tuple(not_tried))


def _items_that_may_limit(question: MixRequest, plan: MixPlan) -> list[int]:
    """The items that one more of could matter for: those that hold up designs in the plan, then all others."""
    left = {}
    for use in plan.uses:
        usable = question.usable_milli(use.item)
        left[use.item] = None if usable is None else usable + use.bought_milli - use.taken_milli
    held_up: dict[int, int] = {}
    wanted: dict[int, int | None] = {}
    draws, pieces = question.draws(), plan.pieces
    for each in question.designs:
        made, most = pieces.get(each.key, 0), _most_wished(question, each)
        if each.recipe.unknown or most == 0:
            continue
        for item, lines in draws[each.key].items():
            usable = question.usable_milli(item)
            if usable is None:
                continue
            step = stock_of(question.stock, item).step_milli
            so_far = wanted.get(item, 0)
            wanted[item] = None if most is None or so_far is None else so_far + steps_taken(lines, most) * step
            more = (steps_taken(lines, made + 1) - steps_taken(lines, made)) * step
            if made != most and each.worth(question.goal) > 0 and more > (left.get(item, usable) or 0):
                held_up[item] = held_up.get(item, 0) + 1
    may_run_out = [
        item for item, milli in wanted.items() if milli is None or milli > (question.usable_milli(item) or 0)
    ]
    return sorted(may_run_out, key=lambda item: (-held_up.get(item, 0), item))


def _most_wished(question: MixRequest, design: MixDesign) -> int | None:
    """How many of a design the wish and the hours, one more at that, would allow; None where neither limits it."""
    limits = [] if design.at_most is None else [design.at_most]
    if question.seconds is not None and design.seconds:
        limits.append((question.seconds + HOUR_S) // design.seconds)
    return min(limits, default=None)


def _with_more(question: MixRequest, item: int, milli: int) -> dict[int, Stock]:
    """The stock with so much more of one item that may be used, also where less is there than is to be kept back."""
    have = stock_of(question.stock, item)
    free = max(have.free_milli or 0, question.keep_back.get(item, 0))
    return {**question.stock, item: replace(have, free_milli=free + milli)}
