"""Work and minutes: how many rings are opened, closed and woven, and how long everything takes, as lines.

Each kind of work is a count x a rate x its factors. The range adds up the kinds' lows and highs: a slow day is slow for
all of them, so they are taken to move together (the quantile of a sum of comonotonic times is the sum of their
quantiles). Were they independent, the range would be narrower. What an hour costs in overhead is not here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from models.costing.exact import MINUTES_PER_HOUR, ONE, SECONDS_PER_MINUTE, ZERO, exactly
from models.costing.inputs import PartInput, Rate, ShopRates, SmallRings, WorkInput
from models.costing.learning import MOST_TOGETHER, average_factor
from models.costing.lines import Line, add_up, total_line
from models.costing.rates import TYPED_HIGH_FACTOR, TYPED_LOW_FACTOR, YOUR_FIGURE, kind_words
from models.costing.work_cost import wage_of
from models.trade.money import millionth
from models.trade.vocabulary.bench import WORK_KINDS


@dataclass(frozen=True, slots=True)
class WorkCounts:
    """How often each kind of ring and finding work is done in one piece; `small_…` of those on small rings."""

    open: Decimal = ZERO
    close: Decimal = ZERO
    weave: Decimal = ZERO
    attach: Decimal = ZERO
    small_open: Decimal = ZERO
    small_close: Decimal = ZERO
    small_weave: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class KindMinutes:
    """The minutes of one kind of work per piece, with their range."""

    kind: str
    label: str
    likely: Decimal
    low: Decimal
    high: Decimal
    source: str


@dataclass(frozen=True, slots=True)
class Minutes:
    """The minutes per piece: likely, the 10th (low) and the 90th (high) of a hundred; they add up from the kinds."""

    likely: Decimal
    low: Decimal
    high: Decimal
    kinds: tuple[KindMinutes, ...] = ()


@dataclass(frozen=True, slots=True)
class Labour:
    """The wage of one piece as lines, its minutes, and the kinds of work that have neither minutes nor a rate."""

    line: Line
    minutes: Minutes
    untimed: tuple[str, ...]


@exactly
def work_from_parts(parts: Sequence[PartInput], small_rings: SmallRings | None = None) -> WorkCounts:
    """Count the work that the parts ask for.

    A ring that cannot be opened is neither opened, closed nor woven: others pass through it. Of the rest, a ring that
    is joined open is woven and closed, and opened first unless it arrives open; a ring that is closed beforehand is
    closed once, unless it arrives closed. Of a part with both, each ring counts as what it is. Scales are woven in with
    their rings; each finding and bead is attached once, each run of chain once.
    """
    open_, close, weave, attach = ZERO, ZERO, ZERO, ZERO
    small_open, small_close, small_weave = ZERO, ZERO, ZERO
    for part in parts:
        if part.kind in {"finding", "bead"}:
            attach += part.quantity
        elif part.kind == "chain" and part.quantity:
            attach += ONE
        elif part.kind == "scale":
            weave += part.quantity
        elif part.kind == "ring" and part.can_open:
            woven = part.quantity - part.shut
            opened = woven if part.arrives != "open" else ZERO
            closed = woven + (part.shut if part.arrives != "closed" else ZERO)
            open_, close, weave = open_ + opened, close + closed, weave + woven
            if small_rings is not None and small_rings.is_small(part.size):
                small_open, small_close, small_weave = small_open + opened, small_close + closed, small_weave + woven
    return WorkCounts(open_, close, weave, attach, small_open, small_close, small_weave)


def counts_of(parts: Sequence[PartInput], work: WorkInput, small_rings: SmallRings | None) -> WorkCounts:
    """The counts that hold: what the design says, else what its parts ask for.

    Of a count that the design says, the small rings are counted first, so that adding other rings never makes a piece
    quicker.
    """
    own = work_from_parts(parts, small_rings)
    if work.open is None and work.close is None and work.weave is None and work.attach is None:
        return own
    opened = own.open if work.open is None else work.open
    closed = own.close if work.close is None else work.close
    woven = own.weave if work.weave is None else work.weave
    return WorkCounts(
        open=opened,
        close=closed,
        weave=woven,
        attach=own.attach if work.attach is None else work.attach,
        small_open=min(own.small_open, opened),
        small_close=min(own.small_close, closed),
        small_weave=min(own.small_weave, woven),
    )


@dataclass(frozen=True, slots=True)
class _Task:
    """One kind of work before it is costed: minutes per piece, the rate of its range, and the facts behind it."""

    kind: str
    minutes: Decimal
    rate: Rate | None
    because: tuple[Line, ...]
    timed: bool = True


@exactly
def cost_labour(
    parts: Sequence[PartInput], work: WorkInput, rates: ShopRates, *, weave_difficulty: int | None, pieces: int
) -> Labour:
    """The minutes and the wage of one piece when `pieces` are made together.

    Minutes and wage of each kind are rounded once to a millionth, half even; the totals are exact sums.
    Raises: ValueError for pieces outside 1 to 10,000.
    """
    if not 1 <= pieces <= MOST_TOGETHER:
        raise ValueError(f"pieces made together must be 1 to {MOST_TOGETHER}")
    tasks = _tasks(parts, work, rates, weave_difficulty, pieces)
    wage = Line(
        "Wage",
        rates.wage_per_hour,
        amount_unit="an hour",
        reason="What an hour at the bench is paid.",
        source="your settings",
    )
    wage_per_minute = rates.wage_per_hour / MINUTES_PER_HOUR
    lines, kinds = [], []
    for task in tasks:
        minutes = millionth(task.minutes)
        low, high = (
            (TYPED_LOW_FACTOR, TYPED_HIGH_FACTOR)
            if task.rate is None
            else (task.rate.low_factor, task.rate.high_factor)
        )
        label = kind_words(task.kind)
        source = YOUR_FIGURE if task.rate is None else task.rate.source
        kinds.append(
            KindMinutes(task.kind, label, minutes, millionth(minutes * low), millionth(minutes * high), source)
        )
        lines.append(
            Line(
                label=label,
                amount=wage_of(minutes, rates),
                quantity=minutes,
                unit="min",
                unit_amount=wage_per_minute,
                reason="Minutes for one piece at your wage."
                if task.timed
                else "No time is known for this kind of work yet.",
                source=source,
                because=(*task.because, wage),
                provisional=not task.timed,
            )
        )
    minutes_in_all = Minutes(
        likely=add_up(kind.likely for kind in kinds),
        low=add_up(kind.low for kind in kinds),
        high=add_up(kind.high for kind in kinds),
        kinds=tuple(kinds),
    )
    line = total_line("Labour", lines, reason="The work in one piece, kind by kind.", source="your rates")
    return Labour(line, minutes_in_all, tuple(kind_words(task.kind) for task in tasks if not task.timed))


def _tasks(
    parts: Sequence[PartInput], work: WorkInput, rates: ShopRates, difficulty: int | None, pieces: int
) -> list[_Task]:
    """Everything there is to do for one piece, in the order of the bench."""
    tasks = []
    if work.setup:
        tasks.append(
            _shared(
                "setup",
                None,
                rates,
                pieces=pieces,
                label="Pieces made together",
                reason="Setting up is done once for all of them.",
            )
        )
    tasks += _hand_work(parts, work, rates, difficulty, pieces)
    tasks += [_per_piece(kind, minutes, rates) for kind, minutes in work.finish.items()]
    if work.pack:
        tasks.append(_per_piece("pack", None, rates))
    for kind, minutes in work.once.items():
        tasks.append(
            _shared(
                kind,
                minutes,
                rates,
                pieces=work.once_pieces,
                label="Pieces it is spread over",
                reason="Done once for the design, shared by the pieces you expect to make.",
            )
        )
    return tasks


def _hand_work(
    parts: Sequence[PartInput], work: WorkInput, rates: ShopRates, difficulty: int | None, pieces: int
) -> list[_Task]:
    counts = counts_of(parts, work, rates.small_rings)
    learned = average_factor(rates.learning, pieces)
    weave_factor = ONE if rates.difficulty is None else rates.difficulty.factor(difficulty)
    tasks = []
    for kind, count, small, typed in (
        ("open", counts.open, counts.small_open, work.open),
        ("close", counts.close, counts.small_close, work.close),
        ("weave", counts.weave, counts.small_weave, work.weave),
        ("attach", counts.attach, ZERO, work.attach),
    ):
        if not count:
            continue
        counted = Line(
            WORK_KINDS.term(kind).counted[0],
            count,
            amount_unit=WORK_KINDS.term(kind).counted[1],
            reason=WORK_KINDS.term(kind).counted[2] if typed is None else "The count written in the design.",
            source="counted from the parts" if typed is None else YOUR_FIGURE,
        )
        rate = rates.rates.get(kind)
        if rate is None:
            tasks.append(_Task(kind, ZERO, None, (counted,), timed=False))
            continue
        because = [counted, _seconds_line(rate)]
        weighted = count
        if small and rates.small_rings is not None:
            weighted = count + small * (rates.small_rings.factor - ONE)
            because.append(_small_line(small, rates.small_rings))
        factor = learned
        if kind == "weave" and weave_factor != ONE and rates.difficulty is not None:
            factor *= weave_factor
            because.append(
                Line(
                    "Difficulty of the weave",
                    weave_factor,
                    amount_unit="times as long",
                    reason="Harder weaves take longer a ring, easy ones less.",
                    source=rates.difficulty.source,
                )
            )
        if learned != ONE:
            because.append(
                Line(
                    "Made together",
                    learned,
                    amount_unit="times as long",
                    reason="The average of the pieces: the nth takes n to the power log2 of your learning factor.",
                    source="learning curve, unit model",
                )
            )
        tasks.append(_Task(kind, weighted * rate.seconds / SECONDS_PER_MINUTE * factor, rate, tuple(because)))
    return tasks


def _small_line(small: Decimal, rule: SmallRings) -> Line:
    return Line(
        "Of these, small rings",
        small,
        amount_unit="rings",
        reason="Small rings take longer.",
        source=rule.source,
        because=(
            Line(
                "A small ring takes",
                rule.factor,
                amount_unit="times as long",
                reason="Against a ring of ordinary size.",
                source=rule.source,
            ),
            Line(
                "Small below a wire of",
                Decimal(rule.wire_nm) / 1_000_000,
                amount_unit="mm",
                reason="Or below the inner diameter.",
                source=rule.source,
            ),
            Line(
                "Small below an inner diameter of",
                Decimal(rule.inner_nm) / 1_000_000,
                amount_unit="mm",
                reason="Or below the wire.",
                source=rule.source,
            ),
        ),
    )


def _seconds_line(rate: Rate) -> Line:
    return Line(
        f"Time for each {rate.per}",
        rate.seconds,
        amount_unit="s",
        reason="The likely time; the range is one in ten quicker to one in ten slower.",
        source=rate.source,
    )


def _per_piece(kind: str, minutes: Decimal | None, rates: ShopRates) -> _Task:
    """Work done for each piece: the design's minutes, else the shop's rate."""
    rate = rates.rates.get(kind)
    if minutes is not None:
        typed = Line(
            "Minutes for one piece", minutes, amount_unit="min", reason="Written in the design.", source=YOUR_FIGURE
        )
        return _Task(kind, minutes, _typed_rate(rate), (typed,))
    if rate is None:
        return _Task(kind, ZERO, None, (), timed=False)
    return _Task(kind, rate.seconds / SECONDS_PER_MINUTE, rate, (_seconds_line(rate),))


def _shared(kind: str, minutes: Decimal | None, rates: ShopRates, *, pieces: int, label: str, reason: str) -> _Task:
    """Work done once and shared by several pieces."""
    whole = _per_piece(kind, minutes, rates)
    shared = Line(label, Decimal(pieces), amount_unit="pieces", reason=reason, source=YOUR_FIGURE)
    return _Task(kind, whole.minutes / pieces, whole.rate, (*whole.because, shared), whole.timed)


def _typed_rate(rate: Rate | None) -> Rate | None:
    """A typed time keeps the range of its kind, but its source is the person."""
    return (
        None
        if rate is None
        else Rate(rate.kind, rate.seconds, rate.per, rate.low_factor, rate.high_factor, YOUR_FIGURE)
    )
