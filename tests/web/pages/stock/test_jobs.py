"""Rings from wire and bags in another look, on pages without scripts: planned, looked at, booked, taken back."""

from __future__ import annotations

from html import unescape
from urllib.parse import urlencode

import pytest

from models.database import Store
from models.operations.stock.check_ledger import check_ledger
from models.tables import Item
from tests.ledgers import DRAWER, a_lot, on_hand
from tests.shops import NOON, a_ring
from tests.web.conftest import Client, find_form, forms_of
from tests.web.pages.stock.test_items import text_of


@pytest.fixture
def wire(store: Store) -> int:
    """Five metres of copper wire of 1.2 mm for 10.00."""
    with store.writing() as session:
        item = Item(kind="wire", name="Copper wire", metal="copper", wire_nm=1_200_000, unit="m", created_at=NOON)
        session.add(item)
        session.flush()
        a_lot(session, item.id or 0, 5, "10.00", place="rack")
        return item.id or 0


def plan_url(wire: int, **asked: str) -> str:
    return f"/stock/make-rings?{urlencode({'wire_id': wire, 'mandrel': '5.0 mm', 'rings': '100', 'kerf': '0.25 mm', **asked})}"


def look_and_book(client: Client, url: str, typed: dict[str, str]) -> str:
    fields = {**client.form(url, url_of_form(client, url)).fields, **typed}
    action = url_of_form(client, url)
    looked = client.post(action, {**fields, "do": "look"})
    assert looked.status_code == 200, text_of(looked.text)
    return client.follow(client.post(action, {**find_form(looked.text, action).fields, "do": "book"})).text


def url_of_form(client: Client, url: str) -> str:
    room = url.partition("?")[0]
    return next(
        form.action
        for form in forms_of(client.get(url).text)
        if form.method == "post" and form.action.startswith(f"{room}?")
    )


def test_a_batch_is_planned_with_wire_mandrel_springback_and_cautions(client: Client, wire: int) -> None:
    page = text_of(client.get(plan_url(wire, temper="copper-soft", expected_minutes="30")).text)
    assert "1.982 m of wire make 100 rings, at about" in page.replace(" ,", ",")
    assert "Enough is there : 5 m free" in page
    assert "Coil opens to 5.03 mm" in page
    assert "Wear eye protection" in page
    assert "Check your local law" in page
    few = text_of(client.get(plan_url(wire, rings="900")).text)
    assert "Not enough : 5 m free" in few
    wanted = text_of(client.get(plan_url(wire, mandrel="", inner="5.1 mm")).text)
    assert "take the nearest you have" in wanted


def test_a_batch_is_booked_at_its_real_cost_and_taken_back(client: Client, store: Store, wire: int) -> None:
    after = text_of(
        look_and_book(
            client,
            plan_url(wire, expected_minutes="30"),
            {"made": "96", "used": "2 m", "place": "drawer C2", "measured_inner": "5.2 mm"},
        )
    )
    assert "Made 96 rings of “Copper ring 1.2 ×" in after
    assert "96 rings on hand" in after
    with store.reading() as session:
        # 2 of 5 m at 10.00, half an hour at 20.
        assert on_hand(session, wire + 1) == (96, 14_000_000)
    assert "Made from wire" in text_of(client.get("/stock/jobs").text)
    job = text_of(client.get("/stock/jobs/1").text)
    assert "€0.145833 each: 96 for €14.00." in job
    assert "the coil opened to 5.2 mm" in job
    assert "Coil opens to 5.2 mm" in text_of(client.get(plan_url(wire)).text)
    changed = client.follow(
        client.submit("/stock/jobs/1", {"measured_inner": "5.3 mm"}, action="/stock/jobs/1/measure")
    )
    assert "the coil opened to 5.3 mm" in text_of(changed.text)
    far = client.submit("/stock/jobs/1", {"measured_inner": "60 mm"}, action="/stock/jobs/1/measure")
    assert far.status_code == 422
    odd = client.submit("/stock/jobs/1", {"measured_inner": "wide"}, action="/stock/jobs/1/measure")
    assert "wide" in odd.text
    client.submit("/stock/jobs/1", action="/stock/acts/2/undo")
    with store.reading() as session:
        assert on_hand(session, wire) == (5, 10_000_000)
        assert check_ledger(session) == ()
    assert "Taken back since" in text_of(client.get("/stock/jobs/1").text)


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"mandrel": ""}, "Give the mandrel"),
        ({"rings": "none"}, "not a number"),
        ({"mandrel": "499", "temper": "copper-hard"}, "spring back straight"),
        ({"wire_id": "99"}, ""),
    ],
)
def test_a_batch_that_cannot_be_says_why(client: Client, wire: int, asked: dict[str, str], words: str) -> None:
    answer = client.get(plan_url(wire, **asked))
    assert answer.status_code == (422 if words else 404)
    assert words in unescape(answer.text)


