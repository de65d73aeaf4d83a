"""The Stock room's own answers: what is on the shelf, what runs low, an item's lots, levels, history and graph."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from html import unescape

import pytest
from sqlmodel import Session

from models.database import Store
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.intake.stock.levels import LevelsDraft
from models.intake.stock.weigh import CountedSample, WeighDraft
from models.operations.stock.count import count_bag
from models.operations.stock.ledger import reserve
from models.operations.stock.levels import set_levels
from models.operations.stock.weigh import count_weighed_bag
from models.queries.stock.item import item_view
from models.queries.stock.room import item_shelf
from models.tables import Item
from tests.counting import queries_of
from tests.ledgers import DRAWER, a_lot, a_started_build, kept, take_out
from tests.shops import a_design, a_part, a_ring
from tests.web.conftest import Client
from tests.web.pages.stock.test_items import text_of

LONG_AGO = date(2020, 1, 1)


@pytest.fixture
def shelf(store: Store) -> dict[str, int]:
    """Bronze that runs low, copper that lies dead, brass that was roughly counted, and titanium that is used up."""
    with store.writing() as session:
        today = date.today()  # noqa: DTZ011
        found = {
            "bronze": a_ring(session),
            "copper": a_ring(session, name="Copper ring", metal="copper"),
            "brass": a_ring(session, name="Brass ring", metal="brass-c260"),
            "titanium": a_ring(session, name="Titanium ring", metal="titanium"),
        }
        a_lot(session, found["bronze"], 90, "3.60", day=today)
        a_lot(session, found["copper"], 500, "10.00", day=LONG_AGO)
        brass = a_lot(session, found["brass"], 400, "8.00", day=today)
        count_bag(session, CountDraft(HowMuch(milli=380_000, rough="about"), lot_id=brass, place=DRAWER))
        gone = a_lot(session, found["titanium"], 10, "1.00", day=today)
        take_out(session, gone, 10, day=today)
        set_levels(session, found["bronze"], LevelsDraft(100_000, 500_000, False))
        return found


def names_in(page: str) -> list[str]:
    body = page[page.index("<tbody>") : page.index("</tbody>")]
    return [name for name in ("bronze C220", "Copper ring", "Brass ring", "Titanium ring") if name in unescape(body)]


def test_the_room_leads_with_its_worth_and_what_needs_a_look(client: Client, shelf: dict[str, int]) -> None:
    said = text_of(client.get("/stock").text)
    # 3.60, 10.00 and 380 of 400 at 8.00.
    assert "€21.20 on the shelf, in 3 items; 1 is low, at or under the reorder point." in said.replace(
        " ;", ";"
    ).replace(" ,", ",")
    assert "€10.00 lies dead, in 1 item not used for half a year." in said.replace(" ,", ",")
    assert "1 is only roughly counted" in said
    assert "about 380" in said
    assert "low buy again at 100" in said


@pytest.mark.parametrize(
    ("state", "names"),
    [("low", ["bronze C220"]), ("dead", ["Copper ring"]), ("rough", ["Brass ring"]), ("out", ["Titanium ring"]),
     ("there", ["bronze C220", "Copper ring", "Brass ring"])],
)  # fmt: skip
def test_the_list_is_narrowed_to_what_is_on_the_shelf(
    client: Client, shelf: dict[str, int], state: str, names: list[str]
) -> None:
    page = client.get(f"/stock?shelf={state}").text
    assert names_in(page) == names
    assert f'<option value="{state}" selected>' in page
    assert client.get("/stock?shelf=haunted").status_code == 422


def test_the_list_asks_no_more_for_more_items_lots_and_movements(
    client: Client, store: Store, shelf: dict[str, int]
) -> None:
    client.get("/stock")
    with queries_of(store) as few:
        client.get("/stock")
    with store.writing() as session:
        for number in range(12):
            item = a_ring(session, name=f"Ring {number}", wire_nm=900_000 + number * 50_000)
            for _ in range(3):
                take_out(session, a_lot(session, item, 20, "1"), 5)
    with queries_of(store) as many:
        client.get("/stock")
    assert len(many) == len(few)


def test_an_item_s_page_asks_no_more_for_a_longer_history(client: Client, store: Store, shelf: dict[str, int]) -> None:
    url = f"/stock/items/{shelf['copper']}"
    client.get(url)
    with queries_of(store) as few:
        client.get(url)
    with store.writing() as session:
        for _ in range(20):
            take_out(session, a_lot(session, shelf["copper"], 20, "1"), 5)
    with queries_of(store) as many:
        client.get(url)
    assert len(many) == len(few)
    with queries_of(store) as first:
        client.get("/stock/drawer?place=drawer+B4")
    with store.writing() as session:
        for number in range(6):
            a_lot(session, a_ring(session, name=f"Ring {number}", wire_nm=900_000 + number * 50_000), 20, "1")
    with queries_of(store) as second:
        client.get("/stock/drawer?place=drawer+B4")
    assert len(second) == len(first)


def test_what_is_reserved_is_not_free(client: Client, store: Store, shelf: dict[str, int]) -> None:
    with store.writing() as session:
        a_started_build(session, a_design(session, [a_part(shelf["bronze"], 5)]))
        reserve(session, [kept(1, DRAWER, 30_000)])
    listed = text_of(client.get("/stock").text)
    assert "60 30 reserved" in listed
    page = text_of(client.get(f"/stock/items/{shelf['bronze']}").text)
    assert "90 rings on hand, 60 free, at €0.04 a ring." in page.replace(" ,", ",")
    assert "Low: at or under the reorder point of 100 rings" in page


def test_a_reorder_point_is_kept_and_a_stale_one_told(client: Client, store: Store, shelf: dict[str, int]) -> None:
    url, action = f"/stock/items/{shelf['copper']}", f"/stock/items/{shelf['copper']}/levels"
    old = client.form(url, action).fields
    page = client.follow(client.submit(url, {"reorder": "600", "target": "900", "batch_colour": "yes"}, action=action))
    assert "The reorder point is kept." in page.text
    assert "500 rings free; the mark is the reorder point of 600." in text_of(page.text)
    assert client.form(url, action).fields["batch_colour"] == "yes"
    stale = client.post(action, {**old, "reorder": "5"})
    assert stale.status_code == 409
    assert "Buy again at 600 5" in text_of(stale.text)
    wrong = client.submit(url, {"reorder": "600", "target": "5"}, action=action)
    assert wrong.status_code == 422
    assert 'id="f-target-fault"' in wrong.text
    half = client.submit(url, {"reorder": "2.5", "target": ""}, action=action)
    assert "Give a whole number." in half.text


def test_the_history_is_paged_and_names_each_thing(client: Client, store: Store, shelf: dict[str, int]) -> None:
    with store.writing() as session:
        lot = a_lot(session, shelf["copper"], 200, "2.00", batch="K 7")
        for _ in range(60):
            take_out(session, lot, 1)
    url = f"/stock/items/{shelf['copper']}/history"
    first = client.get(url).text
    assert first.count('data-label="Then on hand"') == 50
    earlier = client.get(first[first.index(f'href="{url}?before=') :].split('"')[1]).text
    assert earlier.count('data-label="Then on hand"') == 12
    assert "K 7" in first
    assert client.get(f"/stock/items/{shelf['copper']}/history?lot={lot}").status_code == 200
    assert client.get("/stock/items/99/history").status_code == 404
    assert client.get("/stock/history").text.count("/undo") >= 30
    assert "before=" in client.get("/stock/history").text


def test_an_item_that_never_came_in_says_how_to_begin(client: Client, store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
    page = client.get(f"/stock/items/{ring}").text
    assert "None of it was ever taken into stock." in text_of(page)
    assert f'href="/stock/receive?item={ring}"' in page
    assert "Nothing has happened yet" in client.get(f"/stock/items/{ring}/history").text
    assert "Nothing was done yet" in client.get("/stock/history").text
    assert "Nothing is counted in yet." in text_of(client.get("/stock").text)


def test_the_graph_begins_with_the_first_lot_and_says_it_in_words(
    client: Client, store: Store, shelf: dict[str, int]
) -> None:
    page = client.get(f"/stock/items/{shelf['bronze']}").text
    assert 'class="graph-line"' in page
    assert 'class="graph-reorder"' in page
    assert "On hand over time: 500 rings at the top of the scale" in page
    with store.reading() as session:
        found = item_shelf(session, item_view(session, shelf["bronze"]), now=datetime.now(UTC) + timedelta(days=30))
    assert found.points[-1].on_hand_milli == 90_000
    assert found.until - found.since < timedelta(days=31)


def weighed(session: Session, lot_id: int, mass_ug: int) -> None:
    weighing = WeighDraft(
        gross_ug=9_000_000, tare_ug=0, step_ug=1000, samples=(CountedSample(50, mass_ug),), lot_id=lot_id, place=DRAWER
    )
    count_weighed_bag(session, weighing, CountDraft(HowMuch(), lot_id=lot_id, place=DRAWER))


def test_what_weighings_say_becomes_the_item_s_weight_and_back(
    client: Client, store: Store, shelf: dict[str, int]
) -> None:
    url = f"/stock/items/{shelf['bronze']}"
    with store.writing() as session:
        weighed(session, 1, 5_100_000)
        weighed(session, 1, 5_102_000)
    assert "0.102 g each, learned from 2 weighed samples" in text_of(client.get(url).text)
    taken = client.follow(client.submit(url, action=f"{url}/mass"))
    assert "From now on it weighs what your weighings say." in taken.text
    with store.reading() as session:
        assert session.get_one(Item, shelf["bronze"]).mass_ug in range(102_000, 102_100)
    assert 'action="/stock/items/1/mass"' not in client.get(url).text
    client.post(f"{url}/mass?to=0", {"token": client.form(url, f"{url}/levels").fields["token"]})
    with store.reading() as session:
        assert session.get_one(Item, shelf["bronze"]).mass_ug is None
    gone = client.follow(client.submit(url, action="/stock/weighings/1/forget"))
    assert "learned from 1 weighed sample" in text_of(gone.text)
    token = client.form(url, f"{url}/levels").fields["token"]
    none = client.post(f"/stock/items/{shelf['copper']}/mass", {"token": token})
    assert none.status_code == 409
    assert "No counted sample of it was weighed yet." in unescape(none.text)
    assert client.post("/stock/weighings/99/forget", {"token": token}).status_code == 404


def test_a_lot_s_history_does_not_mix_in_what_other_lots_hold(client: Client, store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "4.00")
        a_lot(session, ring, 50, "2.00")
    assert "Then on hand" in client.get(f"/stock/items/{ring}").text
    page = client.get(f"/stock/lots/{lot}").text
    assert "Came in" in page
    assert "Then on hand" not in page


def test_a_list_that_is_narrowed_by_a_link_says_by_what_and_stands_on_top(
    client: Client, shelf: dict[str, int]
) -> None:
    page = client.get("/stock?shelf=rough&kind=ring").text
    assert "1 item matches, ring, roughly counted. Show all" in text_of(page)
    assert '<details class="fold" open>' not in page
    assert '<details class="fold" open>' in client.get("/stock?metal=copper").text
