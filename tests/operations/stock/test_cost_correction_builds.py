"""Corrections while builds are on the bench: what they took is named, and what comes back comes at the right cost."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlmodel import Session

from models.database import Store
from models.intake.builds.build import AbandonDraft, UnpickDraft
from models.intake.how_much import HowMuch
from models.intake.stock.transfer import TransferDraft
from models.operations.builds.finish import abandon_build
from models.operations.builds.undo import undo_build
from models.operations.builds.unpick import unpick_pieces
from models.operations.figures import stale_figures
from models.operations.stock.transfer import move_bag
from models.queries.stock.balance import stock_unit_costs
from models.queries.stock.conservation import conservation
from models.queries.stock.cost_correction import build_off
from tests.builds import a_bench, finished, is_sound, made, making, pieces_of, said
from tests.ledgers import DAY, DRAWER, by_average, holds, in_bag, on_hand, undone
from tests.operations.stock.test_cost_correction import correct

BOTH = pytest.mark.parametrize("average", [False, True])


def off(session: Session, build_id: int) -> int:
    """By how much a build's rings are off in all."""
    return sum(one.micros for one in build_off(session, build_id))


def test_a_finished_build_is_named_with_what_its_pieces_are_off(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = made(session, bench, 2)
        worth = pieces_of(session, bench)
        done = correct(session, bench.old, "3.00")
        (wrong,) = done.look.changes[0].left_wrong
        assert (wrong.kind, wrong.number, wrong.micros, wrong.pieces) == ("build", build_id, 1_500_000, 2)
        assert wrong.words.startswith(f"Build {build_id}: ")
        assert wrong.each == Decimal("0.75")
        assert off(session, build_id) == 1_500_000
        assert pieces_of(session, bench) == worth, "a finished piece keeps the cost that it was booked with"
        assert is_sound(session)


@BOTH
def test_rings_that_go_back_after_the_correction_go_back_at_the_right_cost(store: Store, average: bool) -> None:
    """Out at the old cost, corrected meanwhile, given up: as if the receipt had been typed right from the start."""
    with undone(store) as session:
        if average:
            by_average(session)
        bench = a_bench(session)
        build_id = making(session, bench, 2)
        correct(session, bench.old, "15.00")
        correct(session, bench.new, "7.00")
        assert off(session, build_id) > 0
        abandon_build(session, build_id, AbandonDraft(abandoned_on=DAY))
        assert on_hand(session, bench.bronze) == (100, 22_000_000)
        assert conservation(session).carried == 0
        assert off(session, build_id) == 0
        assert is_sound(session)


@BOTH
def test_rings_that_go_back_into_two_bags_of_a_lot_bring_its_difference_back_once(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        bench = a_bench(session)
        move_bag(session, TransferDraft(bench.old, DRAWER, "jar", HowMuch(milli=12_000)))
        build_id = making(session, bench, 2)
        correct(session, bench.old, "15.00")
        abandon_build(session, build_id, AbandonDraft(abandoned_on=DAY))
        assert (in_bag(session, bench.old), in_bag(session, bench.old, "jar")) == (18, 12)
        assert on_hand(session, bench.bronze) == (100, 19_900_000)
        assert conservation(session).carried == 0
        assert is_sound(session)


@BOTH
def test_what_a_build_leaves_over_comes_back_right_and_what_it_used_stays_named(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        bench = a_bench(session, bronze=15)
        build_id = making(session, bench, 2)
        correct(session, bench.old, "15.00")
        finished(session, build_id, lines=(said(bench.old, returned=10),))
        if not average:
            assert holds(session, bench.old) == (10, 5_000_000)
            assert off(session, build_id) == 20 * 450_000
        assert conservation(session).carried == off(session, build_id)
        assert is_sound(session)
        # Unpicked, the rest comes back at the right cost too.
        unpick_pieces(session, build_id, UnpickDraft(pieces=2, unpicked_on=DAY))
        assert on_hand(session, bench.bronze) == (100, 19_900_000)
        assert off(session, build_id) == 0
        assert is_sound(session)


@BOTH
def test_undoing_what_a_build_did_before_the_correction_leaves_the_right_cost(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        bench = a_bench(session, bronze=15)
        build_id = making(session, bench, 2)
        finished(session, build_id, lines=(said(bench.old, returned=10),))
        correct(session, bench.old, "15.00")
        undo_build(session, build_id)
        undo_build(session, build_id)
        assert on_hand(session, bench.bronze) == (100, 19_900_000)
        assert conservation(session).carried == 0
        assert is_sound(session)


def test_spoiled_rings_are_named_with_their_build(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session, bronze=15)
        build_id = making(session, bench, 2)
        abandon_build(session, build_id, AbandonDraft((said(bench.old, spoiled=5),), abandoned_on=DAY))
        done = correct(session, bench.old, "0.30")
        (wrong,) = done.look.changes[0].left_wrong
        assert (wrong.kind, wrong.micros, wrong.pieces) == ("build", -200_000, 0)
        assert is_sound(session)


def test_what_a_design_costs_from_stock_follows_and_kept_figures_stay_right(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        before = stock_unit_costs(session, (bench.bronze,))[bench.bronze].amount
        correct(session, bench.old, "15.00")
        after = stock_unit_costs(session, (bench.bronze,))[bench.bronze].amount
        assert (before, after) == (Decimal("0.064"), Decimal("0.199"))
        assert stale_figures(session) == ()
