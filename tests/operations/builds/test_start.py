"""Builds are started, taken out, finished, given up and taken back, and no ring and no millionth is lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from sqlmodel import select

from models.database import Store
from models.errors import Conflict, Missing, NotEnoughForBuild, NotEnoughStock, Stale, Unfit
from models.intake.builds.build import (
    AbandonDraft,
    BuildRequest,
    FinishDraft,
    MadeDraft,
    StartDraft,
    TakeOutDraft,
    WorkDone,
)
from models.operations.builds.finish import abandon_build, finish_build
from models.operations.builds.made import book_made
from models.operations.builds.start import start_build, start_watch, stop_watch, take_out
from models.operations.builds.undo import undo_build
from models.operations.stock.bag import remember_tare
from models.operations.stock.count import count_bag
from models.queries.builds.plan import plan_build
from models.tables import Build, BuildTime, Item, Lot, LotPlace, Movement, Shop
from models.trade.money import from_micros
from tests.builds import (
    a_bench,
    bags,
    finished,
    is_sound,
    lines_of,
    made,
    making,
    pieces_of,
    said,
    started,
    whole_state,
)
from tests.ledgers import DAY, DRAWER, a_lot, by_average, holds, in_bag, on_hand, undone
from tests.shops import a_design, a_part, a_ring

WAGE_AN_HOUR = 18_000_000


@pytest.fixture(autouse=True)
def _wages(store: Store) -> None:
    with store.writing() as session:
        shop = session.get_one(Shop, 1)
        shop.wage_per_hour, shop.overhead_mode, shop.overhead_per_hour = from_micros(WAGE_AN_HOUR), "hour", Decimal(6)


# --- starting ---


def test_a_started_build_reserves_the_oldest_lots_first(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = started(session, bench, 2)
        assert lines_of(session, build_id) == [
            (bench.old, DRAWER, 30, 0, 0, 0),
            (bench.new, "tin", 10, 0, 0, 0),
            (bench.silver_lot, DRAWER, 8, 0, 0, 0),
        ]
        assert bags(session)[(bench.new, "tin")] == (70, 10)
        assert is_sound(session)


def test_a_build_that_is_short_lists_every_item_and_offers_fewer_pieces(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        with pytest.raises(NotEnoughForBuild) as refused:
            started(session, bench, 11)
        assert [(one.item_id, one.needed_milli, one.available_milli) for one in refused.value.shorts] == [
            (bench.bronze, 220_000, 100_000),
            (bench.silver, 44_000, 40_000),
        ]
        assert refused.value.possible == 5
        assert "enough for 5 pieces" in str(refused.value)
        started(session, bench, 5)
        with pytest.raises(NotEnoughForBuild) as refused:
            started(session, bench, 1)
        assert [one.item_id for one in refused.value.shorts] == [bench.bronze]


def test_the_allowance_is_rounded_up_once_for_each_item(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        # 3 % of 40 bronze and of 8 silver rings: 1.2 and 0.24, so 2 and 1 more.
        build_id = started(session, bench, 2, spare=True)
        assert [line[2] for line in lines_of(session, build_id)] == [30, 12, 9]


def test_a_named_bag_is_taken_from_instead_of_the_oldest(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = started(session, bench, 1, lines=(said(bench.new, "tin", used=20),))
        assert [line[:3] for line in lines_of(session, build_id)] == [
            (bench.new, "tin", 20),
            (bench.silver_lot, DRAWER, 4),
        ]
        with pytest.raises(NotEnoughStock):
            started(session, bench, 1, lines=(said(bench.old, used=31),))


def test_one_batch_is_taken_for_the_whole_where_colours_differ(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        session.get_one(Item, bench.bronze).batch_colour = True
        session.flush()
        plan = plan_build(session, BuildRequest(bench.design, 3))
        bronze = plan.items[0]
        assert bronze.batches == "one"
        assert [(line.bag.lot_id, line.quantity_milli) for line in bronze.lines] == [(bench.new, 60_000)]
        both = plan_build(session, BuildRequest(bench.design, 4)).items[0]
        assert both.batches == "one a piece"
        assert [(line.bag.lot_id, line.quantity_milli) for line in both.lines] == [
            (bench.old, 20_000),
            (bench.new, 60_000),
        ]
        assert plan_build(session, BuildRequest(bench.design, 5)).items[0].batches == "mixed"


def test_a_design_without_parts_or_with_an_unknown_choice_is_refused(store: Store) -> None:
    with undone(store) as session:
        empty = a_design(session, [], name="Nothing")
        with pytest.raises(Unfit, match="no parts yet"):
            start_build(session, StartDraft(BuildRequest(empty)))
        bench = a_bench(session)
        with pytest.raises(Unfit, match="no choice 'colour=green'"):
            start_build(session, StartDraft(BuildRequest(bench.design, choices=("colour=green",))))
        with pytest.raises(Missing):
            start_build(session, StartDraft(BuildRequest(999)))
        with pytest.raises(Unfit, match="yet to come"):
            start_build(session, StartDraft(BuildRequest(bench.design), started_on=DAY + timedelta(days=400_000)))


def test_a_build_has_a_day_for_its_start_its_due_and_its_finish(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        due = DAY + timedelta(days=30)
        build = session.get_one(Build, started(session, bench, 1, due_on=due))
        assert (build.started_on, build.due_on, build.finished_on) == (DAY, due, None)
        take_out(session, build.id or 0, TakeOutDraft(taken_on=DAY + timedelta(days=1)))
        finish_build(session, build.id or 0, FinishDraft(finished_on=DAY + timedelta(days=2)))
        assert (build.started_on, build.due_on, build.finished_on) == (DAY, due, DAY + timedelta(days=2))
        undo_build(session, build.id or 0)
        assert (build.started_on, build.due_on, build.finished_on) == (DAY, due, None)
        abandon_build(session, build.id or 0, AbandonDraft())
        assert (build.started_on, build.due_on, build.finished_on) == (DAY, due, None)


def test_choices_and_optional_parts_are_kept_with_the_build(store: Store) -> None:
    with undone(store) as session:
        red, blue = a_ring(session, name="Red", colour="red"), a_ring(session, name="Blue", colour="blue")
        for item in (red, blue):
            a_lot(session, item, 50, "5.00", place=f"tin {item}")
        design = a_design(
            session,
            [
                a_part(red, 10, choice_group="colour", choice_name="red"),
                a_part(blue, 10, choice_group="colour", choice_name="blue"),
                a_part(red, 2, optional=True),
            ],
        )
        build_id = start_build(
            session, StartDraft(BuildRequest(design, 2, ("colour=blue",), (2,)), started_on=DAY)
        ).build_id
        assert [(line[1], line[2]) for line in lines_of(session, build_id)] == [
            (f"tin {blue}", 20),
            (f"tin {red}", 4),
        ]
        take_out(session, build_id, TakeOutDraft(taken_on=DAY))
        finished(session, build_id)
        assert on_hand(session, blue)[0] == 30
        assert on_hand(session, red)[0] == 46


# --- taking out ---


def test_taking_out_empties_the_bags_and_gives_up_what_was_reserved(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        making(session, bench, 2)
        assert bags(session) == {(bench.new, "tin"): (60, 0), (bench.silver_lot, DRAWER): (32, 0)}
        assert is_sound(session)


def test_other_amounts_can_be_taken_out_than_planned(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = started(session, bench, 2)
        take_out(session, build_id, TakeOutDraft((said(bench.new, "tin", used=14), said(bench.old, used=28)), DAY))
        assert [line[3] for line in lines_of(session, build_id)] == [28, 14, 8]
        assert in_bag(session, bench.old) == 2
        assert is_sound(session)
        other = started(session, bench, 1, lines=(said(bench.new, "tin", used=20),))
        with pytest.raises(Unfit, match="not part of the build"):
            take_out(session, other, TakeOutDraft((said(bench.old, used=1),), DAY))


def test_a_build_is_taken_out_once(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench)
        with pytest.raises(Conflict, match="under way"):
            take_out(session, build_id, TakeOutDraft())
        with pytest.raises(Stale):
            take_out(session, build_id, TakeOutDraft(), version=1)


# --- finishing ---


def test_pieces_come_in_at_their_real_cost_by_lot(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = finished(session, making(session, bench, 2), minutes=90)
        build = session.get_one(Build, build_id)
        # 30 at 0.05, 10 at 0.07, 8 at 0.50; 90 min at 18 and 6 an hour.
        assert build.materials_micros == 1_500_000 + 700_000 + 4_000_000
        assert build.labour_micros == 27_000_000
        assert build.overhead_micros == 9_000_000
        assert pieces_of(session, bench) == (2, 42_200_000)
        lot = session.exec(select(Lot).where(Lot.batch == f"build {build_id}")).one()
        receipt = session.exec(select(Movement).where(Movement.lot_id == lot.id)).one()
        assert (receipt.kind, receipt.labour_micros) == ("receipt", 36_000_000)
        assert not lot.provisional
        assert is_sound(session)


def test_spoiled_rings_raise_the_cost_of_a_build(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 2)
        finished(session, build_id, lines=(said(bench.new, "tin", spoiled=3), said(bench.silver_lot, spoiled=1)))
        assert session.get_one(Build, build_id).materials_micros == 6_200_000 + 210_000 + 500_000
        assert in_bag(session, bench.new, "tin") == 57
        assert in_bag(session, bench.silver_lot) == 31
        assert is_sound(session)


def test_spoiled_silver_is_kept_as_scrap_by_weight(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        finished(session, making(session, bench, 2), lines=(said(bench.silver_lot, spoiled=2),))
        scrap = session.exec(select(Item).where(Item.kind == "scrap")).one()
        grams, worth = session.exec(
            select(Movement.quantity_milli, Movement.value_micros).where(Movement.item_id == scrap.id)
        ).one()
        # Two rings of 1.0 mm wire and 3.6 mm inside, of 10.36 g/cm3: pi^2/4 x 1.0^2 x 4.6 mm3 each.
        assert grams == 235
        assert worth == 0
        other = finished(
            session, making(session, bench, 1), lines=(said(bench.silver_lot, spoiled=2),), keep_scrap=False
        )
        assert other
        assert session.exec(select(Lot.quantity_milli).where(Lot.item_id == scrap.id)).one() == 235
        assert is_sound(session)


def test_spoiled_rings_come_from_another_lot_when_their_bag_is_empty(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 1, lines=(said(bench.old, used=30),))
        assert in_bag(session, bench.old) == 0
        finished(session, build_id, lines=(replace(said(bench.old, spoiled=13)),))
        # 20 are in the piece and 10 were spare, so 3 more had to come from the tin.
        assert lines_of(session, build_id)[-1] == (bench.new, "tin", 0, 0, 3, 0)
        assert in_bag(session, bench.new, "tin") == 67
        assert is_sound(session)


def test_what_was_taken_beyond_the_design_goes_back_by_itself(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 2, spare=True)
        finished(session, build_id)
        assert [line[5] for line in lines_of(session, build_id)] == [0, 2, 1]
        assert session.get_one(Build, build_id).materials_micros == 6_200_000
        assert on_hand(session, bench.bronze) == (60, 4_200_000)
        assert is_sound(session)


def test_rings_that_were_not_needed_go_back_at_their_very_value(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 2)
        finished(session, build_id, lines=(said(bench.old, returned=7), said(bench.new, "tin", returned=10)))
        assert holds(session, bench.old) == (7, 350_000)
        assert holds(session, bench.new) == (70, 4_900_000)
        assert session.get_one(Build, build_id).materials_micros == 1_150_000 + 4_000_000
        assert is_sound(session)


def test_the_good_pieces_bear_the_rings_of_spoiled_ones(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 2)
        finished(session, build_id, spoiled=1, minutes=60)
        build = session.get_one(Build, build_id)
        assert (build.good, build.spoiled, build.materials_micros) == (1, 1, 6_200_000)
        assert pieces_of(session, bench) == (1, 6_200_000 + 24_000_000)
        assert is_sound(session)


def test_a_piece_that_was_not_made_gives_its_rings_back(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 2)
        finished(session, build_id, good=1)
        assert on_hand(session, bench.bronze)[0] == 80
        assert on_hand(session, bench.silver)[0] == 36
        assert pieces_of(session, bench)[0] == 1
        assert is_sound(session)


def test_when_no_piece_is_good_everything_used_is_scrap(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 2)
        finished(session, build_id, good=0, spoiled=2, lines=(said(bench.new, "tin", spoiled=2),))
        assert pieces_of(session, bench) == (0, 0)
        scrapped = session.exec(select(Movement).where(Movement.kind == "scrap")).all()
        assert sorted(row.quantity_milli for row in scrapped) == [-30_000, -12_000, -8_000]
        assert {row.reason for row in scrapped} == {"spoiled"}
        assert session.get_one(Build, build_id).good == 0
        assert is_sound(session)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"good": 2, "spoiled": 1}, "2 good and 1 spoiled are 3"),
        ({"good": 0, "spoiled": 0}, "Give the build up"),
    ],
)
def test_pieces_that_do_not_add_up_are_refused(store: Store, given: dict[str, int], words: str) -> None:
    with undone(store) as session:
        build_id = making(session, a_bench(session), 2)
        with pytest.raises(Unfit, match=words):
            finish_build(session, build_id, FinishDraft(**given))


def test_more_cannot_go_back_than_was_taken(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 2)
        with pytest.raises(Unfit, match="More would go back"):
            finish_build(session, build_id, FinishDraft(lines=(said(bench.old, returned=31),)))
        with pytest.raises(Unfit, match="whole number"):
            finish_build(session, build_id, FinishDraft(lines=(replace(said(bench.old), spoiled_milli=500),)))


def test_finishing_takes_out_first_what_nobody_took_out(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        finished(session, started(session, bench, 1))
        assert on_hand(session, bench.bronze)[0] == 80
        assert pieces_of(session, bench)[0] == 1
        assert is_sound(session)


def test_without_a_time_the_likely_one_stands_in(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build = session.get_one(Build, finished(session, making(session, bench, 1), minutes=None))
        assert build.minutes_milli is None
        assert build.paid_minutes_milli == build.estimate_minutes_milli
        assert build.labour_micros == round(WAGE_AN_HOUR * (build.paid_minutes_milli or 0) / 60_000)
        assert build.estimate_micros is not None


def test_minutes_by_kind_add_up_to_the_time(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 1)
        work = WorkDone(32_000, {"weave": 20_000, "close": 12_000}, "use")
        finish_build(session, build_id, FinishDraft(work=work, finished_on=DAY))
        rows = session.exec(select(BuildTime.kind, BuildTime.minutes_milli).where(BuildTime.build_id == build_id))
        assert {kind: milli for kind, milli in rows if milli} == {"weave": 20_000, "close": 12_000}


def test_an_odd_timing_asks_before_it_counts(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 1)
        overnight = WorkDone(14 * 60_000)
        with pytest.raises(Unfit, match="looks odd"):
            finish_build(session, build_id, FinishDraft(work=overnight))
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 1)
        finish_build(session, build_id, FinishDraft(work=replace(overnight, timing="leave"), finished_on=DAY))
        build = session.get_one(Build, build_id)
        assert (build.minutes_milli, build.timing) == (14 * 60_000, "odd")
        assert build.paid_minutes_milli == build.estimate_minutes_milli
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 1)
        finish_build(session, build_id, FinishDraft(work=replace(overnight, timing="use"), finished_on=DAY))
        build = session.get_one(Build, build_id)
        assert (build.paid_minutes_milli, build.timing) == (14 * 60_000, "right")


def test_the_stop_watch_adds_up_and_finishes_the_build(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    from models.operations.builds import start as operations
    from models.operations.shop import clock

    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 1)
        moment = clock.now()
        for minutes, act in ((0, start_watch), (20, stop_watch), (50, start_watch)):
            monkeypatch.setattr(operations, "now", lambda minutes=minutes: moment + timedelta(minutes=minutes))
            act(session, build_id)
        assert session.get_one(Build, build_id).timed_milli == 20_000
        monkeypatch.setattr(operations, "now", lambda: moment + timedelta(minutes=61, seconds=30))
        finish_build(session, build_id, FinishDraft(work=WorkDone(timing="use"), finished_on=DAY))
        build = session.get_one(Build, build_id)
        assert build.minutes_milli == 31_500
        assert build.timer_started_at is None


def test_a_part_from_outside_the_stock_makes_the_cost_provisional(store: Store) -> None:
    with undone(store) as session:
        ring = a_ring(session)
        a_lot(session, ring, 10, "1.00")
        design = a_design(session, [a_part(ring, 5), a_part(None, 1, typed_kind="finding", typed_name="Clasp")])
        book_made(session, MadeDraft(BuildRequest(design), made_on=DAY))
        lot = session.exec(select(Lot).where(Lot.batch != "")).one()
        assert lot.provisional
        assert is_sound(session)


# --- by weight ---


def test_a_bag_weighed_before_and_after_says_what_was_used(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        one_ug = 99_897  # pi^2/4 x 1.0^2 x 4.6 mm3 of bronze at 8.80 g/cm3
        build_id = making(session, bench, 2)
        line = replace(said(bench.new, "tin"), before_ug=70 * one_ug + 3_000_000, after_ug=57 * one_ug + 3_000_000)
        finished(session, build_id, lines=(line,))
        # 10 were taken out, and 13 left the bag: 3 more.
        assert lines_of(session, build_id)[1] == (bench.new, "tin", 10, 10, 3, 0)
        bag = session.exec(select(LotPlace).where(LotPlace.lot_id == bench.new)).one()
        assert bag.rough == "about"
        assert is_sound(session)


def test_the_remembered_tare_makes_the_weight_after_enough(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        one_ug = 99_897
        build_id = making(session, bench, 2)
        line = replace(said(bench.new, "tin"), after_ug=63 * one_ug + 3_000_000)
        with pytest.raises(Unfit, match="empty bag weighs is not known"):
            finish_build(session, build_id, FinishDraft(lines=(line,)))
        remember_tare(session, bench.new, "tin", 3_000_000)
        finished(session, build_id, lines=(line,))
        assert lines_of(session, build_id)[1] == (bench.new, "tin", 10, 10, 0, 3)
        assert in_bag(session, bench.new, "tin") == 63
        assert is_sound(session)


def test_a_tare_that_is_given_is_remembered(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        line = replace(said(bench.new, "tin"), after_ug=50 * 99_897 + 2_000_000, tare_ug=2_000_000)
        build_id = made(session, bench, 1, lines=(line,))
        assert lines_of(session, build_id)[0] == (bench.new, "tin", 0, 20, 0, 0)
        assert session.exec(select(LotPlace.tare_ug).where(LotPlace.lot_id == bench.new)).one() == 2_000_000


# --- made in one act ---


def test_made_books_start_take_out_and_finish_in_one_act(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = made(session, bench, 2, minutes=90)
        build = session.get_one(Build, build_id)
        assert (build.state, build.good, build.finished_on) == ("finished", 2, DAY)
        assert pieces_of(session, bench) == (2, 42_200_000)
        assert len({row.act_id for row in session.exec(select(Movement)) if row.kind != "receipt" or row.labour_micros}) == 1  # fmt: skip
        assert is_sound(session)


def test_made_takes_the_spoiled_rings_and_pieces_too(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        line = replace(said(bench.new, "tin", used=40, spoiled=3))
        build_id = made(session, bench, 1, spoiled=1, lines=(line,))
        assert lines_of(session, build_id) == [(bench.new, "tin", 0, 40, 3, 0), (bench.silver_lot, DRAWER, 0, 8, 0, 0)]
        assert pieces_of(session, bench)[0] == 1
        assert is_sound(session)


def test_made_leaves_out_what_is_said_to_be_nothing(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = made(session, bench, 1, lines=(said(bench.silver_lot, used=0),))
        assert [line[0] for line in lines_of(session, build_id)] == [bench.old]


def test_made_never_goes_below_zero(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        with pytest.raises(NotEnoughForBuild):
            made(session, bench, 6)
        with pytest.raises(NotEnoughStock):
            made(session, bench, 1, lines=(said(bench.old, used=20, spoiled=11),))
    with undone(store) as session:
        bench = a_bench(session)
        started(session, bench, 5)
        with pytest.raises(NotEnoughForBuild, match="reserved"):
            made(session, bench, 1)


# --- giving up ---


def test_giving_up_before_taking_out_frees_what_was_reserved(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        before = bags(session)
        build_id = started(session, bench)
        abandon_build(session, build_id, AbandonDraft(note="Changed my mind."))
        assert bags(session) == before
        assert session.get_one(Build, build_id).note == "Changed my mind."
        assert is_sound(session)


def test_giving_up_puts_back_what_is_whole_and_scraps_the_rest(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = making(session, bench, 2)
        lines = (said(bench.old, returned=12), said(bench.silver_lot, spoiled=3))
        abandon_build(session, build_id, AbandonDraft(lines, DAY))
        assert holds(session, bench.old) == (12, 600_000)
        assert holds(session, bench.new) == (70, 4_900_000)
        assert in_bag(session, bench.silver_lot) == 37
        assert session.exec(select(Item.name).where(Item.kind == "scrap")).one()
        assert is_sound(session)
        with pytest.raises(Conflict, match="given up"):
            finish_build(session, build_id, FinishDraft())


# --- taking back ---


@pytest.mark.parametrize("average", [False, True])
def test_everything_can_be_taken_back_exactly(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        bench = a_bench(session)
        states = [whole_state(session)]
        build_id = started(session, bench, 2)
        states.append(whole_state(session))
        take_out(session, build_id, TakeOutDraft((said(bench.new, "tin", used=14),), DAY))
        states.append(whole_state(session))
        spoiled = (said(bench.new, "tin", spoiled=7), said(bench.silver_lot, spoiled=1), said(bench.old, returned=2))
        finished(session, build_id, lines=spoiled, spoiled=1)
        assert is_sound(session)
        while len(states) > 1:
            undo_build(session, build_id)
            assert is_sound(session)
            assert whole_state(session) == states.pop()
        # What was in the ledger keeps the build that it belongs to; a build that was only started leaves no trace.
        undo_build(session, build_id)
        assert whole_state(session)[:3] == states[0][:3]
        other = started(session, bench, 1)
        undo_build(session, other)
        assert session.get(Build, other) is None
        assert is_sound(session)


@pytest.mark.parametrize("average", [False, True])
def test_giving_up_can_be_taken_back(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        bench = a_bench(session)
        build_id = started(session, bench)
        before = whole_state(session)
        abandon_build(session, build_id, AbandonDraft())
        undo_build(session, build_id)
        assert whole_state(session) == before
        take_out(session, build_id, TakeOutDraft(taken_on=DAY))
        before = whole_state(session)
        abandon_build(session, build_id, AbandonDraft((said(bench.old, returned=5),), DAY))
        undo_build(session, build_id)
        assert whole_state(session) == before
        assert is_sound(session)


def test_what_was_made_can_be_taken_back_once(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        before = whole_state(session)
        build_id = made(session, bench, 2, lines=(said(bench.silver_lot, used=8, spoiled=2),))
        undo_build(session, build_id)
        after = whole_state(session)
        assert after[:3] == before[:3]
        assert session.get_one(Build, build_id).state == "abandoned"
        assert is_sound(session)
        with pytest.raises(Conflict, match="taken back already"):
            undo_build(session, build_id)


def test_pieces_that_are_gone_cannot_be_made_undone(store: Store) -> None:
    from models.intake.how_much import HowMuch
    from models.intake.stock.stock_out import StockOutDraft
    from models.operations.stock.stock_out import give_away

    with undone(store) as session:
        bench = a_bench(session)
        build_id = made(session, bench, 1)
        item = session.exec(select(Item).where(Item.design_id == bench.design)).one()
        give_away(session, StockOutDraft(HowMuch(milli=1000), "gift", item_id=item.id))
        with pytest.raises(Conflict, match="still there"):
            undo_build(session, build_id)


def test_a_reserved_bag_cannot_be_counted_below_what_a_build_will_take(store: Store) -> None:
    from models.intake.how_much import HowMuch
    from models.intake.stock.count import CountDraft

    with undone(store) as session:
        bench = a_bench(session)
        started(session, bench, 1)
        with pytest.raises(Conflict, match="reserved for build"):
            count_bag(session, CountDraft(HowMuch(milli=15_000), lot_id=bench.old))
