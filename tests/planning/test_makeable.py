"""What free stock can make: against counting piece by piece, and what each answer tells beside the number."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.planning.makeable import Answer, Effect, Missing, effects, makeable
from models.planning.recipes import Recipe, RecipeLine, Rough, Stock, taken_milli
from models.planning.troubles import Trouble
from tests.planning.small_shops import needs_by_hand, recipes, stocks

BIG, SMALL, CLASP, CHAIN = 1, 2, 3, 4


def ring_line(item: int, count: int, allowance: str = "0") -> RecipeLine:
    return RecipeLine(item, count * 1000, Decimal(allowance))


def free(item: int, count: int, rough: Rough | None = None) -> Stock:
    return Stock(item, count * 1000, rough=rough)


def one(recipe: Recipe, *stock: Stock, with_allowance: bool = True) -> Answer:
    (answer,) = makeable([recipe], stock, with_allowance=with_allowance)
    return answer


BRACELET = Recipe("b", "Box bracelet", (ring_line(BIG, 48, "0.05"), ring_line(SMALL, 10), ring_line(CLASP, 1)))
EARRINGS = Recipe("e", "Drop earrings", (ring_line(SMALL, 8), ring_line(CHAIN, 1)))


def count_by_hand(recipe: Recipe, stock: dict[int, Stock], with_allowance: bool) -> int | None:
    """Make one more until something is not there, as a person would at the bench."""
    counted = {item: have.free_milli for item, have in stock.items()}
    if all(counted.get(line.item, 0) is None for line in recipe.lines):
        return None
    pieces = 0
    while all(
        counted.get(item, 0) is None or need <= (counted.get(item, 0) or 0)
        for item, need in needs_by_hand(recipe, pieces + 1, stock, with_allowance).items()
    ):
        pieces += 1
    return pieces


@given(recipes(), stocks(rough=True, plenty=True), st.booleans())
def test_makeable_equals_making_one_more_until_something_is_missing(
    many: list[Recipe], stock: dict[int, Stock], with_allowance: bool
) -> None:
    for recipe, answer in zip(many, makeable(many, stock, with_allowance=with_allowance), strict=True):
        by_hand = count_by_hand(recipe, stock, with_allowance)
        assert answer.pieces == by_hand
        if by_hand is None:
            assert answer.limiting == answer.next_needs == ()
            continue
        one_more = needs_by_hand(recipe, by_hand + 1, stock, with_allowance)
        lacking = {
            item: need - (stock[item].free_milli or 0) if item in stock else need
            for item, need in one_more.items()
            if item not in stock or stock[item].free_milli is not None
        }
        assert {each.item: each.milli for each in answer.next_needs} == {i: m for i, m in lacking.items() if m > 0}
        assert set(answer.limiting) == {each.item for each in answer.next_needs}


@given(recipes(), stocks(rough=True, plenty=True))
def test_rough_counts_move_the_answer_only_between_its_ends(many: list[Recipe], stock: dict[int, Stock]) -> None:
    lowest = {item: replace(have, free_milli=have.low_milli, rough=None) for item, have in stock.items()}
    highest = {item: replace(have, free_milli=have.high_milli, rough=None) for item, have in stock.items()}
    for recipe, answer in zip(many, makeable(many, stock), strict=True):
        assert answer.at_worst == count_by_hand(recipe, lowest, True)
        assert answer.at_best == count_by_hand(recipe, highest, True)
        for item in {line.item for line in recipe.lines} - set(answer.rests_on):
            if item in stock and stock[item].is_rough:
                # A count that the answer does not rest on may be its least, or its most, and nothing changes.
                worst = {**stock, item: lowest[item]}
                assert count_by_hand(recipe, worst, True) == answer.pieces
        if answer.sure:
            assert answer.at_worst == answer.pieces == answer.at_best


@given(recipes(least=2), stocks(), st.data())
def test_making_one_design_shows_what_it_does_to_every_other(
    many: list[Recipe], stock: dict[int, Stock], data: st.DataObject
) -> None:
    made = data.draw(st.sampled_from(many))
    most = count_by_hand(made, stock, True)
    assert most is not None
    pieces = data.draw(st.integers(0, most))
    told = effects(many, stock, made.key, pieces)
    assert isinstance(told, tuple)
    taken = taken_milli(made, pieces, stock)
    assert taken == needs_by_hand(made, pieces, stock, True)
    left = {item: replace(have, free_milli=(have.free_milli or 0) - taken.get(item, 0)) for item, have in stock.items()}
    by_key = {effect.key: effect for effect in told}
    for recipe in many:
        before, after = count_by_hand(recipe, stock, True), count_by_hand(recipe, left, True)
        if recipe.key in by_key:
            assert by_key[recipe.key] == Effect(recipe.key, before, after)
        else:
            assert before == after


def test_the_item_that_runs_out_first_and_what_one_more_needs() -> None:
    # 48 rings and 5 % are 50.4 a piece: three take 152, four take 202.
    answer = one(BRACELET, free(BIG, 200), free(SMALL, 100), free(CLASP, 9))
    assert (answer.pieces, answer.limiting) == (3, (BIG,))
    assert answer.next_needs == (Missing(BIG, 2000, rough=False),)
    assert answer.with_allowance


def test_without_the_allowance_the_same_rings_make_one_more() -> None:
    stock = (free(BIG, 200), free(SMALL, 100), free(CLASP, 9))
    assert one(BRACELET, *stock, with_allowance=False).pieces == 4
    assert one(BRACELET, *stock).pieces == 3


def test_the_allowance_is_rounded_up_once_for_each_line_not_for_each_piece() -> None:
    # 10 rings and 3 % are 10.3: ten pieces take 103 together, not ten times 11.
    recipe = Recipe("r", "Ring", (ring_line(BIG, 10, "0.03"),))
    assert one(recipe, free(BIG, 103)).pieces == 10
    assert one(recipe, free(BIG, 102)).pieces == 9


def test_two_lines_of_one_ring_are_rounded_up_each() -> None:
    # Each line takes 1.5, so one piece takes 2 + 2 and two pieces take 3 + 3.
    recipe = Recipe("r", "Ring", (ring_line(BIG, 1, "0.5"), ring_line(BIG, 1, "0.5")))
    assert [one(recipe, free(BIG, count)).pieces for count in (3, 4, 5, 6)] == [0, 1, 1, 2]


def test_measured_things_are_taken_in_thousandths() -> None:
    chain = RecipeLine(CHAIN, 137, Decimal("0.1"))
    recipe = Recipe("c", "Chain drop", (chain,))
    # 0.137 m and a tenth are 0.1507 m: 1 m makes six, which take 0.905 m.
    answer = one(recipe, Stock(CHAIN, 1000, step_milli=1))
    assert answer.pieces == 6
    assert taken_milli(recipe, 6, [Stock(CHAIN, 1000, step_milli=1)]) == {CHAIN: 905}
    assert answer.next_needs == (Missing(CHAIN, 55, rough=False),)


def test_a_part_that_is_no_stock_item_leaves_nothing_to_make_and_names_it() -> None:
    recipe = replace(EARRINGS, unknown=("niobium ear wire",))
    answer = one(recipe, free(SMALL, 100), free(CHAIN, 5))
    assert (answer.pieces, answer.unknown, answer.limiting) == (0, ("niobium ear wire",), ())


def test_plenty_never_runs_out_but_the_answer_rests_on_it() -> None:
    answer = one(EARRINGS, Stock(SMALL, None), free(CHAIN, 5))
    assert (answer.pieces, answer.limiting, answer.rests_on) == (5, (CHAIN,), (SMALL,))
    assert one(EARRINGS, Stock(SMALL, None), free(CHAIN, 0)).rests_on == ()
    alone = one(Recipe("s", "Small rings", (ring_line(SMALL, 4),)), Stock(SMALL, None))
    assert (alone.pieces, alone.rests_on) == (None, (SMALL,))


def test_a_better_count_is_asked_for_only_where_it_decides() -> None:
    about = Rough(30_000, 50_000)
    limiting = one(EARRINGS, free(SMALL, 40, about), free(CHAIN, 9))
    assert (limiting.pieces, limiting.at_worst, limiting.at_best) == (5, 3, 6)
    assert limiting.rests_on == (SMALL,)
    beside = one(EARRINGS, free(SMALL, 40, about), free(CHAIN, 2))
    assert (beside.pieces, beside.rests_on, beside.sure) == (2, (), True)
    assert one(EARRINGS, free(SMALL, 40, about), free(CHAIN, 4)).rests_on == (SMALL,)


def test_reservations_beyond_the_stock_are_part_of_what_one_more_needs() -> None:
    answer = one(Recipe("r", "Ring", (ring_line(BIG, 4),)), free(BIG, -3))
    assert (answer.pieces, answer.next_needs) == (0, (Missing(BIG, 7000, rough=False),))


def test_more_than_stock_makes_is_refused_in_plain_words() -> None:
    told = effects([BRACELET], [free(BIG, 60), free(SMALL, 60), free(CLASP, 2)], "b", 2)
    assert told == Trouble("pieces", "Your free stock makes 1 of Box bracelet, not 2.")
    assert isinstance(effects([BRACELET], [], "b", -1), Trouble)
    with pytest.raises(KeyError):
        effects([BRACELET], [], "nothing")


def test_an_effect_tells_what_is_lost() -> None:
    told = effects([BRACELET, EARRINGS], [free(BIG, 60), free(SMALL, 20), free(CLASP, 2), free(CHAIN, 5)], "b")
    assert isinstance(told, tuple)
    assert [(each.key, each.before, each.after, each.lost) for each in told] == [("b", 1, 0, 1), ("e", 2, 1, 1)]
    assert Effect("x", None, 3).lost is None


def test_an_effect_keeps_rough_counts_and_plenty_as_they_are() -> None:
    rough = Stock(SMALL, 40_000, rough=Rough(30_000, 60_000))
    told = effects([EARRINGS, replace(EARRINGS, key="f")], [rough, Stock(CHAIN, None)], "e", 2)
    assert told == (Effect("e", 5, 3), Effect("f", 5, 3))
    endless = Stock(SMALL, 40_000, rough=Rough(30_000))
    assert isinstance(effects([EARRINGS], [endless, Stock(CHAIN, None)], "e", 1), tuple)
    assert effects([replace(EARRINGS, unknown=("a bead",))], [rough], "e", 0) == (Effect("e", 0, 0),)


@pytest.mark.parametrize("bad", [Decimal("-0.1"), Decimal("NaN"), Decimal("Infinity")])
def test_a_line_refuses_an_allowance_that_is_none(bad: Decimal) -> None:
    with pytest.raises(ValueError, match="allowance"):
        RecipeLine(BIG, 1000, bad)


def test_a_line_refuses_floats_and_nothing() -> None:
    with pytest.raises(TypeError):
        RecipeLine(BIG, 1000, 0.1)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="more than nothing"):
        RecipeLine(BIG, 0)
