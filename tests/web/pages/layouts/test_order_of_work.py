"""The order of work without scripts: the way is looked at in the address, kept as a revision, and taken back."""

from __future__ import annotations

import re
from html import unescape

import pytest
from httpx import Response
from sqlmodel import Session

from models.database import Store
from models.operations.designs.design import add_design
from models.operations.designs.layout import keep_layout
from models.queries.costing.costing import cost_of_design
from models.queries.designs.design import design_view, draft_of
from tests.laid import a_laid_design, chain_raw, read, stock_two
from tests.shops import a_design
from tests.web.conftest import Client, forms_of


@pytest.fixture
def lozenge(store: Store) -> int:
    """Nine rings in rows of 1, 2, 3, 2, 1 with a bail ring and an ear wire; the way begins with row 3."""
    with store.writing() as session:
        stock_two(session)
        return add_design(session, a_laid_design())


def plain(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", re.sub(r"</?strong>", "", page))))


def counts(session: Session, design: int) -> tuple[int, int, int]:
    work = cost_of_design(session, design).cost.counts
    return int(work.open), int(work.close), int(work.weave)


def test_it_leads_with_what_to_close_and_what_to_open(client: Client, lozenge: int) -> None:
    words = plain(client.get(f"/designs/{lozenge}/rows/order").text)
    # Row 3 is laid out closed; the six other rings and the bail ring are opened.
    assert "Close 3 rings beforehand and open 7." in words
    # The largest set: rows 2 and 4, or 1, 3 and 5: five rings, and the bail ring where its host is open.
    assert "At most 5 could be closed: the most possible, found exactly by matching." in words
    assert "Row 3" in words
    assert "Lay out the closed rings of row 3" in words


def test_another_way_is_only_looked_at(client: Client, store: Store, lozenge: int) -> None:
    page = client.get(f"/designs/{lozenge}/rows/order?start_row=1&method=adding+closed+rings&whose=way")
    assert page.status_code == 200
    assert "Close 5 rings beforehand and open 5." in plain(page.text)
    with store.reading() as session:
        assert design_view(session, lozenge).newest == 1


def test_a_kept_way_is_a_revision_and_feeds_the_labour(client: Client, store: Store, lozenge: int) -> None:
    with store.reading() as session:
        assert counts(session, lozenge) == (7, 10, 7)
    kept = keep(client, lozenge, start_row="1", method="adding closed rings")
    page = client.follow(kept).text
    assert "Kept as revision 2." in page
    with store.reading() as session:
        assert counts(session, lozenge) == (5, 10, 5)
        layout = draft_of(session, lozenge).layout
        assert layout is not None
        assert (layout.route.start_row, layout.route.method, layout.closed) == (1, "adding closed rings", None)
    back = re.search(r'action="(/designs/\d+/rows/order/back[^"]+)"', page)
    assert back is not None
    undone = client.submit(kept.headers["location"], action=unescape(back[1]))
    assert "Close 3 rings beforehand" in plain(client.follow(undone).text)
    with store.reading() as session:
        assert counts(session, lozenge) == (7, 10, 7)


def keep(client: Client, design: int, **changes: str) -> Response:
    """Press 'Keep this way' with some fields changed, as a browser does."""
    page = client.get(f"/designs/{design}/rows/order").text
    form = next(one for one in forms_of(page) if "whose" in one.fields)
    token = re.search(r'name="token" value="([^"]+)"[^>]*>Keep this way', page)
    assert token is not None
    return client.post(f"/designs/{design}/rows/order", {**form.fields, "token": token[1], **changes})


def test_a_ring_is_opened_and_closed_by_its_link_in_the_drawing(client: Client, lozenge: int) -> None:
    page = client.get(f"/designs/{lozenge}/rows/order").text
    links = [unescape(link) for link in re.findall(r'<a href="([^"]+flip=3\.2#piece)"', page)]
    assert len(links) == 1
    opened = client.get(links[0]).text
    assert "Close 2 rings beforehand and open 8." in plain(opened)
    assert "3.1, 3.3" in opened
    again = next(unescape(link) for link in re.findall(r'<a href="([^"]+flip=3\.2#piece)"', opened))
    closed = client.get(again).text
    # What the way gives by itself is no choice of one's own any more.
    assert 'value="way" checked' in closed
    assert "Close 3 rings beforehand and open 7." in plain(closed)


def test_a_choice_of_ones_own_is_kept(client: Client, store: Store, lozenge: int) -> None:
    client.follow(keep(client, lozenge, whose="own", closed="1, 5, 3.2"))
    with store.reading() as session:
        layout = draft_of(session, lozenge).layout
        assert layout is not None
        assert layout.closed == ("1.1", "3.2", "5.1")
        assert counts(session, lozenge) == (7, 10, 7)
    page = client.get(f"/designs/{lozenge}/rows/order").text
    assert "1, 5, 3.2" in page
    assert 'value="own" checked' in page


def test_linked_rings_are_refused_beside_the_field_and_marked(client: Client, store: Store, lozenge: int) -> None:
    for answer in (
        keep(client, lozenge, whose="own", closed="2, 3.2"),
        client.get(f"/designs/{lozenge}/rows/order?whose=own&closed=2,+3.2"),
    ):
        assert answer.status_code == 422
        words = plain(answer.text)
        assert "Rings 2.1 and 3.2 are linked: one of them must stay open." in words
        assert "These rings cannot all be closed beforehand." in words
        assert answer.text.count('<g class="mark"') == 3
        assert "2, 3.2" in answer.text
    with store.reading() as session:
        assert design_view(session, lozenge).newest == 1


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("start_row=0", "Give 1 or more"),
        ("start_row=6", "Give 5 or less"),
        ("start_row=six", "is not a number"),
        ("method=magic", "Choose one of: single rings, adding closed rings."),
        ("whose=own&closed=9.9", "'9.9' names no ring of this piece. Write a row as 3"),
        ("flip=99.1", "There is no ring 99.1 in this piece."),
    ],
)
def test_what_cannot_be_read_is_said_and_kept(client: Client, lozenge: int, asked: str, words: str) -> None:
    answer = client.get(f"/designs/{lozenge}/rows/order?{asked}")
    assert answer.status_code == 422
    assert words in plain(answer.text)


