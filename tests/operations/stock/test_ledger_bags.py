"""Which bag of a lot is meant: one that was emptied never, the only one that holds anything always, else it is asked."""

from __future__ import annotations

import pytest
from sqlmodel import Session

from models.database import Store
from models.errors import Missing, NotEnoughStock, Unfit
from models.intake.builds.build import BuildRequest, FinishDraft, LineDraft, RingsFirstDraft, StartDraft, TakeOutDraft
from models.intake.faults import Faults
from models.intake.stock.count import CountDraft, read_count
from models.intake.stock.job import ProcessDraft, read_process_job
from models.intake.stock.stock_out import StockOutDraft, read_stock_out
from models.intake.stock.transfer import TransferDraft, read_transfer
from models.operations.builds.bags import bags_said
from models.operations.builds.finish import finish_build
from models.operations.builds.rings_first import take_rings
from models.operations.builds.start import start_build, take_out
from models.operations.imports import KINDS, take_file
from models.operations.stock.bag import remember_tare
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.count import Counted, count_bag
from models.operations.stock.job import JobDone
from models.operations.stock.process_job import process_lot
from models.operations.stock.stock_out import StockOut, remove_stock
from models.operations.stock.transfer import Moved, move_bag
from models.operations.undo import undo_act
from models.queries.buying.purchase import bags_there
from models.queries.stock.balance import balance_of
from models.queries.stock.lot import lot_view
from models.queries.stock.stock_out_page import move_page
from tests import ledgers
from tests.builds import said
from tests.ledgers import DAY, DRAWER, a_lot, holds, in_bag, on_hand
from tests.shops import a_design, a_part, a_ring

NOWHERE = "no place"


def count(session: Session, **raw: object) -> Counted:
    draft = read_count(raw)
    assert isinstance(draft, CountDraft), draft
    return count_bag(session, draft)


def leave(session: Session, **raw: object) -> StockOut:
    draft = read_stock_out({"reason": "lost", **raw})
    assert isinstance(draft, StockOutDraft), draft
    return remove_stock(session, draft)


def move(session: Session, lot_id: int, to_place: str, **raw: object) -> Moved:
    draft = read_transfer({"lot_id": lot_id, "to_place": to_place, **raw})
    assert isinstance(draft, TransferDraft), draft
    return move_bag(session, draft)


def process(session: Session, lot_id: int, **raw: object) -> JobDone:
    draft = read_process_job({"lot_id": lot_id, "process": "tumble", "finish": "bright", **raw})
    assert isinstance(draft, ProcessDraft), draft
    return process_lot(session, draft)


def moved_lot(session: Session) -> tuple[int, int]:
    """A ring and its lot of 100 that came without a place and went whole to the drawer."""
    ring = a_ring(session)
    lot = a_lot(session, ring, 100, "1.00", place="")
    move(session, lot, DRAWER, from_place="")
    return ring, lot


def there(session: Session, lot_id: int) -> dict[str, int]:
    """What lies where of a lot, in whole units; nothing of bags that hold nothing."""
    return {
        bag.place: bag.quantity_milli // 1000 for bag in lot_view(session, lot_id).bags if bag.quantity_milli
    }  # fmt: skip


# --- counts ---


@pytest.mark.parametrize("said", ["lot", "item", "name"])
def test_a_count_of_a_bag_that_moved_is_of_the_bag_where_it_lies_now(store: Store, said: str) -> None:
    with store.writing() as session:
        ring, lot = moved_lot(session)
        named = {"lot": {"lot_id": lot}, "item": {"item_id": ring}, "name": {"item": "Bronze ring 1.0 × 3.6 mm"}}[said]
        counted = count(session, **named, found="90")
        assert (counted.place, counted.expected_milli, counted.difference_milli) == (DRAWER, 100_000, -10_000)
        assert (on_hand(session, ring)[0], there(session, lot)) == (90, {DRAWER: 90})
        assert check_ledger(session) == ()


def test_a_file_of_counts_finds_the_bag_where_it_lies_now(store: Store) -> None:
    with store.writing() as session:
        ring, lot = moved_lot(session)
        assert take_file(session, KINDS["counts"], f"lot_id,place,found\n{lot},,90\n".encode()) == 1
        assert (on_hand(session, ring)[0], there(session, lot)) == (90, {DRAWER: 90})


