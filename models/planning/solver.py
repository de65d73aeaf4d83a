"""An integer programme in whole numbers, solved by HiGHS on one thread and checked again in whole numbers afterwards.

The only module that imports the solver, and only when something is solved. The solver computes in floating point: it
gets small, well-conditioned copies of the whole numbers kept here, and what it answers counts only after `broken` and
`value` have gone through it exactly. What the columns and rows mean is not here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from math import floor, gcd, isfinite
from time import perf_counter
from typing import TYPE_CHECKING

from models.trade.vocabulary import plans

if TYPE_CHECKING:
    import highspy

Stopped = plans.Stopped
ZERO = Decimal(0)
NO_ANSWER = "The search failed: the solver found no way through these numbers, also when it was asked in another way."
"""What a person is told after `SolverFailed`."""

# Coefficients up to this size are handed over as they are. Rows with larger ones are first scaled down by a power of
# two, which is nearly always enough; where their last digits decide, they are split into two rows with a carry.
_WELL_CONDITIONED = 2**20
# A column counts as whole within a millionth, so a digit stays far below a million.
_DIGIT = 2**12


class SolverFailed(RuntimeError):
    """The solver has no answer, or none that stands in whole numbers, also without presolve and with small numbers."""


@dataclass(frozen=True, slots=True)
class Row:
    """A sum of whole multiples of columns between two ends; None where it has none."""

    terms: tuple[tuple[int, int], ...]
    low: int | None
    high: int | None

    def holds(self, values: Sequence[int]) -> bool:
        """Whether whole numbers keep to the row, exactly."""
        total = sum(times * values[column] for column, times in self.terms)
        return (self.low is None or total >= self.low) and (self.high is None or total <= self.high)


class Programme:
    """Whole-numbered columns between bounds, each with what one of it is worth, and the rows that they keep to.

    The total worth is made as large as possible. Every number is a whole one, of any size.
    """

    def __init__(self) -> None:
        self.worth: list[int] = []
        self.lows: list[int] = []
        self.highs: list[int] = []
        self.rows: list[Row] = []

    def column(self, high: int, *, low: int = 0, worth: int = 0) -> int:
        """Add a column and return its number. Raises: ValueError when its bounds contradict."""
        if low > high:
            raise ValueError(f"a column can't be at least {low} and at most {high}")
        self.worth.append(worth)
        self.lows.append(low)
        self.highs.append(high)
        return len(self.worth) - 1

    def row(self, terms: Mapping[int, int], *, low: int | None = None, high: int | None = None) -> None:
        """Add a row, divided by what its multiples share; an end is then rounded inwards, which loses nothing."""
        kept = tuple((column, times) for column, times in terms.items() if times)
        shared = gcd(*(times for _, times in kept)) or 1
        self.rows.append(
            Row(
                tuple((column, times // shared) for column, times in kept),
                None if low is None else -(-low // shared),
                None if high is None else high // shared,
            )
        )

    def value(self, values: Sequence[int]) -> int:
        """Return what whole numbers are worth together, exactly."""
        return sum(worth * value for worth, value in zip(self.worth, values, strict=True))

    def broken(self, values: Sequence[int]) -> Iterable[str]:
        """Yield every bound and row that whole numbers break."""
        for column, (low, value, high) in enumerate(zip(self.lows, values, self.highs, strict=True)):
            if not low <= value <= high:
                yield f"column {column} is {value}, not from {low} to {high}"
        for number, row in enumerate(self.rows):
            if not row.holds(values):
                yield f"row {number} does not hold"

    @property
    def ceiling(self) -> int:
        """The worth that no values within the bounds exceed, whatever the rows."""
        return sum(max(w * low, w * high) for w, low, high in zip(self.worth, self.lows, self.highs, strict=True))


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a search has come: the best value so far and the bound that none can exceed; None before there is one."""

    seconds: float
    value: int | None
    bound: int | None

    @property
    def gap(self) -> Decimal | None:
        """How far the best so far can be from the best there is, as a fraction of it."""
        return None if self.value is None or self.bound is None else gap_between(self.value, self.bound)


@dataclass(frozen=True, slots=True)
class Solved:
    """Whole numbers that keep to every row; `bound` is what no others can exceed, `stopped` why it ended early."""

    values: tuple[int, ...]
    value: int
    bound: int
    stopped: Stopped
    seconds: float

    @property
    def gap(self) -> Decimal:
        """How far the value can be from the best there is, as a fraction of the value; 0 is proven best."""
        return gap_between(self.value, self.bound)


@dataclass(frozen=True, slots=True)
class NotSolved:
    """Nothing was found: because nothing keeps to every row, or because the search stopped before."""

    impossible: bool
    bound: int
    stopped: Stopped
    seconds: float


