"""Plans of the best mix on a real shop: asking, what is kept, builds and purchases made of them, and taking those back."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from itertools import product

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.errors import Conflict, Missing, Unfit
from models.intake.builds.build import BuildRequest, StartDraft, TakeOutDraft
from models.intake.faults import Faults
from models.intake.planning.make_plan import PLAN_QUESTION, Cap, KeepBack, PlanRequest, raw_of, read_plan_request
from models.operations.builds.check import check_builds
from models.operations.builds.start import start_build, take_out
from models.operations.figures import refresh_figures
from models.operations.planning.make_plan import (
    MOST_WAITING,
    ask_again,
    ask_limits,
    ask_plan,
    beat,
    begin_search,
    fail_search,
    keep_answer,
    keep_limits,
    stop_plan,
)
from models.operations.planning.plan_builds import book_plan, start_rest, unbook_plan
from models.operations.shop.clock import now
from models.operations.stock.check_ledger import check_ledger
from models.planning.mix import MixPlan, NoPlanYet, faults_of, plan_mix
from models.planning.mix_limits import what_limits
from models.planning.mix_request import mix_troubles
from models.planning.mix_wishes import Unmeetable
from models.planning.solver import Progress, Search
from models.queries.builds.parts import KEPT_PICKS
from models.queries.builds.plan import plan_build
from models.queries.planning.check import plan_today
from models.queries.planning.make_plan import SILENT_S, PlanView, latest_plans, plan_view
from models.queries.planning.question import Asked, faults_of_troubles, plan_question
from models.queries.planning.recipes import makeable_by_design
from models.tables import Build, MakePlan, Purchase
from tests.builds import Bench, a_bench, bags
from tests.ledgers import DAY, a_lot
from tests.shops import a_design, a_part, a_ring, an_outlet

HOUR = 3600


def a_stall(session: Session) -> tuple[Bench, int]:
    """A pendant of 20 bronze and 4 silver rings and earrings of 30 bronze ones; 100 bronze, 40 silver, one outlet."""
    an_outlet(session)
    bench = a_bench(session)
    earrings = a_design(session, [a_part(bench.bronze, 30)], name="Earrings")
    refresh_figures(session)
    return bench, earrings


def asked_of(session: Session, **wishes: object) -> Asked:
    asked = plan_question(session, PlanRequest(**{"allowance": False, **wishes}))
    assert isinstance(asked, Asked), asked
    return asked


def planned(session: Session, **wishes: object) -> int:
    """Ask, search and keep the answer, as the planner does; answers the plan's id."""
    ask = PlanRequest(**{"allowance": False, **wishes})
    plan_id = ask_plan(session, ask)
    assert begin_search(session, plan_id, "me")
    asked = asked_of(session, **wishes)
    found = plan_mix(asked.question, Search(5.0))
    assert not isinstance(found, tuple)
    keep_answer(session, plan_id, asked, found)
    return plan_id


def seen(session: Session, plan_id: int) -> PlanView:
    return plan_view(session, plan_id, now=now())


def test_the_kept_plan_is_the_best_of_all_mixes_of_a_small_shop(store: Store) -> None:
    with store.writing() as session:
        bench, earrings = a_stall(session)
        asked = asked_of(session, seconds=6 * HOUR)
        best = 0
        by_key = {each.key: each for each in asked.question.designs}
        for pendants, pairs in product(range(6), range(4)):
            made = {str(bench.design): pendants, str(earrings): pairs}
            fits = pendants * 20 + pairs * 30 <= 100 and pendants * 4 <= 40
            seconds = sum(by_key[key].seconds * many for key, many in made.items())
            if fits and seconds <= 6 * HOUR:
                best = max(best, sum(by_key[key].profit_micros * many for key, many in made.items()))
        view = seen(session, planned(session, seconds=6 * HOUR))
        assert view.answer is not None
        assert (view.state, view.answer.kind, view.answer.value, view.answer.gap) == ("done", "plan", best, 0)
        assert view.answer.profit_micros == best > 0


