"""Following a difference through movements: shares are exact, and what left and what is left add up to it."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.trade.lots import Method
from models.trade.otherwise import FINE, SLACK_MICROS, Corrected, Otherwise, Step, whole_micros

ACT, BUILD = ("act", 1), ("build", 1)


def step(number: int, kind: str, milli: int, micros: int = 0, **more: object) -> Step:
    """A movement of lot 1, valued first in first out unless said otherwise."""
    told: dict[str, object] = {"whose": ACT, "lot_id": 1, "method": "fifo", **more}
    return Step(number, kind=kind, quantity_milli=milli, value_micros=micros, **told)  # type: ignore[arg-type]


def receipt(milli: int, booked: int, real: int, *, others: tuple[int, int] = (0, 0)) -> Otherwise:
    """Lot 1 just received at a false cost, beside lot 2."""
    lots = {1: (milli, booked), 2: others}
    return Otherwise.receipt_cost(lots, Corrected(1, milli, booked, real))


def test_what_is_left_of_a_lot_has_its_share_of_the_difference() -> None:
    one = receipt(100_000, 100, 1_000).follow([step(1, "scrap", -15_000, -15)])
    assert one.here_micros("fifo") == 765
    assert one.gone_parts() == {ACT: 135 * FINE}


def test_under_average_the_share_is_that_of_the_pool_whichever_lot_is_taken_from() -> None:
    for lot_id in (1, 2):
        taken = step(1, "issue", -50_000, -300, lot_id=lot_id, method="average")
        one = receipt(100_000, 1_000, 100, others=(100_000, 200)).follow([taken])
        assert one.here_micros("average") == -675
        assert one.gone_parts() == {ACT: -225 * FINE}


def test_the_last_takes_all_that_is_left_of_the_difference() -> None:
    steps = [step(number, "issue", -1_000, -1) for number in (1, 2, 3)]
    one = receipt(3_000, 3, 1_000_003).follow(steps)
    assert one.here_micros("fifo") == 0
    assert sum(one.gone_parts().values()) == 1_000_000 * FINE


def test_what_comes_back_brings_its_part_and_a_reversal_the_whole() -> None:
    out = step(1, "issue", -40_000, -40, whose=BUILD)
    back = step(2, "return", 10_000, 10, whose=BUILD)
    one = receipt(100_000, 100, 1_000).follow([out, back])
    assert one.here_micros("fifo") == 630
    assert one.gone_parts() == {BUILD: 270 * FINE}
    gone = step(3, "scrap", -70_000, -70)
    one.follow([gone, step(4, "reversal", 70_000, 70, reverses_id=3, whose=("act", 9))])
    assert one.here_micros("fifo") == 630
    assert one.gone_parts() == {BUILD: 270 * FINE}


def test_what_is_found_was_valued_at_the_false_cost_too() -> None:
    one = receipt(100_000, 1_000, 100).follow([step(1, "count", 10_000, 100)])
    assert one.here_micros("fifo") == -990
    emptied = receipt(100_000, 1_000, 100)
    emptied.follow([step(1, "issue", -100_000, -1_000), step(2, "count", 10_000, 100)])
    assert emptied.here_micros("fifo") == -90


def test_what_is_found_of_an_emptied_lot_was_valued_at_what_its_receipt_cost_by_then() -> None:
    one = receipt(100_000, 1_000, 100)
    one.follow([step(1, "correction", 0, 1_000), step(2, "issue", -100_000, -2_000), step(3, "count", 10_000, 200)])
    assert one.here_micros("fifo") == -190
    back = receipt(100_000, 1_000, 100)
    back.follow([step(1, "correction", 0, 1_000), step(2, "reversal", 0, -1_000, reverses_id=1)])
    back.follow([step(3, "issue", -100_000, -1_000), step(4, "count", 10_000, 100)])
    assert back.here_micros("fifo") == -90


def test_an_earlier_correction_counts() -> None:
    corrected = [step(1, "correction", 0, 900), step(2, "carried", 0, -100), step(3, "issue", -50_000, -450)]
    one = receipt(100_000, 100, 1_000).follow(corrected)
    assert one.put_right_micros == 800
    assert one.here_micros("fifo") == 50
    back = [step(4, "reversal", 0, -900, reverses_id=1), step(5, "reversal", 0, 100, reverses_id=2)]
    assert one.follow(back).put_right_micros == 0


def test_never_more_is_taken_from_what_is_left_than_it_is_worth() -> None:
    one = receipt(3_000, 100, 0).follow([step(1, "issue", -1_000, -34), step(2, "issue", -1_000, -34)])
    assert one.here_micros("fifo") == -32


def test_without_a_receipt_what_left_would_have_cost_something_else() -> None:
    steps = [step(1, "scrap", -15_000, -8_250_000, lot_id=2, method="average")]
    lots = {1: (100_000, 100_000_000), 2: (100_000, 10_000_000)}
    assert Otherwise.without(lots, {1: (100_000, 100_000_000)}).follow(steps).leaves_false_costs
    same = {1: (100_000, 10_000_000), 2: (100_000, 10_000_000)}
    assert not Otherwise.without(same, {1: (100_000, 10_000_000)}).follow(steps).leaves_false_costs
    few = {1: (100_000, 10_000_000), 2: (10_000, 1_000_000)}
    assert Otherwise.without(few, {1: (100_000, 10_000_000)}).follow(steps).leaves_false_costs
    assert SLACK_MICROS == 100


def test_only_a_corrected_receipt_has_a_difference_here() -> None:
    with pytest.raises(ValueError, match="only a receipt"):
        Otherwise.without({1: (1_000, 1)}, {1: (1_000, 1)}).here_micros("fifo")


@given(st.lists(st.integers(-(10**15), 10**15), min_size=1, max_size=8), st.integers(-3, 3))
def test_parts_as_whole_millionths_add_up(parts: list[int], off: int) -> None:
    total = sum(parts) // FINE + off
    whole = whole_micros(parts, total)
    assert sum(whole) == total
    if off in (0, 1) and sum(parts) % FINE >= 0:
        assert all(abs(one - Fraction(part, FINE)) <= len(parts) for one, part in zip(whole, parts, strict=True))
    assert whole_micros([], 0) == ()


@given(
    st.lists(st.tuples(st.booleans(), st.integers(1, 400), st.sampled_from(["fifo", "average"])), max_size=20),
    st.integers(0, 10**9),
    st.integers(0, 10**9),
)
def test_what_is_here_and_what_left_are_the_whole_difference(
    acts: list[tuple[bool, int, Method]], booked: int, real: int
) -> None:
    """Whichever way of valuing comes and goes, no part of the difference is made or lost."""
    left = {1: 500, 2: 500}
    steps = []
    for number, (first, most, method) in enumerate(acts):
        lot_id = 1 if first else 2
        many = min(most, left[lot_id])
        if many:
            left[lot_id] -= many
            steps.append(step(number, "issue", -many * 1_000, 0, lot_id=lot_id, method=method))
    one = receipt(500_000, booked, real, others=(500_000, 77)).follow(steps)
    last: Method = acts[-1][2] if acts else "fifo"
    room = Otherwise.receipt_cost({1: (500_000, booked), 2: (500_000, 77)}, Corrected(1, 500_000, booked, real))
    assert room.here_micros("fifo") == real - booked
    here = one.here_micros(last)
    gone = sum(one.gone_parts().values())
    assert abs(here * FINE + gone - (real - booked) * FINE) <= FINE
