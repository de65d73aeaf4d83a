"""Taking out without a build, moving bags, and scrap metal by weight, on pages without scripts; each with its Undo."""

from __future__ import annotations

from html import unescape
from urllib.parse import urlencode

import pytest
from sqlmodel import select

from models.database import Store
from models.queries.stock.balance import balance_of
from models.queries.stock.lot import lot_view
from models.tables import Item
from tests.ledgers import DRAWER, a_lot, in_bag
from tests.shops import a_ring
from tests.web.conftest import Client
from tests.web.pages.stock.test_items import text_of


@pytest.fixture
def lot(store: Store) -> int:
    with store.writing() as session:
        return a_lot(session, a_ring(session), 400, "12.00", batch="bath 7")


def test_spoiled_rings_are_taken_out_and_back(client: Client, store: Store, lot: int) -> None:
    page = client.get("/stock/take-out?item=1").text
    assert "400 rings are free to take." in text_of(page)
    answer = client.submit(
        "/stock/take-out?item=1", {"reason": "spoiled", "quantity": "12", "note": "Bent."}, action="/stock/take-out"
    )
    after = client.follow(answer).text
    assert "12 rings of “Bronze ring 1.0 × 3.6 mm” spoiled. Bent." in text_of(after)
    assert 'action="/stock/acts/2/undo"' in after
    back = client.follow(client.submit("/stock/acts/2", action="/stock/acts/2/undo"))
    assert "Taken back: 12 rings" in text_of(back.text)
    with store.reading() as session:
        assert in_bag(session, lot) == 400


def test_loose_rings_are_sold_with_their_price(client: Client, store: Store, lot: int) -> None:
    client.submit(
        "/stock/take-out?item=1", {"reason": "sold", "quantity": "100", "price_each": "0.12"}, action="/stock/take-out"
    )
    page = text_of(client.get("/stock/items/1/history").text)
    assert "Sold 100 rings of “Bronze ring 1.0 × 3.6 mm” sold." in page
    assert "sold for €12.00" in page


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"quantity": "30"}, "reason", "Choose one"),
        ({"reason": "lost"}, "quantity", "Say how much left"),
        ({"reason": "sold", "quantity": "3"}, "total_price", "Say what was paid"),
        ({"reason": "lost", "quantity": "3", "total_price": "1"}, "total_price", "Only what was sold"),
        ({"reason": "lost", "quantity": "2 m"}, "quantity", "not by length"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(
    client: Client, lot: int, typed: dict[str, str], field: str, words: str
) -> None:
    answer = client.submit("/stock/take-out?item=1", typed, action="/stock/take-out")
    assert answer.status_code == 422
    at = answer.text.index(f'id="f-{field}-fault"')
    assert words in unescape(answer.text[at : at + 400])


def test_more_than_is_there_is_refused_with_what_is_free(client: Client, store: Store, lot: int) -> None:
    answer = client.submit("/stock/take-out?item=1", {"reason": "lost", "quantity": "500"}, action="/stock/take-out")
    assert answer.status_code == 409
    assert "Only 400 rings of “Bronze ring 1.0 × 3.6 mm” are free in stock, and 500 are needed." in unescape(
        answer.text
    )
    assert 'value="500"' in answer.text
    with store.reading() as session:
        assert in_bag(session, lot) == 400


def test_one_of_several_bags_may_be_chosen_and_a_link_names_one(client: Client, store: Store, lot: int) -> None:
    with store.writing() as session:
        second = a_lot(session, 1, 50, place="tin 3")
    page = client.get("/stock/take-out?item=1").text
    assert f'value="{second}:tin 3"' in page
    assert "tin 3, lot 2: 50 rings" in text_of(page)
    linked = client.form(f"/stock/take-out?{urlencode({'lot': second, 'place': 'tin 3'})}", "/stock/take-out")
    assert linked.fields["bag"] == f"{second}:tin 3"
    client.post("/stock/take-out", {**linked.fields, "reason": "gift", "quantity": "5"})
    with store.reading() as session:
        assert (in_bag(session, lot), in_bag(session, second, "tin 3")) == (400, 45)


def test_something_is_taken_out_by_its_name(client: Client, store: Store, lot: int) -> None:
    answer = client.submit(
        "/stock/take-out",
        {"item": "bronze ring 1.0 × 3.6 mm", "reason": "lost", "quantity": "about 10"},
        action="/stock/take-out",
    )
    assert answer.status_code == 303
    with store.reading() as session:
        assert balance_of(session, 1).rough == "about"
    unknown = client.submit(
        "/stock/take-out", {"item": "No such", "reason": "lost", "quantity": "1"}, action="/stock/take-out"
    )
    assert "There is no stock item called “No such”" in unescape(unknown.text)
    assert client.get("/stock/take-out?item=99").status_code == 404
    assert client.get("/stock/take-out?lot=99").status_code == 404


def test_a_bag_moves_whole_or_in_part_and_back(client: Client, store: Store, lot: int) -> None:
    url = f"/stock/move?{urlencode({'lot': lot, 'place': DRAWER})}"
    assert "400 rings in drawer B4." in text_of(client.get(url).text)
    page = client.follow(client.submit(url, {"to_place": "tin 3", "quantity": "150"}, action=url))
    assert "Moved 150 rings of “Bronze ring 1.0 × 3.6 mm” from drawer B4 to tin 3." in text_of(page.text)
    with store.reading() as session:
        assert (in_bag(session, lot), in_bag(session, lot, "tin 3")) == (250, 150)
    client.submit("/stock/acts/2", action="/stock/acts/2/undo")
    with store.reading() as session:
        assert in_bag(session, lot) == 400
    same = client.submit(url, {"to_place": DRAWER}, action=url)
    assert "It lies there already" in same.text
    assert client.get("/stock/move?lot=1&place=nowhere").status_code == 404


def test_spoiled_silver_becomes_scrap_which_is_sold_by_weight(client: Client, store: Store) -> None:
    with store.writing() as session:
        silver = a_ring(session, name="Silver ring", metal="sterling-925")
        a_lot(session, silver, 100, "60.00")
    said = client.follow(
        client.submit(
            f"/stock/take-out?item={silver}", {"reason": "spoiled", "quantity": "20"}, action="/stock/take-out"
        )
    ).text
    assert "It is kept as scrap by weight." in said
    put_by = client.follow(
        client.submit(
            "/stock/scrap", {"metal": "sterling-925", "weight": "3.5 g", "note": "Filings."}, action="/stock/scrap"
        )
    )
    assert "Put by 3.5 g of scrap of sterling silver 925. Filings." in text_of(put_by.text)
    with store.reading() as session:
        scrap = session.exec(select(Item.id).where(Item.kind == "scrap")).one() or 0
        held = balance_of(session, scrap)
    assert held.on_hand_milli == 2352 + 3500
    assert f'href="/stock/take-out?item={scrap}&amp;reason=sold"' in put_by.text
    sold = client.submit(
        f"/stock/take-out?item={scrap}&reason=sold",
        {"quantity": "5 g", "total_price": "3.90"},
        action="/stock/take-out",
    )
    assert "5 g of “Scrap of sterling silver 925” sold." in text_of(client.follow(sold).text)
    page = client.get(f"/stock/items/{scrap}")
    assert page.status_code == 200
    assert f"/stock/items/{scrap}/edit" not in page.text
    assert client.get(f"/stock/items/{scrap}/edit").status_code == 404


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"metal": "", "weight": "3"}, "metal", "Choose its metal"),
        ({"metal": "copper", "weight": "3"}, "metal", "precious"),
        ({"metal": "sterling-925", "weight": "much"}, "weight", "much"),
        ({"metal": "sterling-925", "weight": "0.0001 g"}, "weight", "milligram"),
    ],
)
def test_scrap_that_cannot_be_kept_is_refused(client: Client, typed: dict[str, str], field: str, words: str) -> None:
    answer = client.submit("/stock/scrap", typed, action="/stock/scrap")
    assert answer.status_code == 422
    at = answer.text.index(f'id="f-{field}-fault"')
    assert words in unescape(answer.text[at : at + 400])


