"""Every finished build teaches the times: rates, costs and the pace of a design follow, and odd ones wait for a word."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlmodel import Session, select

from models.costing.rates import STARTING_RATES
from models.database import Store
from models.errors import Conflict, Unfit
from models.intake.builds.build import BuildRequest, MadeDraft, WorkDone
from models.intake.costing.rate import RateDraft
from models.operations.builds.made import book_made
from models.operations.builds.timing import judge_timing
from models.operations.builds.undo import undo_build
from models.operations.costing.rate import rates_version, set_rates
from models.operations.figures import refresh_figures, stale_figures
from models.queries.builds.parts import build_parts
from models.queries.builds.timings import finished_builds, load_timings, timing_of
from models.queries.shop.shop import design_paces, shop_rates, work_rates
from models.tables import BuildTime, DesignFigure, DesignPace, LearnedRate
from tests.builds import Bench, a_bench, made
from tests.ledgers import DAY, a_lot, undone
from tests.shops import a_design, a_part


def stocked(session: Session) -> Bench:
    bench = a_bench(session)
    a_lot(session, bench.bronze, 5000, "100.00", place="sack")
    a_lot(session, bench.silver, 2000, "100.00", place="sack")
    return bench


def likely(session: Session, bench: Bench) -> Decimal:
    return build_parts(session, BuildRequest(bench.design)).estimate().minutes


def test_before_the_first_build_the_starting_rates_hold(store: Store) -> None:
    with undone(store) as session:
        bench = stocked(session)
        assert dict(shop_rates(session).rates) == dict(STARTING_RATES)
        timing = timing_of(session, build_parts(session, BuildRequest(bench.design)), 1)
        assert timing is not None
        assert not timing.learned
        assert timing.estimate.likely == timing.estimate.before.likely
        made(session, bench, 1, minutes=None)
        assert session.exec(select(LearnedRate)).all() == []


def test_builds_move_the_rates_the_costs_and_the_range_and_say_what_they_rest_on(store: Store) -> None:
    with undone(store) as session:
        bench = stocked(session)
        before, figure = likely(session, bench), session.get_one(DesignFigure, bench.design).minutes_milli
        for minutes in (40, 44, 42, 41, 43):
            made(session, bench, 1, minutes=minutes)
        after = likely(session, bench)
        assert abs(after - 42) < abs(before - 42) / 4
        rates = shop_rates(session).rates
        assert rates["weave"].source == "your own 5 builds"
        assert "moved with your own 5 builds" in rates["polish"].source
        assert rates["photograph"] == STARTING_RATES["photograph"]
        assert session.get_one(DesignFigure, bench.design).minutes_milli != figure
        assert stale_figures(session) == ()
        timing = timing_of(session, build_parts(session, BuildRequest(bench.design)), 1)
        assert timing is not None
        assert (timing.estimate.builds, timing.estimate.design_builds) == (5, 5)
        assert timing.estimate.before.likely == before.quantize(Decimal("0.001"))
        assert timing.estimate.low < timing.estimate.likely < timing.estimate.high
        assert abs(timing.estimate.likely - after) < Decimal("0.2")


def test_a_design_made_often_gets_a_pace_of_its_own(store: Store) -> None:
    with undone(store) as session:
        bench = stocked(session)
        other = a_design(session, [a_part(bench.bronze, 20), a_part(bench.silver, 4)], name="Same rings, fiddly")
        refresh_figures(session)
        for _ in range(6):
            made(session, bench, 1, minutes=30)
            book_made(session, MadeDraft(BuildRequest(other), work=WorkDone(60_000, timing="use"), made_on=DAY))
        paces = design_paces(session)
        assert paces[bench.design] < 1 < paces[other]
        assert likely(session, bench) < 40 < build_parts(session, BuildRequest(other)).estimate().minutes
        assert stale_figures(session) == ()


def test_minutes_by_kind_move_that_kind_most(store: Store) -> None:
    with undone(store) as session:
        bench = stocked(session)
        start = dict(STARTING_RATES)
        for _ in range(8):
            work = WorkDone(40_000, {"weave": 25_000, "close": 2_000}, "use")
            book_made(session, MadeDraft(BuildRequest(bench.design), work=work, made_on=DAY))
        rates = shop_rates(session).rates
        slower = {kind: rates[kind].seconds / start[kind].seconds for kind in ("weave", "close")}
        assert slower["weave"] > 2 * slower["close"]


def test_time_of_work_that_the_design_does_not_ask_for_is_no_part_of_the_lesson(store: Store) -> None:
    with undone(store) as session:
        bench = stocked(session)
        work = WorkDone(70_000, {"seal": 30_000}, "use")
        book_made(session, MadeDraft(BuildRequest(bench.design), work=work, made_on=DAY))
        (build,) = finished_builds(session)
        assert build.total_minutes == 40
        assert build.kind_minutes == {}
        assert "seal" not in build.start_minutes


def test_an_odd_time_is_left_out_until_somebody_says_to_use_it(store: Store) -> None:
    with undone(store) as session:
        bench = stocked(session)
        for minutes in (40, 44, 42):
            made(session, bench, 1, minutes=minutes)
        calm = likely(session, bench)
        with pytest.raises(Unfit, match="Say whether to use it anyway or to leave it out"):
            book_made(session, MadeDraft(BuildRequest(bench.design), work=WorkDone(600_000), made_on=DAY))
    with undone(store) as session:
        bench = stocked(session)
        for minutes in (40, 44, 42):
            made(session, bench, 1, minutes=minutes)
        work = WorkDone(600_000, timing="leave")
        build_id = book_made(session, MadeDraft(BuildRequest(bench.design), work=work, made_on=DAY)).build_id
        assert likely(session, bench) == calm
        assert load_timings(session).builds == 3
        judge_timing(session, build_id, use=True)
        assert load_timings(session).builds == 4
        assert likely(session, bench) > calm
        judge_timing(session, build_id, use=False)
        assert likely(session, bench) == calm


def test_a_build_without_a_time_cannot_be_judged(store: Store) -> None:
    with undone(store) as session:
        build_id = made(session, stocked(session), 1, minutes=None)
        with pytest.raises(Conflict, match="nothing to learn from"):
            judge_timing(session, build_id, use=False)


def test_what_is_taken_back_teaches_nothing(store: Store) -> None:
    with undone(store) as session:
        bench = stocked(session)
        first = made(session, bench, 1, minutes=50)
        before = {row.kind: row.seconds for row in session.exec(select(LearnedRate))}
        build_id = made(session, bench, 1, minutes=20)
        assert {row.kind: row.seconds for row in session.exec(select(LearnedRate))} != before
        undo_build(session, build_id)
        assert {row.kind: row.seconds for row in session.exec(select(LearnedRate))} == before
        assert session.exec(select(BuildTime).where(BuildTime.build_id == build_id)).all() == []
        undo_build(session, first)
        assert session.exec(select(LearnedRate)).all() == []
        assert session.exec(select(DesignPace)).all() == []
        assert dict(shop_rates(session).rates) == dict(STARTING_RATES)


def test_a_starting_rate_of_ones_own_moves_what_is_learned(store: Store) -> None:
    with undone(store) as session:
        bench = stocked(session)
        made(session, bench, 1, minutes=40)
        before = shop_rates(session).rates["weave"].seconds
        drafts = [
            RateDraft(rate.kind, rate.seconds * (4 if rate.kind == "weave" else 1), rate.low_factor, rate.high_factor)
            for rate in work_rates(session)
        ]
        set_rates(session, drafts, version=rates_version(work_rates(session)))
        assert shop_rates(session).rates["weave"].seconds > before
        assert stale_figures(session) == ()
