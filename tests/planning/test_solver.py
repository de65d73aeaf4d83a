"""The integer programmes of the planning room: exact, whatever the size of the numbers, and stoppable."""

from __future__ import annotations

import subprocess
import sys
import threading
from decimal import Decimal
from itertools import product
from time import perf_counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.planning.solver import NotSolved, Programme, Progress, Search, Solved, _with_carries, gap_between, solve
from tests.budget import budget


@st.composite
def programmes(draw: st.DrawFn) -> Programme:
    programme = Programme()
    size = st.sampled_from([1, 1, 10**4, 10**9])
    for _ in range(draw(st.integers(1, 4))):
        programme.column(
            draw(st.integers(0, 4)), worth=draw(st.integers(-20, 20)) * draw(size) + draw(st.integers(0, 3))
        )
    for _ in range(draw(st.integers(0, 4))):
        factor = draw(size)
        terms = {
            column: draw(st.integers(-9, 9)) * factor + draw(st.integers(0, 2))
            for column in range(len(programme.worth))
        }
        high = draw(st.none() | st.integers(-5, 40))
        low = draw(st.none() | st.integers(-20, 5))
        programme.row(
            terms, low=None if low is None else low * factor, high=None if high is None else high * factor + 1
        )
    return programme


def by_trying_everything(programme: Programme) -> int | None:
    ranges = [range(low, high + 1) for low, high in zip(programme.lows, programme.highs, strict=True)]
    values = [programme.value(each) for each in product(*ranges) if not any(programme.broken(each))]
    return max(values, default=None)


@settings(max_examples=budget(60))
@given(programmes())
def test_the_best_value_equals_trying_everything(programme: Programme) -> None:
    found = solve(programme, Search())
    best = by_trying_everything(programme)
    if best is None:
        assert isinstance(found, NotSolved)
        assert found.impossible
        return
    assert isinstance(found, Solved)
    assert found.value == programme.value(found.values) == best
    assert (found.bound, found.gap, found.stopped) == (best, 0, "")


@pytest.mark.parametrize(
    ("worth", "highs", "multiples", "ends", "best"),
    [
        # The solver by itself takes 2 x 4,000,000,001 - 8,000,000,000 = 2 for at most 1.
        ((1, 0, 0), (1, 1, 3), (-8_000_000_000, -4_000_000_000, 4_000_000_001), (0, 1), 0),
        ((0, -1), (2, 4), (1_000_000_000, -999_999_999), (-2_000_000_000, -1_999_999_999), None),
    ],
)
def test_rows_whose_last_digits_decide_are_still_kept_exactly(
    worth: tuple[int, ...], highs: tuple[int, ...], multiples: tuple[int, ...], ends: tuple[int, int], best: int | None
) -> None:
    programme = Programme()
    columns = [programme.column(most, worth=each) for most, each in zip(highs, worth, strict=True)]
    programme.row(dict(zip(columns, multiples, strict=True)), low=ends[0], high=ends[1])
    assert by_trying_everything(programme) == best
    found = solve(programme, Search())
    assert isinstance(found, NotSolved) == (best is None)
    if isinstance(found, Solved):
        assert not list(programme.broken(found.values))
        assert found.value == best


@given(programmes())
def test_splitting_rows_with_a_carry_changes_no_answer(programme: Programme) -> None:
    small = _with_carries(programme)
    assert all(abs(times) <= 2**12 for row in small.rows for _, times in row.terms)
    found, split = solve(programme, Search()), solve(small, Search())
    assert type(found) is type(split)
    if isinstance(found, Solved) and isinstance(split, Solved):
        assert found.value == split.value
        assert not list(programme.broken(split.values[: len(programme.worth)]))


def knapsack(columns: int = 60, rows: int = 12) -> Programme:
    """A programme that takes long: many nearly equal choices that use many things."""
    programme = Programme()
    numbers = [(7919 * (n + 3) * (n + 11)) % 1009 + 100 for n in range(columns * (rows + 1))]
    for column in range(columns):
        programme.column(3, worth=numbers[column] + 500)
    for row in range(rows):
        terms = {column: numbers[columns * (row + 1) + column] for column in range(columns)}
        programme.row(terms, high=sum(terms.values()))
    return programme


