"""Taking stock in, on a page without scripts: looked at first, booked as it was seen, and taken back."""

from __future__ import annotations

from html import unescape

import pytest

from models.database import Store
from models.queries.stock.balance import balances
from models.queries.stock.lot import lots_of
from tests.shops import a_ring
from tests.web.conftest import Client, find_form
from tests.web.pages.stock.test_items import text_of


@pytest.fixture
def ring(store: Store) -> int:
    with store.writing() as session:
        return a_ring(session)


def fill(client: Client, url: str, **typed: str) -> dict[str, str]:
    """The fields of a page's form with these changed; `line_1_cost` is the cost of the second line."""
    fields = dict(client.form(url, url.partition("?")[0]).fields)
    for name, value in typed.items():
        group, number, rest = [*name.split("_", 2), "", ""][:3]
        fields[f"lines.{number}.{rest}" if group == "line" else name] = value
    return fields


def look_and_book(client: Client, path: str, fields: dict[str, str]) -> str:
    """Look at what was typed, then book what the page shows, as somebody without scripts does."""
    looked = client.post(path, {**fields, "do": "look"})
    assert looked.status_code == 200, text_of(looked.text)
    shown = find_form(looked.text, path)
    booked = client.post(path, {**shown.fields, "do": "book"})
    return client.follow(booked).text


def on_hand(store: Store, item_id: int) -> tuple[int, int]:
    with store.reading() as session:
        found = balances(session, (item_id,))[item_id]
    return found.on_hand_milli // 1000, found.value_micros


def test_a_receipt_shows_what_a_ring_costs_before_it_is_booked(client: Client, store: Store, ring: int) -> None:
    fields = fill(client, f"/stock/receive?item={ring}", line_0_quantity="400", line_0_cost="12.00", line_0_place="drawer B4",
                  line_0_batch="bath 7", supplier="Quill Rings", freight="2.00")  # fmt: skip
    looked = client.post("/stock/receive", {**fields, "do": "look"})
    assert "€14.00 for 400 rings: €0.035 each." in text_of(looked.text)
    assert on_hand(store, ring) == (0, 0)
    page = text_of(look_and_book(client, "/stock/receive", fields))
    assert "Received 400 rings of “Bronze ring 1.0 × 3.6 mm” from Quill Rings." in page
    assert "400 rings on hand, at €0.035 a ring." in page.replace(" ,", ",")
    assert "bath 7" in page
    assert "drawer B4: 400" in page
    assert on_hand(store, ring) == (400, 14_000_000)


def test_undo_stands_beside_what_was_just_booked(client: Client, store: Store, ring: int) -> None:
    fields = fill(client, f"/stock/receive?item={ring}", line_0_quantity="50", line_0_cost="2")
    client.post("/stock/receive", {**fields, "do": "look"})
    page = look_and_book(client, "/stock/receive", fields)
    action = 'action="/stock/acts/1/undo"'
    assert action in page
    done = client.follow(client.submit("/stock/acts/1", action="/stock/acts/1/undo"))
    assert "Taken back: Received 50 rings" in text_of(done.text)
    assert on_hand(store, ring) == (0, 0)


def test_what_was_not_seen_is_looked_at_again_instead_of_booked(client: Client, store: Store, ring: int) -> None:
    fields = fill(client, f"/stock/receive?item={ring}", line_0_quantity="50", line_0_cost="2")
    unseen = client.post("/stock/receive", {**fields, "do": "book"})
    assert unseen.status_code == 200
    shown = find_form(unseen.text, "/stock/receive").fields
    changed = client.post("/stock/receive", {**shown, "lines.0.quantity": "60", "do": "book"})
    assert "Something was typed since this was worked out." in text_of(changed.text)
    assert "for 60 rings" in text_of(changed.text)
    assert on_hand(store, ring) == (0, 0)


def test_many_lines_of_another_currency_share_the_freight(client: Client, store: Store, ring: int) -> None:
    with store.writing() as session:
        other = a_ring(session, name="Copper ring", metal="copper")
    fields = fill(client, "/stock/receive", line_0_item="Bronze ring 1.0 × 3.6 mm", line_0_quantity="100", line_0_cost="0.05",
                  line_0_cost_of="each", line_3_item="Copper ring", line_3_packs="2", line_3_cost="7.50", line_3_cost_of="pack",
                  currency="USD", exchange_rate="0.9", freight="4.00")  # fmt: skip
    page = text_of(look_and_book(client, "/stock/receive", fields))
    assert "Received 2 lots." in page
    # 5.00 and 15.00 dollars with 1.00 and 3.00 of freight, at 0.90.
    assert on_hand(store, ring) == (100, 5_400_000)
    assert on_hand(store, other) == (200, 16_200_000)
    with store.reading() as session:
        lot = lots_of(session, (other,))[other][0]
    assert (lot.currency, lot.paid_micros, lot.freight_micros) == ("USD", 15_000_000, 2_700_000)