@dataclass(frozen=True, slots=True)
class Search:
    """How long and how closely to search, on one solver thread.

    `gap` is the fraction of the value at which a proof is close enough; 0 asks for the best there is. `progress` is
    told now and then, `cancelled` is asked whether to stop; both are called from the searching thread.
    """

    time_limit_s: float = 10.0
    gap: Decimal = ZERO
    progress: Callable[[Progress], None] | None = None
    cancelled: Callable[[], bool] | None = None


def gap_between(value: int, bound: int) -> Decimal:
    """Return (bound - value) / value as a fraction; 1 where the value is nothing and the bound is not."""
    if bound <= value:
        return ZERO
    return Decimal(bound - value) / Decimal(abs(value)) if value else Decimal(1)


def solve(programme: Programme, search: Search, *, start: Sequence[int] | None = None) -> Solved | NotSolved:
    """Return the best whole numbers for a programme, from a first good set of them where there is one.

    What is returned keeps to every row exactly. The bound is the solver's, good to about nine digits and rounded to
    whole numbers; when the solver has finished with a gap of nothing it is the value itself. Raises: SolverFailed.
    """
    if not programme.worth:
        if any(programme.broken(())):
            return NotSolved(impossible=True, bound=0, stopped="", seconds=0.0)
        return Solved((), 0, 0, "", 0.0)
    if start is not None and any(programme.broken(start)):
        start = None
    began = perf_counter()
    found: Solved | NotSolved | None
    try:
        found = _Run(programme, search, began).go(start)
    except SolverFailed:
        found = None  # it may manage with small numbers
    if found is not None and (isinstance(found, NotSolved) or not any(programme.broken(found.values))):
        return found
    found = _Run(_with_carries(programme), search, began).go(None)
    if isinstance(found, NotSolved):
        return found
    found = replace(found, values=found.values[: len(programme.worth)])
    for wrong in programme.broken(found.values):
        raise SolverFailed(wrong)
    return found


def _with_carries(programme: Programme) -> Programme:
    """The same programme with small numbers in every row, and carries as further columns."""
    small = Programme()
    for worth, low, high in zip(programme.worth, programme.lows, programme.highs, strict=True):
        small.column(high, low=low, worth=worth)
    for row in programme.rows:
        if row.high is not None:
            _split(small, dict(row.terms), row.high)
        if row.low is not None:
            _split(small, {column: -times for column, times in row.terms}, -row.low)
    return small


