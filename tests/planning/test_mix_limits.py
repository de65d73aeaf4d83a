"""What one more hour, ring or unit of money would bring: against trying every mix with one unit more."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings

from models.planning.mix import MixPlan, plan_mix
from models.planning.mix_limits import HOUR_S, MONEY_UNIT_MICROS, Limits, what_limits
from models.planning.mix_request import MixRequest
from models.planning.offers import Offer
from models.planning.recipes import Stock
from models.planning.solver import Search
from tests.budget import budget
from tests.planning.mix_shops import mix_requests
from tests.planning.test_mix import BAND, CHAIN, EURO, HOUR, PENDANT, SHOP, best_by_trying, hard_question, stock


def with_one_more(question: MixRequest, item: int) -> MixRequest:
    # One more that may be used: where less is there than is to be kept back, that is made up first.
    have = question.stock.get(item) or Stock(item, 0)
    free = max(have.free_milli or 0, question.keep_back.get(item, 0)) + 1000
    return replace(question, stock={**question.stock, item: replace(have, free_milli=free)})


@settings(max_examples=budget(40))
@given(mix_requests())
def test_what_one_more_brings_equals_trying_every_mix(question: MixRequest) -> None:
    plan = plan_mix(question)
    assert isinstance(plan, MixPlan)
    limits = what_limits(question, plan)
    assert limits.not_tried == ()
    gains = {(each.what, each.item): each for each in limits.tried}
    assert all(each.proven for each in limits.tried)
    if question.seconds is not None:
        more = best_by_trying(replace(question, seconds=question.seconds + HOUR_S))
        assert gains["hours", None].gain == (more or 0) - plan.value
    if ("money", None) in gains:
        richer = best_by_trying(replace(question, spend_micros=question.spend_micros + MONEY_UNIT_MICROS))
        assert gains["money", None].gain == (richer or 0) - plan.value
    for item in (1, 2, 3):
        gain = (best_by_trying(with_one_more(question, item)) or 0) - plan.value
        # What was not tried could not bring anything.
        assert (gains["item", item].gain if ("item", item) in gains else 0) == gain
    assert [each.gain for each in limits.tried] == sorted((each.gain for each in limits.tried), reverse=True)


def limits_of(question: MixRequest) -> tuple[MixPlan, Limits]:
    plan = plan_mix(question)
    assert isinstance(plan, MixPlan)
    return plan, what_limits(question, plan)


def test_one_ring_may_bring_a_whole_piece_and_an_hour_nothing() -> None:
    question = replace(SHOP, designs=(CHAIN,), stock=stock(179), seconds=7 * HOUR)
    plan, limits = limits_of(question)
    assert plan.pieces == {"chain": 1}
    assert limits.best is not None
    assert (limits.best.what, limits.best.item, limits.best.unit, limits.best.gain) == ("item", 1, 1000, 40 * EURO)
    assert [(each.what, each.gain) for each in limits.tried] == [("item", 40 * EURO), ("hours", 0)]


def test_an_hour_may_bring_most() -> None:
    _, limits = limits_of(replace(SHOP, designs=(PENDANT, BAND), stock=stock(900, 900), seconds=2 * HOUR))
    assert limits.best is not None
    assert (limits.best.what, limits.best.gain) == ("hours", 12 * EURO)


def test_one_ring_more_brings_nothing_where_a_piece_takes_ninety() -> None:
    _, limits = limits_of(replace(SHOP, designs=(CHAIN,), stock=stock(120), seconds=9 * HOUR))
    assert limits.best is None
    assert {each.what for each in limits.tried} == {"hours", "item"}


def test_a_unit_of_an_item_may_be_a_pack() -> None:
    question = replace(SHOP, designs=(CHAIN,), stock=stock(120), seconds=9 * HOUR)
    plan = plan_mix(question)
    assert isinstance(plan, MixPlan)
    best = what_limits(question, plan, item_units={1: 100_000}).best
    assert best is not None
    assert (best.item, best.unit, best.gain) == (1, 100_000, 40 * EURO)


def test_money_is_tried_where_some_may_be_spent() -> None:
    offers = [Offer("o", 1, "s", 90_000, 5 * EURO)]
    _, limits = limits_of(
        replace(SHOP, designs=(CHAIN,), stock=stock(0), seconds=None, spend_micros=9 * EURO, offers=offers)
    )
    assert limits.best is not None
    assert (limits.best.what, limits.best.unit, limits.best.gain) == ("money", EURO, 40 * EURO)


def test_items_beyond_the_most_tried_are_named() -> None:
    question = hard_question()
    plan = plan_mix(question, Search(time_limit_s=0.5))
    assert isinstance(plan, MixPlan)
    limits = what_limits(question, plan, Search(time_limit_s=0.6), most_items=2)
    assert len(limits.tried) <= 3
    assert limits.not_tried
    none = what_limits(question, plan, Search(cancelled=lambda: True), most_items=2)
    assert none.tried == ()
    assert len(none.not_tried) >= 2


def test_a_plan_of_another_question_is_refused() -> None:
    plan = plan_mix(SHOP)
    assert isinstance(plan, MixPlan)
    with pytest.raises(ValueError, match="does not answer"):
        what_limits(replace(SHOP, seconds=HOUR), plan)
