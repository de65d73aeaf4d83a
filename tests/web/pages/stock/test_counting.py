"""Counting bags on pages without scripts: on the scale, by hand, and a whole drawer line by line."""

from __future__ import annotations

from html import unescape
from urllib.parse import urlencode

import pytest
from sqlmodel import select

from models.database import Store
from models.queries.stock.lot import lot_view
from models.tables import Weighing
from tests.ledgers import DRAWER, a_lot, in_bag, take_out
from tests.shops import a_ring
from tests.web.conftest import Client, find_form, forms_of
from tests.web.pages.stock.test_items import text_of


@pytest.fixture
def lot(store: Store) -> int:
    """A bag of 400 bronze rings at 0.03 each; one weighs 0.09988 g."""
    with store.writing() as session:
        return a_lot(session, a_ring(session), 400, "12.00", batch="bath 7")


def url_of(lot: int, place: str = DRAWER) -> str:
    return f"/stock/count?{urlencode({'lot': lot, 'place': place})}"


def look(client: Client, url: str, **typed: str) -> str:
    fields = {**client.form(url, url).fields, **{name.replace("__", "."): value for name, value in typed.items()}}
    answer = client.post(url, {**fields, "do": "look"})
    assert answer.status_code == 200, text_of(answer.text)
    return answer.text


def book(client: Client, url: str, page: str) -> str:
    return client.follow(client.post(url, {**find_form(page, url).fields, "do": "book"})).text


SCALE = {"gross_g": "42.71", "tare_g": "1.60 g", "sample__0__rings": "20", "sample__0__mass_g": "2.00"}


def test_a_bag_on_the_scale_says_its_range_and_the_difference_before_it_is_booked(
    client: Client, store: Store, lot: int
) -> None:
    page = look(client, url_of(lot), **SCALE)
    said = text_of(page)
    assert "400 rings should be in drawer B4." in said
    assert "About 411 rings , between 410 and 413." in said
    assert "A counted sample of 170 would make it certain." in said
    assert "11 rings more than the page said, worth €0.33" in said
    assert "Where the doubt comes from" in said
    with store.reading() as session:
        assert in_bag(session, lot) == 400
        assert session.exec(select(Weighing)).all() == []
    after = text_of(book(client, url_of(lot), page))
    assert (
        "Counted about 411 rings of “Bronze ring 1.0 × 3.6 mm” in drawer B4, 11 more than expected. By weight, between"
        in after
    )
    assert "about 411" in after
    with store.reading() as session:
        assert in_bag(session, lot) == 411
        assert lot_view(session, lot).bags[0].tare_ug == 1_600_000
    again = client.form(url_of(lot), url_of(lot)).fields
    assert (again["tare_g"], again["expected"]) == ("1.6", "411")
    assert "from rings of this lot that you weighed before" in client.get(url_of(lot)).text
    assert "learned from 1 weighed sample" in text_of(client.get("/stock/items/1").text)


def test_a_fine_scale_makes_a_small_bag_certain(client: Client, store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 80, "2.40")
    page = look(
        client, url_of(lot), gross_g="7.991", sample__0__rings="40", sample__0__mass_g="3.996", scale_step_g="0.001"
    )
    assert "80 rings , for certain." in text_of(page)
    assert "As expected" in page
    assert "Book 80 rings" in text_of(page)


def test_a_bag_of_other_rings_is_called_odd_and_the_likely_ones_are_named(
    client: Client, store: Store, lot: int
) -> None:
    with store.writing() as session:
        thick = a_ring(session, name="Thick bronze ring", wire_nm=1_200_000)
    page = look(client, url_of(lot), gross_g="30", sample__0__rings="50", sample__0__mass_g="7.5")
    assert "This bag seems to hold something else" in page
    assert f'href="/stock/items/{thick}"' in page


def test_a_count_by_hand_shows_what_is_missing_in_money(client: Client, store: Store, lot: int) -> None:
    page = look(client, url_of(lot), found="388", note="One bag had split.")
    assert "12 rings fewer than the page said, a loss of €0.36" in text_of(page)
    after = text_of(book(client, url_of(lot), page))
    assert (
        "Counted 388 rings of “Bronze ring 1.0 × 3.6 mm” in drawer B4, 12 less than expected. One bag had split."
        in after
    )
    back = client.submit("/stock/history", action="/stock/acts/2/undo")
    assert "Taken back: Counted 388 rings" in text_of(client.follow(back).text)
    with store.reading() as session:
        assert in_bag(session, lot) == 400


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({}, "Count what is in the bag, or weigh it."),
        ({"found": "400", "gross_g": "40"}, "not both"),
        ({"found": "heaps"}, "not a quantity"),
        ({"gross_g": "1", "tare_g": "3"}, "less than its tare"),
        ({"gross_g": "40", "sample.0.rings": "20"}, "Give a weight."),
        ({"gross_g": "40", "mass_from": "learned"}, "Nothing was learned yet"),
        ({"found": "400", "counted_on": "2999-01-01"}, ""),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_booked(
    client: Client, store: Store, lot: int, typed: dict[str, str], words: str
) -> None:
    url = url_of(lot)
    fields = {**client.form(url, url).fields, **typed}
    answer = client.post(url, {**fields, "do": "look"})
    if words:
        assert answer.status_code == 422
        assert words in unescape(answer.text)
    else:
        booked = client.post(url, {**find_form(answer.text, url).fields, "do": "book"})
        assert booked.status_code == 422
        assert "yet to come" in booked.text
    with store.reading() as session:
        assert in_bag(session, lot) == 400