def test_of_several_bags_that_hold_something_a_count_asks_for_one(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00", place="")
        move(session, lot, "tin", quantity="40")
        with pytest.raises(Unfit, match="Say which bag was counted: no place, tin"):
            count(session, lot_id=lot, found="90")
        assert count(session, lot_id=lot, place=NOWHERE, found="59").expected_milli == 60_000
        assert count(session, lot_id=lot, place="tin", found="41").expected_milli == 40_000
        assert there(session, lot) == {"": 59, "tin": 41}


def test_a_count_of_a_used_up_lot_goes_to_where_it_lay_last(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "1.00", place="a")
        move(session, lot, "z", from_place="a")
        move(session, lot, "m", from_place="z")
        ledgers.take_out(session, lot, 100, place="m")
        assert count(session, lot_id=lot, found="7").place == "m"
        undone = count(session, lot_id=lot, found="0")
        assert (undone.place, holds(session, lot)[0]) == ("m", 0)
        assert count(session, item_id=ring, found="3").place == "m"


def test_the_lot_that_lies_in_a_place_is_not_the_one_that_lay_there(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        gone, here = a_lot(session, ring, 10, place="tin"), a_lot(session, ring, 20, place="tin")
        move(session, gone, "jar", from_place="tin")
        assert count(session, item_id=ring, place="tin", found="19").lot_id == here
        assert there(session, gone) == {"jar": 10}


# --- what leaves, moves and is worked on ---


def test_without_a_place_what_leaves_comes_from_the_fullest_bag(store: Store) -> None:
    with store.writing() as session:
        _, lot = moved_lot(session)
        assert [(one.place, one.quantity_milli) for one in leave(session, lot_id=lot, quantity="5").takings] == [
            (DRAWER, 5_000)
        ]
        move(session, lot, "tin", from_place=DRAWER, quantity="60")
        taken = leave(session, lot_id=lot, quantity="70").takings
        assert [(one.place, one.quantity_milli) for one in taken] == [("tin", 60_000), (DRAWER, 10_000)]
        with pytest.raises(NotEnoughStock):
            leave(session, lot_id=lot, quantity="26")


def test_the_fullest_bag_goes_first_though_another_has_no_place(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00", place="")
        move(session, lot, "tin", quantity="80")
        assert [one.place for one in leave(session, lot_id=lot, quantity="30").takings] == ["tin"]
        assert [one.place for one in leave(session, lot_id=lot, place=NOWHERE, quantity="3").takings] == [""]
        with pytest.raises(NotEnoughStock):
            leave(session, lot_id=lot, place=NOWHERE, quantity="18")


def test_a_move_takes_the_only_bag_and_asks_among_several(store: Store) -> None:
    with store.writing() as session:
        _, lot = moved_lot(session)
        assert move(session, lot, "tin").from_place == DRAWER
        move(session, lot, "jar", quantity="30")
        with pytest.raises(Unfit, match="jar, tin"):
            move(session, lot, "box")
        with pytest.raises(Missing):
            move(session, lot, "box", from_place=DRAWER)
        move(session, lot, NOWHERE, from_place="jar")
        assert there(session, lot) == {"": 30, "tin": 70}
        # Without a word the bag that has no place is meant where it holds something, as it always was.
        assert move(session, lot, "box").from_place == ""
        assert move_page(session, lot, "").bag.quantity_milli == 0
        assert move_page(session, lot, "box").bag.quantity_milli == 30_000


def test_work_on_one_bag_leaves_the_others_alone(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "1.00", place="")
        move(session, lot, "tin", quantity="40")
        done = process(session, lot, place=NOWHERE)
        assert (done.used_milli, there(session, lot)) == (60_000, {"tin": 40})
        done = process(session, lot, to_item_id=done.item_id)
        assert (done.used_milli, done.place) == (40_000, "tin")


# --- builds ---


def test_a_line_of_a_build_that_names_only_its_lot_takes_the_fullest_bags(store: Store) -> None:
    with store.writing() as session:
        _, lot = moved_lot(session)
        take_rings(session, RingsFirstDraft((LineDraft(lot, used_milli=30_000),)))
        assert there(session, lot) == {DRAWER: 70}
        move(session, lot, "tin", from_place=DRAWER, quantity="50")
        take_rings(session, RingsFirstDraft((LineDraft(lot, used_milli=60_000),)))
        assert there(session, lot) == {DRAWER: 10}
        assert check_ledger(session) == ()


def test_a_bag_on_the_scale_is_the_only_one_or_is_named(store: Store) -> None:
    with store.writing() as session:
        _, lot = moved_lot(session)
        weighed = LineDraft(lot, before_ug=20_000_000, after_ug=10_000_000)
        (said,) = bags_said(session, (weighed,))
        assert said.bag == (lot, DRAWER)
        move(session, lot, "tin", from_place=DRAWER, quantity="50")
        with pytest.raises(Unfit) as told:
            bags_said(session, (weighed,))
        assert list(told.value.faults.by_field()) == ["lines.0.bag"]


def test_two_lines_of_one_item_do_not_take_the_same_rings(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        first, second = a_lot(session, ring, 10, place="a"), a_lot(session, ring, 10, place="b")
        twice = (LineDraft(item_id=ring, used_milli=8_000), LineDraft(item_id=ring, used_milli=8_000))
        take_rings(session, RingsFirstDraft(twice))
        assert (holds(session, first)[0], holds(session, second)[0]) == (0, 4)
        named = (LineDraft(item_id=ring, used_milli=2_000), LineDraft(second, "b", used_milli=2_000))
        take_rings(session, RingsFirstDraft(named))
        assert on_hand(session, ring)[0] == 0


def test_rings_that_replace_spoiled_ones_are_not_taken_twice(store: Store) -> None:
    """Two bags of a build are used up, and each has three spoiled rings: two more bags have three rings each."""
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 16, "1.60", place="a")
        for place, rings in (("b", 5), ("c", 3), ("d", 3)):
            move(session, lot, place, from_place="a", quantity=rings)
        design = a_design(session, [a_part(ring, 10)])
        build = start_build(session, StartDraft(BuildRequest(design, 1), started_on=DAY)).build_id
        lines = (said(lot, "a", spoiled=3), said(lot, "b", spoiled=3))
        finish_build(session, build, FinishDraft(lines=lines, finished_on=DAY))
        assert there(session, lot) == {}
        assert check_ledger(session) == ()


def test_a_leaving_of_an_item_in_a_place_comes_from_there(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        old, new = a_lot(session, ring, 10, place="a"), a_lot(session, ring, 10, place="b")
        assert [one.bag for one in leave(session, item_id=ring, place="b", quantity="4").takings] == [(new, "b")]
        with pytest.raises(NotEnoughStock, match=r"Only 6 rings .* are free in stock, b"):
            leave(session, item_id=ring, place="b", quantity="7")
        assert holds(session, old)[0] == 10


def test_a_build_that_took_a_lot_from_two_places_asks_which_of_them_is_meant(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 10, "1.60", place="a")
        move(session, lot, "b", from_place="a", quantity=4)
        build = start_build(
            session, StartDraft(BuildRequest(a_design(session, [a_part(ring, 10)]), 1), started_on=DAY)
        ).build_id
        with pytest.raises(Unfit, match=r"from several places\. Say which: a, b"):
            take_out(session, build, TakeOutDraft(lines=(LineDraft(lot, used_milli=3_000),), taken_on=DAY))


# --- where it lies, and what is remembered of a bag ---


def test_an_emptied_bag_is_no_place_where_an_item_lies(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "1.00", place="a")
        move(session, lot, "b", from_place="a", quantity="about 100")
        assert balance_of(session, ring).places == ("b",)
        move(session, lot, "a", from_place="b")
        assert (balance_of(session, ring).places, bags_there(session, (ring,))) == (("a",), {ring: "a"})
        ledgers.take_out(session, lot, 100, place="a")
        assert (balance_of(session, ring).places, balance_of(session, ring).lots) == ((), 0)
        assert bags_there(session, (ring,)) == {ring: "a"}


def test_the_tare_goes_along_with_a_whole_bag_into_a_place_that_was_emptied(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00", place="a")
        remember_tare(session, lot, "a", 1_000_000)
        move(session, lot, "b", from_place="a", quantity="60")
        remember_tare(session, lot, "b", 2_000_000)
        leave(session, lot_id=lot, place="b", quantity="60")

        def tares() -> dict[str, int | None]:
            return {bag.place: bag.tare_ug for bag in lot_view(session, lot).bags}

        moved = move(session, lot, "b", from_place="a")
        assert tares()["b"] == 1_000_000
        undo_act(session, moved.act_id)
        assert (tares(), in_bag(session, lot, "a")) == ({"a": 1_000_000, "b": 2_000_000}, 40)


def test_what_is_read_of_a_place_is_one_of_three(store: Store) -> None:
    for raw, meant in (({}, None), ({"place": " "}, None), ({"place": "No place"}, ""), ({"place": "tin"}, "tin")):
        counted, left = (
            read_count({"lot_id": 1, "found": 1, **raw}),
            read_stock_out({"lot_id": 1, "reason": "lost", "quantity": 1, **raw}),
        )
        assert not isinstance(counted, Faults)
        assert not isinstance(left, Faults)
        assert (counted.place, left.place) == (meant, meant)