def test_rings_used_are_told_by_lot_and_add_up(store: Store) -> None:
    with store.writing() as session:
        bench, _ = a_stall(session)
        view = seen(session, planned(session, goal="pieces", caps=(Cap(str(bench.design), 3, 3),), most_each=0))
        assert view.answer is not None
        (uses,) = ({use.item.id: use for use in view.answer.uses},)
        assert [(bag.lot_id, bag.milli) for bag in uses[bench.bronze].bags] == [
            (bench.old, 30_000),
            (bench.new, 30_000),
        ]
        assert (uses[bench.silver].taken_milli, uses[bench.silver].left_milli) == (12_000, 28_000)


def test_a_plan_becomes_builds_that_reserve_once_and_is_taken_back(store: Store) -> None:
    with store.writing() as session:
        bench, _ = a_stall(session)
        plan_id = planned(session, goal="pieces")
        before = bags(session)
        act = book_plan(session, plan_id)
        assert act.words.startswith("Started ")
        builds = session.exec(select(Build)).all()
        view = seen(session, plan_id)
        assert view.answer is not None
        assert sum(build.pieces for build in builds) == view.answer.all_pieces
        assert (view.booked, view.waits) == (True, 0)
        assert (
            makeable_by_design(session)[bench.design].pieces
            == (100 - sum(r for _, r in list(bags(session).values())[:2])) // 20
        )
        again = book_plan(session, plan_id)
        assert (again.done, len(session.exec(select(Build)).all())) == (False, len(builds))
        assert (check_ledger(session), check_builds(session)) == ((), ())
        unbook_plan(session, plan_id)
        assert bags(session) == before
        assert session.exec(select(Build)).all() == []
        assert not seen(session, plan_id).booked
        with pytest.raises(Conflict, match="nothing to take back"):
            unbook_plan(session, plan_id)


def test_a_plan_whose_rings_went_elsewhere_is_not_booked(store: Store) -> None:
    with store.writing() as session:
        bench, _ = a_stall(session)
        plan_id = planned(session, goal="pieces")
        start_build(session, StartDraft(BuildRequest(bench.design, 4), started_on=DAY))
        builds = len(session.exec(select(Build)).all())
        assert (
            seen(session, plan_id).no_longer == "There is no longer enough of Bronze ring 1.0 × 3.6 mm for this plan."
        )
        with pytest.raises(Conflict, match=r"no longer enough of Bronze ring 1\.0 × 3\.6 mm for this plan\. Ask again"):
            book_plan(session, plan_id)
        assert len(session.exec(select(Build)).all()) == builds
        assert seen(session, ask_again(session, plan_id)).state == "waiting"


def test_a_build_that_went_on_keeps_the_plan_from_being_taken_back(store: Store) -> None:
    with store.writing() as session:
        a_stall(session)
        plan_id = planned(session, goal="pieces")
        book_plan(session, plan_id)
        build = session.exec(select(Build)).first()
        assert build is not None
        take_out(session, build.id or 0, TakeOutDraft(taken_on=DAY))
        with pytest.raises(Conflict, match=f"Build {build.id} has gone on since"):
            unbook_plan(session, plan_id)