def test_a_bag_that_changed_meanwhile_is_told_and_counted_again(client: Client, store: Store, lot: int) -> None:
    page = look(client, url_of(lot), found="400")
    with store.writing() as session:
        take_out(session, lot, 20)
    answer = client.post(url_of(lot), {**find_form(page, url_of(lot)).fields, "do": "book"})
    assert answer.status_code == 409
    assert "was changed since you opened it" in text_of(answer.text)
    fresh = find_form(answer.text, url_of(lot)).fields
    assert fresh["expected"] == "380"


def test_a_bag_that_is_not_there_is_not_found(client: Client, lot: int) -> None:
    assert client.get(url_of(99)).status_code == 404
    assert client.get(url_of(lot, "elsewhere")).status_code == 404
    assert client.get(f"/stock/count?lot={lot}").status_code == 200


def test_htmx_gets_what_the_scale_says_while_one_types(client: Client, lot: int) -> None:
    fields = client.form(url_of(lot), url_of(lot)).fields
    part = client.post(url_of(lot), {**fields, "do": "look"}, headers={"hx-request": "true"})
    assert part.status_code == 200
    assert part.text.strip().startswith("<section")
    assert "Count what is in the bag" not in part.text


# --- a drawer ---


def line(client: Client, page: str, lot: int) -> dict[str, str]:
    return next(
        form.fields for form in forms_of(page) if form.fields.get("lot_id") == str(lot) and "found" in form.fields
    )


DRAWER_URL = f"/stock/drawer?{urlencode({'place': DRAWER})}"


@pytest.fixture
def drawer(store: Store) -> tuple[int, int, int]:
    """Three bags in one drawer, in the order of the page: thin wire first."""
    with store.writing() as session:
        thin = a_ring(session, name="Thin", wire_nm=800_000)
        thick = a_ring(session, name="Thick", wire_nm=1_200_000)
        middle = a_ring(session, name="Middle", wire_nm=1_000_000)
        return (
            a_lot(session, thin, 100, "3.00"),
            a_lot(session, middle, 200, "8.00"),
            a_lot(session, thick, 300, "9.00"),
        )


def test_a_drawer_is_counted_line_by_line_and_the_next_bag_waits(
    client: Client, store: Store, drawer: tuple[int, int, int]
) -> None:
    thin, middle, _ = drawer
    assert "3 bags in 1 place" in text_of(client.get("/stock/drawers").text)
    page = client.get(DRAWER_URL).text
    assert "0 of 3 bags counted today." in text_of(page)
    assert f'id="found-{thin}"' in page[: page.index("autofocus")][-400:]
    as_expected = client.post(DRAWER_URL, {**line(client, page, thin), "found": "100"})
    after = client.follow(as_expected).text
    assert "1 of 3 bags counted today." in text_of(after)
    assert f'id="found-{middle}"' in after[: after.index("autofocus")][-400:]
    first = client.post(DRAWER_URL, {**line(client, after, middle), "found": "190"})
    assert first.status_code == 200
    assert "10 fewer, a loss of €0.40" in text_of(first.text)
    with store.reading() as session:
        assert in_bag(session, middle) == 200
    second = client.post(DRAWER_URL, line(client, first.text, middle))
    done = client.follow(second).text
    assert "Counted today : 190, 10 fewer, -€0.40" in text_of(done)
    assert "2 of 3 bags counted today." in text_of(done)
    with store.reading() as session:
        assert in_bag(session, middle) == 190
    back = client.submit(DRAWER_URL, action="/stock/acts/5/undo")
    assert back.headers["location"].startswith("/stock/drawer?place=drawer+B4")
    assert "1 of 3 bags counted today." in text_of(client.follow(back).text)


def test_a_difference_that_changed_since_it_was_shown_is_shown_again(
    client: Client, store: Store, drawer: tuple[int, int, int]
) -> None:
    thin = drawer[0]
    page = client.get(DRAWER_URL).text
    shown = client.post(DRAWER_URL, {**line(client, page, thin), "found": "90"}).text
    other = client.post(DRAWER_URL, {**line(client, shown, thin), "found": "80"})
    assert other.status_code == 200
    assert "20 fewer" in text_of(other.text)
    with store.reading() as session:
        assert in_bag(session, thin) == 100


@pytest.mark.parametrize(("found", "words"), [("", "Say what was found"), ("heaps", "not a quantity"), ("-3", "")])
def test_a_line_that_cannot_be_read_says_so_beside_it(
    client: Client, drawer: tuple[int, int, int], found: str, words: str
) -> None:
    page = client.get(DRAWER_URL).text
    answer = client.post(DRAWER_URL, {**line(client, page, drawer[1]), "found": found})
    assert answer.status_code == 422
    at = answer.text.index(f'id="trouble-{drawer[1]}"')
    assert words in unescape(answer.text[at : at + 300])


def test_a_line_of_a_bag_that_changed_meanwhile_says_so(
    client: Client, store: Store, drawer: tuple[int, int, int]
) -> None:
    page = client.get(DRAWER_URL).text
    with store.writing() as session:
        take_out(session, drawer[0], 20)
    answer = client.post(DRAWER_URL, {**line(client, page, drawer[0]), "found": "100"})
    assert answer.status_code == 422
    assert "was changed since you opened it" in text_of(answer.text)
    gone = client.post(DRAWER_URL, {**line(client, page, drawer[0]), "lot_id": "99", "found": "100"})
    assert gone.status_code == 404


def test_an_empty_drawer_teaches(client: Client) -> None:
    assert "Nothing lies anywhere yet" in client.get("/stock/drawers").text
    assert "Nothing lies here" in client.get("/stock/drawer?place=nowhere").text
