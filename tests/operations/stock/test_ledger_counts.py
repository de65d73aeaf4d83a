"""Counting bags: the difference is shown first and then booked, in rings and in money, with how sure the count is."""

from __future__ import annotations

from datetime import date

import pytest
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Conflict, Missing, Stale, Unfit
from models.intake.faults import Faults
from models.intake.stock.count import COUNT_COLUMNS, CountDraft, read_count
from models.operations.stock.count import Counted, count_bag
from models.operations.stock.ledger import reserve
from models.operations.undo import undo_act
from models.queries.stock.count import count_difference
from models.queries.stock.lot import Bag, lot_view
from models.tables import BagCount, BuildLine, Item, LotPlace, Movement, StockTransaction
from tests.ledgers import (
    DAY,
    DRAWER,
    a_lot,
    a_started_build,
    by_average,
    holds,
    in_bag,
    kept,
    movements,
    on_hand,
    take_out,
)
from tests.shops import a_design, a_part, a_ring


def draft(raw: dict[str, object]) -> CountDraft:
    read = read_count(raw)
    assert isinstance(read, CountDraft), read
    return read


def count(session: Session, lot_id: int, found: str, **more: object) -> Counted:
    return count_bag(session, draft({"lot_id": lot_id, "place": DRAWER, "found": found, **more}))


def bag(session: Session, lot_id: int, place: str = DRAWER) -> Bag:
    return next(bag for bag in lot_view(session, lot_id).bags if bag.place == place)


def test_the_difference_is_shown_in_rings_and_in_money_before_it_is_booked(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 300, "10.00")
        shown = count_difference(session, draft({"lot_id": lot, "place": DRAWER, "found": "280"}))
        assert (shown.expected_milli, shown.difference_milli, shown.value_micros) == (300_000, -20_000, -666_667)
        assert holds(session, lot) == (300, 10_000_000)
        booked = count(session, lot, "280")
        assert (booked.difference_milli, booked.value_micros) == (-20_000, -666_667)
        assert holds(session, lot) == (280, 9_333_333)


def test_what_is_found_more_takes_the_value_of_the_lot(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 3, "0.10")
        assert count(session, lot, "4").value_micros == 33_333
        assert holds(session, lot) == (4, 133_333)


@pytest.mark.parametrize("found", ["90", "110"])
def test_under_the_average_a_difference_has_the_value_of_the_pool(store: Store, found: str) -> None:
    with store.writing() as session:
        by_average(session)
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "1.00")
        a_lot(session, ring, 100, "3.00")
        shown = count_difference(session, draft({"lot_id": lot, "place": DRAWER, "found": found}))
        assert shown.value_micros == (int(found) - 100) * 20_000
        assert count(session, lot, found).value_micros == shown.value_micros


def test_what_is_found_of_an_empty_lot_is_worth_what_it_cost_when_it_came(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 200, "5.00")
        take_out(session, lot, 200)
        assert count(session, lot, "8").value_micros == 200_000
        assert holds(session, lot) == (8, 200_000)


def test_a_count_as_expected_is_written_down_too(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "1.00")
        counted = count(session, lot, "100", counted_on="2026-03-09")
        assert movements(session, counted.act_id) == [("count", 0, 0)]
        assert counted.words == "Counted 100 rings of “Bronze ring 1.0 × 3.6 mm” in drawer B4, as expected."
        assert bag(session, lot).counted_on == date(2026, 3, 9)
        row = session.exec(select(BagCount)).one()
        assert (row.expected_milli, row.found_milli) == (100_000, 100_000)


def test_counting_is_not_using_it(store: Store) -> None:
    from models.tables import ItemBalance

    with store.writing() as session:
        ring = a_ring(session)
        count(session, a_lot(session, ring, 100), "90")
        assert session.get_one(ItemBalance, ring).last_moved_on == DAY


@pytest.mark.parametrize(
    ("words", "rings", "rough"),
    [
        ("about 80", 80, "about"),
        ("80", 80, ""),
        ("plenty", 100, "plenty"),
        ("plenty, 300", 300, "plenty"),
        ("0", 0, ""),
    ],
)
def test_how_sure_a_count_is_stays_with_the_bag(store: Store, words: str, rings: int, rough: str) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        count(session, lot, words)
        assert (in_bag(session, lot), bag(session, lot).rough) == (rings, rough)