def test_packs_are_drafted_and_what_waits_for_them_is_started_when_they_are_here(store: Store) -> None:
    with store.writing() as session:
        bench, _ = a_stall(session)
        wishes = {"caps": (Cap(str(bench.design), 8, 8),), "most_each": 0, "spend_micros": 20_000_000}
        plan_id = planned(session, **wishes)
        view = seen(session, plan_id)
        assert view.answer is not None
        # 8 pendants take 160 bronze rings and 100 are there: one pack of 100.
        assert [(each.packs, each.item_id) for order in view.answer.orders for each in order.packs] == [
            (1, bench.bronze)
        ]
        act = book_plan(session, plan_id)
        assert act.words == "Started 1 build and drafted 1 purchase. 3 pieces wait for their rings."
        view = seen(session, plan_id)
        assert [(build.pieces, line.waits) for line in view.lines for build in line.builds] == [(5, 3)]
        assert [purchase.state for purchase in view.purchases] == ["draft"]
        with pytest.raises(Conflict, match="not here yet"):
            start_rest(session, plan_id)
        a_lot(session, bench.bronze, 100, "4.00")
        assert start_rest(session, plan_id).words == "Started 1 build."
        view = seen(session, plan_id)
        assert [build.pieces for line in view.lines for build in line.builds] == [5, 3]
        unbook_plan(session, plan_id)
        assert session.exec(select(Build)).all() == []
        assert [purchase.state for purchase in session.exec(select(Purchase))] == ["cancelled"]
        assert (check_ledger(session), check_builds(session)) == ((), ())


def test_stock_that_is_kept_back_stays_free(store: Store) -> None:
    with store.writing() as session:
        bench, _ = a_stall(session)
        plan_id = planned(session, goal="pieces", keep_back=(KeepBack(bench.bronze, 45_000),))
        book_plan(session, plan_id)
        assert (
            sum(there - held for (lot, _), (there, held) in bags(session).items() if lot in {bench.old, bench.new})
            >= 45
        )


def test_wishes_that_do_not_fit_are_told_with_what_is_missing(store: Store) -> None:
    with store.writing() as session:
        bench, _ = a_stall(session)
        plan_id = planned(session, caps=(Cap(str(bench.design), 9, None),))
        view = seen(session, plan_id)
        assert view.answer is not None
        assert (view.answer.kind, view.answer.lines) == ("unmeetable", ())
        assert [(one.wanted, one.possible) for one in view.answer.short] == [(9, 5)]
        assert [(one.item_id, one.milli) for one in view.answer.lacking] == [(bench.bronze, 80_000)]
        with pytest.raises(Conflict, match="no plan to turn into builds"):
            book_plan(session, plan_id)


@pytest.mark.parametrize(
    ("raw", "field", "words"),
    [
        ({"hours": "0"}, "hours", "No hours make nothing"),
        ({"hours": "-2"}, "hours", "Give 0 or more"),
        ({"hours": "soon"}, "hours", "is not a time"),
        ({"caps": [{"key": "1", "at_least": "-1"}]}, "caps.0.at_least", "Give 0 or more"),
        ({"caps": [{"key": "1", "at_least": "5", "at_most": "2"}]}, "caps.0.at_least", "contradict each other"),
        ({"caps": [{"key": "99", "at_least": "1"}]}, "caps.0.key", "not made in this way"),
        ({"caps": [{"key": "1", "at_most": "1"}, {"key": "1", "at_most": "2"}]}, "caps.1.key", "there twice"),
        ({"caps": [{"at_most": "1"}]}, "caps.0.key", "Choose the design"),
        ({"different": "9"}, "different", "only 2 may be made"),
        ({"spend": "-1"}, "spend", "Give 0 or more"),
        ({"lead_days": "-1"}, "lead_days", "Give 0 or more"),
        ({"outlet": "77"}, "outlet", "no such outlet"),
        ({"keep_back": [{"item_id": "77", "quantity": "5"}]}, "keep_back.0.item_id", "no such item"),
        ({"keep_back": [{"item_id": "1", "quantity": "-5"}]}, "keep_back.0.quantity", "Give 0 or more"),
        ({"goal": "fame"}, "goal", "Choose one of"),
    ],
)
def test_a_question_that_cannot_be_asked_is_refused_beside_its_field_and_not_kept(
    store: Store, raw: dict[str, object], field: str, words: str
) -> None:
    with store.writing() as session:
        a_stall(session)
        read = read_plan_request(raw)
        if isinstance(read, PlanRequest):
            with pytest.raises(Unfit) as refused:
                ask_plan(session, read)
            faults = refused.value.faults
        else:
            faults = read
        assert words in faults.by_field()[field]
        assert session.exec(select(MakePlan)).all() == []


