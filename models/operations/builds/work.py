"""The work of a build as money: the minutes that count, their wage, their overhead; a timing that looks odd asks first.

Odd timings are never used in silence: whoever books says whether they count. Where no time was noted, or it is left
out, the likely time stands in.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal

from sqlalchemy import delete
from sqlmodel import Session, col

from models.costing.work_cost import overhead_of, wage_of
from models.errors import Unfit
from models.intake.builds.build import BENCH_KINDS, WorkDone
from models.intake.faults import Faults
from models.queries.builds.parts import BuildParts
from models.queries.builds.timings import odd_timing, units_of
from models.queries.shop.shop import starting_rates
from models.tables import Build, BuildTime
from models.trade.money import from_micros, to_micros
from models.trade.vocabulary.bench import TIMING_ANSWERS


@dataclass(frozen=True, slots=True)
class Paid:
    """What the work of a build costs: thousandths of minutes, millionths of money; `wage_micros` is for an hour.

    `timing` is the person's word on a time that looked odd.
    """

    minutes_milli: int | None
    paid_milli: int
    timing: str
    wage_micros: int
    labour_micros: int
    overhead_micros: int


def pay(session: Session, parts: BuildParts, work: WorkDone, *, made: int, materials_micros: int) -> Paid:
    """The wage and the overhead of a build in which so many pieces were made, good or not.

    Wage and overhead become whole millionths once each, half to even. Raises: Unfit beside 'timing' when the time looks
    odd and nobody said what to do with it.
    """
    rates, estimate = parts.rates, parts.estimate(made)
    minutes = None if work.minutes_milli is None else Decimal(work.minutes_milli).scaleb(-3)
    if minutes is not None and not work.timing:
        expected = odd_timing(session, parts, work, made=made)
        if expected is not None:
            raise Unfit(Faults.of("timing", odd_question(expected.low, expected.high, minutes)))
    paid = estimate.minutes if minutes is None or work.timing == "leave" else minutes
    labour = to_micros(wage_of(paid, rates))
    overhead = to_micros(overhead_of(paid, from_micros(materials_micros + labour), rates))
    return Paid(
        minutes_milli=work.minutes_milli,
        paid_milli=int((paid * 1000).to_integral_value(ROUND_HALF_EVEN)),
        timing=TIMING_ANSWERS.term(work.timing).means if minutes is not None and work.timing else "",
        wage_micros=to_micros(rates.wage_per_hour),
        labour_micros=labour,
        overhead_micros=overhead,
    )


def odd_question(low: Decimal, high: Decimal, minutes: Decimal) -> str:
    """What is asked about a timing that looks odd."""
    usual = f"between {_span(low)} and {_span(high)}"
    return (
        f"{_span(minutes)} looks odd: this work usually takes {usual}. "
        "Say whether to use it anyway or to leave it out; the likely time then stands in."
    )


def keep_work(session: Session, build: Build, parts: BuildParts, paid: Paid, work: WorkDone, *, made: int) -> None:
    """Write what the work came to on the build, beside what was expected, and how much of each kind it was."""
    estimate = parts.estimate(made)
    build.minutes_milli, build.timing = paid.minutes_milli, paid.timing
    build.paid_minutes_milli, build.wage_micros = paid.paid_milli, paid.wage_micros
    build.labour_micros, build.overhead_micros = paid.labour_micros, paid.overhead_micros
    build.estimate_micros = to_micros(estimate.total)
    build.estimate_minutes_milli = int((estimate.minutes * 1000).to_integral_value(ROUND_HALF_EVEN))
    units = units_of(parts, starting_rates(session), made)
    for kind in BENCH_KINDS:
        if kind in units or kind in work.kinds:
            session.add(
                BuildTime(
                    build_id=build.id or 0,
                    kind=kind,
                    units=units.get(kind, Decimal(0)),
                    minutes_milli=work.kinds.get(kind),
                )
            )
    session.flush()


def forget_work(session: Session, build: Build) -> None:
    """Take back what `keep_work` wrote."""
    build.minutes_milli, build.timing = None, ""
    build.paid_minutes_milli = build.wage_micros = None
    build.labour_micros = build.overhead_micros = None
    build.materials_micros = build.guessed_micros = None
    build.estimate_micros = build.estimate_minutes_milli = None
    session.execute(delete(BuildTime).where(col(BuildTime.build_id) == build.id))
    session.flush()


def _span(minutes: Decimal) -> str:
    whole = int(minutes.to_integral_value(ROUND_HALF_EVEN))
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d} min"
