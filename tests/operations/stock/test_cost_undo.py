"""Taking things back under average cost: what would leave a false cost on the rest is refused, and says what to do."""

from __future__ import annotations

import pytest
from sqlalchemy import func
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Conflict
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.intake.stock.stock_out import StockOutDraft
from models.intake.stock.transfer import TransferDraft
from models.operations.builds.undo import undo_build
from models.operations.stock.count import count_bag
from models.operations.stock.ledger import Posting, TransactionHeader, open_lot, post
from models.operations.stock.stock_out import remove_stock
from models.operations.stock.transfer import move_bag
from models.operations.undo import undo_act, undoable
from models.tables import Lot, Movement
from tests.builds import a_bench, finished, is_sound, made, making, said
from tests.ledgers import DAY, DRAWER, a_lot, by_average, on_hand, undone
from tests.shops import a_ring


def act_of(session: Session, lot_id: int) -> int:
    """The act by which a lot came in."""
    return session.exec(select(func.min(col(Movement.act_id))).where(Movement.lot_id == lot_id)).one() or 0


def give(session: Session, lot_id: int, rings: int) -> int:
    """Rings given away from one bag; answers the act."""
    draft = StockOutDraft(HowMuch(milli=rings * 1000), "gift", lot_id=lot_id, place=DRAWER)
    return remove_stock(session, draft).act_id


def refused(session: Session, act_id: int) -> str:
    """Why an act cannot be taken back, by the question and by the deed alike."""
    says = undoable(session, act_id)
    assert not says.possible
    with pytest.raises(Conflict) as told:
        undo_act(session, act_id)
    assert str(told.value) == says.reason
    return says.reason


def test_a_mistyped_receipt_stays_once_something_left_at_its_average(store: Store) -> None:
    with undone(store) as session:
        by_average(session)
        ring = a_ring(session)
        first, second = a_lot(session, ring, 100, "10.00"), a_lot(session, ring, 100, "100.00")
        give(session, first, 15)
        before = on_hand(session, ring)
        says = refused(session, act_of(session, second))
        assert "would leave a false cost on what is still there" in says
        assert "correct what the receipt cost instead" in says
        assert on_hand(session, ring) == before == (185, 101_750_000)


def test_a_receipt_may_go_when_what_left_since_came_back(store: Store) -> None:
    with undone(store) as session:
        by_average(session)
        ring = a_ring(session)
        first, second = a_lot(session, ring, 100, "10.00"), a_lot(session, ring, 100, "100.00")
        undo_act(session, give(session, first, 15))
        undo_act(session, act_of(session, second))
        assert on_hand(session, ring) == (100, 10_000_000)


@pytest.mark.parametrize("leave", [1, 15, 99])
def test_a_receipt_at_the_very_average_leaves_nothing_false_and_may_go(store: Store, leave: int) -> None:
    with undone(store) as session:
        by_average(session)
        ring = a_ring(session)
        first, second = a_lot(session, ring, 100, "10.00"), a_lot(session, ring, 100, "10.00")
        give(session, first, leave)
        undo_act(session, act_of(session, second))
        assert on_hand(session, ring) == (100 - leave, 10_000_000 - 100_000 * leave)


def test_a_receipt_that_others_already_went_on_from_stays(store: Store) -> None:
    """More left since than would have been there without it."""
    with undone(store) as session:
        by_average(session)
        ring = a_ring(session)
        first, second = a_lot(session, ring, 10, "1.00"), a_lot(session, ring, 100, "10.00")
        give(session, first, 10)
        third = a_lot(session, ring, 5, "0.50")
        give(session, third, 5)
        undo_act(session, act_of(session, second))
        assert on_hand(session, ring) == (0, 0)


def test_what_a_count_found_stays_once_something_left_at_an_average_that_it_had_a_part_in(store: Store) -> None:
    with undone(store) as session:
        by_average(session)
        ring = a_ring(session)
        first = a_lot(session, ring, 100, "10.00")
        found = CountDraft(HowMuch(milli=110_000), lot_id=first, place=DRAWER)
        counted = count_bag(session, found).act_id
        gift = give(session, first, 20)
        assert undoable(session, counted).possible, "at the very average nothing is false"
        dear = a_lot(session, ring, 100, "100.00")
        other = give(session, dear, 20)
        assert "count the bag instead" in refused(session, counted)
        undo_act(session, other)
        undo_act(session, counted)
        assert on_hand(session, ring) == (180, 108_000_000)
        assert undoable(session, gift).possible


def test_what_a_job_made_stays_once_something_left_at_its_average(store: Store) -> None:
    with undone(store) as session:
        by_average(session)
        ring, dyed = a_ring(session), a_ring(session, name="Dyed", metal="copper")
        wire, old = a_lot(session, ring, 100, "10.00"), a_lot(session, dyed, 50, "2.00")
        made_lot = open_lot(session, Lot(item_id=dyed, received_on=DAY))
        job = post(
            session,
            TransactionHeader("process", DAY, "Dyed."),
            [
                Posting(wire, DRAWER, "issue", -50_000),
                Posting(made_lot, DRAWER, "receipt", 50_000, 9_000_000, labour_micros=4_000_000),
            ],
        ).act_id
        assert undoable(session, job).possible
        gift = give(session, old, 10)
        assert "take it back" not in refused(session, job)
        undo_act(session, gift)
        undo_act(session, job)
        assert (on_hand(session, ring), on_hand(session, dyed)) == ((100, 10_000_000), (50, 2_000_000))


def test_finished_pieces_stay_once_one_left_at_their_average(store: Store) -> None:
    with undone(store) as session:
        by_average(session)
        bench = a_bench(session)
        made(session, bench, 1, minutes=60)
        dear = made(session, bench, 1, minutes=600)
        lot = session.exec(select(Lot).where(Lot.batch == "build 1")).one()
        draft = StockOutDraft(HowMuch(milli=1000), "gift", lot_id=lot.id, place="finished pieces")
        gift = remove_stock(session, draft).act_id
        with pytest.raises(Conflict, match="at an average"):
            undo_build(session, dear)
        undo_act(session, gift)
        undo_build(session, dear)
        assert is_sound(session)


def test_what_came_back_from_a_build_may_leave_again(store: Store) -> None:
    with undone(store) as session:
        by_average(session)
        bench = a_bench(session, bronze=15)
        build_id = making(session, bench, 2)
        finished(session, build_id, lines=(said(bench.old, returned=10),))
        give_from = StockOutDraft(HowMuch(milli=5_000), "gift", lot_id=bench.new, place="tin")
        remove_stock(session, give_from)
        undo_build(session, build_id)
        assert is_sound(session)


def test_a_moved_bag_may_always_move_back(store: Store) -> None:
    with undone(store) as session:
        by_average(session)
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "10.00")
        moved = move_bag(session, TransferDraft(lot, DRAWER, "tin", HowMuch(milli=50_000))).act_id
        a_lot(session, ring, 100, "100.00", place="box")
        give(session, lot, 20)
        undo_act(session, moved)
        assert on_hand(session, ring)[0] == 180


def test_what_left_may_always_come_back(store: Store) -> None:
    with undone(store) as session:
        by_average(session)
        ring = a_ring(session)
        first = a_lot(session, ring, 100, "10.00")
        gift = give(session, first, 50)
        second = a_lot(session, ring, 100, "100.00")
        give(session, second, 10)
        undo_act(session, gift)
        assert on_hand(session, ring)[0] == 190