def test_a_time_limit_stops_with_what_was_found_and_how_far_it_may_be_from_the_best() -> None:
    began = perf_counter()
    found = solve(knapsack(), Search(time_limit_s=0.5))
    assert perf_counter() - began < 3
    assert isinstance(found, Solved)
    assert found.stopped == "time"
    assert found.bound > found.value
    assert 0 < found.gap < Decimal("0.2")


def test_progress_is_told_and_a_search_can_be_cancelled() -> None:
    told: list[Progress] = []
    stop = threading.Event()

    def progress(each: Progress) -> None:
        told.append(each)
        if each.value:
            stop.set()

    began = perf_counter()
    found = solve(knapsack(), Search(time_limit_s=60, progress=progress, cancelled=stop.is_set))
    assert perf_counter() - began < 10
    assert isinstance(found, Solved)
    assert found.stopped == "cancelled"
    assert told
    assert told[-1].value is not None
    assert told[-1].bound is not None
    assert told[-1].bound >= told[-1].value
    assert told[-1].gap is not None


def test_a_search_with_a_wanted_gap_says_how_close_it_came() -> None:
    found = solve(knapsack(), Search(time_limit_s=30, gap=Decimal("0.05")))
    assert isinstance(found, Solved)
    assert found.stopped == ""
    assert found.gap <= Decimal("0.05")


def test_a_first_good_answer_is_never_made_worse() -> None:
    programme = knapsack()
    first = solve(programme, Search(time_limit_s=0.5))
    assert isinstance(first, Solved)
    again = solve(programme, Search(time_limit_s=0.3), start=first.values)
    assert isinstance(again, Solved)
    assert again.value >= first.value
    # One that breaks a row is not used.
    assert isinstance(solve(programme, Search(time_limit_s=0.3), start=[3] * 60), Solved)


def test_two_searches_at_once_do_not_disturb_each_other() -> None:
    found: list[Solved | NotSolved] = []

    def search() -> None:
        found.append(solve(knapsack(20, 3), Search(time_limit_s=30)))

    threads = [threading.Thread(target=search) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    alone = solve(knapsack(20, 3), Search(time_limit_s=30))
    assert isinstance(alone, Solved)
    assert [each.value for each in found if isinstance(each, Solved)] == [alone.value] * 2


def test_others_are_served_while_the_solver_searches() -> None:
    thread = threading.Thread(target=lambda: solve(knapsack(), Search(time_limit_s=1, progress=lambda _: None)))
    thread.start()
    turns = 0
    while thread.is_alive():
        sum(range(1000))
        turns += 1
    # A solver that kept the interpreter to itself would leave next to none; left alone it is some fifty thousand.
    assert turns > 1000


def test_an_empty_programme_is_worth_nothing() -> None:
    assert solve(Programme(), Search()) == Solved((), 0, 0, "", 0.0)
    nothing = Programme()
    nothing.row({}, low=1)
    found = solve(nothing, Search())
    assert isinstance(found, NotSolved)
    assert found.impossible


def test_a_column_with_crossed_bounds_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 3 and at most 2"):
        Programme().column(2, low=3)


def test_a_row_keeps_its_whole_solutions_when_it_is_divided() -> None:
    programme = Programme()
    column = programme.column(9)
    programme.row({column: 6}, low=7, high=29)
    assert [n for n in range(10) if not any(programme.broken([n]))] == [2, 3, 4]


def test_a_gap_of_no_value_is_everything() -> None:
    assert [gap_between(*each) for each in ((0, 5), (0, 0), (100, 101), (-100, -99))] == [
        Decimal(1), Decimal(0), Decimal("0.01"), Decimal("0.01"),
    ]  # fmt: skip


def test_the_solver_is_imported_only_when_something_is_solved_and_prints_nothing() -> None:
    code = (
        "import sys; from models.planning import solver, makeable; assert 'highspy' not in sys.modules;"
        "p = solver.Programme(); p.column(3, worth=2); found = solver.solve(p, solver.Search());"
        "assert 'highspy' in sys.modules; assert found.value == 6"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")
