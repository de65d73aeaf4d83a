"""The cheapest packs: against trying every number of packs, and what a plan tells beside its total."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.planning.offers import Break, Offer, Supplier, orders_of
from models.planning.packs import BuyPlan, NoPacksYet, PackRequest, buy_packs
from models.planning.solver import Search
from tests.budget import budget

CENT = 10_000
EURO = 100 * CENT
MOST_TRIED = 11


@st.composite
def offers(draw: st.DrawFn, key: str) -> Offer:
    price = draw(st.integers(2, 9))
    starts = sorted(draw(st.sets(st.integers(2, 6), max_size=2)))
    prices = sorted((draw(st.integers(1, price)) for _ in starts), reverse=True)
    return Offer(
        key, draw(st.integers(1, 2)), draw(st.sampled_from(["a", "b"])), draw(st.integers(1, 6)) * 1000, price * CENT,
        breaks=tuple(Break(start, each * CENT) for start, each in zip(starts, prices, strict=True)),
        most_packs=draw(st.none() | st.integers(0, 4)),
    )  # fmt: skip


@st.composite
def suppliers(draw: st.DrawFn, key: str) -> Supplier:
    return Supplier(
        key,
        postage_micros=draw(st.integers(0, 6)) * CENT,
        free_from_micros=draw(st.none() | st.integers(0, 9).map(lambda cents: cents * CENT)),
        minimum_micros=draw(st.sampled_from([0, 0, 3, 9])) * CENT,
    )


@st.composite
def questions(draw: st.DrawFn) -> PackRequest:
    return PackRequest(
        needs={item: draw(st.integers(0, 11)) * 1000 for item in (1, 2)},
        offers=[draw(offers(f"o{number}")) for number in range(draw(st.integers(1, 3)))],
        suppliers=[draw(suppliers(key)) for key in ("a", "b")],
    )


def cheapest_by_trying(
    needs: dict[int, int], asked: Sequence[Offer], terms: Sequence[Supplier], least: dict[int, int] | None = None
) -> int | None:
    """The cheapest total over every number of packs of every offer up to eleven; None where nothing covers the needs."""
    by_key = {each.key: each for each in terms}
    totals = []
    for counts in product(*(range(min(MOST_TRIED, 99 if o.most_packs is None else o.most_packs) + 1) for o in asked)):
        there = dict.fromkeys(needs, 0)
        for offer, packs in zip(asked, counts, strict=True):
            there[offer.item] += offer.pack_milli * packs
        if any(there[item] < need for item, need in needs.items()):
            continue
        total = 0
        for key, supplier in by_key.items():
            goods = sum(o.price_of(packs) * packs for o, packs in zip(asked, counts, strict=True) if o.supplier == key)
            ordered = any(packs for o, packs in zip(asked, counts, strict=True) if o.supplier == key)
            if ordered and goods < supplier.minimum_micros:
                break
            free = supplier.free_from_micros is not None and goods >= supplier.free_from_micros
            total += goods + (supplier.postage_micros if ordered and not free else 0)
        else:
            totals.append(total)
    return min(totals, default=None)


@settings(max_examples=budget(60))
@given(questions())
def test_the_cheapest_packs_equal_trying_every_number_of_packs(question: PackRequest) -> None:
    plan = buy_packs(question)
    assert isinstance(plan, BuyPlan)
    needs = {each.item: each.needed_milli for each in plan.covered}
    asked = [offer for offer in question.offers if offer.item in needs]
    best = cheapest_by_trying(needs, asked, question.suppliers)
    assert plan.total_micros == best
    assert (plan.bound_micros, plan.gap, plan.stopped) == (best, 0, "")
    for each in plan.covered:
        arriving = sum(line.milli for line in plan.lines if line.offer.item == each.item)
        assert (each.arriving_milli, each.left_over_milli) == (arriving, arriving - each.needed_milli)
        assert each.left_over_milli >= 0
    # What is not covered is what even all packs there are can't bring.
    for item, need in question.needs.items():
        assert needs.get(item, 0) + plan.not_covered.get(item, 0) == need
    if plan.not_covered:
        more = {**needs, **{item: needs.get(item, 0) + 1 for item in plan.not_covered}}
        assert (
            cheapest_by_trying(more, [o for o in question.offers if question.needs[o.item]], question.suppliers) is None
        )


@settings(max_examples=budget(40))
@given(questions())
def test_one_supplier_for_everything_is_never_cheaper(question: PackRequest) -> None:
    plan = buy_packs(question)
    assert isinstance(plan, BuyPlan)
    needs = {each.item: each.needed_milli for each in plan.covered}
    for alone in plan.alone:
        own = [o for o in question.offers if o.supplier == alone.supplier.key and o.item in needs]
        best = cheapest_by_trying(needs, own, question.suppliers)
        assert bool(alone.lacking) == (best is None)
        if alone.order is not None:
            assert alone.proven
            assert alone.order.total_micros == best
            assert plan.saved_micros is not None
            assert plan.saved_micros >= 0


FAR = Supplier("far", "Far Rings", postage_micros=6 * EURO, free_from_micros=40 * EURO, lead_days=14)
NEAR = Supplier("near", "Near Rings", postage_micros=3 * EURO, lead_days=2)


def offer(key: str, item: int, supplier: Supplier, pack: int, price: str, *breaks: Break) -> Offer:
    return Offer(key, item, supplier.key, pack * 1000, int(float(price) * EURO), breaks)


def test_a_plan_over_two_suppliers_is_compared_with_each_alone() -> None:
    # 400 of item 1 and 150 of item 2. Far alone: 4 x 5.00 + 2 x 9.00 = 38.00 and 6.00 postage = 44.00; a fifth pack
    # of item 1 reaches 43.00, free of postage. Near alone: 2 x 14.00 + 12.00 + 3.00 = 43.00. Both: 4 x 5.00 + 6.00 of
    # Far and 12.00 + 3.00 of Near = 41.00.
    question = PackRequest(
        {1: 400_000, 2: 150_000},
        [offer("f1", 1, FAR, 100, "5"), offer("f2", 2, FAR, 100, "9"),
         offer("n1", 1, NEAR, 200, "14"), offer("n2", 2, NEAR, 150, "12")],
        [FAR, NEAR],
    )  # fmt: skip
    plan = buy_packs(question)
    assert isinstance(plan, BuyPlan)
    assert plan.total_micros == 41 * EURO
    assert [(line.offer.key, line.packs) for line in plan.lines] == [("f1", 4), ("n2", 1)]
    assert [(order.supplier.called, order.postage_micros) for order in plan.orders] == [
        ("Far Rings", 6 * EURO), ("Near Rings", 3 * EURO),
    ]  # fmt: skip
    assert [alone.order.total_micros for alone in plan.alone if alone.order] == [43 * EURO, 43 * EURO]
    assert plan.saved_micros == 2 * EURO


def test_a_larger_order_is_bought_where_free_postage_pays_for_it() -> None:
    question = PackRequest({1: 700_000}, [offer("f1", 1, FAR, 100, "5")], [FAR])
    plan = buy_packs(question)
    assert isinstance(plan, BuyPlan)
    assert ([line.packs for line in plan.lines], plan.total_micros) == ([8], 40 * EURO)
    assert plan.covered[0].left_over_milli == 100_000


def test_a_price_break_lowers_every_pack_of_the_order() -> None:
    question = PackRequest({1: 900_000}, [offer("n1", 1, NEAR, 100, "5", Break(10, 4 * EURO))], [NEAR])
    plan = buy_packs(question)
    assert isinstance(plan, BuyPlan)
    (line,) = plan.lines
    assert (line.packs, line.price_micros, line.amount_micros) == (10, 4 * EURO, 40 * EURO)


def test_what_comes_too_late_or_nobody_knows_when_is_left_out_and_told() -> None:
    unknown = Offer("u1", 1, "unknown", 100_000, EURO)
    question = PackRequest({1: 100_000}, [offer("f1", 1, FAR, 100, "5"), offer("n1", 1, NEAR, 100, "7"), unknown],
                           [FAR, NEAR], lead_days=7)  # fmt: skip
    plan = buy_packs(question)
    assert isinstance(plan, BuyPlan)
    assert [line.offer.key for line in plan.lines] == ["n1"]
    assert [(each.offer.key, each.lead_days) for each in plan.late] == [("f1", 14), ("u1", None)]
    sooner = replace(unknown, lead_days=1)
    assert isinstance(again := buy_packs(replace(question, offers=[sooner])), BuyPlan)
    assert again.total_micros == EURO


def test_a_smallest_order_out_of_reach_is_told() -> None:
    strict = Supplier("strict", minimum_micros=20 * EURO)
    one = Offer("s1", 1, "strict", 100_000, 5 * EURO, most_packs=3)
    plan = buy_packs(PackRequest({1: 100_000}, [one], [strict]))
    assert isinstance(plan, BuyPlan)
    assert (plan.orders, plan.not_covered, plan.out_of_reach) == ((), {1: 100_000}, (strict,))
    enough = buy_packs(PackRequest({1: 100_000}, [replace(one, most_packs=4)], [strict]))
    assert isinstance(enough, BuyPlan)
    assert [line.packs for line in enough.lines] == [4]


def test_a_smallest_order_that_a_lower_price_falls_below_leaves_a_part_uncovered() -> None:
    # Three packs at 1.00 are below the smallest order of 9.00, which two at 5.00 reach.
    strict = Supplier("strict", minimum_micros=9 * EURO)
    falling = Offer("s1", 1, "strict", 1000, 5 * EURO, (Break(3, EURO),), most_packs=3)
    plan = buy_packs(PackRequest({1: 3000}, [falling], [strict]))
    assert isinstance(plan, BuyPlan)
    assert ([line.packs for line in plan.lines], plan.total_micros, plan.not_covered) == ([2], 10 * EURO, {1: 1000})


def test_nothing_needed_costs_nothing_and_nothing_offered_covers_nothing() -> None:
    none = buy_packs(PackRequest({}, [offer("n1", 1, NEAR, 100, "7")], [NEAR]))
    assert isinstance(none, BuyPlan)
    assert (none.total_micros, none.orders, none.gap, none.saved_micros) == (0, (), 0, None)
    bare = buy_packs(PackRequest({1: 5000}, []))
    assert isinstance(bare, BuyPlan)
    assert (bare.total_micros, bare.not_covered) == (0, {1: 5000})


def test_amounts_in_millionths_are_exact() -> None:
    # Prices turned into the shop's currency are no whole cents.
    odd = [Offer("a", 1, "a", 7000, 3_333_333), Offer("b", 1, "b", 11_000, 5_000_001)]
    plan = buy_packs(PackRequest({1: 100_000_000}, odd))
    assert isinstance(plan, BuyPlan)
    best = min(
        sevens * 3_333_333 + max(-(-(100_000 - 7 * sevens) // 11), 0) * 5_000_001 for sevens in range(100_000 // 7 + 2)
    )
    assert (plan.total_micros, plan.bound_micros) == (best, best)


def test_a_stopped_search_says_so() -> None:
    many = [
        Offer(f"o{i}.{k}", i, f"s{k}", (37 + 13 * ((i * 7 + k * 5) % 11)) * 1000, (211 + 97 * ((i * 3 + k * 11) % 17)) * CENT)
        for i in range(150) for k in range(6)
    ]  # fmt: skip
    terms = [Supplier(f"s{k}", postage_micros=(500 + k) * CENT, minimum_micros=20 * EURO) for k in range(6)]
    question = PackRequest({i: 413_000 + i * 1000 for i in range(150)}, many, terms)
    for search, why in ((Search(time_limit_s=0), "time"), (Search(cancelled=lambda: True), "cancelled")):
        plan = buy_packs(question, search)
        assert isinstance(plan, BuyPlan | NoPacksYet)
        assert plan.stopped == why
    proven = buy_packs(question)
    assert isinstance(proven, BuyPlan)
    assert (proven.stopped, proven.gap) == ("", 0)


@pytest.mark.parametrize(
    ("bad", "field"),
    [
        (PackRequest({1: -1}, []), "needs.1"),
        (PackRequest({}, [], lead_days=-1), "lead_days"),
        (PackRequest({}, [Offer("o", 1, "a", 0, EURO)]), "offers.o.pack"),
        (PackRequest({}, [Offer("o", 1, "a", 1000, -1)]), "offers.o.price"),
        (PackRequest({}, [Offer("o", 1, "a", 1000, 1, (Break(5, -1),))]), "offers.o.price"),
        (PackRequest({}, [Offer("o", 1, "a", 1000, 1, (Break(1, 1),))]), "offers.o.breaks"),
        (PackRequest({}, [Offer("o", 1, "a", 1000, 1, (Break(9, 1), Break(5, 1)))]), "offers.o.breaks"),
        (PackRequest({}, [Offer("o", 1, "a", 1000, 1, lead_days=-1)]), "offers.o.lead_days"),
        (PackRequest({}, [Offer("o", 1, "a", 1000, 1, most_packs=-1)]), "offers.o.most_packs"),
        (PackRequest({}, [Offer("o", 1, "a", 1000, 1), Offer("o", 2, "a", 1000, 1)]), "offers.o"),
        (PackRequest({}, [], [Supplier("a", postage_micros=-1)]), "suppliers.a.postage"),
        (PackRequest({}, [], [Supplier("a", minimum_micros=-1)]), "suppliers.a.minimum"),
        (PackRequest({}, [], [Supplier("a", free_from_micros=-1)]), "suppliers.a.free_from"),
        (PackRequest({}, [], [Supplier("a", lead_days=-1)]), "suppliers.a.lead_days"),
    ],
)
def test_a_bad_question_is_told_beside_its_field(bad: PackRequest, field: str) -> None:
    troubles = buy_packs(bad)
    assert isinstance(troubles, tuple)
    assert [each.field for each in troubles] == [field]
    assert troubles[0].message.endswith(".")


@given(st.data())
def test_a_pack_costs_what_its_break_says(data: st.DataObject) -> None:
    one = data.draw(offers("o"))
    for fewer, more in pairwise(range(1, 9)):
        assert one.price_of(more) <= one.price_of(fewer)
    packs = data.draw(st.integers(1, 8))
    (order,) = orders_of({"o": packs}, [one], {})
    assert order.total_micros == one.price_of(packs) * packs
