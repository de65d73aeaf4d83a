"""Writing down what the shop's own builds teach, so that every cost follows: called when a build ends or is judged."""

from __future__ import annotations

from decimal import Decimal

from sqlalchemy import delete, func, select
from sqlmodel import Session, col

from models.intake.design import ONCE_WORK
from models.operations.figures import refresh_figures
from models.queries.shop import starting_rates
from models.queries.timings import load_timings
from models.tables import Build, DesignPace, LearnedRate

ENOUGH_BUILDS = 2
"""From so many builds on a design has a pace of its own."""
SOME_WORK = {"weave": Decimal(60)}
"""Any work at all: a design's own pace is the same for all of it."""


def learn_timings(session: Session) -> int:
    """Write the shop's learned rates and the paces of its designs anew; answers how many builds they rest on.

    The kept costs and prices of all designs are computed again, as all of them rest on the rates.
    """
    session.flush()
    timings = load_timings(session)
    rates = starting_rates(session)
    for table in (LearnedRate, DesignPace):
        session.execute(delete(table))
    if timings.builds:
        for rate in timings.rates(rates).values():
            if rate.kind not in ONCE_WORK:
                session.add(
                    LearnedRate(
                        kind=rate.kind,
                        seconds=rate.seconds,
                        low_factor=rate.low_factor,
                        high_factor=rate.high_factor,
                        source=rate.source,
                    )
                )
        for design_id, builds in _often_made(session):
            own, any_design = timings.estimate(SOME_WORK, design_id), timings.estimate(SOME_WORK, None)
            if own.design_builds >= ENOUGH_BUILDS and own.likely != any_design.likely:
                factor = (own.likely / any_design.likely).quantize(Decimal("0.001"))
                session.add(DesignPace(design_id=design_id, factor=factor, builds=min(builds, own.design_builds)))
    session.flush()
    refresh_figures(session)
    return timings.builds


def _often_made(session: Session) -> list[tuple[int, int]]:
    """The designs with enough timed builds, and how many those are."""
    rows = session.execute(
        select(col(Build.design_id), func.count())
        .where(col(Build.state) == "finished", col(Build.minutes_milli) > 0, col(Build.design_id).is_not(None))
        .group_by(col(Build.design_id))
        .having(func.count() >= ENOUGH_BUILDS)
    )
    return [(design_id, count) for design_id, count in rows if design_id is not None]