@pytest.mark.parametrize(
    "case",
    [
        ({"line_0_quantity": ""}, "lines-0-quantity", "Say how much came"),
        ({"line_0_quantity": "many"}, "lines-0-quantity", "not a quantity"),
        ({"line_0_cost": "cheap"}, "lines-0-cost", "not a number"),
        ({"line_0_item": "No such ring"}, "lines-0-item", "There is no stock item called “No such ring”"),
        ({"line_0_item": ""}, "lines-0-item", "Say what came in."),
        ({"line_2_item": "No such ring", "line_2_quantity": "3"}, "lines-1-item", "Put it in stock first"),
        ({"received_on": "2999-01-01"}, "received_on", "yet to come"),
        ({"currency": "USD"}, "exchange_rate", "what does 1 USD cost in EUR?"),
        ({"currency": "XXX"}, "currency", "not a currency"),
        ({"line_0_packs": "2"}, "lines-0-packs", "not both"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field_and_what_was_typed_stays(
    client: Client, store: Store, ring: int, case: tuple[dict[str, str], str, str]
) -> None:
    typed, field, words = case
    usual = {"line_0_quantity": "50", "line_0_cost": "2", "supplier": "Quill Rings"}
    fields = fill(client, f"/stock/receive?item={ring}", **{**usual, **typed})
    answer = client.post("/stock/receive", {**fields, "do": "look"})
    assert answer.status_code == 422
    page = answer.text
    at = page.index(f'id="f-{field}-fault"')
    assert words in unescape(page[at : at + 500])
    assert 'value="Quill Rings"' in page
    assert on_hand(store, ring) == (0, 0)


def test_more_lines_keep_what_was_typed(client: Client, ring: int) -> None:
    fields = fill(client, f"/stock/receive?item={ring}", line_0_quantity="50")
    page = client.post("/stock/receive", {**fields, "more": "yes"}).text
    assert 'name="lines.3.item"' in page
    assert 'value="50"' in page


def test_htmx_gets_only_what_it_comes_to(client: Client, ring: int) -> None:
    fields = fill(client, f"/stock/receive?item={ring}", line_0_quantity="50")
    part = client.post("/stock/receive", {**fields, "do": "look"}, headers={"hx-request": "true"})
    assert part.text.strip().startswith("<section")
    assert "Valued by" in part.text
    wrong = client.post(
        "/stock/receive", {**fields, "lines.0.quantity": "x", "do": "look"}, headers={"hx-request": "true"}
    )
    assert wrong.status_code == 200
    assert "is not a quantity" in unescape(wrong.text)


def test_opening_stock_takes_rough_words_and_leaves_the_other_items_for_later(
    client: Client, store: Store, ring: int
) -> None:
    with store.writing() as session:
        other = a_ring(session, name="Copper ring", metal="copper")
        third = a_ring(session, name="Brass ring", metal="brass-c260", price=None)
    page = client.get("/stock/opening").text
    assert "3 items were never counted in" in text_of(page)
    fields = dict(client.form("/stock/opening", "/stock/opening").fields)
    by_item = {int(value): name.rsplit(".", 1)[0] for name, value in fields.items() if name.endswith("item_id")}
    fields |= {
        f"{by_item[ring]}.quantity": "about 400", f"{by_item[ring]}.place": "drawer B4", f"{by_item[third]}.quantity": "plenty",
    }  # fmt: skip
    after = text_of(look_and_book(client, "/stock/opening", fields))
    assert "Received 2 lots." in after
    assert "1 item was never counted in" in after
    assert on_hand(store, ring) == (400, 16_000_000)
    assert on_hand(store, third) == (1000, 0)
    assert on_hand(store, other) == (0, 0)
    listed = text_of(client.get("/stock").text)
    assert "about 400" in listed
    assert "plenty 1,000" in listed
    assert "2 are only roughly counted" in listed


def test_a_wrong_line_of_opening_stock_is_said_in_its_own_row(client: Client, store: Store, ring: int) -> None:
    with store.writing() as session:
        second = a_ring(session, name="Copper ring", metal="copper")
    fields = dict(client.form("/stock/opening", "/stock/opening").fields)
    name = next(name for name, value in fields.items() if name.endswith("item_id") and value == str(second))
    field = name.replace("item_id", "quantity")
    answer = client.post("/stock/opening", {**fields, field: "2 m", "do": "look"})
    assert answer.status_code == 422
    assert f'id="f-{field.replace(".", "-")}-fault"' in answer.text


def test_sending_the_booking_twice_books_once(client: Client, store: Store, ring: int) -> None:
    fields = fill(client, f"/stock/receive?item={ring}", line_0_quantity="50")
    shown = find_form(client.post("/stock/receive", {**fields, "do": "look"}).text, "/stock/receive").fields
    first = client.post("/stock/receive", {**shown, "do": "book"})
    second = client.post("/stock/receive", {**shown, "do": "book"})
    assert first.headers["location"] == second.headers["location"]
    assert on_hand(store, ring)[0] == 50


def test_receiving_asks_for_an_item_that_is_there(client: Client) -> None:
    assert client.get("/stock/receive?item=77").status_code == 404
    assert "First say what it is" in client.get("/stock/opening").text