def test_without_any_price_only_pieces_can_be_asked_for(store: Store) -> None:
    with store.writing() as session:
        a_bench(session)
        refused = plan_question(session, PlanRequest())
        assert isinstance(refused, Faults)
        assert "has a price that pays" in refused.by_field()["goal"]
        assert isinstance(plan_question(session, PlanRequest(goal="pieces")), Asked)


def test_a_design_that_nothing_limits_asks_for_a_limit(store: Store) -> None:
    with store.writing() as session:
        a_stall(session)
        asked = asked_of(session)
        endless = replace(
            asked.question, stock={item: replace(each, free_milli=None) for item, each in asked.question.stock.items()}
        )
        faults = faults_of_troubles(mix_troubles(endless), PlanRequest())
        assert "Nothing limits how many" in faults.by_field()["most_each"]


def test_a_question_is_kept_exactly_and_fills_its_form_again() -> None:
    ask = PlanRequest(
        seconds=9 * HOUR + 1800, outlet_id=3, goal="sales", caps=(Cap("4:colour=plum|end=bar", 1, None), Cap("7", 0, 0)),
        most_each=5, different=2, keep_back=(KeepBack(9, 12_500),), spend_micros=40_500_000, lead_days=7,
        allowance=False, search_s=30,
    )  # fmt: skip
    assert PLAN_QUESTION.read(PLAN_QUESTION.text(ask)) == ask
    assert read_plan_request(raw_of(ask)) == ask
    assert read_plan_request(raw_of(PlanRequest())) == PlanRequest()


def test_choices_count_as_one_design_and_designs_without_a_price_are_left_out(store: Store) -> None:
    with store.writing() as session:
        an_outlet(session)
        rings = [a_ring(session, name=name) for name in ("Plain", "Bright")]
        for ring in rings:
            a_lot(session, ring, 60, "3.00")
        parts = [a_part(ring, 20, choice_group="ring", choice_name=str(n)) for n, ring in enumerate(rings)]
        a_design(session, parts, name="Two ways")
        refresh_figures(session)
        a_design(session, [a_part(rings[0], 5)], name="Never costed")
        asked = asked_of(session, seconds=40 * HOUR)
        assert [(each.key, each.design) for each in asked.question.designs] == [("1:ring=0", "1"), ("1:ring=1", "1")]
        assert [(each.name, each.why) for each in asked.left_out] == [("Never costed", "no price that pays")]
        view = seen(session, planned(session, seconds=40 * HOUR))
        assert view.answer is not None
        assert [(line.choices, line.pieces) for line in view.answer.lines] == [(("ring=0",), 3), (("ring=1",), 3)]
        assert {line.outlet for line in view.answer.lines} == {"Web shop"}
        assert view.answer.left_out == ("Never costed: no price that pays",)
        book_plan(session, view.id)
        picked = [KEPT_PICKS.read(build.choices) for build in session.exec(select(Build))]
        assert sorted(each.choices["ring"] for each in picked) == ["0", "1"]
        assert not any(each.with_optional or each.instead for each in picked)


def test_a_search_tells_how_far_it_is_is_stopped_and_falls_silent(store: Store) -> None:
    with store.writing() as session:
        a_stall(session)
        plan_id = ask_plan(session, PlanRequest(seconds=HOUR))
        assert seen(session, plan_id).state == "waiting"
        assert begin_search(session, plan_id, "me")
        assert not begin_search(session, plan_id, "you")
        assert beat(session, {plan_id}, {plan_id: Progress(1.5, 2_000_000, 3_000_000)}) == set()
        view = seen(session, plan_id)
        assert (view.state, view.seconds, view.value, view.gap) == (
            "searching",
            Decimal("1.5"),
            2_000_000,
            Decimal("0.5"),
        )
        stop_plan(session, plan_id)
        assert beat(session, {plan_id}, {}) == {plan_id}
        later = now() + timedelta(seconds=SILENT_S + 1)
        assert plan_view(session, plan_id, now=later).state == "broken off"
        assert [row.state for row in latest_plans(session, now=later)] == ["broken off"]
        fail_search(session, plan_id, "The solver gave up.")
        assert seen(session, plan_id).state == "failed"
        with pytest.raises(Missing):
            seen(session, 99)


