"""Many browsers at once on one bag, over HTTP and two servers; `tests/soak` does the same with processes, for longer."""

from __future__ import annotations

import secrets

import httpx
import pytest

from models.database import Store
from models.intake.buying.purchase import PurchaseDraft, PurchaseLineDraft
from models.operations.buying.purchase import draft_purchase, send_purchase
from models.operations.check import check_shop
from models.queries.buying.purchase import purchase_page
from models.queries.stock.on_order import on_order_milli
from models.tables import Item
from tests.ledgers import on_hand
from tests.racing import Answered, a_bag, all_at_once, assert_nothing_was_lost, race
from tests.serving import in_a_thread
from tests.shops import a_ring

pytestmark = pytest.mark.long


def test_eight_threads_on_two_servers_take_no_more_than_there_is(store: Store) -> None:
    bag = a_bag(store, 150)
    with in_a_thread(store.folder) as first, in_a_thread(store.folder) as second:
        answers = race((first, second), bag, threads=8, each=6, seed=7)
    assert len(answers) == 48
    assert {answer.status for answer in answers} == {303, 409}
    assert_nothing_was_lost(store, bag, answers)


def test_one_form_sent_by_many_at_once_acts_once(store: Store) -> None:
    bag = a_bag(store, 100)
    booking = bag.booking(7)
    answers: list[httpx.Response] = []
    with in_a_thread(store.folder) as first, in_a_thread(store.folder) as second:

        def send(number: int) -> None:
            with httpx.Client(base_url=(first, second)[number % 2], timeout=60) as client:
                answers.append(booking.send(client))

        all_at_once(8, send)
    assert [answer.status_code for answer in answers] == [303] * 8
    assert len({answer.headers["location"] for answer in answers}) == 1
    assert_nothing_was_lost(store, bag, [Answered(booking, 303, "")])


def test_of_two_edits_from_one_page_the_later_is_shown_what_changed(store: Store) -> None:
    bag = a_bag(store, 10)
    with store.reading() as session:
        raw = session.get_one(Item, bag.item_id)
        version = raw.version
    fields = {"kind": "ring", "metal": "bronze-c220", "wire": "1.0 mm", "inner": "3.6 mm", "version": version}
    path = f"/stock/items/{bag.item_id}/edit"
    with in_a_thread(store.folder) as first, in_a_thread(store.folder) as second:
        answers: list[httpx.Response] = []

        def send(number: int) -> None:
            with httpx.Client(base_url=(first, second)[number % 2], timeout=60) as client:
                sent = {**fields, "name": f"Name by browser {number}", "token": secrets.token_urlsafe(18)}
                answers.append(client.post(path, data=sent))

        all_at_once(4, send)
    won = [answer for answer in answers if answer.status_code == 303]
    lost = [answer for answer in answers if answer.status_code == 409]
    assert (len(won), len(lost)) == (1, 3)
    with store.reading() as session:
        kept = session.get_one(Item, bag.item_id).name
    for answer in lost:
        assert "was changed since you opened it" in answer.text
        assert kept in answer.text
        assert "Name by browser" in answer.text.replace(kept, "")


def test_packs_that_many_receive_at_once_come_in_once(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        number = draft_purchase(session, PurchaseDraft((PurchaseLineDraft(3, item_id=ring),)))
        send_purchase(session, number)
        line = purchase_page(session, number).lines[0].id
    statuses: list[int] = []
    with in_a_thread(store.folder) as first, in_a_thread(store.folder) as second:

        def send(place: int) -> None:
            body = {"lines": [{"line_id": line, "packs": 2}]}
            with httpx.Client(base_url=(first, second)[place % 2], timeout=60) as client:
                statuses.append(client.post(f"/api/purchases/{number}/receive", json=body).status_code)

        all_at_once(6, send)
    assert sorted(statuses) == [200, 422, 422, 422, 422, 422]
    with store.reading() as session:
        assert (on_hand(session, ring)[0], on_order_milli(session)) == (200, {ring: 100_000})
        assert check_shop(session, store.photos).sound