def _split(small: Programme, terms: Mapping[int, int], high: int) -> None:
    """Add a row as its digits, last ones first, with a carry from each to the next.

    With a = A m + a' and b = B m + b' a sum of a x is at most b exactly when a whole carry c lets the sum of a' x stay
    within m c + b' and the sum of A x and c within B.
    """
    while any(abs(times) > _DIGIT for times in terms.values()):
        leading, last = {}, {}
        for column, times in terms.items():
            leading[column], last[column] = divmod(times, _DIGIT)
        high, last_high = divmod(high, _DIGIT)
        least = sum(times * small.lows[column] for column, times in last.items()) - last_high
        most = sum(times * small.highs[column] for column, times in last.items()) - last_high
        carry = small.column(-(-most // _DIGIT), low=least // _DIGIT)
        small.row({**last, carry: -_DIGIT}, high=last_high)
        terms = {**leading, carry: 1}
    small.row(terms, high=high)


def _scale(numbers: Iterable[int]) -> float:
    """A power of two that brings the largest of them down to what the solver takes well; 1 for most."""
    largest = max((abs(number) for number in numbers), default=0)
    scale = 1.0
    while largest > _WELL_CONDITIONED:
        largest //= 2
        scale /= 2
    return scale


class _Run:
    """One run of the solver on one programme."""

    def __init__(self, programme: Programme, search: Search, began: float) -> None:
        self.programme = programme
        self.search = search
        self.began = began
        self.shared = gcd(*programme.worth) or 1
        self.worth_scale = _scale(worth // self.shared for worth in programme.worth)
        self.was_cancelled = False

    def go(self, start: Sequence[int] | None) -> Solved | NotSolved:
        """Hand everything over, run, and read what came of it; where that is no answer, once more without presolve.

        Raises: SolverFailed.
        """
        ended = []
        for presolve in ("choose", "off"):
            highs = self._ran(start, presolve)
            found = self._read(highs, known=start is not None)
            if found is not None:
                return found
            ended.append(f"{highs.modelStatusToString(highs.getModelStatus())} with presolve {presolve}")
        raise SolverFailed(f"the solver has no answer: {', '.join(ended)}")

    def _ran(self, start: Sequence[int] | None, presolve: str) -> highspy.Highs:
        """The solver after its run."""
        highs = _quiet_highs()
        highs.setOptionValue("presolve", presolve)
        highs.setOptionValue("threads", 1)
        highs.setOptionValue("parallel", "off")
        left_s = max(self.search.time_limit_s - (perf_counter() - self.began), 0.01)
        highs.setOptionValue("time_limit", left_s)
        highs.setOptionValue("mip_rel_gap", float(self.search.gap))
        # Worth comes in whole steps: a bound less than one step above the value proves it.
        highs.setOptionValue("mip_abs_gap", 0.99 * self.worth_scale)
        highs.passModel(self._model())
        if start is not None:
            highs.setSolution(len(start), list(range(len(start))), [float(value) for value in start])
        self._listen(highs)
        highs.run()
        return highs

    def _model(self) -> highspy.HighsLp:
        import highspy  # noqa: PLC0415 - imported only when something is solved

        programme = self.programme
        model = highspy.HighsLp()
        model.num_col_ = len(programme.worth)
        model.num_row_ = len(programme.rows)
        model.sense_ = highspy.ObjSense.kMaximize
        model.col_cost_ = [worth // self.shared * self.worth_scale for worth in programme.worth]
        model.col_lower_ = [float(low) for low in programme.lows]
        model.col_upper_ = [float(high) for high in programme.highs]
        model.integrality_ = [highspy.HighsVarType.kInteger] * len(programme.worth)
        starts, indices, multiples = [0], [], []
        lows, highs = [], []
        for row in programme.rows:
            scale = _scale(times for _, times in row.terms)
            for column, times in row.terms:
                indices.append(column)
                multiples.append(times * scale)
            starts.append(len(indices))
            lows.append(-highspy.kHighsInf if row.low is None else row.low * scale)
            highs.append(highspy.kHighsInf if row.high is None else row.high * scale)
        model.row_lower_, model.row_upper_ = lows, highs
        matrix = model.a_matrix_
        matrix.format_ = highspy.MatrixFormat.kRowwise
        matrix.start_, matrix.index_, matrix.value_ = starts, indices, multiples
        return model

    def _listen(self, highs: highspy.Highs) -> None:
        """Pass progress on, and ask whether to stop."""
        progress, cancelled = self.search.progress, self.search.cancelled
        if progress is not None:

            def tell(event: highspy.HighsCallbackEvent) -> None:
                data = event.data_out
                value = self._whole(data.mip_primal_bound)
                bound = self._upper(data.mip_dual_bound)
                progress(Progress(perf_counter() - self.began, value, bound))

            highs.cbMipLogging.subscribe(tell)
            highs.cbMipImprovingSolution.subscribe(tell)
        if cancelled is not None:

            def ask(event: highspy.HighsCallbackEvent) -> None:
                if self.was_cancelled or cancelled():
                    self.was_cancelled = True
                    event.interrupt()

            highs.cbMipInterrupt.subscribe(ask)
            highs.cbSimplexInterrupt.subscribe(ask)

    def _read(self, highs: highspy.Highs, *, known: bool) -> Solved | NotSolved | None:
        """What a run came to; None where that is no answer. `known` tells that some values keep to every row."""
        import highspy  # noqa: PLC0415

        status, info = highs.getModelStatus(), highs.getInfo()
        seconds = perf_counter() - self.began
        statuses = highspy.HighsModelStatus
        if status in {statuses.kInfeasible, statuses.kUnboundedOrInfeasible}:
            # Every column has two ends, so nothing is unbounded; and where an answer is known, nothing is impossible.
            return (
                None if known else NotSolved(impossible=True, bound=self.programme.ceiling, stopped="", seconds=seconds)
            )
        finished = status == statuses.kOptimal
        if not finished and status not in {statuses.kTimeLimit, statuses.kInterrupt}:
            return None
        stopped: Stopped = "" if finished else "cancelled" if self.was_cancelled else "time"
        upper = self._upper(info.mip_dual_bound)
        bound = self.programme.ceiling if upper is None else min(upper, self.programme.ceiling)
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible.value:
            if finished:
                return None
            return NotSolved(impossible=False, bound=bound, stopped=stopped, seconds=seconds)
        values = tuple(round(value) for value in highs.getSolution().col_value)
        value = self.programme.value(values)
        proven = finished and info.mip_gap <= float(self.search.gap) and not self.search.gap
        bound = value if proven else max(bound, value)
        return Solved(values, value, bound, stopped, seconds)

    def _whole(self, value: float) -> int | None:
        """A value of the solver in whole numbers; None while it has none."""
        return round(value / self.worth_scale) * self.shared if isfinite(value) and abs(value) < 1e29 else None

    def _upper(self, bound: float) -> int | None:
        """A bound of the solver rounded down to whole steps, with room for its own rounding; None while it has none."""
        if not isfinite(bound) or abs(bound) >= 1e29:
            return None
        steps = bound / self.worth_scale
        return floor(steps + 1e-6 + 1e-9 * abs(steps)) * self.shared


def _quiet_highs() -> highspy.Highs:
    """A solver that prints nothing, not even its name when it is made."""
    import highspy  # noqa: PLC0415

    class Quiet(highspy.Highs):
        def enableCallbacks(self) -> None:  # noqa: N802 - the solver's own name, called while it is made
            self.setOptionValue("output_flag", False)
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    return Quiet()  # type: ignore[no-untyped-call]
