"""The best mix: against every mix of small shops, and what a plan tells about itself."""

from __future__ import annotations

import threading
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise

import pytest
from hypothesis import given, settings

from models.planning.mix import MixPlan, NoPlanYet, faults_of, plan_mix
from models.planning.mix_model import MixModel
from models.planning.mix_request import MixDesign, MixRequest
from models.planning.offers import Break, Offer, Supplier
from models.planning.recipes import Recipe, RecipeLine, Rough, Stock
from models.planning.solver import Progress, Search
from tests.budget import budget
from tests.planning.mix_shops import (
    every_basket,
    every_mix,
    mix_requests,
    pieces_missing,
    seconds_of,
    stock_excess,
    tight_requests,
    worth_of,
)

EURO = 1_000_000
HOUR = 3600


def best_by_trying(question: MixRequest) -> int | None:
    """The most that any mix with any affordable packs is worth; None where none meets the wishes."""
    baskets = [arriving for cost, arriving in every_basket(question) if cost <= question.spend_micros]
    return max(
        (
            worth_of(question, mix)
            for mix in every_mix(question)
            if not pieces_missing(question, mix)
            and (question.seconds is None or seconds_of(question, mix) <= question.seconds)
            and any(not stock_excess(question, mix, arriving) for arriving in baskets)
        ),
        default=None,
    )


@settings(max_examples=budget(60))
@given(mix_requests())
def test_the_best_mix_equals_trying_every_mix(question: MixRequest) -> None:
    plan = plan_mix(question)
    assert isinstance(plan, MixPlan)
    assert plan.value == best_by_trying(question)
    assert (plan.bound, plan.gap, plan.stopped) == (plan.value, 0, "")
    assert faults_of(question, plan) == []


@settings(max_examples=budget(60))
@given(mix_requests(wishes=True))
def test_with_wishes_the_best_mix_equals_trying_every_mix_or_there_is_none(question: MixRequest) -> None:
    best = best_by_trying(question)
    plan = plan_mix(question)
    assert isinstance(plan, MixPlan) == (best is not None)
    if isinstance(plan, MixPlan):
        assert plan.value == plan.bound == best


@settings(max_examples=budget(40))
@given(mix_requests())
def test_the_packs_of_a_plan_are_the_cheapest_for_its_pieces(question: MixRequest) -> None:
    plan = plan_mix(question)
    assert isinstance(plan, MixPlan)
    mix = {each.key: plan.pieces.get(each.key, 0) for each in question.designs}
    costs = [cost for cost, arriving in every_basket(question) if not stock_excess(question, mix, arriving)]
    assert plan.spend_micros == min(costs)


@settings(max_examples=budget(60))
@given(tight_requests())
def test_where_rounding_up_decides_the_best_mix_still_equals_trying_every_mix(question: MixRequest) -> None:
    best = best_by_trying(question)
    plan = plan_mix(question)
    assert isinstance(plan, MixPlan) == (best is not None)
    if isinstance(plan, MixPlan):
        assert plan.value == plan.bound == best


@settings(max_examples=budget(40))
@given(tight_requests())
def test_a_search_that_may_stop_close_to_the_best_is_as_close_as_it_says(question: MixRequest) -> None:
    best = best_by_trying(question)
    plan = plan_mix(question, Search(gap=Decimal("0.2")))
    if isinstance(plan, MixPlan):
        assert best is not None
        assert plan.value <= best <= plan.bound
        assert plan.gap <= Decimal("0.2")
        assert plan.stopped == ""


def design(
    key: str, seconds: int, profit: int, *lines: RecipeLine, at_least: int = 0, at_most: int | None = None
) -> MixDesign:
    recipe = Recipe(key, key.title(), lines)
    return MixDesign(recipe, seconds, profit * EURO, 2 * profit * EURO, at_least=at_least, at_most=at_most)


def ring(item: int, count: int, allowance: str = "0") -> RecipeLine:
    return RecipeLine(item, count * 1000, Decimal(allowance))


def stock(*counts: int) -> dict[int, Stock]:
    return {item: Stock(item, count * 1000, name=f"ring {item}") for item, count in enumerate(counts, 1)}


