"""What pages say while there is nothing yet: each names what belongs there and leads to the one thing that starts it."""

from __future__ import annotations

import pytest

from models.database import Store
from tests.ledgers import a_lot
from tests.shops import a_ring
from tests.web.conftest import Client
from tests.web.pages.stock.test_items import text_of


@pytest.mark.parametrize(
    ("path", "words", "leads_to"),
    [
        ("/stock/receive", "First say what it is", "/stock/items/new"),
        ("/stock/opening", "First say what it is", "/stock/items/new"),
        ("/stock/drawers", "Nothing lies anywhere yet", "/stock/receive"),
        ("/stock/history", "Nothing was done yet", "/stock/receive"),
        ("/stock/jobs", "No job was booked yet", "/stock/make-rings"),
        ("/stock/make-rings", "No wire is in stock yet", "/stock/items/new?kind=wire"),
        ("/stock/labels", "No bag is in stock yet", "/stock"),
        ("/builds", "keeps the bags true", "/designs/new"),
        ("/builds/new", "It begins with a design", "/designs/new"),
        ("/builds/made", "It begins with a design", "/designs/new"),
        ("/builds/take", "Rings come into stock first", "/stock"),
    ],
)
def test_an_empty_page_teaches_and_leads_on(client: Client, path: str, words: str, leads_to: str) -> None:
    page = client.get(path).text
    assert words in text_of(page)
    assert page.count(f'href="{leads_to}">') >= 1
    assert page.split('class="empty"')[1].count('class="button"') == 1


def test_opening_stock_tells_what_was_not_found_from_what_is_done(client: Client, store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
    assert "1 item was never counted in" in text_of(client.get("/stock/opening").text)
    assert "Nothing here matches" in text_of(client.get("/stock/opening?find=unobtainium").text)
    with store.writing() as session:
        a_lot(session, ring, 10)
    assert "Every item was counted in once" in text_of(client.get("/stock/opening").text)
