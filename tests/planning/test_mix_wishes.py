"""Wishes that can't be met: which, by how much, and what would have to give way instead."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from hypothesis import assume, given, settings

from models.planning.makeable import Missing
from models.planning.mix import MixPlan, plan_mix
from models.planning.mix_request import MixRequest
from models.planning.mix_wishes import Unmeetable
from models.planning.offers import Offer
from tests.budget import budget
from tests.planning.mix_shops import (
    every_basket,
    every_mix,
    mix_requests,
    pieces_missing,
    seconds_of,
    stock_excess,
    tight_requests,
)
from tests.planning.test_mix import BAND, CHAIN, EURO, HOUR, PENDANT, SHOP, stock


def fits(question: MixRequest, mix: dict[str, int]) -> bool:
    return question.seconds is None or seconds_of(question, mix) <= question.seconds


def least_by_trying(question: MixRequest) -> dict[str, Any]:
    """For each kind of wish the least by which it must give way, over every mix and every set of packs."""
    mixes, baskets = list(every_mix(question)), every_basket(question)
    wished = [mix for mix in mixes if not pieces_missing(question, mix)]
    affordable = [arriving for cost, arriving in baskets if cost <= question.spend_micros]
    cap = question.seconds or 0
    return {
        "pieces": min(
            pieces_missing(question, mix)
            for mix in mixes
            if fits(question, mix) and any(not stock_excess(question, mix, each) for each in affordable)
        ),
        "hours": min(
            (seconds_of(question, mix) - cap for mix in wished if any(not stock_excess(question, mix, each) for each in affordable)),
            default=None,
        ),
        "money": min(
            (
                cost - question.spend_micros
                for mix in wished if fits(question, mix)
                for cost, arriving in baskets if not stock_excess(question, mix, arriving)
            ),
            default=None,
        ),
        "keep_back": min(
            (
                stock_excess(question, mix, arriving)
                for mix in wished if fits(question, mix)
                for arriving in affordable if not stock_excess(question, mix, arriving, kept=False)
            ),
            default=None,
        ),
    }  # fmt: skip


@settings(max_examples=budget(60))
@given(mix_requests(wishes=True) | tight_requests())
def test_wishes_fail_by_as_little_as_every_mix_tried_says(question: MixRequest) -> None:
    answer = plan_mix(question)
    assume(isinstance(answer, Unmeetable))
    assert isinstance(answer, Unmeetable)
    least = least_by_trying(question)
    assert answer.proven
    assert sum(each.by for each in answer.short) == least["pieces"] > 0
    instead = {each.what: each for each in answer.instead}
    assert all(each.proven for each in answer.instead)
    # Wishes that can be met with as much as there is need no give: then that kind is not why they fail.
    for what in ("hours", "money", "keep_back"):
        asked = {"hours": question.seconds is not None, "money": bool(question.offers), "keep_back": True}[what]
        if asked and least[what] is not None and least[what] > 0:
            assert instead[what].by == least[what]
        else:
            assert what not in instead


def unmet(question: MixRequest) -> Unmeetable:
    answer = plan_mix(question)
    assert isinstance(answer, Unmeetable)
    return answer


def test_hours_that_are_too_few_are_told_with_the_hours_that_would_do() -> None:
    answer = unmet(replace(SHOP, designs=(replace(CHAIN, at_least=2), replace(BAND, at_least=3)), seconds=6 * HOUR))
    assert sum(each.by for each in answer.short) == 1
    (hours,) = answer.instead
    assert (hours.what, hours.by, hours.message) == ("hours", 5400, "1 h 30 min more")
    assert answer.message.endswith("All would fit with 1 h 30 min more.")
    more = plan_mix(
        replace(SHOP, designs=(replace(CHAIN, at_least=2), replace(BAND, at_least=3)), seconds=6 * HOUR + 5400)
    )
    assert isinstance(more, MixPlan)


def test_rings_that_are_not_there_are_told_by_item() -> None:
    answer = unmet(replace(SHOP, designs=(replace(CHAIN, at_least=3),), seconds=None))
    (short,) = answer.short
    assert (short.field, short.key, short.wanted, short.possible, short.by) == (
        "designs.chain.at_least",
        "chain",
        3,
        2,
        1,
    )
    assert short.message == "You want 3 of Chain, but 2 can be made."
    assert answer.lacking == (Missing(1, 70_000, rough=False),)
    assert answer.instead == ()
    assert answer.message == "You want 3 of Chain, but 2 can be made. Neither free nor on offer: 70 of ring 1."


def test_money_and_kept_back_stock_are_two_ways_out() -> None:
    question = replace(
        SHOP, designs=(replace(PENDANT, at_least=4),), keep_back={1: 150_000}, spend_micros=EURO,
        offers=[Offer("o", 1, "s", 30_000, 5 * EURO)],
    )  # fmt: skip
    answer = unmet(question)
    money, kept = answer.instead
    assert (money.what, money.by, money.message) == ("money", 4 * EURO, "4.00 more to spend")
    assert (kept.what, kept.kept, kept.message) == ("keep_back", {1: 30_000}, "30 of ring 1 less kept back")
    assert answer.message.endswith("All would fit with 4.00 more to spend or 30 of ring 1 less kept back.")


def test_too_few_different_designs_are_told() -> None:
    answer = unmet(replace(SHOP, different=3, stock=stock(200, 3), seconds=None))
    (short,) = answer.short
    assert (short.field, short.key, short.wanted, short.possible) == ("different", "", 3, 1)
    assert short.message == "You want 3 different designs, but 1 can be made."


def test_many_wishes_that_fail_are_told_in_short() -> None:
    many = [replace(BAND, recipe=replace(BAND.recipe, key=f"b{n}", name=f"Band {n}"), at_least=1) for n in range(9)]
    answer = unmet(replace(SHOP, designs=many, seconds=2 * HOUR))
    assert len(answer.short) == 6
    assert answer.message.startswith("Not all wishes fit together. You want 1 of Band")
    assert "2 more wishes fail." in answer.message
    # Two hours and three times thirty rings: by itself neither hours nor rings would do.
    assert "Neither free nor on offer: 170 of ring 2." in answer.message
    both = unmet(replace(SHOP, designs=many[:3], seconds=HOUR, keep_back={2: 50_000}))
    assert both.lacking == ()
    assert both.message.endswith("More hours, more money or less kept back would not be enough by itself.")


def test_a_wished_design_with_an_unknown_part_can_not_be_made() -> None:
    strange = replace(CHAIN, recipe=replace(CHAIN.recipe, unknown=("a clasp",)), at_least=1)
    (short,) = unmet(replace(SHOP, designs=(strange,))).short
    assert short.message == "You want 1 of Chain, but none can be made."


def test_packs_within_the_money_are_counted_before_kept_back_stock_gives_way() -> None:
    # Four pendants take 80 rings: 20 may be used and a pack brings 30, so 30 of those kept back are lacking.
    question = replace(
        SHOP, designs=(replace(PENDANT, at_least=4),), keep_back={1: 180_000}, spend_micros=5 * EURO,
        offers=[Offer("o", 1, "s", 30_000, 5 * EURO)],
    )  # fmt: skip
    kept = {each.what: each.by for each in unmet(question).instead}
    assert kept == {"money": 5 * EURO, "keep_back": 30_000}
