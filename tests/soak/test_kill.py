"""`kill -9` of a server in the middle of bookings, and backups while people write: nothing acknowledged is ever lost."""

from __future__ import annotations

import random
import signal
import threading
from pathlib import Path

import httpx
import pytest

from models.database import Store
from models.operations.check import check_shop
from models.operations.shop.backup import write_backup
from models.operations.shop.restore import restore_backup
from tests.racing import Answered, Bag, a_bag, all_at_once, assert_nothing_was_lost, kept_marks
from tests.serving import Booking, Server, command, running

BOOKINGS = 200
THREADS = 4


class Bookings:
    """The bookings of a run: which are still to be sent, and what was acknowledged."""

    def __init__(self, bag: Bag, seed: int) -> None:
        chance = random.Random(seed)
        self.all = [bag.booking(chance.randint(1, 4)) for _ in range(BOOKINGS)]
        self.acknowledged: list[Booking] = []
        self._lock = threading.Lock()
        self._next = iter(self.all)

    def next(self) -> Booking | None:
        """The next one to send; None when all were sent."""
        with self._lock:
            return next(self._next, None)

    def acknowledge(self, booking: Booking) -> int:
        """Note that the server said that it is kept; answer how many are by now."""
        with self._lock:
            self.acknowledged.append(booking)
            return len(self.acknowledged)


def book_until_it_dies(address: str, server: Server, bookings: Bookings, kill_after: int) -> None:
    """Send bookings from several threads, and kill the server once so many were acknowledged."""

    def send(_number: int) -> None:
        with httpx.Client(base_url=address, timeout=30) as client:
            while (booking := bookings.next()) is not None:
                try:
                    answer = booking.send(client)
                except httpx.TransportError:
                    # The server is gone; whether this one was kept nobody was told.
                    return
                assert answer.status_code == 303, answer.text[:500]
                if bookings.acknowledge(booking) == kill_after:
                    server.send_signal(signal.SIGKILL)

    all_at_once(THREADS, send)
    assert server.wait(timeout=20) == -signal.SIGKILL


def assert_check_is_clean(folder: Path) -> None:
    done = command("check", "--data", folder)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(("seed", "kill_after"), [(1, 3), (2, 57), (3, 100), (4, 101), (5, 163)])
def test_every_acknowledged_booking_is_there_after_a_kill(store: Store, seed: int, kill_after: int) -> None:
    bag = a_bag(store, 2000)
    bookings = Bookings(bag, seed)
    with running("serve", "--port", 0, "--data", store.folder) as (address, server):
        book_until_it_dies(address, server, bookings, kill_after)
    acknowledged = {booking.mark for booking in bookings.acknowledged}
    assert kill_after <= len(acknowledged) < BOOKINGS
    assert_check_is_clean(store.folder)
    kept = kept_marks(store)
    assert acknowledged <= set(kept)
    # One that was on its way in each thread may have been kept without a word.
    assert len(kept) == len(set(kept)) <= len(acknowledged) + THREADS

    # The same forms sent again, as a browser does that had no answer: each acts once, whatever became of it before.
    with running("serve", "--port", 0, "--data", store.folder) as (address, server):
        with httpx.Client(base_url=address, timeout=60) as client:
            assert [booking.send(client).status_code for booking in bookings.all] == [303] * BOOKINGS
        server.send_signal(signal.SIGKILL)
        server.wait(timeout=20)
    assert_nothing_was_lost(store, bag, [Answered(booking, 303, "") for booking in bookings.all])
    assert_check_is_clean(store.folder)


def test_killed_again_and_again_nothing_drifts(store: Store) -> None:
    bag = a_bag(store, 2000)
    bookings = Bookings(bag, seed=9)
    for _ in range(5):
        before = len(bookings.acknowledged)
        with running("serve", "--port", 0, "--data", store.folder) as (address, server):
            book_until_it_dies(address, server, bookings, before + 25)
        assert {booking.mark for booking in bookings.acknowledged} <= set(kept_marks(store))
        assert_check_is_clean(store.folder)


def test_a_backup_made_while_people_write_is_whole(store: Store, tmp_path: Path) -> None:
    bag = a_bag(store, 2000)
    bookings = Bookings(bag, seed=11)
    backups: list[tuple[Path, set[str]]] = []
    ever = {booking.mark for booking in bookings.all}
    with running("serve", "--port", 0, "--data", store.folder) as (address, _server):

        def send(_number: int) -> None:
            with httpx.Client(base_url=address, timeout=60) as client:
                while (booking := bookings.next()) is not None:
                    assert booking.send(client).status_code == 303
                    bookings.acknowledge(booking)

        def back_up() -> None:
            # This process stands beside the server's, as the command does, without the time that it takes to start.
            while len(bookings.acknowledged) < BOOKINGS - 20:
                before = {booking.mark for booking in list(bookings.acknowledged)}
                file = tmp_path / f"backup-{len(backups)}.zip"
                write_backup(store, file)
                backups.append((file, before))

        all_at_once(THREADS + 1, lambda number: back_up() if number == THREADS else send(number))
    between = 0
    for number, (file, before) in enumerate(backups):
        restored = Store(tmp_path / f"restored-{number}")
        restore_backup(restored, file)
        kept = kept_marks(restored)
        assert len(kept) == len(set(kept))
        assert before <= set(kept) <= ever
        between += 0 < len(kept) < BOOKINGS
        with restored.reading() as session:
            found = check_shop(session, restored.photos)
        restored.close()
        assert found.sound, found.wrong
    print(f"{len(backups)} backups, {between} of them in the middle of the bookings")  # noqa: T201
    assert between >= 3
    assert_nothing_was_lost(store, bag, [Answered(booking, 303, "") for booking in bookings.all])
