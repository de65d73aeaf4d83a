"""The pace of a bench: what finished builds teach about how long the next one takes, as a filter over them.

Not here: what a build or an estimate looks like to others (timings), the starting rates (rates). Floats: times are
estimates. Everything is in natural logarithms of minutes on the minutes at the starting rates.

The model. A build with B_k minutes at the starting rates of kind k takes, in all,
    log y = log sum_k B_k exp(w + d_k) + o + e
with the pace w of the whole shop, which wanders from build to build; what a kind of work differs by, d_k ~ N(0,
KIND_SD^2); what a design differs by, o ~ N(0, DESIGN_SD^2); and the noise e of one build, Student's t with TAIL degrees
of freedom and scale s. At first w ~ N(0, WHOLE_SD^2): with nothing learned the starting rates hold, and each build
pulls the estimate away from them. Minutes noted per kind say how a build divides: log(y_k / y_j) has its own noise,
SHARE_SD.

The filter. The sum is made linear at the present estimate. The variance of w grows by DRIFT s^2 from one build to the
next, so that old builds fade. A build's gain uses s^2 / weight with weight (TAIL + 1) / (TAIL + z^2), z its forecast
error in standard deviations, so that odd builds pull little. The scale s is one of a grid of values, each weighed by
how well it foresaw every build, from a prior that is wide in log s; the builds are gone through twice, the second time
with the scale so found. The range of the next build mixes the forecasts of all scales. Its width is multiplied by
WIDEN, found by simulation, for what linear steps and fixed constants leave out.

Odd builds, far off the forecast, are put aside; a second one that agrees with the first means a new pace instead.

Sources, from memory: West and Harrison, Bayesian Forecasting and Dynamic Models (wandering level, mixtures over a
grid); Gelman and others, Bayesian Data Analysis (partial pooling); Lange, Little and Taylor 1989 (weights of Student's
t). The constants are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from models.trade.chances import t_cdf, t_quantile

WHOLE_SD = 0.7
KIND_SD = 0.25
DESIGN_SD = 0.12
SHARE_SD = 0.2
DRIFT = 0.15
TAIL = 5.0
NOISE = 0.2
NOISE_LOG_SD = 1.5
NOISE_FADES = 0.98
# The noise is first found from so many of the last builds; what older ones say of it has faded.
NOISE_FROM = 60
WIDEN = 1.08
NOISE_GRID = tuple(0.04 * 1.35**step for step in range(11))

# A build is odd that lies so many standard deviations and so large a factor off.
ODD_DEVIATIONS = 4.0
ODD_FACTOR = 2.0
# Nothing is so many times off without a second build that says the same, however little is known yet.
ODD_ANYWAY = 6.0
# Two odd builds in a row that agree to within this factor are a new pace.
AGREE_FACTOR = 1.5
# So many designs keep an offset of their own; more would slow the filter and teach little.
MOST_DESIGNS = 12

_Z90 = 1.2815515655446004
_TAIL90 = t_quantile(0.9, TAIL)

# An observation that takes less than this share of a variance away leaves it.
_MATTERS = 1e-5

Terms = list[tuple[int, float]]


@dataclass(frozen=True, slots=True)
class Timed:
    """One timed build as the filter sees it: minutes at the starting rates, and minutes taken; all above zero."""

    key: int
    design: Hashable
    start: Mapping[str, float]
    total: float
    noted: Mapping[str, float] = field(default_factory=dict)
    trusted: bool = False


class Pace:
    """What has been learned so far: means and covariances of the pace, the kinds and the designs, and the noise."""

    def __init__(self, noise_variance: float, designs: frozenset[Hashable]) -> None:
        self._noise = noise_variance
        self._ratios = [scale / math.sqrt(noise_variance) for scale in NOISE_GRID]
        self._designs = designs
        self._places: dict[tuple[str, Hashable], int] = {}
        self._mean = [0.0]
        self._cov = [[WHOLE_SD**2]]
        self._prior = [-0.5 * (math.log(scale / NOISE) / NOISE_LOG_SD) ** 2 for scale in NOISE_GRID]
        self._evidence = list(self._prior)
        self._odd_before: tuple[Timed, float] | None = None
        self._held: set[str] = set()
        self.used: list[int] = []
        self.odd: list[int] = []

    # --- the state ---

    def _place(self, kind: str, name: Hashable, sd: float) -> int:
        """Return where a kind of work or a design stands in the state; a new one starts from its prior."""
        place = self._places.get((kind, name))
        if place is None:
            place = self._places[kind, name] = len(self._mean)
            self._mean.append(0.0)
            for row in self._cov:
                row.append(0.0)
            self._cov.append([0.0] * place + [sd * sd])
        return place

    def _copy(self) -> Pace:
        """Return a pace with a state of its own, for forecasts only."""
        copy = Pace(self._noise, self._designs)
        copy._places = dict(self._places)
        copy._mean = list(self._mean)
        copy._cov = [list(row) for row in self._cov]
        return copy

    def knows(self, kind: str) -> bool:
        """Tell whether any build held this kind of work."""
        return kind in self._held

    def _whole(self, start: Mapping[str, float]) -> tuple[float, Terms]:
        """Return the forecast of log minutes without a design, and how it depends on the state."""
        places = [self._place("kind", kind, KIND_SD) for kind in start]
        minutes = [value * math.exp(self._mean[place]) for place, value in zip(places, start.values(), strict=True)]
        whole = math.fsum(minutes)
        terms = [(0, 1.0), *((place, value / whole) for place, value in zip(places, minutes, strict=True))]
        return math.log(whole) + self._mean[0], terms

    def _forecast(self, start: Mapping[str, float], design: Hashable) -> tuple[float, list[float], float]:
        """Return the forecast of log minutes, its covariances with the state, and its variance but for the noise."""
        middle, terms = self._whole(start)
        if design in self._designs:
            place = self._place("design", design, DESIGN_SD)
            covariances, variance = self._project([*terms, (place, 1.0)])
            return middle + self._mean[place], covariances, variance
        covariances, variance = self._project(terms)
        return middle, covariances, variance + DESIGN_SD**2

    def _project(self, terms: Terms) -> tuple[list[float], float]:
        covariances = [0.0] * len(self._mean)
        for place, factor in terms:
            row = self._cov[place]
            covariances = [summed + factor * value for summed, value in zip(covariances, row, strict=False)]
        # Rounding must not leave a variance below zero.
        return covariances, max(0.0, math.fsum(factor * covariances[place] for place, factor in terms))

    def _update(self, covariances: Sequence[float], error: float, variance: float) -> None:
        """Move the state by one observation whose forecast erred by `error` with this variance in all."""
        gain = error / variance
        # What hardly depends on this observation is left as it is: nearly all other designs.
        some = [
            value if value * value > _MATTERS * variance * self._cov[place][place] else 0.0
            for place, value in enumerate(covariances)
        ]
        self._mean = [mean + gain * value for mean, value in zip(self._mean, some, strict=False)]
        for place, value in enumerate(some):
            if value:
                part, row = value / variance, self._cov[place]
                self._cov[place] = [old - part * other for old, other in zip(row, some, strict=False)]

    # --- one build ---

    def add(self, build: Timed) -> None:
        """Learn from the next build, or put it aside as odd."""
        self._cov[0][0] += DRIFT * self._noise
        forecast = self._forecast(build.start, build.design)
        middle, _, variance = forecast
        error = math.log(build.total) - middle
        off = min(ODD_DEVIATIONS * math.sqrt(variance + self._noise), math.log(ODD_ANYWAY))
        far = abs(error) > max(off, math.log(ODD_FACTOR))
        if build.trusted or not far:
            self._odd_before = None
            self._learn(build, forecast)
        elif self._odd_before is not None and abs(self._odd_before[1] - error) < math.log(AGREE_FACTOR):
            # Two that agree are no accident: the pace has changed, and both teach the new one.
            first = self._odd_before[0]
            self._odd_before = None
            self.odd.remove(first.key)
            self._cov[0][0] += error * error
            for each in (first, build):
                self._learn(each, self._forecast(each.start, each.design))
        else:
            self._odd_before = (build, error)
            self.odd.append(build.key)

    def _learn(self, build: Timed, forecast: tuple[float, list[float], float]) -> None:
        middle, covariances, variance = forecast
        error = math.log(build.total) - middle
        self._weigh_scales(error, variance)
        weight = (TAIL + 1) / (TAIL + error * error / (variance + self._noise))
        self._update(covariances, error, variance + self._noise / weight)
        self._learn_shares(build)
        self._held.update(build.start)
        self.used.append(build.key)

    def _learn_shares(self, build: Timed) -> None:
        """Learn from the minutes noted per kind: how they divide, and which part of the whole they are."""
        if not build.noted:
            return
        start = {kind: build.start[kind] for kind in build.noted}
        noted = math.fsum(build.noted.values())
        if len(start) < len(build.start) and noted < build.total:
            part, part_terms = self._whole(start)
            whole, whole_terms = self._whole(build.start)
            apart = [*part_terms, *((place, -factor) for place, factor in whole_terms)]
            self._learn_contrast(math.log(noted / build.total), part - whole, apart)
        # Each kind against the longest one: the ratio of two kinds depends on these two alone.
        longest = max(build.noted, key=lambda kind: build.noted[kind])
        base = self._place("kind", longest, KIND_SD)
        for kind, minutes in build.noted.items():
            if kind != longest:
                place = self._place("kind", kind, KIND_SD)
                foreseen = math.log(start[kind] / start[longest]) + self._mean[place] - self._mean[base]
                seen = math.log(minutes / build.noted[longest])
                self._learn_contrast(seen, foreseen, [(place, 1.0), (base, -1.0)])

    def _learn_contrast(self, seen: float, foreseen: float, terms: Terms) -> None:
        covariances, variance = self._project(terms)
        self._update(covariances, seen - foreseen, variance + SHARE_SD**2)

    # --- the noise ---

    def _weigh_scales(self, error: float, variance: float) -> None:
        """Weigh each scale by how well it foresaw a build.

        Had the noise another scale, the state's variance would lie between the prior's part, which stays, and the
        data's, which grows with the square: it is taken to grow with the ratio of the scales.
        """
        square, evidence = error * error / TAIL, []
        for scale, ratio, prior, old in zip(NOISE_GRID, self._ratios, self._prior, self._evidence, strict=False):
            spread = variance * ratio + scale * scale
            fit = -0.5 * math.log(spread) - (TAIL + 1) / 2 * math.log1p(square / spread)
            evidence.append(prior + NOISE_FADES * (old - prior) + fit)
        self._evidence = evidence

    def scale_weights(self) -> list[float]:
        """Return the weights of the scales of the noise, together 1."""
        most = max(self._evidence)
        weights = [math.exp(value - most) for value in self._evidence]
        whole = math.fsum(weights)
        return [weight / whole for weight in weights]

    def noise_variance(self) -> float:
        """Return the square of the noise's scale, as the geometric mean over the weighed scales."""
        logs = (weight * math.log(scale) for weight, scale in zip(self.scale_weights(), NOISE_GRID, strict=True))
        return math.exp(2 * math.fsum(logs))

    # --- the next build ---

    def next(self, start: Mapping[str, float], design: Hashable) -> tuple[float, float]:
        """Return the log minutes of the next build, and how far its 10th and 90th of a hundred lie to either side."""
        # Kinds and designs that are new take a place from their prior: in a copy, as asking must not change anything.
        middle, _, variance = self._copy()._forecast(start, design)
        variance += DRIFT * self._noise
        # Each scale's forecast is a Student's t with the 90th of a hundred that its two parts have together.
        reaches = [
            math.sqrt(variance * ratio * _Z90**2 + (scale * _TAIL90) ** 2)
            for scale, ratio in zip(NOISE_GRID, self._ratios, strict=True)
        ]
        parts = [part for part in zip(self.scale_weights(), reaches, strict=True) if part[0] > 1e-6]

        def over(reach: float) -> float:
            return math.fsum(weight * t_cdf(reach / one * _TAIL90, TAIL) for weight, one in parts) - 0.9

        return middle, WIDEN * _zero(over, min(reaches), max(reaches))


