"""Taking things back under average cost: what would leave a false cost on the rest is refused, and says what to do."""

from __future__ import annotations

import pytest
from sqlalchemy import func
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Conflict
from models.intake.how_much import HowMuch
from models.intake.leaving import LeavingDraft
from models.operations.leaving import let_leave
from models.operations.undo import undo_act, undoable
from models.tables import Movement
from tests.ledgers import DRAWER, a_lot, by_average, on_hand, undone
from tests.shops import a_ring


def act_of(session: Session, lot_id: int) -> int:
    """The act by which a lot came in."""
    return session.exec(select(func.min(col(Movement.act_id))).where(Movement.lot_id == lot_id)).one() or 0


def give(session: Session, lot_id: int, rings: int) -> int:
    """Rings given away from one bag; answers the act."""
    draft = LeavingDraft(HowMuch(milli=rings * 1000), "gift", lot_id=lot_id, place=DRAWER)
    return let_leave(session, draft).act_id


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