def test_what_was_made_needs_wire_that_is_there(client: Client, store: Store, wire: int) -> None:
    url = plan_url(wire)
    action = url_of_form(client, url)
    fields = client.form(url, action).fields
    short = client.post(action, {**fields, "used": "7 m", "do": "look"})
    assert short.status_code == 422
    assert "Only 5 m of “Copper wire” are free in stock, and 7 are needed." in unescape(short.text)
    wrong = client.post(action, {**fields, "made": "0", "do": "look"}, headers={"hx-request": "true"})
    assert wrong.status_code == 200
    assert "too small" in wrong.text
    with store.reading() as session:
        assert on_hand(session, wire)[0] == 5


def test_without_wire_the_page_teaches(client: Client) -> None:
    assert "No wire is in stock yet" in client.get("/stock/make-rings").text
    assert "No job was booked yet" in client.get("/stock/jobs").text
    assert client.get("/stock/jobs/9").status_code == 404


def test_a_bag_is_anodised_and_taken_back(client: Client, store: Store) -> None:
    with store.writing() as session:
        plain = a_ring(session, name="Plain niobium", metal="niobium")
        lot = a_lot(session, plain, 100, "9.00")
    url = f"/stock/process?{urlencode({'lot': lot, 'place': DRAWER})}"
    page = client.get(url).text
    assert "100 of it are free in drawer B4." in text_of(page)
    assert "Electric shock" in page
    after = text_of(
        look_and_book(
            client,
            url,
            {"process": "anodise", "quantity": "60", "lost": "2", "colour": "teal", "cost": "0.50", "minutes": "15"},
        )
    )
    assert "60 rings of “Plain niobium” anodised into “Plain niobium, teal”. 2 rings were lost." in after
    with store.reading() as session:
        # 60 of 100 at 9.00, a quarter of an hour at 20, and 0.50 for what it took.
        assert on_hand(session, plain + 1) == (58, 10_900_000)
        assert on_hand(session, plain) == (40, 3_600_000)
    client.submit("/stock/jobs/1", action="/stock/acts/2/undo")
    with store.reading() as session:
        assert on_hand(session, plain) == (100, 9_000_000)
        assert check_ledger(session) == ()


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"process": "anodise"}, "Say what it became"),
        ({"process": "", "colour": "teal"}, "Choose one"),
        ({"process": "dye", "colour": "teal", "quantity": "500"}, "are free in lot 1"),
        ({"process": "dye", "colour": "teal", "quantity": "5", "lost": "5"}, "Nothing would be left"),
        ({"process": "dye", "colour": "teal", "minutes": "ages"}, "is not a time"),
    ],
)
def test_what_cannot_become_something_else_says_why(
    client: Client, store: Store, typed: dict[str, str], words: str
) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session, metal="niobium"), 100)
    url = f"/stock/process?{urlencode({'lot': lot, 'place': DRAWER})}"
    answer = client.post(url, {**client.form(url, url).fields, **typed, "do": "look"})
    assert answer.status_code == 422
    assert words in unescape(answer.text)
    assert client.get("/stock/process?lot=1&place=nowhere").status_code == 404


def test_reckoning_with_another_temper_keeps_everything_else_that_was_asked(client: Client, wire: int) -> None:
    asked = {"mandrel_length": "120 mm", "end_turns": "2", "end_waste": "30 mm", "spare": "5", "kerf": "0.4 mm"}
    gets = [form for form in forms_of(client.get(plan_url(wire, **asked)).text) if form.method == "get"]
    again = next(form for form in gets if "temper" in form.fields)
    assert {name: again.fields[name] for name in asked} == asked
    assert again.fields["wire_id"] == str(wire)
