"""A lot that moved, through pages, calls and files: what is said without a place is of the bag where it lies now."""

from __future__ import annotations

import csv
import re
from html import unescape
from urllib.parse import urlencode

import pytest

from models.database import Store
from models.intake.stock.place import known_as
from models.operations.stock.check_ledger import check_ledger
from models.queries.shop.gathering import gathered
from models.queries.stock.known_place import known_place, spellings
from tests.ledgers import DRAWER, a_lot, in_bag, on_hand
from tests.shops import a_ring
from tests.web.conftest import Client, find_form
from tests.web.pages.stock.test_items import text_of


@pytest.fixture
def lot(store: Store, client: Client) -> int:
    """A lot of 100 rings that came without a place and went whole to the drawer."""
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00", place="")
    assert client.post("/api/transfers", json={"lot_id": lot, "to_place": DRAWER}).status_code == 201
    return lot


def lies(store: Store, lot: int, *places: str) -> list[int]:
    with store.reading() as session:
        assert check_ledger(session) == ()
        found = [in_bag(session, lot, place) for place in places]
        assert on_hand(session, 1)[0] == sum(found)
        return found


@pytest.mark.parametrize(
    "said", [{"lot_id": 1}, {"item_id": 1}, {"item": "Bronze ring 1.0 × 3.6 mm"}, {"lot_id": 1, "place": ""}]
)
def test_a_call_counts_the_bag_where_it_lies(client: Client, store: Store, lot: int, said: dict[str, object]) -> None:
    answer = client.post("/api/counts", json={**said, "found": 90})
    assert [move["place"] for move in answer.json()["movements"]] == [DRAWER]
    assert lies(store, lot, "", DRAWER) == [0, 90]


def test_a_call_that_could_mean_several_bags_is_told_their_names(client: Client, store: Store, lot: int) -> None:
    client.post("/api/transfers", json={"lot_id": lot, "from_place": DRAWER, "to_place": "no place", "quantity": 30})
    for place in ({}, {"place": ""}):
        refused = client.post("/api/counts", json={"lot_id": lot, "found": 90, **place})
        assert refused.status_code == 422
        assert refused.json()["errors"][0]["field"] == "place"
        assert "Say which bag was counted: no place, drawer B4." in refused.json()["errors"][0]["message"]
    assert client.post("/api/counts", json={"lot_id": lot, "place": "no place", "found": 29}).status_code == 201
    assert lies(store, lot, "", DRAWER) == [29, 70]


def test_a_call_about_what_was_lost_takes_the_fullest_bag(client: Client, store: Store, lot: int) -> None:
    assert client.post("/api/scrap", json={"reason": "lost", "lot_id": lot, "quantity": 5}).status_code == 201
    assert lies(store, lot, "", DRAWER) == [0, 95]


def test_the_bags_of_a_lot_are_those_that_hold_something(client: Client, lot: int) -> None:
    (answer,) = client.get("/api/items/1/lots").json()["lots"]
    assert [bag["place"] for bag in answer["bags"]] == [DRAWER]


def test_a_page_without_a_place_is_about_the_only_bag(client: Client, store: Store, lot: int) -> None:
    page = client.get(f"/stock/count?lot={lot}")
    assert "100 rings should be in drawer B4." in text_of(page.text)
    for path in ("move", "process"):
        assert client.get(f"/stock/{path}?lot={lot}").status_code == 200
        assert client.get(f"/stock/{path}?lot={lot}&place=").status_code == 303
    url = f"/stock/count?{urlencode({'lot': lot, 'place': DRAWER})}"
    looked = client.submit(f"/stock/count?lot={lot}", {"found": "90", "do": "look"}, action=url)
    assert "10 rings fewer" in text_of(looked.text)
    client.post(url, {**find_form(looked.text, url).fields, "do": "book"})
    assert lies(store, lot, "", DRAWER) == [0, 90]


def test_a_page_about_an_emptied_bag_says_where_the_lot_lies_now(client: Client, lot: int) -> None:
    page = client.get(f"/stock/count?lot={lot}&place=").text
    assert "0 rings should be in this bag. The lot lies in drawer B4 now." in text_of(page)
    assert f'href="/stock/count?lot={lot}&amp;place=drawer+B4"' in page


