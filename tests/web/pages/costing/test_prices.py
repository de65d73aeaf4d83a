"""The cost and price page: trying a price, listing at it, taking it back; and the Bench."""

from __future__ import annotations

import re
from html import unescape

import pytest

from models.database import Store
from models.operations.figures import refresh_figures, stale_figures
from tests.ledgers import a_lot
from tests.shops import a_design, a_finding, a_listed_price, a_part, a_ring, an_outlet
from tests.web.conftest import Client, forms_of
from tests.web.reading import words


@pytest.fixture
def design(store: Store) -> int:
    """A pendant with a choice of colour and an optional part, at two outlets."""
    with store.writing() as session:
        ring = a_ring(session)
        silver = a_ring(session, name="Silver ring", metal="sterling-925", price="40.00")
        found = a_design(
            session,
            [
                a_part(ring, 48, choice_group="colour", choice_name="bronze"),
                a_part(silver, 48, choice_group="colour", choice_name="silver"),
                a_part(a_finding(session), 1, optional=True),
            ],
        )
        an_outlet(session)
        an_outlet(session, name="Gallery", kind="consignment", position=1, fees=(("Commission", "40", "price", "0"),))
        refresh_figures(session)
    return found


def button(page: str, do: str, outlet: int) -> tuple[str, str]:
    """Where a button of an outlet posts to, and its one-time token."""
    found = re.search(rf'formaction="([^"]*do={do}&amp;outlet={outlet}&amp;[^"]*)" name="token" value="([^"]+)"', page)
    assert found, f"no button to {do} at outlet {outlet}"
    return unescape(found[1]), found[2]


def test_the_page_leads_with_the_price_and_what_it_earns(client: Client, design: int) -> None:
    page = client.get(f"/designs/{design}/prices")
    assert page.status_code == 200
    text = words(page.text)
    assert re.search(r"Could list at €\d+\.00 at Web shop; would earn €\d+\.\d\d an hour", text)
    assert "What moves the price most" in text
    assert "earns least at Gallery" in text
    assert "style=" not in page.text
    assert "onclick" not in page.text


def test_trying_a_price_keeps_nothing(store: Store, client: Client, design: int) -> None:
    page = client.get(f"/designs/{design}/prices?price.1=75.50")
    assert "At €75.50 it leaves" in words(page.text)
    assert 'value="75.50"' in page.text
    assert "not listed" in words(client.get(f"/designs/{design}/prices").text)


def test_an_untouched_price_is_not_a_price_to_try(client: Client, design: int) -> None:
    seen = next(form for form in forms_of(client.get(f"/designs/{design}/prices").text) if form.method == "get")
    page = client.get(f"/designs/{design}/prices", params={**seen.fields, "pieces": "20"})
    assert "the suggested price," in words(page.text)
    assert "of 20 made together" in words(page.text)


def test_listing_and_taking_back(store: Store, client: Client, design: int) -> None:
    here = f"/designs/{design}/prices"
    where, token = button(client.get(here).text, "list", 1)
    listed = client.post(where, {"token": token, "price.1": "75.50", "pieces": "3"})
    assert listed.headers["location"].startswith(f"{here}?pieces=3&said=")
    assert listed.headers["location"].endswith("#outlet-1")
    page = client.follow(listed)
    assert "Listed at €75.50 at Web shop." in words(page.text)
    assert "Lists at €75.50 at Web shop" in words(page.text)
    with store.reading() as session:
        assert stale_figures(session) == ()
    undo = next(form for form in forms_of(page.text) if "do=back" in form.action)
    back = client.follow(client.post(undo.action, undo.fields))
    assert "No longer listed at Web shop." in words(back.text)


def test_a_button_pressed_twice_lists_once(client: Client, design: int) -> None:
    here = f"/designs/{design}/prices"
    where, token = button(client.get(here).text, "list", 1)
    first = client.post(where, {"token": token, "price.1": "75.50"})
    second = client.post(where, {"token": token, "price.1": "75.50"})
    assert (first.status_code, second.status_code) == (303, 303)
    assert first.headers["location"] == second.headers["location"]


def test_a_stale_page_is_refused_with_both_prices_and_keeps_what_was_typed(client: Client, design: int) -> None:
    here = f"/designs/{design}/prices"
    where, token = button(client.get(here).text, "list", 1)
    _, other = button(client.get(here).text, "list", 1)
    client.post(where, {"token": token, "price.1": "75.50"})
    refused = client.post(where, {"token": other, "price.1": "80"})
    assert refused.status_code == 409
    assert "75.50" in words(refused.text)
    assert 'value="80"' in refused.text
    again, fresh = button(refused.text, "list", 1)
    assert client.post(again, {"token": fresh, "price.1": "80"}).status_code == 303


