"""Learning the labour times: finished builds in, estimates and the shop's own rates out.

Not here: the statistical model (pace), the starting rates (rates), how rates become the cost of a design (labour).
Minutes come out as Decimals to a thousandth, rounded half to even; inside they are floats, as estimates may be.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from models.costing.exact import SECONDS_PER_MINUTE, exactly
from models.costing.inputs import Rate
from models.costing.pace import Pace, Timed, learn_pace
from models.trade.vocabulary.bench import TIMINGS, Timing

Number = Decimal | float
Verdict = Timing
VERDICTS: tuple[Verdict, ...] = ("", *TIMINGS)

_THOUSANDTH = Decimal("0.001")
_HUNDREDTH = Decimal("0.01")


class UnknownWork(LookupError):
    """A kind of work has no starting rate."""

    def __init__(self, kind: str) -> None:
        super().__init__(f"no rate for {kind}")
        self.kind = kind


@dataclass(frozen=True, slots=True)
class FinishedBuild:
    """One finished build: what it would have taken at the starting rates, and what it took. Minutes throughout.

    `start_minutes` are the whole build's, by kind of work (see `start_minutes`). `total_minutes` is the one total that
    was noted, `kind_minutes` what was noted per kind, either may be missing. `verdict` is the person's word on an odd
    timing: 'right' uses it, 'odd' leaves it out.
    Raises: ValueError for minutes that are not above zero, and for noted kinds that the build has no work of.
    """

    id: int
    design: Hashable
    start_minutes: Mapping[str, Number]
    total_minutes: Number | None = None
    kind_minutes: Mapping[str, Number] = field(default_factory=dict)
    verdict: Verdict = ""

    def __post_init__(self) -> None:
        taken = [*self.kind_minutes.values()] if self.total_minutes is None else [self.total_minutes]
        for minutes in (*taken, *self.kind_minutes.values()):
            if not math.isfinite(minutes) or minutes <= 0:
                raise ValueError("minutes that were taken are above zero")
        for minutes in self.start_minutes.values():
            if not math.isfinite(minutes) or minutes < 0:
                raise ValueError("minutes at the starting rates are zero or more")
        for kind in self.kind_minutes:
            if not self.start_minutes.get(kind):
                raise ValueError(f"the build has no work of the kind {kind}")


@dataclass(frozen=True, slots=True)
class Range:
    """Minutes: likely (the median), and the 10th and the 90th of a hundred such builds."""

    likely: Decimal
    low: Decimal
    high: Decimal


@dataclass(frozen=True, slots=True)
class Estimate:
    """How long a build takes, and what that rests on.

    `before` is what the starting rates say. `builds` counts the finished builds it rests on, `design_builds` those of
    this design among them; `odd` are the builds that were left out as odd and wait for the person's word.
    """

    likely: Decimal
    low: Decimal
    high: Decimal
    before: Range
    builds: int
    design_builds: int
    odd: tuple[int, ...]
    source: str


@exactly
def start_minutes(counts: Mapping[str, Decimal], rates: Mapping[str, Rate]) -> dict[str, Decimal]:
    """Return the minutes of a build at the rates, by kind, from how often each kind of work is done in all its pieces.

    Counts may be weighted, as for small rings or a hard weave. Raises: UnknownWork.
    """
    minutes = {}
    for kind, count in counts.items():
        if kind not in rates:
            raise UnknownWork(kind)
        if count:
            minutes[kind] = count * rates[kind].seconds / SECONDS_PER_MINUTE
    return minutes


@dataclass(frozen=True)
class Timings:
    """What the shop's builds have taught; made by `learn`."""

    pace: Pace
    design_of: Mapping[int, Hashable]

    @property
    def builds(self) -> int:
        """The number of builds that it rests on."""
        return len(self.pace.used)

    @property
    def odd(self) -> tuple[int, ...]:
        """The builds that were left out as odd."""
        return tuple(self.pace.odd)

    def estimate(
        self, start: Mapping[str, Number], design: Hashable = None, *, rates: Mapping[str, Rate] | None = None
    ) -> Estimate:
        """Return the estimate for a build with these minutes at the starting rates.

        `rates` are the starting rates, whose own ranges are the range of `before` (without them, and for kinds that
        have none, likely stands for all three). As long as no build has taught anything the starting rates hold.
        Raises: ValueError without any work.
        """
        work = {kind: float(minutes) for kind, minutes in start.items() if minutes > 0}
        if not work:
            raise ValueError("an estimate needs some work")
        before = _before(start, rates or {})
        if not self.builds:
            return Estimate(before.likely, before.low, before.high, before, 0, 0, self.odd, "the starting rates")
        middle, reach = self.pace.next(work, design)
        return Estimate(
            likely=_minutes(math.exp(middle)),
            low=_minutes(math.exp(middle - reach)),
            high=_minutes(math.exp(middle + reach)),
            before=before,
            builds=self.builds,
            design_builds=sum(self.design_of[build] == design for build in self.pace.used),
            odd=self.odd,
            source=self.source,
        )

    @property
    def source(self) -> str:
        """Where a learned figure comes from, in words for a page."""
        return "your own build" if self.builds == 1 else f"your own {self.builds} builds"

    def rates(self, starting: Mapping[str, Rate]) -> dict[str, Rate]:
        """Return the starting rates as the builds have moved them; the same ones before the first build.

        Seconds are rounded to a hundredth, the factors of the range to a thousandth, half to even. A kind that no build
        held yet moves with the shop's pace as a whole, and says so.
        """
        if not self.builds:
            return dict(starting)
        return {kind: self._rate(rate) for kind, rate in starting.items()}

    def _rate(self, rate: Rate) -> Rate:
        middle, reach = self.pace.next({rate.kind: 1.0}, None)
        known = self.pace.knows(rate.kind)
        return Rate(
            kind=rate.kind,
            seconds=(rate.seconds * Decimal(repr(math.exp(middle)))).quantize(_HUNDREDTH),
            per=rate.per,
            low_factor=Decimal(repr(math.exp(-reach))).quantize(_THOUSANDTH),
            high_factor=Decimal(repr(math.exp(reach))).quantize(_THOUSANDTH),
            source=self.source if known else f"{rate.source}; moved with {self.source}",
        )


