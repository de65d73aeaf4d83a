"""Of a colour that differs from batch to batch: one lot for all pieces, else one for each, else the fewest lots."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.trade.lots import Lot, NotEnough
from models.trade.one_batch import pick_batches

DAY = date(2026, 3, 2)


def lots(*rings: int, held: int = 0) -> list[Lot]:
    return [Lot(n, DAY + timedelta(n), milli * 1000, 0, held * 1000) for n, milli in enumerate(rings, 1)]


def took(*rings: int, piece: int, pieces: int, spare: int = 0) -> tuple[str, dict[int, int]]:
    found = pick_batches(lots(*rings), piece * 1000, pieces, spare * 1000)
    return found.batches, {pick.lot_id: pick.quantity_milli // 1000 for pick in found.picks}


def test_one_lot_does_for_all_even_if_an_older_one_holds_some() -> None:
    assert took(10, 60, 90, piece=20, pieces=3) == ("one", {2: 60})


def test_each_piece_gets_one_lot_when_no_lot_does_for_all() -> None:
    assert took(25, 50, 5, piece=20, pieces=3) == ("one a piece", {1: 20, 2: 40})


def test_lots_mix_only_when_no_lot_does_for_a_piece() -> None:
    batches, picks = took(15, 12, 20, piece=30, pieces=1)
    assert batches == "mixed"
    assert sum(picks.values()) == 30


def test_what_is_spare_goes_with_the_lot_that_gave_most() -> None:
    assert took(25, 50, piece=20, pieces=3, spare=7) == ("one a piece", {1: 20, 2: 47})
    assert took(20, 41, piece=20, pieces=3, spare=1) == ("one a piece", {1: 20, 2: 41})


def test_too_little_is_refused() -> None:
    with pytest.raises(NotEnough):
        pick_batches(lots(10, 20, held=5), 20_000, 2)


@given(st.lists(st.integers(1, 60), min_size=1, max_size=6), st.integers(1, 30), st.integers(1, 5), st.integers(0, 9))
def test_the_whole_is_taken_and_no_lot_gives_more_than_it_has(
    rings: list[int], piece: int, pieces: int, spare: int
) -> None:
    wanted = piece * pieces + spare
    if sum(rings) < wanted:
        return
    batches, picks = took(*rings, piece=piece, pieces=pieces, spare=spare)
    assert sum(picks.values()) == wanted
    assert all(0 < taken <= rings[lot_id - 1] for lot_id, taken in picks.items())
    assert (batches == "one") == (len(picks) == 1 and max(rings) >= wanted)
    if batches == "one a piece" and not spare:
        assert all(taken % piece == 0 for taken in picks.values())