def test_a_true_count_clears_the_mark(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        count(session, lot, "about 80")
        count(session, lot, "84")
        assert bag(session, lot).rough == ""


def test_plenty_in_an_empty_bag_is_taken_for_a_figure(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        take_out(session, lot, 100)
        count(session, lot, "plenty")
        assert holds(session, lot) == (1000, 10_000_000)


def test_a_weight_is_a_rough_count(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        session.get_one(Item, ring).mass_ug = 100_000
        lot = a_lot(session, ring, 100, "1.00")
        counted = count(session, lot, "9.51 g", tare="1.2 g")
        assert (counted.found_milli, counted.rough) == (95_000, "about")
        assert bag(session, lot).tare_ug == 1_200_000


def test_a_count_from_a_stale_page_is_refused_with_both_values(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "1.00")
        take_out(session, lot, 48)
        with pytest.raises(Stale) as told:
            count(session, lot, "100", expected="100")
        assert told.value.changes == (("In the bag", "52 rings", "100 rings"),)
        count(session, lot, "50", expected="52")
        assert on_hand(session, ring)[0] == 50


def test_a_count_below_what_is_reserved_names_the_build(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "1.00")
        build = a_started_build(session, a_design(session, [a_part(ring, 1)]))
        session.add(BuildLine(build_id=build, position=0, item_id=ring, lot_id=lot, place=DRAWER, planned_milli=60_000))
        reserve(session, [kept(lot, DRAWER, 60_000, build_id=build)])
        with pytest.raises(
            Conflict, match=f"60 rings of this bag are reserved for build {build}, and only 59 were found"
        ):
            count(session, lot, "59")
        count(session, lot, "60")


def test_a_bag_found_in_another_place_is_a_new_bag(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        count(session, lot, "7", place="under the bench")
        assert (in_bag(session, lot, "under the bench"), holds(session, lot)) == (7, (107, 1_070_000))


# --- which bag ---


def test_the_only_bag_of_a_lot_or_item_need_not_be_said(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "1.00")
        assert count_bag(session, draft({"lot_id": lot, "found": "99"})).place == DRAWER
        assert count_bag(session, draft({"item": "bronze ring 1.0 × 3.6 mm", "found": "98"})).lot_id == lot
        assert count_bag(session, draft({"item_id": ring, "found": "97"})).lot_id == lot


def test_of_several_lots_the_only_one_that_holds_anything_is_meant(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        gone, left = a_lot(session, ring, 10, "1.00"), a_lot(session, ring, 20, "2.00")
        take_out(session, gone, 10)
        assert count_bag(session, draft({"item_id": ring, "found": "19"})).lot_id == left
        take_out(session, left, 19)
        with pytest.raises(Unfit, match="It lies in several lots"):
            count_bag(session, draft({"item_id": ring, "found": "1"}))


def test_an_empty_lot_is_counted_where_it_is_the_only_one(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 10, "1.00")
        take_out(session, lot, 10)
        assert count_bag(session, draft({"item_id": ring, "found": "2"})).value_micros == 200_000


def test_a_bag_that_could_be_several_is_asked_about(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100)
        count(session, lot, "5", place="tin")
        with pytest.raises(Unfit, match="Say which bag was counted: drawer B4, tin"):
            count_bag(session, draft({"lot_id": lot, "found": "9"}))
        other = a_lot(session, ring, 100, place="jar")
        with pytest.raises(Unfit, match=rf"Say which one was counted: {lot}, {other}"):
            count_bag(session, draft({"item_id": ring, "found": "9"}))
        assert count_bag(session, draft({"item_id": ring, "found": "9", "place": "jar"})).lot_id == other


@pytest.mark.parametrize(
    ("raw", "error"),
    [
        ({"lot_id": "99", "found": "5"}, Missing),
        ({"item_id": "99", "found": "5"}, Missing),
        ({"item": "Nobody", "found": "5"}, Unfit),
        ({"item_id": "1", "found": "5"}, Unfit),
        ({"lot_id": "1", "place": DRAWER, "found": "2.5"}, Unfit),
        ({"lot_id": "1", "place": DRAWER, "found": "5", "counted_on": "2999-01-01"}, Unfit),
    ],
)
def test_a_bag_that_is_not_there_is_said_so(store: Store, raw: dict[str, object], error: type[Exception]) -> None:
    with store.writing() as session:
        a_ring(session, name="Never received")
        a_lot(session, a_ring(session, inner_nm=9_000_000), 100)
        with pytest.raises(error):
            count_bag(session, draft(raw))


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"found": "5"}, "lot_id"),
        ({"lot_id": "1"}, "found"),
        ({"lot_id": "1", "found": "-1"}, "found"),
        ({"lot_id": "1", "found": "some"}, "found"),
        ({"lot_id": "one", "found": "5"}, "lot_id"),
        ({"lot_id": "1", "found": "5", "expected": "many"}, "expected"),
        ({"lot_id": "1", "found": "5", "counted_on": "yesterday"}, "counted_on"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field(raw: dict[str, object], field: str) -> None:
    faults = read_count(raw)
    assert isinstance(faults, Faults)
    assert list(faults.by_field()) == [field]


def test_the_columns_of_the_file_are_the_fields_that_are_read(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 500)
        row = {column.name: column.example for column in COUNT_COLUMNS} | {"lot_id": str(lot), "item": ""}
        assert count_bag(session, draft(dict(row))).found_milli == 412_000
        assert (
            "One bag had split."
            in session.exec(select(StockTransaction.words).order_by(col(StockTransaction.id).desc())).first()
        )  # type: ignore[operator]


# --- taking a count back ---


def test_taking_a_count_back_restores_rings_value_and_mark(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        first = count(session, lot, "about 80", counted_on="2026-03-05")
        second = count(session, lot, "70", counted_on="2026-03-06")
        undo_act(session, second.act_id)
        assert (holds(session, lot), bag(session, lot).rough) == ((80, 800_000), "about")
        assert bag(session, lot).counted_on == date(2026, 3, 5)
        undo_act(session, first.act_id)
        assert (holds(session, lot), bag(session, lot).rough) == ((100, 1_000_000), "")
        assert bag(session, lot).counted_on == DAY


def test_a_count_that_was_taken_back_marks_nothing_any_more(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        first = count(session, lot, "about 80")
        second = count(session, lot, "70")
        undo_act(session, first.act_id)
        undo_act(session, second.act_id)
        assert (holds(session, lot), bag(session, lot).rough) == ((100, 1_000_000), "")


def test_a_later_count_keeps_its_mark_when_an_earlier_one_is_taken_back(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        first = count(session, lot, "80")
        count(session, lot, "about 90")
        undo_act(session, first.act_id)
        assert session.exec(select(LotPlace.rough)).one() == "about"
        assert holds(session, lot)[0] == 110
        assert [row.kind for row in session.exec(select(Movement).order_by(col(Movement.id)))] == [
            "receipt",
            "count",
            "count",
            "reversal",
        ]