@pytest.mark.parametrize("do", ["look", "book"])
def test_a_count_of_an_emptied_bag_leads_to_the_bag_where_the_lot_lies(client: Client, store: Store, do: str) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00", place="")
    here, there = (f"/stock/count?{urlencode({'lot': lot, 'place': place})}" for place in ("", DRAWER))
    fields = {**client.form(here, here).fields, "found": "90"}
    seen = find_form(client.post(here, {**fields, "do": "look"}).text, here).fields
    client.post("/api/transfers", json={"lot_id": lot, "to_place": DRAWER})
    stale = client.post(here, {**seen, "do": do})
    assert "This adds 90 rings to the 100" not in text_of(stale.text)
    assert f'formaction="{there}"' in unescape(stale.text)
    again = client.post(here, {**find_form(stale.text, here).fields, "do": "look"}).text
    assert "This adds 90 rings to the 100 in drawer B4." in text_of(again)
    buttons = re.findall(r'<button class="(button[^"]*)"[^>]*>([^<]+)', again[again.index('id="looked"') :])
    assert buttons[:2] == [
        ("button", "Count drawer B4 instead"),
        ("button-quiet", "Add 90 rings in the bag without a place"),
    ]
    led = client.post(there, {**find_form(again, here).fields, "do": "instead"})
    assert (led.status_code, find_form(led.text, there).fields["found"]) == (200, "90")
    assert "10 rings fewer" in text_of(led.text)
    assert client.post(there, {**find_form(led.text, there).fields, "do": "book"}).status_code == 303
    assert lies(store, lot, "", DRAWER) == [0, 90]


def test_a_count_of_an_emptied_bag_can_still_be_added_and_names_every_other_bag(
    client: Client, store: Store, lot: int
) -> None:
    client.post("/api/transfers", json={"lot_id": lot, "to_place": "tin", "quantity": 30})
    here = f"/stock/count?lot={lot}&place="
    looked = client.post(here, {**client.form(here, here).fields, "found": "9", "do": "look"}).text
    assert "This adds 9 rings to the 70 in drawer B4 and the 30 in tin." in text_of(looked)
    assert client.post(here, {**find_form(looked, here).fields, "do": "book"}).status_code == 303
    assert lies(store, lot, "", DRAWER, "tin") == [9, 70, 30]
    empty = client.post(f"/stock/count?lot={lot}&place=tin", {"found": "", "do": "instead"}, follow_redirects=False)
    assert (empty.status_code, empty.headers["location"]) == (303, f"/stock/count?lot={lot}&place=tin")


def test_a_move_of_an_emptied_bag_keeps_what_was_typed_and_leads_to_where_the_lot_lies(
    client: Client, store: Store
) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00", place="")
    here = f"/stock/move?lot={lot}&place="
    fields = {**client.form(here, here).fields, "to_place": "tin <3>", "quantity": "about 40"}
    client.post("/api/transfers", json={"lot_id": lot, "to_place": DRAWER})
    stale = client.post(here, fields)
    assert stale.status_code == 409
    kept = find_form(stale.text, here).fields
    assert (kept["to_place"], kept["quantity"]) == ("tin <3>", "about 40")
    words = text_of(stale.text)
    assert "The bag was moved or emptied since this page was opened." in words
    assert "Nothing of this lot lies in the bag without a place any more. It lies in drawer B4 now." in words
    assert f'href="/stock/lots/{lot}">See the lot' in stale.text
    (on,) = re.findall(r'href="([^"]+)">Move it from drawer B4', unescape(stale.text))
    there = f"/stock/move?{urlencode({'lot': lot, 'place': DRAWER})}"
    again = client.form(on, there).fields
    assert (again["to_place"], again["quantity"]) == ("tin <3>", "about 40")
    assert client.post(there, again).status_code == 303
    assert lies(store, lot, "", DRAWER, "tin <3>") == [0, 60, 40]


def test_a_job_on_an_emptied_bag_leads_to_the_lot_with_words(client: Client, lot: int) -> None:
    led = client.get(f"/stock/process?lot={lot}&place=")
    assert (led.status_code, led.headers["location"]) == (303, f"/stock/lots/{lot}?emptied=")
    sent = client.post(f"/stock/process?lot={lot}&place=", {"process": "tumble", "quantity": "5"})
    assert (sent.status_code, sent.headers["location"]) == (303, f"/stock/lots/{lot}?emptied=")


def test_the_move_page_of_an_emptied_bag_leads_to_the_lot_with_words(client: Client, lot: int) -> None:
    led = client.get(f"/stock/move?lot={lot}&place=")
    assert (led.status_code, led.headers["location"]) == (303, f"/stock/lots/{lot}?emptied=")
    assert "Nothing of it lies in the bag without a place any more." in text_of(
        client.get(led.headers["location"]).text
    )
    assert "any more" not in text_of(client.get(f"/stock/lots/{lot}?emptied=drawer+B4").text)
    assert client.get(f"/stock/move?lot={lot}&place=never").status_code == 404