PENDANT = design("pendant", HOUR, 12, ring(1, 20), ring(2, 4))
CHAIN = design("chain", 3 * HOUR, 40, ring(1, 90))
BAND = design("band", HOUR // 2, 5, ring(2, 30))
SHOP = MixRequest((PENDANT, CHAIN, BAND), stock(200, 100), seconds=6 * HOUR)


def planned(question: MixRequest) -> MixPlan:
    plan = plan_mix(question)
    assert isinstance(plan, MixPlan)
    return plan


def test_a_plan_tells_pieces_rings_hours_and_money() -> None:
    # Two chains take six hours and 180 rings for 80; one chain, two pendants and two bands earn 74.
    plan = planned(SHOP)
    assert plan.pieces == {"chain": 2}
    (line,) = plan.lines
    assert (line.seconds, line.profit_micros, line.sales_micros) == (6 * HOUR, 80 * EURO, 160 * EURO)
    assert (plan.seconds, plan.profit_micros, plan.sales_micros) == (6 * HOUR, 80 * EURO, 160 * EURO)
    (use,) = plan.uses
    assert (use.item, use.taken_milli, use.bought_milli, use.left_milli) == (1, 180_000, 0, 20_000)
    assert (plan.value, plan.bound, plan.spend_micros, plan.orders) == (80 * EURO, 80 * EURO, 0, ())


def test_another_goal_is_another_mix() -> None:
    # Two bands use 60 of the 100 small rings and one hour; five pendants the other five hours.
    assert planned(replace(SHOP, goal="pieces")).value == 7
    assert planned(replace(SHOP, goal="sales")).value == 160 * EURO


def test_different_designs_count_once_whatever_their_choices() -> None:
    red = replace(PENDANT, recipe=replace(PENDANT.recipe, key="red"), design="pendant")
    blue = replace(PENDANT, recipe=replace(PENDANT.recipe, key="blue"), design="pendant")
    plan = planned(replace(SHOP, designs=(red, blue, BAND), different=2, seconds=3 * HOUR))
    assert plan.pieces.get("band")
    assert planned(replace(SHOP, designs=(red, blue), different=1)).pieces


def test_what_is_kept_back_stays_in_stock() -> None:
    plan = planned(replace(SHOP, keep_back={1: 100_000}))
    (left,) = [use.left_milli for use in plan.uses if use.item == 1]
    assert left is not None
    assert left >= 100_000


def test_more_kept_back_than_there_is_only_means_none_of_it() -> None:
    plan = planned(replace(SHOP, keep_back={1: 500_000}))
    assert plan.pieces == {"band": 3}


def test_money_buys_whole_packs_with_their_postage() -> None:
    offers = [Offer("o", 1, "s", 100_000, 4 * EURO)]
    bare = planned(replace(SHOP, seconds=9 * HOUR, spend_micros=5 * EURO, offers=offers))
    assert (bare.pieces, bare.packs, bare.spend_micros) == ({"chain": 3}, {"o": 1}, 4 * EURO)
    with_postage = replace(
        SHOP, seconds=9 * HOUR, spend_micros=5 * EURO, offers=offers, suppliers=[Supplier("s", postage_micros=2 * EURO)]
    )
    assert planned(with_postage).spend_micros == 0
    late = planned(replace(SHOP, seconds=9 * HOUR, spend_micros=5 * EURO, offers=offers, lead_days=3))
    assert (late.spend_micros, [each.offer.key for each in late.late]) == (0, ["o"])


def test_a_price_break_may_be_the_way_to_afford_enough() -> None:
    # Nine packs at 4.00 would be 36.00, ten at 3.00 are 30.00.
    offers = [Offer("o", 1, "s", 10_000, 4 * EURO, (Break(10, 3 * EURO),))]
    plan = planned(MixRequest([CHAIN], stock(0), seconds=3 * HOUR, spend_micros=30 * EURO, offers=offers))
    assert (plan.pieces, plan.packs, plan.spend_micros) == ({"chain": 1}, {"o": 10}, 30 * EURO)


def test_the_allowance_is_rounded_up_as_the_builds_will_take_it() -> None:
    # 10 rings and 3 % are 10.3 a piece: two designs of five each take 52 + 52, not 103.
    one = design("one", HOUR, 10, ring(1, 10, "0.03"), at_most=5)
    two = design("two", HOUR, 10, ring(1, 10, "0.03"), at_most=5)
    question = MixRequest([one, two], stock(103))
    plan = planned(question)
    assert plan.value == 90 * EURO
    assert planned(replace(question, stock=stock(104))).value == 100 * EURO
    assert planned(replace(question, with_allowance=False)).value == 100 * EURO


def test_rough_counts_of_a_plan_are_named_and_plenty_never_limits() -> None:
    rough = {1: Stock(1, 200_000, rough=Rough(150_000)), 2: Stock(2, None)}
    plan = planned(replace(SHOP, stock=rough, designs=(PENDANT, CHAIN)))
    assert set(plan.rests_on) <= {1, 2}
    assert 1 in plan.rests_on
    only = planned(replace(SHOP, stock=rough, designs=(BAND,)))
    assert (only.pieces, only.rests_on) == ({"band": 12}, (2,))
    assert only.uses[0].left_milli is None


def test_a_design_with_a_part_that_is_no_stock_item_is_not_made() -> None:
    strange = replace(CHAIN, recipe=replace(CHAIN.recipe, unknown=("a clasp",)))
    assert "chain" not in planned(replace(SHOP, designs=(PENDANT, strange, BAND))).pieces


def test_a_loss_is_made_only_where_it_is_wished() -> None:
    loss = design("loss", HOUR, -3, ring(2, 1))
    assert planned(MixRequest([loss], stock(0, 9), seconds=9 * HOUR)).pieces == {}
    wished = planned(MixRequest([replace(loss, at_least=2)], stock(0, 9), seconds=9 * HOUR))
    assert (wished.pieces, wished.value) == ({"loss": 2}, -6 * EURO)


def hard_question() -> MixRequest:
    """A market's worth of near-equal designs that share rings, with money and no hours: too much to prove at once."""
    designs = []
    for n in range(30):
        lines = tuple(ring((n * 7 + k * (k + 3)) % 20 + 1, 5 + (n * 31 + k * 17) % 83, "0.03") for k in range(5))
        designs.append(
            MixDesign(Recipe(f"d{n}", f"Design {n}", lines), 1800 + 60 * n, (500 + (n * 373) % 411) * 10_000)
        )
    offers = [
        Offer(f"o{item}", item, f"s{item % 3}", (50 + item % 4 * 25) * 1000, (150 + item * 53 % 271) * 10_000)
        for item in range(1, 21)
    ]
    suppliers = [Supplier(f"s{k}", postage_micros=(4 + k) * EURO, free_from_micros=60 * EURO) for k in range(3)]
    return MixRequest(
        designs,
        stock(*((item * 97) % 400 for item in range(1, 21))),
        spend_micros=150 * EURO,
        offers=offers,
        suppliers=suppliers,
    )


@pytest.mark.long
def test_a_search_that_is_stopped_says_how_far_it_came() -> None:
    question = hard_question()
    told: list[Progress] = []
    plan = plan_mix(question, Search(time_limit_s=3.0, progress=told.append))
    assert isinstance(plan, MixPlan)
    assert plan.stopped == "time"
    assert plan.bound > plan.value > 0
    assert 0 < plan.gap < 2
    assert plan.search_s < 8
    assert faults_of(question, plan) == []
    bounds = [each.bound for each in told if each.bound is not None]
    assert bounds
    assert all(later <= earlier for earlier, later in pairwise(bounds))
    assert all(each.value <= each.bound for each in told if each.value is not None and each.bound is not None)


def test_a_search_can_be_cancelled() -> None:
    stop = threading.Event()
    stop.set()
    plan = plan_mix(hard_question(), Search(time_limit_s=30, cancelled=stop.is_set))
    assert isinstance(plan, MixPlan | NoPlanYet)
    assert plan.stopped == "cancelled"
    assert plan.search_s < 5


def test_a_plan_is_found_again_from_a_known_one() -> None:
    question = hard_question()
    first = plan_mix(question, Search(time_limit_s=1.0))
    assert isinstance(first, MixPlan)
    for time_limit_s in (1.0, 0.01):
        again = plan_mix(question, Search(time_limit_s=time_limit_s), known=first)
        assert isinstance(again, MixPlan)
        assert again.value >= first.value
    # Where it no longer stands it is not used.
    less = plan_mix(replace(question, stock={}, spend_micros=0), known=first)
    assert isinstance(less, MixPlan)
    assert (less.value, less.pieces) == (0, {})


def test_a_plan_changed_by_hand_is_counted_again() -> None:
    plan = planned(SHOP)
    more = replace(plan, lines=(replace(plan.lines[0], pieces=3),))
    assert faults_of(SHOP, more) == [f"{9 * HOUR} seconds", "270000 thousandths of ring 1"]


def test_a_known_plan_with_a_price_break_and_postage_is_a_start_that_counts() -> None:
    offers = [Offer("o", 1, "s", 10_000, 4 * EURO, (Break(10, 3 * EURO),)), Offer("p", 2, "t", 5_000, EURO)]
    suppliers = [Supplier("s", postage_micros=EURO, free_from_micros=30 * EURO), Supplier("t", postage_micros=EURO)]
    question = MixRequest(
        [CHAIN, replace(PENDANT, at_least=1)], stock(0, 0), seconds=4 * HOUR, spend_micros=60 * EURO, offers=offers,
        suppliers=suppliers, different=2,
    )  # fmt: skip
    plan = planned(question)
    assert plan.pieces == {"chain": 1, "pendant": 1}
    draws = question.draws()
    model = MixModel(question, draws, frozenset(draws["chain"]))
    start = model.start(plan.pieces, plan.packs)
    assert list(model.programme.broken(start)) == []
    assert model.programme.value(start) == plan.value
    assert model.pieces(start) == plan.pieces
    assert model.basket.bought(start) == plan.packs


def test_everything_that_a_changed_plan_breaks_is_named() -> None:
    offers = [Offer("o", 1, "s", 100_000, 4 * EURO, most_packs=1)]
    question = replace(
        SHOP, designs=(replace(PENDANT, at_least=1), CHAIN, replace(BAND, recipe=replace(BAND.recipe, unknown=("a bead",)))),
        spend_micros=5 * EURO, offers=offers, suppliers=[Supplier("s", "Rings by Post", minimum_micros=4 * EURO)], different=2,
    )  # fmt: skip
    plan = planned(question)
    assert faults_of(question, plan) == []
    (line, *_) = planned(replace(SHOP, designs=(BAND,), seconds=HOUR)).lines
    order = planned(replace(question, seconds=9 * HOUR, designs=(CHAIN,), different=0)).orders[0]
    two = replace(order, lines=(replace(order.lines[0], packs=2),))
    strict = replace(question, suppliers=[Supplier("s", "Rings by Post", minimum_micros=9 * EURO)])
    wrong = faults_of(strict, replace(plan, lines=(replace(line, pieces=1),), orders=(two,)))
    assert wrong == [
        "0 of Pendant", "Band has parts that are no stock item", "1 different designs", "more money than there is",
        "an order of Rings by Post is too small", "2 packs of offer o",
    ]  # fmt: skip


@pytest.mark.long
def test_a_search_cancelled_on_its_way_keeps_what_it_has() -> None:
    stop = threading.Event()

    def progress(each: Progress) -> None:
        if each.bound is not None:
            stop.set()

    plan = plan_mix(hard_question(), Search(time_limit_s=60, progress=progress, cancelled=stop.is_set))
    assert isinstance(plan, MixPlan | NoPlanYet)
    assert plan.stopped == "cancelled"
    assert plan.search_s < 20
    exact = replace(hard_question(), with_allowance=False)
    told: list[Progress] = []
    plan = plan_mix(exact, Search(time_limit_s=2, progress=told.append))
    assert isinstance(plan, MixPlan)
    assert max(each.value or 0 for each in told) == plan.value


@pytest.mark.parametrize(
    ("bad", "field", "words"),
    [
        (replace(SHOP, seconds=0), "hours", "No hours"),
        (replace(SHOP, seconds=-5), "hours", "No hours"),
        (replace(SHOP, spend_micros=-1), "spend", "zero or more"),
        (replace(SHOP, lead_days=-1), "lead_days", "zero or more"),
        (replace(SHOP, keep_back={1: -5}), "keep_back.1", "ring 1"),
        (replace(SHOP, different=-1), "different", "zero or more"),
        (replace(SHOP, different=4), "different", "4 different designs, but only 3"),
        (replace(SHOP, designs=()), "designs", "at least one"),
        (replace(SHOP, designs=(PENDANT, PENDANT)), "designs.pendant", "twice"),
        (replace(SHOP, designs=(replace(PENDANT, seconds=-1),)), "designs.pendant.minutes", "zero or more"),
        (replace(SHOP, designs=(replace(PENDANT, at_least=-1),)), "designs.pendant.at_least", "none or more"),
        (replace(SHOP, designs=(replace(PENDANT, at_most=-1),)), "designs.pendant.at_most", "none or more"),
        (replace(SHOP, designs=(replace(PENDANT, at_least=3, at_most=2),)), "designs.pendant.at_least", "contradict"),
        (replace(SHOP, offers=[Offer("o", 1, "s", 0, 1)]), "offers.o.pack", "holds something"),
        (MixRequest([design("air", 0, 1)], {}), "designs.air.at_most", "Nothing limits"),
        (MixRequest([BAND], {2: Stock(2, None)}), "designs.band.at_most", "Nothing limits"),
    ],
)
def test_a_bad_question_is_told_beside_its_field(bad: MixRequest, field: str, words: str) -> None:
    troubles = plan_mix(bad)
    assert isinstance(troubles, tuple)
    assert [each.field for each in troubles] == [field]
    assert words in troubles[0].message
