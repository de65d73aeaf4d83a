"""What the shop's own builds teach about time: how long the next one takes, from how many, and which look odd.

The statistical model stands in `models/costing/timings.py`; what is learned is written down in
`operations/costing/timings`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from sqlalchemy import select
from sqlmodel import Session, col

from models.costing.inputs import Rate
from models.costing.timings import Estimate, FinishedBuild, Timings, Verdict, learn
from models.intake.builds.build import WorkDone
from models.queries.builds.parts import BuildParts, estimate_of
from models.queries.shop.shop import starting_rates
from models.tables import Build, BuildTime

MOST_BUILDS = 200
"""So many of the latest builds are learned from; what older ones say has faded."""
THIS_ONE = -1
"""The number of a build that is not booked yet."""


@dataclass(frozen=True, slots=True)
class WorkTiming:
    """How long some pieces of a design take: what is likely, the range, and what that rests on. All in minutes."""

    estimate: Estimate
    pieces: int

    @property
    def each(self) -> Decimal:
        """The likely minutes of one piece."""
        return self.estimate.likely / self.pieces

    @property
    def learned(self) -> bool:
        """Whether any of the shop's own builds went into it."""
        return self.estimate.builds > 0


def load_timings(session: Session) -> Timings:
    """What the finished builds teach, the oldest first."""
    return learn(finished_builds(session))


def finished_builds(session: Session) -> list[FinishedBuild]:
    """The latest finished builds as the model takes them, the oldest first; those without a time teach nothing."""
    rates = starting_rates(session)
    latest = (
        select(col(Build.id), col(Build.design_id), col(Build.minutes_milli), col(Build.timing))
        .where(col(Build.state) == "finished", col(Build.minutes_milli) > 0)
        .order_by(col(Build.finished_on).desc(), col(Build.id).desc())
        .limit(MOST_BUILDS)
    )
    rows = session.execute(latest).all()
    work: dict[int, list[tuple[str, Decimal, int | None]]] = {}
    kept = select(col(BuildTime.build_id), col(BuildTime.kind), col(BuildTime.units), col(BuildTime.minutes_milli))
    for build_id, kind, units, milli in session.execute(kept.where(col(BuildTime.build_id).in_([r.id for r in rows]))):
        work.setdefault(build_id, []).append((kind, units, milli))
    return [
        _finished(row.id, row.design_id, row.minutes_milli, row.timing, work.get(row.id, ()), rates=rates)
        for row in reversed(rows)
    ]


def units_of(parts: BuildParts, rates: Mapping[str, Rate], pieces: int) -> dict[str, Decimal]:
    """How often each kind of work is done for so many pieces, weighted, in the units of its rate.

    Small rings, a hard weave and pieces made together weigh as the costing says; minutes that the design says count as
    so many units. Rounded to a millionth.
    """
    cost = estimate_of(parts.inputs, parts.parts, replace(parts.shop.rates, rates=rates), pieces).cost
    return {
        one.kind: (one.likely * pieces * 60 / rates[one.kind].seconds).quantize(Decimal("0.000001"))
        for one in cost.minutes.kinds
        if one.kind in rates and rates[one.kind].seconds and one.likely
    }


def start_minutes_of(units: Mapping[str, Decimal], rates: Mapping[str, Rate]) -> dict[str, Decimal]:
    """The minutes of so much work at these rates, by kind."""
    return {kind: much * rates[kind].seconds / 60 for kind, much in units.items() if kind in rates and much}


def timing_of(session: Session, parts: BuildParts, pieces: int, timings: Timings | None = None) -> WorkTiming | None:
    """How long so many pieces take by what the shop has learned; None for a design without work."""
    rates = starting_rates(session)
    start = start_minutes_of(units_of(parts, rates, pieces), rates)
    if not start:
        return None
    known = load_timings(session) if timings is None else timings
    return WorkTiming(known.estimate(start, parts.inputs.design_id, rates=rates), pieces)


def odd_timing(session: Session, parts: BuildParts, work: WorkDone, *, made: int) -> Estimate | None:
    """What was expected, where a time that is to be booked looks odd beside it; None where it does not."""
    if not work.minutes_milli:
        return None
    rates = starting_rates(session)
    units = units_of(parts, rates, made)
    if not start_minutes_of(units, rates):
        return None
    rows = [(kind, much, work.kinds.get(kind)) for kind, much in units.items()]
    candidate = _finished(THIS_ONE, parts.inputs.design_id, work.minutes_milli, "", rows, rates=rates)
    before = finished_builds(session)
    if THIS_ONE not in learn([*before, candidate]).odd:
        return None
    return learn(before).estimate(candidate.start_minutes, parts.inputs.design_id, rates=rates)


def _finished(
    build_id: int,
    design_id: int | None,
    minutes_milli: int,
    timing: Verdict,
    work: Sequence[tuple[str, Decimal, int | None]],
    *,
    rates: Mapping[str, Rate],
) -> FinishedBuild:
    """A build as the model takes it; time of work that the design does not ask for is not part of it."""
    start = start_minutes_of({kind: units for kind, units, _ in work}, rates)
    noted = {kind: Decimal(milli).scaleb(-3) for kind, _, milli in work if milli}
    beside = sum((minutes for kind, minutes in noted.items() if not start.get(kind)), Decimal(0))
    total = Decimal(minutes_milli).scaleb(-3) - beside
    return FinishedBuild(
        id=build_id,
        design=design_id,
        start_minutes=start,
        total_minutes=total if total > 0 else None,
        kind_minutes={kind: minutes for kind, minutes in noted.items() if start.get(kind)} if total > 0 else {},
        verdict=timing,
    )