def learn(builds: Sequence[FinishedBuild]) -> Timings:
    """Return what finished builds, oldest first, teach about the next one.

    Builds without minutes, without work at the starting rates, or that the person called odd teach nothing.
    """
    timed = [each for each in (_timed(build) for build in builds if build.verdict != "odd") if each is not None]
    return Timings(learn_pace(timed), {build.id: build.design for build in builds})


def _timed(build: FinishedBuild) -> Timed | None:
    """Return a build as the model sees it; minutes noted for some kinds only are a build of these kinds."""
    start = {kind: float(minutes) for kind, minutes in build.start_minutes.items() if minutes > 0}
    noted = {kind: float(minutes) for kind, minutes in build.kind_minutes.items()}
    if build.total_minutes is None:
        start = {kind: start[kind] for kind in noted}
    total = math.fsum(noted.values()) if build.total_minutes is None else float(build.total_minutes)
    if not start:
        return None
    return Timed(build.id, build.design, start, total, noted, build.verdict == "right")


def _minutes(value: float) -> Decimal:
    return Decimal(repr(value)).quantize(_THOUSANDTH)


def _before(start: Mapping[str, Number], rates: Mapping[str, Rate]) -> Range:
    """Return the range at the starting rates; the kinds' lows and highs add up, as a slow day is slow for all."""
    likely = low = high = 0.0
    for kind, minutes in start.items():
        rate = rates.get(kind)
        likely += float(minutes)
        low += float(minutes) * (1.0 if rate is None else float(rate.low_factor))
        high += float(minutes) * (1.0 if rate is None else float(rate.high_factor))
    return Range(_minutes(likely), _minutes(low), _minutes(high))
