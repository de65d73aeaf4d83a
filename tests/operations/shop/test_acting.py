"""Who acts: every act, sign-in and key is somebody's, the owner's where nobody else is named."""

from __future__ import annotations

import threading
from contextvars import copy_context

import pytest
from sqlmodel import col, select

from models.database import Store
from models.operations.shop import sign_in as operations
from models.operations.shop.acting import acting_as, acting_person
from models.operations.shop.clock import now
from models.operations.undo import undo_act
from models.queries.shop.sign_in import visitor
from models.tables import FIRST_PERSON, Person, ProgramKey, SignedIn, StockTransaction
from tests.ledgers import a_lot
from tests.shops import a_ring


@pytest.fixture
def second(store: Store) -> int:
    """Somebody who works beside the owner."""
    with store.writing() as session:
        person = Person(name="Iris Thorne")
        session.add(person)
        session.flush()
        return person.id or 0


def test_the_owner_is_there_from_the_first_day_on(store: Store) -> None:
    with store.reading() as session:
        assert [(person.id, person.name) for person in session.exec(select(Person))] == [(FIRST_PERSON, "Owner")]


def test_an_act_is_done_by_the_person_who_acts(store: Store, second: int) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        a_lot(session, ring, 5)
        with acting_as(second):
            a_lot(session, ring, 7)
            undo_act(session, 1)
        a_lot(session, ring, 9)
        who = session.exec(select(StockTransaction.person_id).order_by(col(StockTransaction.id))).all()
    assert who == [FIRST_PERSON, second, second, FIRST_PERSON]


def test_acting_ends_also_where_something_went_wrong(second: int) -> None:
    def go_wrong() -> None:
        with acting_as(second), acting_as(second + 1):
            raise ValueError("spilt")

    with pytest.raises(ValueError, match="spilt"):
        go_wrong()
    assert acting_person() == FIRST_PERSON


def test_one_thread_does_not_act_for_another(second: int) -> None:
    seen: list[int] = []
    with acting_as(second):
        own = threading.Thread(target=lambda: seen.append(acting_person()))
        copied = threading.Thread(target=copy_context().run, args=(lambda: seen.append(acting_person()),))
        for thread in (own, copied):
            thread.start()
            thread.join()
    assert seen == [FIRST_PERSON, second]


def test_sign_ins_and_keys_say_whose_they_are(store: Store, second: int) -> None:
    with store.writing() as session:
        operations.set_password(session, "seven kettles by the door")
        token = operations.open_session(session, "Firefox")
        with acting_as(second):
            key = operations.make_key(session, "till")
        assert session.exec(select(SignedIn.person_id)).all() == [FIRST_PERSON]
        assert session.exec(select(ProgramKey.person_id)).all() == [second]
    with store.reading() as session:
        assert visitor(session, token=token, key="", at=now()).person_id == FIRST_PERSON
        assert visitor(session, token="", key=key, at=now()).person_id == second
