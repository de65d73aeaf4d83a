"""Writing down what the shop's own builds teach, so that every cost follows: called when a build ends or is judged."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from decimal import Decimal

from sqlalchemy import delete
from sqlmodel import Session

from models.costing.inputs import Rate
from models.costing.timings import Timings
from models.intake.designs.design import ONCE_WORK
from models.operations.figures import refresh_figures
from models.queries.builds.timings import load_timings
from models.queries.shop.shop import starting_rates
from models.tables import DesignPace, LearnedRate

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
    for table in (LearnedRate, DesignPace):
        session.execute(delete(table))
    if timings.builds:
        for rate in _taught(timings, starting_rates(session)):
            session.add(
                LearnedRate(
                    kind=rate.kind,
                    seconds=rate.seconds,
                    low_factor=rate.low_factor,
                    high_factor=rate.high_factor,
                    source=rate.source,
                )
            )
        often = Counter(timings.design_of[build] for build in timings.pace.used)
        for design_id, builds in often.items():
            if builds < ENOUGH_BUILDS or not isinstance(design_id, int):
                continue
            own, any_design = timings.estimate(SOME_WORK, design_id), timings.estimate(SOME_WORK, None)
            if own.likely != any_design.likely:
                factor = (own.likely / any_design.likely).quantize(Decimal("0.001"))
                session.add(DesignPace(design_id=design_id, factor=factor, builds=builds))
    session.flush()
    refresh_figures(session)
    return timings.builds


def taught_rates(session: Session) -> list[Rate]:
    """The rates as the builds teach them now, for a check of those that are kept."""
    return _taught(load_timings(session), starting_rates(session))


def _taught(timings: Timings, starting: Mapping[str, Rate]) -> list[Rate]:
    """The rates of all work that builds can teach; none before the first build."""
    if not timings.builds:
        return []
    return [rate for rate in timings.rates(starting).values() if rate.kind not in ONCE_WORK]