def test_a_stale_page_is_refused_with_what_changed(client: Client, lozenge: int) -> None:
    page = client.get(f"/designs/{lozenge}/rows/order").text
    version = next(one for one in forms_of(page) if "whose" in one.fields).fields["version"]
    keep(client, lozenge, start_row="2")
    refused = keep(client, lozenge, start_row="4", version=version)
    assert refused.status_code == 409


def test_the_same_way_again_makes_no_revision(client: Client, store: Store, lozenge: int) -> None:
    assert "kept already" in client.follow(keep(client, lozenge)).text
    with store.reading() as session:
        assert design_view(session, lozenge).newest == 1


def test_a_chain_has_its_closed_rings_and_its_steps(client: Client, store: Store, lozenge: int) -> None:
    with store.writing() as session:
        keep_layout(session, lozenge, 1, read({**chain_raw(units=4), "weave": "chain-2-in-2"}))
    page = client.get(f"/designs/{lozenge}/rows/order").text
    assert "How a unit is made" in page
    assert "Begin with row" not in page
    client.follow(keep(client, lozenge, whose="own", closed="1-2"))
    with store.reading() as session:
        layout = draft_of(session, lozenge).layout
        assert layout is not None
        assert layout.closed == ("1", "2")


def test_a_plain_list_has_no_order_of_work(client: Client, store: Store) -> None:
    with store.writing() as session:
        plain_list = a_design(session, [])
    assert client.get(f"/designs/{plain_list}/rows/order").status_code == 404
    assert client.get(f"/api/designs/{plain_list}/order-of-work").status_code == 404


def test_a_large_piece_is_told_without_a_link_on_every_ring(client: Client, store: Store, lozenge: int) -> None:
    rows = [{"start": row % 2, "rings": 40, "item": "i1"} for row in range(40)]
    with store.writing() as session:
        keep_layout(session, lozenge, 1, read({"weave": "european-4-in-1", "rows": rows}))
    page = client.get(f"/designs/{lozenge}/rows/order?method=adding+closed+rings").text
    assert "flip=" not in page
    assert "Close 800 rings beforehand and open 800." in plain(page)
    assert len(page) < 1_500_000


def test_htmx_gets_the_way_alone(client: Client, lozenge: int) -> None:
    part = client.get(f"/designs/{lozenge}/rows/order?start_row=2", headers={"HX-Request": "true"}).text
    assert "<html" not in part
    assert "Close 2 rings beforehand" in plain(part)


def test_the_api_tells_the_same_order(client: Client, lozenge: int) -> None:
    body = client.get(f"/api/designs/{lozenge}/order-of-work").json()
    assert (body["close"], body["open"], body["weave"], body["most"]) == (3, 7, 7, 5)
    assert body["closed"] == ["3.1", "3.2", "3.3"]
    assert (body["kept"], body["start_row"]) == (True, 3)
    added = [name for step in body["steps"] for name in step["rings"]]
    assert sorted(added) == sorted(set(added))
    assert len(added) == 11
    other = client.get(f"/api/designs/{lozenge}/order-of-work?start_row=1&method=adding%20closed%20rings").json()
    assert (other["close"], other["kept"]) == (5, False)
    refused = client.get(f"/api/designs/{lozenge}/order-of-work?whose=own&closed=2,3.2")
    assert refused.status_code == 422
    assert refused.json()["errors"][0]["field"] == "closed"
    assert client.get(f"/api/designs/{lozenge}/order-of-work?method=magic").status_code == 422