def test_taking_a_design_off(client: Client, design: int) -> None:
    here = f"/designs/{design}/prices"
    where, token = button(client.get(here).text, "list", 2)
    page = client.follow(client.post(where, {"token": token, "price.2": "120"}))
    where, token = button(page.text, "off", 2)
    page = client.follow(client.post(where, {"token": token}))
    assert "No longer listed at Gallery." in words(page.text)
    undo = next(form for form in forms_of(page.text) if "do=back" in form.action)
    assert "Listed at €120.00 at Gallery." in words(client.follow(client.post(undo.action, undo.fields)).text)


@pytest.mark.parametrize("typed", ["", "0", "-4", "ten", "3.005", "1,234", "99999999"])
def test_a_price_that_cannot_be_asked_is_named_beside_its_field(client: Client, design: int, typed: str) -> None:
    here = f"/designs/{design}/prices"
    where, token = button(client.get(here).text, "list", 1)
    refused = client.post(where, {"token": token, "price.1": typed, "price.2": "44"})
    assert refused.status_code == 422
    assert 'id="f-price-1-fault"' in refused.text
    assert f'value="{typed}"' in refused.text
    assert 'value="44"' in refused.text
    assert "not listed" in words(client.get(here).text)


def test_bad_questions_are_answered_beside_their_fields(client: Client, design: int) -> None:
    for query, words_of_it in (
        ("pieces=0", "Give 1 or more"),
        ("pieces=lots", "not a number"),
        ("choice=colour%3Dgold", "no choice 'colour=gold'"),
        ("with=7", "no optional part"),
        ("price.1=x", "not a number"),
        ("retail=-1", "retail"),
    ):
        page = client.get(f"/designs/{design}/prices?{query}")
        assert page.status_code == 422, query
        assert words_of_it in unescape(page.text), query


def test_a_choice_and_an_optional_part_change_the_cost(client: Client, design: int) -> None:
    here = f"/designs/{design}/prices"
    plain, silver, more = (words(client.get(here + query).text) for query in ("", "?choice=colour%3Dsilver", "?with=2"))
    cost = re.compile(r"Costs €(\d+\.\d\d) to make")
    assert float(cost.search(plain)[1]) < float(cost.search(more)[1]) < float(cost.search(silver)[1])  # type: ignore[index]


def test_htmx_gets_only_what_was_worked_out(client: Client, design: int) -> None:
    part = client.get(f"/designs/{design}/prices?pieces=5", headers={"hx-request": "true"})
    assert part.text.lstrip().startswith('<div id="worked">')
    assert "<html" not in part.text


def test_a_design_that_is_not_there(client: Client) -> None:
    assert client.get("/designs/99/prices").status_code == 404
    assert client.get("/designs/x/prices").status_code == 404


def test_without_an_outlet_the_cost_is_told_and_an_outlet_asked_for(store: Store, client: Client) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session, price=None), 48)])
    text = words(client.get(f"/designs/{design}/prices").text)
    assert re.search(r"Costs €\d+\.\d\d to make", text)
    assert "Add an outlet" in text
    assert "Not sure yet: 1 part has no price and counts as nothing" in text
    assert "Note what it costs" in text


def test_fees_that_eat_the_price_are_said_in_words(store: Store, client: Client) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session), 48)])
        an_outlet(session, fees=(("All of it", "100", "price", "0"),))
        refresh_figures(session)
    text = words(client.get(f"/designs/{design}/prices").text)
    assert "no price can pay for it" in text
    assert "Fees take 100 %" in text


def test_the_bench_teaches_while_it_is_empty(client: Client) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert 'href="/designs/new"' in page.text
    assert "Type what it is made of" in page.text


def test_the_bench_leads_with_what_falls_short(store: Store, client: Client, design: int) -> None:
    with store.writing() as session:
        a_listed_price(session, design, 1, "2.00")
        refresh_figures(session)
    text = words(client.get("/").text)
    assert re.search(r"Copper leaf pendant lists at €2\.00 at Web shop, below its break-even of €\d", text)
    assert "loses money" in text
    assert "Cost a new design" in text


def test_the_page_shows_what_the_stock_cost_and_prices_by_it(client: Client, store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        design = a_design(session, [a_part(ring, 100)])
        an_outlet(session)
        a_lot(session, ring, 200, "2.00")
    page = client.get(f"/designs/{design}/prices").text
    assert "What your stock cost you" in page
    assert f'href="/designs/{design}/prices?by=stock"' in page
    by_stock = client.get(f"/designs/{design}/prices?by=stock").text
    assert '<option value="stock" selected>' in by_stock
    cost = client.get(f"/api/designs/{design}/cost?by=stock").json()
    assert cost["basis"]["by"] == "stock"
    assert cost["per_piece"]["total"] == cost["basis"]["stock"] != cost["basis"]["again"]
    assert client.get(f"/designs/{design}/prices?by=guess").status_code == 422
    assert client.get(f"/api/designs/{design}/cost?by=guess").status_code == 422