def _zero(rising: Callable[[float], float], low: float, high: float) -> float:
    """Return where a smooth rising function is zero between two places, to a hundred-millionth of the way.

    By the Illinois rule: the chord's zero each time, with half the height of an end that stays twice. Source: M. Dowell
    and P. Jarratt, A modified regula falsi method, BIT 11 (1971), from memory.
    """
    below, above = rising(low), rising(high)
    if below >= 0 or above <= 0:
        return low if below >= 0 else high
    near, stayed = 1e-8 * high, 0
    while high - low > near:
        middle = low - below * (high - low) / (above - below)
        value = rising(middle)
        if abs(value) < 1e-11:
            return middle
        if value < 0:
            low, below = middle, value
            above = above / 2 if stayed < 0 else above
            stayed = -1
        else:
            high, above = middle, value
            below = below / 2 if stayed > 0 else below
            stayed = 1
    return (low + high) / 2


def learn_pace(builds: Sequence[Timed]) -> Pace:
    """Return what builds, oldest first, teach; they are gone through twice, to find the noise and then with it."""
    often: dict[Hashable, int] = {}
    for build in builds:
        often[build.design] = often.get(build.design, 0) + 1
    most = sorted(
        (design for design, times in often.items() if times > 1 and design is not None),
        key=lambda design: -often[design],
    )
    designs = frozenset(most[:MOST_DESIGNS])
    rough = Pace(NOISE**2, designs)
    for build in builds[-NOISE_FROM:]:
        rough.add(replace(build, noted={}))
    pace = Pace(rough.noise_variance(), designs)
    for build in builds:
        pace.add(build)
    return pace