def test_an_entry_that_something_rests_on_says_why_it_stays(client: Client, store: Store, lot: int) -> None:
    client.submit("/stock/take-out?item=1", {"reason": "lost", "quantity": "390"}, action="/stock/take-out")
    page = client.get("/stock/acts/1").text
    assert "Taking this back would need 400 rings" in text_of(page)
    token = client.form("/stock/history", "/stock/acts/1/undo").fields["token"]
    refused = client.post("/stock/acts/1/undo", {"token": token})
    assert refused.status_code == 409
    assert "Take back what was done with them since, first." in unescape(refused.text)
    assert client.get("/stock/acts/99").status_code == 404


def test_undo_never_leads_to_another_site(client: Client, store: Store, lot: int) -> None:
    form = client.form("/stock/acts/1", "/stock/acts/1/undo").fields
    answer = client.post("/stock/acts/1/undo", {**form, "then": "//elsewhere.example"})
    assert answer.headers["location"].startswith("/stock/items/1")


def test_a_lot_says_what_it_cost_and_where_it_lies(client: Client, store: Store, lot: int) -> None:
    page = text_of(client.get(f"/stock/lots/{lot}").text)
    assert "400 of 400 are left, at €0.03 each." in page
    assert "drawer B4: 400" in page
    with store.reading() as session:
        assert lot_view(session, lot).batch == "bath 7"
    assert client.get("/stock/lots/99").status_code == 404


def test_scrap_and_taking_out_are_reached_from_the_stock_room(client: Client, store: Store) -> None:
    with store.writing() as session:
        a_lot(session, a_ring(session), 10, "1.00")
    page = client.get("/stock").text
    assert 'href="/stock/scrap"' in page
    assert 'href="/stock/take-out"' in page
    assert 'aria-current="page">Scrap' in client.get("/stock/scrap").text
