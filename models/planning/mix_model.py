"""The mix as an integer programme: its columns, its rows, and what they mean when they are read back.

A build rounds the allowance up once for each line. The programme does so for the items it is told to (`rounded`) and
takes the unrounded need of the others, which can only promise too much; `mix_search` rounds what turns out to matter.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import gcd, lcm

from models.planning.mix_request import Give, MixRequest, most_of_each, useful_milli
from models.planning.offers import Basket
from models.planning.recipes import Draw, Draws, steps_taken, stock_of
from models.planning.solver import Programme


class MixModel:
    """One programme for a question.

    `give` lets one kind of wish give way, by as little as can be; without it the goal is made as large as possible.
    `near` holds pieces from which no design moves far: a small programme around a known mix.
    """

    def __init__(
        self,
        question: MixRequest,
        draws: Mapping[str, Draws],
        rounded: frozenset[int],
        *,
        give: Give = "",
        near: Mapping[str, tuple[int, int]] | None = None,
    ) -> None:
        self.question = question
        self.draws = draws
        self.programme = Programme()
        self.x: dict[str, int] = {}
        self._give = give
        self._whole: list[tuple[int, str, Draw]] = []
        self._made: dict[str, int] = {}
        self._slacks: list[int] = []
        self._kept: dict[int, tuple[int, int]] = {}
        most = {key: limit or 0 for key, limit in most_of_each(question, draws, give).items()}
        self._pieces(most, near or {})
        budget = None if give == "money" else question.spend_micros
        useful = useful_milli(question, draws, most)
        self.basket = Basket(self.programme, question.timely, question.supplier_by_key, useful, budget_micros=budget)
        self._stock(rounded, most)
        self._hours()
        self._money()
        self._different()
        if give:
            for column in self._slacks:
                self.programme.worth[column] = -1

    def pieces(self, values: Sequence[int]) -> dict[str, int]:
        """Return how many of each design a solution makes."""
        return {key: values[column] for key, column in self.x.items()}

    def kept_used(self, values: Sequence[int]) -> dict[int, int]:
        """Return how much a solution takes of what was to be kept back, by item in thousandths."""
        return {item: values[column] * step for column, (item, step) in self._kept.items() if values[column]}

    def start(self, pieces: Mapping[str, int], packs: Mapping[str, int]) -> list[int]:
        """Return the values of all columns for a known mix and its packs."""
        values = [0] * len(self.programme.worth)
        for key, column in self.x.items():
            values[column] = pieces.get(key, 0)
        for column, key, draw in self._whole:
            values[column] = draw.steps(pieces.get(key, 0))
        for column, value in self.basket.values_for(packs).items():
            values[column] = value
        for design, column in self._made.items():
            values[column] = int(
                any(pieces.get(each.key) for each in self.question.designs if each.counts_as == design)
            )
        return values

    def _pieces(self, most: Mapping[str, int], near: Mapping[str, tuple[int, int]]) -> None:
        """How many of each design; where pieces give way, how many fewer than wished."""
        for each in self.question.designs:
            low, high = (0 if self._give == "pieces" else each.at_least), most[each.key]
            if each.key in near:
                low, high = max(low, near[each.key][0]), min(high, near[each.key][1])
            # More wished than can be: the row below can't hold, and the solver says so.
            worth = 0 if self._give else each.worth(self.question.goal)
            column = self.programme.column(high, low=min(low, high), worth=worth)
            self.x[each.key] = column
            if low > high:
                self.programme.row({column: 1}, low=low)
            if self._give == "pieces" and each.at_least:
                short = self._slack(each.at_least)
                self.programme.row({column: 1, short: 1}, low=each.at_least)

    def _stock(self, rounded: frozenset[int], most: Mapping[str, int]) -> None:
        """What the pieces take of each item is there or bought."""
        users: dict[int, list[tuple[str, Draw]]] = {}
        for key, by_item in self.draws.items():
            for item, draws in by_item.items():
                users.setdefault(item, []).extend((key, draw) for draw in draws)
        for item, lines in users.items():
            usable = self.question.usable_milli(item)
            if usable is None:
                continue
            step = stock_of(self.question.stock, item).step_milli
            terms: dict[int, int] = {}
            times = 1 if item in rounded else lcm(*(draw.denominator for _, draw in lines))
            for key, draw in lines:
                column, steps = self._steps(key, draw, most[key], times)
                terms[column] = terms.get(column, 0) + steps * step
            for bought, milli in self.basket.arriving(item).items():
                terms[bought] = -milli * times
            if self._give == "keep_back":
                kept = (self.question.usable_milli(item, kept=False) or 0) - usable
                if kept:
                    slack = self._slack(-(-kept // step))
                    self._kept[slack] = (item, step)
                    terms[slack] = -times * step
            self.programme.row(terms, high=usable * times)

    def _steps(self, key: str, draw: Draw, most: int, times: int) -> tuple[int, int]:
        """The column that counts what a line takes, and the steps of one of it; rounded up unless multiplied out."""
        column = self.x[key]
        if times % draw.denominator == 0:
            return column, draw.numerator * (times // draw.denominator)
        if most <= 1:
            return column, draw.steps(1)
        whole = self.programme.column(draw.steps(most))
        self.programme.row({column: draw.numerator, whole: -draw.denominator}, high=0)
        self._whole.append((whole, key, draw))
        return whole, 1

    def _hours(self) -> None:
        if self.question.seconds is None:
            return
        terms = {self.x[each.key]: each.seconds for each in self.question.designs}
        if self._give == "hours":
            self._give_by_steps(terms)
        self.programme.row(terms, high=self.question.seconds)

    def _money(self) -> None:
        terms = dict(self.basket.cost)
        if not terms:
            return
        if self._give == "money":
            self._give_by_steps(terms)
        self.programme.row(terms, high=self.question.spend_micros)

    def _different(self) -> None:
        """At least so many different designs, whatever their choices."""
        if not self.question.different:
            return
        choices: dict[str, dict[int, int]] = {}
        for each in self.question.designs:
            choices.setdefault(each.counts_as, {})[self.x[each.key]] = 1
        for design, columns in choices.items():
            made = self._made[design] = self.programme.column(1)
            self.programme.row({**columns, made: -1}, low=0)
        terms = dict.fromkeys(self._made.values(), 1)
        if self._give == "pieces":
            terms[self._slack(self.question.different)] = 1
        self.programme.row(terms, low=self.question.different)

    def _give_by_steps(self, terms: dict[int, int]) -> None:
        """Let a sum go beyond its end, in the steps in which it grows."""
        step = gcd(*terms.values()) or 1
        most = sum(self.programme.highs[column] * times for column, times in terms.items() if times > 0)
        terms[self._slack(-(-most // step))] = -step

    def _slack(self, most: int) -> int:
        """A column by which a wish gives way."""
        column = self.programme.column(most)
        self._slacks.append(column)
        return column


def fractional_items(draws: Iterable[Draws]) -> frozenset[int]:
    """Return the items of which some line takes a fraction for one piece, so that rounding up matters."""
    return frozenset(
        item for by_item in draws for item, lines in by_item.items() if any(draw.denominator > 1 for draw in lines)
    )


def taken_of_each(question: MixRequest, draws: Mapping[str, Draws], pieces: Mapping[str, int]) -> dict[int, int]:
    """Return what builds of so many pieces take of each item in thousandths, each line rounded up once."""
    taken: dict[int, int] = {}
    for key, count in pieces.items():
        if count:
            for item, lines in draws[key].items():
                step = stock_of(question.stock, item).step_milli
                taken[item] = taken.get(item, 0) + steps_taken(lines, count) * step
    return taken
