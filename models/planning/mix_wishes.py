"""When no mix meets all wishes: which can't be met and by how much, and what would have to give way instead.

First the pieces give way: with the hours, money and stock as they are, as few of the wished pieces as possible are
missing. Then each of hours, money and kept-back stock gives way alone, by as little as can be, with all pieces wished.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from time import perf_counter
from typing import Literal

from models.planning.makeable import Missing
from models.planning.mix_model import taken_of_each
from models.planning.mix_request import Give, MixRequest
from models.planning.mix_search import Found, MixSearch
from models.planning.offers import arriving_milli, most_milli, orders_of
from models.planning.recipes import ZERO, stock_of
from models.planning.solver import Search, SolverFailed
from models.planning.troubles import in_hours, in_units, listed
from models.trade.money import from_micros

MOST_TOLD = 4


@dataclass(frozen=True, slots=True)
class Short:
    """A wish that can't be met with everything else as it is: of a design (`key`), or of different designs (no key).

    `possible` of the `wanted` pieces or designs can be; `field` is where it was wished.
    """

    field: str
    key: str
    wanted: int
    possible: int
    message: str

    @property
    def by(self) -> int:
        """How many are missing."""
        return self.wanted - self.possible


@dataclass(frozen=True, slots=True)
class Instead:
    """What would meet every wish if it alone gave way, by as little as can be.

    `by` is in seconds, in millionths of money, or in thousandths of the items in `kept`. `proven` tells whether less
    would not do.
    """

    what: Literal["hours", "money", "keep_back"]
    by: int
    kept: Mapping[int, int]
    proven: bool
    message: str


@dataclass(frozen=True, slots=True)
class Unmeetable:
    """No mix meets all wishes. `short` are the fewest wishes that fail, one of perhaps several ways.

    `proven` tells whether fewer could not fail. `instead` are the ways out; when there are none, no single one of
    hours, money and kept-back stock is enough. `lacking` is what the wished pieces take beyond free stock and all
    offers. `message` is the whole answer in plain words.
    """

    short: tuple[Short, ...]
    proven: bool
    instead: tuple[Instead, ...]
    lacking: tuple[Missing, ...]
    message: str


def unmeetable(question: MixRequest, search: Search) -> Unmeetable:
    """Return which wishes of a question fail and what would have to give way; each search has a share of the time.

    Raises: SolverFailed.
    """
    began = perf_counter()
    searches: list[tuple[Give, bool]] = [
        ("pieces", True),
        ("hours", question.seconds is not None),
        ("money", bool(question.timely)),
        ("keep_back", any(question.keep_back.values())),
    ]
    asked = [give for give, sensible in searches if sensible]
    found: dict[Give, Found] = {}
    for number, give in enumerate(asked):
        left_s = search.time_limit_s - (perf_counter() - began)
        share = replace(search, gap=ZERO, progress=None, time_limit_s=max(left_s / (len(asked) - number), 0.1))
        try:
            answer = MixSearch(question, share, give=give).go()
        except SolverFailed:
            continue  # the other ways are still told
        if isinstance(answer, Found):
            found[give] = answer
    pieces = found.get("pieces")
    short = _short(question, pieces.pieces if pieces else {})
    ways = [_instead(question, give, each) for give, each in found.items() if give != "pieces"]
    instead, lacking = tuple(each for each in ways if each is not None), _lacking(question)
    return Unmeetable(
        short=short,
        proven=pieces is not None and pieces.bound == pieces.value,
        instead=instead,
        lacking=lacking,
        message=_message(question, short, instead, lacking),
    )


def _message(
    question: MixRequest, short: Sequence[Short], instead: Sequence[Instead], lacking: Sequence[Missing]
) -> str:
    """The whole answer: what fails, what is not to be had, and what would help."""
    said = ["Not all wishes fit together."] if len(short) > 1 else []
    said += [each.message for each in short[:MOST_TOLD]]
    if len(short) > MOST_TOLD:
        said.append(f"{len(short) - MOST_TOLD} more wishes fail.")
    if lacking:
        names = [f"{in_units(each.milli)} of {stock_of(question.stock, each.item).called}" for each in lacking]
        said.append(f"Neither free nor on offer: {listed(names)}.")
    elif instead:
        said.append(f"All would fit with {listed([each.message for each in instead], last='or')}.")
    else:
        said.append("More hours, more money or less kept back would not be enough by itself.")
    return " ".join(said)


def _short(question: MixRequest, pieces: Mapping[str, int]) -> tuple[Short, ...]:
    """The wishes that fail in a mix that fails as few as possible."""
    short = []
    for each in question.designs:
        possible = pieces.get(each.key, 0)
        if possible < each.at_least:
            message = f"You want {each.at_least} of {each.recipe.name}, but {possible or 'none'} can be made."
            short.append(Short(f"designs.{each.key}.at_least", each.key, each.at_least, possible, message))
    made = {each.counts_as for each in question.designs if pieces.get(each.key)}
    if len(made) < question.different:
        message = f"You want {question.different} different designs, but {len(made) or 'none'} can be made."
        short.append(Short("different", "", question.different, len(made), message))
    return tuple(short)


def _instead(question: MixRequest, give: Give, found: Found) -> Instead | None:
    """What gave way, counted again from the pieces and packs; None where nothing had to."""
    proven = found.bound == found.value
    taken = taken_of_each(question, question.draws(), found.pieces)
    orders = orders_of(found.packs, question.timely, question.supplier_by_key)
    if give == "hours":
        seconds = sum(each.seconds * found.pieces.get(each.key, 0) for each in question.designs)
        by = seconds - (question.seconds or 0)
        return Instead("hours", by, {}, proven, f"{in_hours(by)} more") if by > 0 else None
    if give == "money":
        by = sum(order.total_micros for order in orders) - question.spend_micros
        return Instead("money", by, {}, proven, f"{from_micros(by)} more to spend") if by > 0 else None
    arriving = arriving_milli(orders)
    kept = {}
    for item, milli in taken.items():
        usable = question.usable_milli(item)
        beyond = 0 if usable is None else milli - usable - arriving.get(item, 0)
        if beyond > 0:
            kept[item] = beyond
    if not kept:
        return None
    names = [f"{in_units(milli)} of {stock_of(question.stock, item).called}" for item, milli in kept.items()]
    return Instead("keep_back", sum(kept.values()), kept, proven, f"{listed(names)} less kept back")


def _lacking(question: MixRequest) -> tuple[Missing, ...]:
    """What the wished pieces take of each item beyond free stock, kept back or not, and everything on offer."""
    wished = {each.key: each.at_least for each in question.designs}
    lacking = []
    for item, taken in taken_of_each(question, question.draws(), wished).items():
        usable = question.usable_milli(item, kept=False)
        there = most_milli(offer for offer in question.timely if offer.item == item)
        if usable is not None and there is not None and taken > usable + there:
            lacking.append(Missing(item, taken - usable - there, stock_of(question.stock, item).is_rough))
    return tuple(lacking)
