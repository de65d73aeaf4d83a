"""Many hands on one bag at once, and what must be true afterwards. No test lives here."""

from __future__ import annotations

import random
import re
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import unescape

import httpx
from sqlmodel import select

from models.database import Store
from models.operations.check import check_shop
from models.tables import ItemBalance, Lot, LotPlace, Movement, StockTransaction
from tests.ledgers import DRAWER, a_lot
from tests.serving import Booking
from tests.shops import a_ring


@dataclass(frozen=True)
class Bag:
    """The one bag that everybody takes from."""

    item_id: int
    lot_id: int
    rings: int

    def booking(self, rings: int) -> Booking:
        """A form that takes so many out of it."""
        return Booking(rings, self.item_id, self.lot_id, DRAWER)


@dataclass(frozen=True)
class Answered:
    """What was answered to one booking."""

    booking: Booking
    status: int
    text: str


def a_bag(store: Store, rings: int, cost: str = "37.03") -> Bag:
    """A bag of rings in stock; its cost cannot be shared evenly."""
    with store.writing() as session:
        item_id = a_ring(session)
        return Bag(item_id, a_lot(session, item_id, rings, cost), rings)


def race(addresses: Sequence[str], bag: Bag, *, threads: int, each: int, seed: int) -> list[Answered]:
    """Let threads take random handfuls out of one bag at once, spread over the servers at these addresses."""
    answers: list[Answered] = []
    gate = threading.Barrier(threads)

    def take(number: int) -> None:
        chance = random.Random(seed * 1000 + number)
        with httpx.Client(base_url=addresses[number % len(addresses)], timeout=60) as client:
            gate.wait()
            for _ in range(each):
                booking = bag.booking(chance.randint(1, 9))
                answer = booking.send(client)
                answers.append(Answered(booking, answer.status_code, answer.text))

    all_at_once(threads, take)
    return answers


def all_at_once(threads: int, act: Callable[[int], None]) -> None:
    """Run an act in so many threads, wait for all, and let the first trouble out."""
    troubles: list[BaseException] = []

    def run(number: int) -> None:
        try:
            act(number)
        except BaseException as trouble:
            troubles.append(trouble)

    started = [threading.Thread(target=run, args=(number,), daemon=True) for number in range(threads)]
    for thread in started:
        thread.start()
    for thread in started:
        thread.join(timeout=240)
        assert not thread.is_alive(), "a thread is stuck"
    if troubles:
        raise troubles[0]


def kept_marks(store: Store) -> list[str]:
    """The marks of the bookings that the ledger holds, each as often as it does."""
    with store.reading() as session:
        words = session.exec(select(StockTransaction.words).join(Movement).where(Movement.kind == "scrap")).all()
    return [found[0] for text in words for found in [re.search(r"mark [\w-]+", text)] if found]


def assert_nothing_was_lost(store: Store, bag: Bag, answers: Sequence[Answered]) -> None:
    """Every acknowledged booking is in the ledger once, no other is, nothing is below zero, and all of it adds up."""
    kept = [answer for answer in answers if answer.status == 303]
    refused = [answer for answer in answers if answer.status != 303]
    assert sorted(kept_marks(store)) == sorted(answer.booking.mark for answer in kept)
    taken = sum(answer.booking.rings for answer in kept)
    with store.reading() as session:
        left = session.exec(select(LotPlace.quantity_milli).where(LotPlace.lot_id == bag.lot_id)).one()
        lot = session.get_one(Lot, bag.lot_id)
        balance = session.get_one(ItemBalance, bag.item_id)
        moved = session.exec(select(Movement.quantity_milli).where(Movement.lot_id == bag.lot_id)).all()
        assert left == lot.quantity_milli == balance.on_hand_milli == sum(moved) == (bag.rings - taken) * 1000
        assert left >= 0
        found = check_shop(session, store.photos)
        assert found.sound, found.wrong
    for answer in refused:
        # Only less became free as the race went on, so what was refused at any time could not be had at its end.
        assert answer.status == 409
        assert answer.booking.rings * 1000 > left
        assert f"{answer.booking.rings} {'is' if answer.booking.rings == 1 else 'are'} needed" in unescape(answer.text)
        assert "free" in answer.text