def test_a_page_that_could_be_about_several_bags_lets_one_be_chosen(client: Client, lot: int) -> None:
    client.post("/api/transfers", json={"lot_id": lot, "to_place": "tin", "quantity": 30})
    for path in ("count", "move", "process"):
        answer = client.get(f"/stock/{path}?lot={lot}", follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, f"/stock/lots/{lot}")
    page = client.get(f"/stock/take-out?lot={lot}").text
    assert f'<option value="{lot}:drawer B4" selected' in unescape(page)


def test_a_page_that_names_the_bag_without_a_place_takes_from_no_other(client: Client, store: Store, lot: int) -> None:
    client.post("/api/transfers", json={"lot_id": lot, "to_place": "no place", "quantity": 20})
    form = client.form(f"/stock/take-out?lot={lot}&place=", "/stock/take-out")
    assert form.fields["bag"] == f"{lot}:"
    taken = client.post("/stock/take-out", {**form.fields, "reason": "lost", "quantity": "15"})
    assert (taken.status_code, lies(store, lot, "", DRAWER)) == (303, [5, 80])
    short = client.post(
        "/stock/take-out",
        {
            **client.form(f"/stock/take-out?lot={lot}&place=", "/stock/take-out").fields,
            "reason": "lost",
            "quantity": "6",
        },
    )
    assert short.status_code == 409


def test_a_drawer_counts_the_bag_that_it_shows(client: Client, store: Store, lot: int) -> None:
    client.post("/api/transfers", json={"lot_id": lot, "to_place": "no place", "quantity": 20})
    client.post("/api/counts", json={"lot_id": lot, "place": "no place", "found": "about 20"})
    client.post("/api/scrap", json={"reason": "lost", "lot_id": lot, "place": "no place", "quantity": 20})
    url = "/stock/drawer?place="
    fields = {**client.form(url, url).fields, "found": "3"}
    assert fields["expected"] == "0"
    client.post(url, {**fields, "seen": "3"})
    assert lies(store, lot, "", DRAWER) == [3, 80]


def test_files_that_are_handed_out_name_the_bag_without_a_place(client: Client, store: Store, lot: int) -> None:
    with store.writing() as session:
        bare = a_lot(session, a_ring(session, name="Other", inner_nm=5_000_000), 20, place="")
    assert client.post("/api/counts", json={"lot_id": bare, "found": 19}).status_code == 201
    assert client.post("/api/scrap", json={"reason": "lost", "lot_id": bare, "quantity": 4}).status_code == 201
    for kind in ("counts", "leavings"):
        (row,) = csv.DictReader(client.get(f"/settings/files/{kind}.csv").text.lstrip("\ufeff").splitlines())
        assert row["place"] == "no place"


@pytest.mark.parametrize("said", ["Drawer b4", " DRAWER  B4", "drawer B4"])
def test_a_place_in_another_case_or_spacing_is_the_place_that_is_known(
    client: Client, store: Store, lot: int, said: str
) -> None:
    for path in ("count", "move", "process"):
        page = client.get(f"/stock/{path}?{urlencode({'lot': lot, 'place': said})}")
        assert page.status_code == 200
        assert "drawer B4" in text_of(page.text)
    assert "100" in text_of(client.get(f"/stock/drawer?{urlencode({'place': said})}").text)
    assert client.post("/api/counts", json={"lot_id": lot, "place": said, "found": 90}).status_code == 201
    assert client.post("/api/counts", json={"item_id": 1, "place": said, "found": 91}).status_code == 201
    assert client.post("/api/scrap", json={"reason": "lost", "item_id": 1, "place": said, "quantity": 1}).is_success
    there = client.post("/api/transfers", json={"lot_id": lot, "from_place": "drawer B4", "to_place": said})
    assert there.status_code == 422
    assert "It lies there already." in there.text
    part = client.post("/api/transfers", json={"lot_id": lot, "to_place": "tin", "quantity": 20})
    assert part.status_code == 201, part.text
    received = client.post("/api/receipts", json={"lines": [{"item_id": 1, "quantity": 10, "cost": 1, "place": said}]})
    assert received.status_code == 201, received.text
    with store.reading() as session:
        assert set(spellings(session)) == {"", DRAWER, "tin"}
        assert check_ledger(session) == ()


def test_a_place_keeps_its_first_spelling_through_a_file(client: Client, store: Store, lot: int) -> None:
    assert store
    assert known_as("TIN  1", ("drawer", "tin 1", "Tin 1")) == "tin 1"
    assert known_as("Tin 1", ("drawer", "tin 1", "Tin 1")) == "Tin 1"
    assert known_as("tin 2", ("drawer", "tin 1")) == "tin 2"
    with store.reading() as session, gathered(session) as held:
        assert [known_place(held, name) for name in ("BOX", "box", "Drawer b4")] == ["BOX", "BOX", DRAWER]
