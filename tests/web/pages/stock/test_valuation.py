"""Choosing how stock is valued: what it means is shown first, and a stale page is told."""

from __future__ import annotations

from html import unescape

import pytest

from models.database import Store
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.lot_state import valuation
from tests.ledgers import a_lot, holds
from tests.shops import a_ring
from tests.web.conftest import Client, find_form
from tests.web.pages.stock.test_items import text_of

URL = "/settings/valuation"


@pytest.fixture
def lots(store: Store) -> tuple[int, int]:
    with store.writing() as session:
        ring = a_ring(session)
        return a_lot(session, ring, 100, "2.00"), a_lot(session, ring, 100, "4.00")


def test_changing_says_what_it_means_and_asks_once_more(client: Client, store: Store, lots: tuple[int, int]) -> None:
    assert 'href="/settings/valuation"' in client.get("/settings").text
    assert "Stock is valued by first in, first out ." in text_of(client.get(URL).text)
    asked = client.submit(URL, {"method": "average", "do": "look"}, action=URL)
    assert asked.status_code == 200
    said = text_of(asked.text)
    assert "€1.00 would move between lots of 1 item." in said
    assert "What is in finished pieces and in earlier builds stays as it was booked." in said
    with store.reading() as session:
        assert valuation(session) == "fifo"
    done = client.post(URL, {**find_form(asked.text, URL).fields, "do": "book"})
    assert "Stock is valued by weighted average from now on." in text_of(client.follow(done).text)
    with store.reading() as session:
        assert valuation(session) == "average"
        assert (holds(session, lots[0]), holds(session, lots[1])) == ((100, 3_000_000), (100, 3_000_000))
        assert check_ledger(session) == ()
    history = text_of(client.get("/stock/history").text)
    assert "Brought every lot to its average" in history


def test_what_was_not_seen_is_not_changed(client: Client, store: Store, lots: tuple[int, int]) -> None:
    unseen = client.submit(URL, {"method": "average", "do": "book"}, action=URL)
    assert unseen.status_code == 200
    same = client.submit(URL, {"method": "fifo", "do": "look"}, action=URL)
    assert "The shop values by first in, first out already." in unescape(same.text)
    none = client.submit(URL, {"method": "guess"}, action=URL)
    assert none.status_code == 422
    with store.reading() as session:
        assert valuation(session) == "fifo"


def test_a_stale_page_is_told(client: Client, lots: tuple[int, int]) -> None:
    asked = client.submit(URL, {"method": "average", "do": "look"}, action=URL)
    client.submit("/settings", {"name": "Another name"}, action="/settings")
    stale = client.post(URL, {**find_form(asked.text, URL).fields, "do": "book"})
    assert stale.status_code == 409
    assert "was changed since you opened it" in text_of(stale.text)