def test_a_search_that_ran_out_of_time_says_so(store: Store) -> None:
    with store.writing() as session:
        a_stall(session)
        plan_id = ask_plan(session, PlanRequest(seconds=HOUR))
        keep_answer(session, plan_id, asked_of(session, seconds=HOUR), NoPlanYet(10**30, "time", 10.0))
        view = seen(session, plan_id)
        assert view.answer is not None
        assert (view.answer.kind, view.answer.stopped, view.answer.proven) == ("none", "time", False)


def test_what_limits_a_plan_is_asked_once_and_kept(store: Store) -> None:
    with store.writing() as session:
        bench, _ = a_stall(session)
        wishes = {"caps": (Cap(str(bench.design), 0, 9),), "most_each": 0}
        plan_id = planned(session, **wishes)
        assert ask_limits(session, plan_id)
        assert not ask_limits(session, plan_id)
        asked = asked_of(session, **wishes)
        answer = seen(session, plan_id).answer
        assert answer is not None
        plan = plan_today(answer, asked)
        assert isinstance(plan, MixPlan)
        assert faults_of(asked.question, plan) == []
        # Five pendants use up all bronze rings, and a sixth lacks 20 of them.
        assert asked.next_units(plan) == {bench.bronze: 20_000}
        keep_limits(session, plan_id, what_limits(asked.question, plan, item_units=asked.next_units(plan)))
        view = seen(session, plan_id)
        assert view.limits is not None
        assert view.limits.best is not None
        assert view.limits.best.words == "20 rings more of Bronze ring 1.0 × 3.6 mm"
        assert view.answer is not None
        assert view.limits.best.gain == view.answer.value // 5
        keep_limits(session, plan_id, None)
        assert seen(session, plan_id).limits_state == "failed"


def test_only_so_many_searches_wait_at_once(store: Store) -> None:
    with store.writing() as session:
        a_stall(session)
        first = ask_plan(session, PlanRequest(seconds=HOUR))
        for _ in range(MOST_WAITING - 1):
            ask_plan(session, PlanRequest(seconds=HOUR))
        with pytest.raises(Conflict, match="20 searches wait already"):
            ask_plan(session, PlanRequest(seconds=HOUR))
        fail_search(session, first, "The solver gave up.")
        ask_plan(session, PlanRequest(seconds=HOUR))


def test_limits_of_nothing_are_refused(store: Store) -> None:
    with store.writing() as session:
        a_stall(session)
        with pytest.raises(Conflict, match="no plan yet"):
            ask_limits(session, ask_plan(session, PlanRequest(seconds=HOUR)))


def test_with_the_allowance_builds_take_the_spare_rings_along(store: Store) -> None:
    with store.writing() as session:
        bench, _ = a_stall(session)
        wishes = {"caps": (Cap(str(bench.design), 2, 2),), "most_each": 0, "allowance": True}
        plan_id = planned(session, **wishes)
        book_plan(session, plan_id)
        view = seen(session, plan_id)
        assert view.answer is not None
        held = sum(reserved for _, reserved in bags(session).values())
        assert held * 1000 == sum(use.taken_milli for use in view.answer.uses)
        parts = plan_build(session, BuildRequest(bench.design, 2)).parts.needs
        assert held * 1000 == sum(need.need_milli + need.spare_milli for need in parts)


def test_an_unmeetable_answer_is_no_mistake_of_the_search(store: Store) -> None:
    with store.writing() as session:
        bench, earrings = a_stall(session)
        caps = (Cap(str(bench.design), 4), Cap(str(earrings), 2))
        found = plan_mix(asked_of(session, caps=caps).question, Search(5.0))
        assert isinstance(found, Unmeetable)
        assert found.proven
