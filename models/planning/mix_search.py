"""The search for a mix: rounds of the integer programme until what it found stands in whole numbers.

Each round is a programme that promises too much at most, so its bound is a bound of the real thing. What it finds is
counted again as builds would take it; items that come out short are rounded up line by line in the next round.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from time import perf_counter

from models.planning.mix_model import MixModel, fractional_items, taken_of_each
from models.planning.mix_request import Give, MixRequest
from models.planning.offers import arriving_milli, orders_of
from models.planning.recipes import Draws
from models.planning.solver import NotSolved, Progress, Search, Solved, SolverFailed, Stopped, gap_between, solve

# What is kept of the time to mend what a round finds, and at the most which share of what is left.
_MEND_S = 1.0
_MEND_SHARE = 0.3
_NEAR = ((1, 0), (3, 1), (10**9, 1))
"""How many pieces fewer and more of each design a mended mix may have, tried in this order."""


@dataclass(frozen=True, slots=True)
class Found:
    """A mix that stands in whole numbers: pieces by design, packs by offer, and by how much wishes gave way."""

    pieces: Mapping[str, int]
    packs: Mapping[str, int]
    value: int
    bound: int
    stopped: Stopped


@dataclass(frozen=True, slots=True)
class NotFound:
    """Nothing: because nothing meets every wish, or because the search stopped before."""

    impossible: bool
    bound: int
    stopped: Stopped


class MixSearch:
    """One search: the best mix for a question, or the least by which one kind of wish must give way."""

    def __init__(self, question: MixRequest, search: Search, *, give: Give = "") -> None:
        self.question = question
        self.search = search
        self.give = give
        self.draws: dict[str, Draws] = question.draws()
        self._fractional = fractional_items(self.draws.values())
        self._began = perf_counter()
        self._best: Found | None = None
        self._bound: int | None = None

    def go(self, known: Mapping[str, int] | None = None, packs: Mapping[str, int] | None = None) -> Found | NotFound:
        """Search, from a known mix and its packs where there is one. Raises: SolverFailed."""
        rounded: frozenset[int] = frozenset()
        if known is not None:
            self._keep_known(known, packs or {})
        start = (self._best.pieces, self._best.packs) if self._best else None
        while True:
            model = MixModel(self.question, self.draws, rounded, give=self.give)
            exact = self._fractional <= rounded
            try:
                found = self._solve(model, exact=exact, start=start)
            except SolverFailed:
                if self._best is None:
                    raise
                # What was found before stands; only how good it is stays open.
                self._lower(model.programme.ceiling)
                return self._ended("time")
            self._lower(found.bound)
            if isinstance(found, NotSolved):
                if found.impossible:
                    return NotFound(impossible=True, bound=self._bound or 0, stopped="")
                return self._ended(found.stopped)
            pieces, packs = model.pieces(found.values), model.basket.bought(found.values)
            short = self.short_of(pieces, packs, model.kept_used(found.values))
            if not short:
                self._keep(pieces, packs, found.value)
                return self._ended(found.stopped)
            if short <= rounded:
                raise SolverFailed(f"items {sorted(short)} come out short although they were counted")
            self._mend(pieces)
            close = self._best is not None and gap_between(self._best.value, self._bound or 0) <= self.search.gap
            if found.stopped == "cancelled" or close or self._left_s() <= 0.05:
                return self._ended(found.stopped if not close else "")
            rounded |= short
            if self._best is not None:
                start = (self._best.pieces, self._best.packs)

    def short_of(
        self, pieces: Mapping[str, int], packs: Mapping[str, int], kept_used: Mapping[int, int]
    ) -> frozenset[int]:
        """Return the items of which builds would take more than is there, bought, or given way to."""
        orders = orders_of(packs, self.question.timely, self.question.supplier_by_key)
        arriving = arriving_milli(orders)
        short = set()
        for item, taken in taken_of_each(self.question, self.draws, pieces).items():
            usable = self.question.usable_milli(item)
            if usable is not None and taken > usable + arriving.get(item, 0) + kept_used.get(item, 0):
                short.add(item)
        return frozenset(short)

    def _solve(
        self,
        model: MixModel,
        *,
        exact: bool,
        start: tuple[Mapping[str, int], Mapping[str, int]] | None,
    ) -> Solved | NotSolved:
        """One round, with the time that is left but for some to mend it."""
        limit = self._left_s()
        if not exact:
            limit -= min(_MEND_S, limit * _MEND_SHARE)
        told = self.search.progress

        def progress(each: Progress) -> None:
            best = self._best.value if self._best else None
            if exact and each.value is not None:
                best = each.value if best is None else max(best, each.value)
            if each.bound is not None:
                self._lower(each.bound)
            if told is not None:
                told(Progress(perf_counter() - self._began, best, self._bound))

        search = replace(self.search, time_limit_s=limit, progress=progress if told else None)
        return solve(model.programme, search, start=model.start(*start) if start else None)

    def _mend(self, pieces: Mapping[str, int]) -> None:
        """Look close to a mix that takes a little too much for the best one that does not."""
        start = (self._best.pieces, self._best.packs) if self._best else None
        for fewer, more in _NEAR:
            near = {key: (max(count - fewer, 0), count + more) for key, count in pieces.items()}
            model = MixModel(self.question, self.draws, self._fractional, give=self.give, near=near)
            limit = max(min(self._left_s(), _MEND_S), 0.1)
            search = replace(self.search, time_limit_s=limit, progress=None)
            try:
                found = solve(model.programme, search, start=model.start(*start) if start else None)
            except SolverFailed:
                return
            if isinstance(found, Solved):
                self._keep(model.pieces(found.values), model.basket.bought(found.values), found.value)
                return
            if not found.impossible:
                return

    def _keep_known(self, pieces: Mapping[str, int], packs: Mapping[str, int]) -> None:
        """Keep a known mix if it still meets every wish and limit."""
        model = MixModel(self.question, self.draws, frozenset(), give=self.give)
        values = model.start(pieces, packs)
        if not any(model.programme.broken(values)) and not self.short_of(pieces, packs, {}):
            self._keep(pieces, packs, model.programme.value(values))

    def _keep(self, pieces: Mapping[str, int], packs: Mapping[str, int], value: int) -> None:
        if self._best is None or value > self._best.value:
            self._best = Found(pieces, packs, value, value, "")

    def _lower(self, bound: int) -> None:
        self._bound = bound if self._bound is None else min(self._bound, bound)

    def _ended(self, stopped: Stopped) -> Found | NotFound:
        bound = self._bound or 0
        if self._best is None:
            return NotFound(impossible=False, bound=bound, stopped=stopped or "time")
        return replace(self._best, bound=max(bound, self._best.value), stopped=stopped)

    def _left_s(self) -> float:
        return self.search.time_limit_s - (perf_counter() - self._began)
