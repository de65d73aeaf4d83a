"""A solver that gives no answer: it is asked again in another way, and what cannot be answered is said in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from models.planning import solver
from models.planning.mix import MixPlan, plan_mix
from models.planning.mix_limits import what_limits
from models.planning.mix_request import MixDesign, MixRequest
from models.planning.mix_wishes import Unmeetable
from models.planning.offers import Offer
from models.planning.packs import BuyPlan, PackRequest, buy_packs
from models.planning.recipes import Recipe, RecipeLine, Stock
from models.planning.solver import NotSolved, Programme, Search, Solved, SolverFailed, solve
from tests.planning.mix_shops import CENT, mix_requests
from tests.planning.test_solver import by_trying_everything, programmes


class Fails:
    """The solver's run, of which some end without an answer: those with presolve, or from the n-th on."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, *, presolve_only: bool = True, after: int = 0) -> None:
        self.runs: list[str] = []
        ran = solver._Run._ran

        def run(this: Any, start: Sequence[int] | None, presolve: str) -> Any:
            highs = ran(this, start, presolve)
            self.runs.append(presolve)
            if len(self.runs) > after and (presolve != "off" or not presolve_only):
                highs.clearSolver()  # what it has no answer for then reads like a solve error: no known status
            return highs

        monkeypatch.setattr(solver._Run, "_ran", run)


@pytest.fixture
def without_presolve(monkeypatch: pytest.MonkeyPatch) -> Fails:
    return Fails(monkeypatch)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(programmes())
def test_where_presolve_fails_the_best_is_still_found(without_presolve: Fails, programme: Programme) -> None:
    without_presolve.runs.clear()
    found = solve(programme, Search())
    best = by_trying_everything(programme)
    if best is None:
        assert isinstance(found, NotSolved)
        assert found.impossible
    else:
        assert isinstance(found, Solved)
        assert (found.value, found.bound, found.stopped) == (best, best, "")
    assert without_presolve.runs[:2] in (["choose", "off"], [])


@pytest.mark.long
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(mix_requests(wishes=True))
def test_a_question_is_answered_the_same_without_presolve(
    monkeypatch: pytest.MonkeyPatch, question: MixRequest
) -> None:
    before = plan_mix(question)
    with monkeypatch.context() as patch:
        Fails(patch)
        after = plan_mix(question)
    assert type(after) is type(before)
    if isinstance(before, MixPlan) and isinstance(after, MixPlan):
        assert (after.value, after.gap) == (before.value, before.gap)


def test_what_has_no_answer_in_any_way_fails_with_words(monkeypatch: pytest.MonkeyPatch) -> None:
    fails = Fails(monkeypatch, presolve_only=False)
    programme = Programme()
    column = programme.column(5, worth=1)
    programme.row({column: 2}, high=7)
    with pytest.raises(SolverFailed, match=r"the solver has no answer: .* with presolve choose, .* with presolve off"):
        solve(programme, Search())
    assert fails.runs == ["choose", "off", "choose", "off"]


def test_where_an_answer_is_known_it_is_not_called_impossible(monkeypatch: pytest.MonkeyPatch) -> None:
    ran = solver._Run._ran

    def wrong(this: Any, start: Sequence[int] | None, presolve: str) -> Any:
        highs = ran(this, start, presolve)
        if presolve != "off":
            # A programme that nothing keeps to takes the place of the real one.
            highs.changeColBounds(0, 9.0, 9.0)
            highs.changeRowBounds(0, 0.0, 1.0)
            highs.run()
        return highs

    programme = Programme()
    programme.row({programme.column(9, worth=1): 1}, low=2, high=5)
    monkeypatch.setattr(solver._Run, "_ran", wrong)
    found = solve(programme, Search(), start=[2])
    assert isinstance(found, Solved)
    assert found.value == 5


def shop(**more: Any) -> MixRequest:
    designs = [
        MixDesign(
            Recipe(f"d{number}", f"Design {number}", (RecipeLine(1, each * 1000),)), 600, each * CENT, each * CENT
        )
        for number, each in enumerate((30, 50), 1)
    ]
    return MixRequest(designs, {1: Stock(1, 400_000, name="ring")}, seconds=36_000, **more)


def test_a_mix_that_was_found_before_a_failure_stands(monkeypatch: pytest.MonkeyPatch) -> None:
    known = plan_mix(shop())
    assert isinstance(known, MixPlan)
    Fails(monkeypatch, presolve_only=False)
    again = plan_mix(shop(), known=known)
    assert isinstance(again, MixPlan)
    assert again.pieces == known.pieces
    assert again.bound >= known.value
    assert again.stopped == "time"


def test_what_could_not_be_tried_is_named_and_the_rest_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    known = plan_mix(shop())
    assert isinstance(known, MixPlan)

    def failing(question: MixRequest, *_: object, **__: object) -> object:
        if question.stock[1].free_milli != shop().stock[1].free_milli:
            raise SolverFailed("no answer")
        return known

    monkeypatch.setattr("models.planning.mix_limits.plan_mix", failing)
    limits = what_limits(shop(), known)
    assert [each.what for each in limits.tried] == ["hours"]
    assert limits.not_tried == (1,)


def test_wishes_that_fail_are_told_although_a_way_out_could_not_be_searched(monkeypatch: pytest.MonkeyPatch) -> None:
    question = shop()
    question = replace(question, designs=[replace(each, at_least=9) for each in question.designs])
    Fails(monkeypatch, presolve_only=False, after=1)
    found = plan_mix(question)
    assert isinstance(found, Unmeetable)
    assert found.message
    assert not found.proven


def test_the_cheapest_packs_stand_where_a_comparison_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    offers = [Offer("a", 1, "s", 100_000, 5 * CENT), Offer("b", 1, "t", 50_000, 3 * CENT)]
    Fails(monkeypatch, presolve_only=False, after=1)
    plan = buy_packs(PackRequest({1: 120_000}, offers))
    assert isinstance(plan, BuyPlan)
    assert plan.total_micros == 8 * CENT
    assert [each.order for each in plan.alone] == [None, None]
