"""Two server processes and eight threads on one bag at once, the same form from everywhere, and stale edits."""

from __future__ import annotations

import secrets
from collections.abc import Iterator

import httpx
import pytest

from models.database import Store
from models.tables import Item
from tests.racing import Answered, a_bag, all_at_once, assert_nothing_was_lost, race
from tests.serving import Booking, command, running

THREADS = 8


@pytest.fixture
def servers(store: Store) -> Iterator[tuple[str, str]]:
    """Two processes that serve the same shop."""
    options = ("serve", "--port", 0, "--data", store.folder)
    with running(*options) as (first, _), running(*options) as (second, _):
        yield first, second


def assert_check_is_clean(store: Store) -> None:
    """The command that a person would run says that all is sound."""
    done = command("check", "--data", store.folder)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("All is sound")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_movement_is_lost_and_nothing_goes_below_zero(store: Store, servers: tuple[str, str], seed: int) -> None:
    bag = a_bag(store, 900)
    answers = race(servers, bag, threads=THREADS, each=40, seed=seed)
    refused = sum(answer.status == 409 for answer in answers)
    print(f"{len(answers)} bookings by {THREADS} threads, {refused} refused")  # noqa: T201
    assert len(answers) == THREADS * 40
    assert refused > 20
    assert_nothing_was_lost(store, bag, answers)
    assert_check_is_clean(store)


def test_a_form_sent_by_everybody_at_once_acts_once(store: Store, servers: tuple[str, str]) -> None:
    bag = a_bag(store, 500)
    bookings = [bag.booking(1 + number % 5) for number in range(20)]
    answers: dict[Booking, list[httpx.Response]] = {booking: [] for booking in bookings}

    def send(number: int) -> None:
        with httpx.Client(base_url=servers[number % 2], timeout=60) as client:
            for booking in bookings:
                answers[booking].append(booking.send(client))

    all_at_once(THREADS, send)
    for sent in answers.values():
        assert [answer.status_code for answer in sent] == [303] * THREADS
        assert len({answer.headers["location"] for answer in sent}) == 1
    assert_nothing_was_lost(store, bag, [Answered(booking, 303, "") for booking in bookings])
    assert_check_is_clean(store)


def test_a_stale_edit_is_refused_with_what_changed(store: Store, servers: tuple[str, str]) -> None:
    bag = a_bag(store, 10)
    path = f"/stock/items/{bag.item_id}/edit"
    fields = {"kind": "ring", "metal": "bronze-c220", "wire": "1.0 mm", "inner": "3.6 mm"}
    for round_number in range(10):
        with store.reading() as session:
            version = session.get_one(Item, bag.item_id).version
        answers: list[tuple[str, httpx.Response]] = []

        def send(number: int, version: int = version, answers: list[tuple[str, httpx.Response]] = answers) -> None:
            name = f"Round {round_number} by thread {number}"  # noqa: B023  (run at once, in this round)
            with httpx.Client(base_url=servers[number % 2], timeout=60) as client:
                sent = {**fields, "name": name, "version": version, "token": secrets.token_urlsafe(18)}
                answers.append((name, client.post(path, data=sent)))

        all_at_once(THREADS, send)
        won = [name for name, answer in answers if answer.status_code == 303]
        assert len(won) == 1
        with store.reading() as session:
            row = session.get_one(Item, bag.item_id)
            assert (row.name, row.version) == (won[0], version + 1)
        for name, answer in answers:
            if name != won[0]:
                assert answer.status_code == 409
                # Both: what is saved by now, and what was typed, which is not lost.
                assert won[0] in answer.text
                assert name in answer.text
    assert_check_is_clean(store)
