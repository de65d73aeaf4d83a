"""Designs with rows in the plain editor, in their history, and at the bench, without scripts."""

from __future__ import annotations

import json
from typing import Any

import pytest

from models.database import Store
from models.operations.designs.layout import add_laid_out_design, keep_layout
from models.operations.stock.check_ledger import check_ledger
from models.queries.designs.design import draft_of
from models.tables import Build
from tests.laid import BLUE, a_laid_design, lozenge_raw, read, stock_two
from tests.ledgers import a_lot
from tests.shops import an_outlet
from tests.web.conftest import Client, find_form
from tests.web.reading import words as text_of

HTMX = {"hx-request": "true"}


@pytest.fixture
def laid(store: Store) -> Store:
    """A bronze ring (1) and an ear wire (2) in stock, an outlet, a laid-out lozenge (design 1) with a gift box."""
    with store.writing() as session:
        stock_two(session)
        a_lot(session, 1, 40, "2.00")
        a_lot(session, 2, 10, "3.00")
        an_outlet(session)
        add_laid_out_design(session, a_laid_design())
    return store


def parts_of(store: Store) -> list[tuple[str, int]]:
    with store.reading() as session:
        return [(part.layout_key or part.typed_name, part.quantity_milli) for part in draft_of(session, 1).parts]


LAID = [("i1", 2000), ("t1", 8000), ("i2", 1000)]


def test_the_editor_shows_the_counted_parts_locked_and_lists_the_others(client: Client, laid: Store) -> None:
    page = client.get("/designs/1/edit").text
    words = text_of(page)
    assert "from the rows" in words
    assert "2 of them closed beforehand" in words
    assert 'href="/designs/1/rows"' in page
    form = find_form(page, "/designs/1/edit")
    assert [name for name in form.fields if name.endswith(".quantity")] == ["parts.0.quantity"]
    assert form.fields["parts.0.name"] == "gift box"
    assert "weave" not in form.fields
    assert "European 4-in-1" in words


def test_saving_the_plain_list_keeps_the_rows_and_their_parts(client: Client, laid: Store) -> None:
    saved = client.submit("/designs/1/edit", {"parts.0.quantity": "2", "note": "Two boxes."})
    assert saved.status_code == 303
    assert parts_of(laid) == [*LAID, ("gift box", 2000)]
    form = client.form("/designs/1/edit")
    gone = {name: value for name, value in form.fields.items() if not name.startswith("parts.")}
    assert client.post("/designs/1/edit", gone).status_code == 303
    assert parts_of(laid) == LAID
    with laid.reading() as session:
        assert draft_of(session, 1).layout == read(lozenge_raw())


def test_a_preview_costs_the_rows_with_the_list(client: Client, laid: Store) -> None:
    form = client.form("/designs/1/edit")
    whole = client.post("/designs/preview", {**form.fields, "act": "cost"}).text
    assert "From the parts: 7 to open, 10 to close, 7 to weave, 1 to attach." in text_of(whole)
    assert "from the rows" in text_of(whole)
    added = client.post("/designs/preview", {**form.fields, "quick": "6 bronze 1.0 x 4.0", "act": "add"}, headers=HTMX)
    assert "13 to open" in text_of(added.text)
    assert added.text.count("part-locked") == 3
    assert parts_of(laid) == [*LAID, ("gift box", 1000)]


def test_a_fault_of_the_plain_list_stands_beside_its_own_row(client: Client, laid: Store) -> None:
    refused = client.submit("/designs/1/edit", {"parts.0.quantity": "none"})
    assert refused.status_code == 422
    assert 'id="f-parts-0-quantity-fault"' in refused.text
    assert "from the rows" in text_of(refused.text)


def test_rows_sent_with_the_form_are_kept_like_any_others(client: Client, laid: Store) -> None:
    raw = lozenge_raw()
    raw["rows"][2]["items"][1] = "t1"
    raw["palette"][1] = dict(BLUE, guess="0.12")
    assert client.submit("/designs/1/edit", {"rows": json.dumps(raw)}).status_code == 303
    assert parts_of(laid) == [("i1", 1000), ("t1", 9000), ("i2", 1000), ("gift box", 1000)]
    raw["rows"][0]["start"] = "left"
    refused = client.submit("/designs/1/edit", {"rows": json.dumps(raw)})
    assert refused.status_code == 422
    assert "whole number" in text_of(refused.text)


def test_an_edit_of_the_list_does_not_collide_with_changed_rows(client: Client, laid: Store) -> None:
    form = client.form("/designs/1/edit")
    with laid.writing() as session:
        raw = lozenge_raw()
        raw["rows"].append({"start": 1, "items": ["t1", "t1"]})
        keep_layout(session, 1, 1, read(raw))
    collided = client.post("/designs/1/edit", {**form.fields, "parts.0.quantity": "3"})
    assert collided.status_code == 409
    again = find_form(collided.text, "/designs/1/edit").fields
    assert client.post("/designs/1/edit", again).status_code == 303
    assert parts_of(laid) == [("i1", 2000), ("t1", 10_000), ("i2", 1000), ("gift box", 3000)]


def test_the_difference_tells_rows_rings_grams_minutes_and_price_at_the_outlet(client: Client, laid: Store) -> None:
    with laid.writing() as session:
        raw = lozenge_raw()
        raw["rows"].append({"start": 1, "items": ["t1", "t1"]})
        keep_layout(session, 1, 1, read(raw))
    page = text_of(client.get("/designs/1/difference?before=1&after=2").text)
    assert "Suggested at Web shop" in page
    assert "5 rows, 9 rings 6 rows, 11 rings" in page
    assert "Row 6" in page
    old = text_of(client.get("/designs/1/revisions/1").text)
    assert "from the rows" in old
    assert client.get("/designs/1/revisions").status_code == 200


def test_the_page_tells_the_size_that_follows_from_the_rows(client: Client, laid: Store) -> None:
    page = text_of(client.get("/designs/1").text)
    assert "computed for ideal rings opened flat" in page
    listing = text_of(client.get("/designs/1/listing").text)
    assert "Width" in listing
    client.submit("/designs/1/edit", {"width": "20 mm", "height": "30 mm"})
    page = text_of(client.get("/designs/1").text)
    assert "20.0 mm wide" in page
    assert "30.0 mm high" in page
    assert "computed for ideal rings" not in page


def test_a_build_takes_the_counted_parts_and_its_sheet_says_what_to_open_and_close(client: Client, laid: Store) -> None:
    answer = client.submit("/builds/new?design_id=1&pieces=2", action="/builds/new")
    assert answer.status_code == 303, text_of(answer.text)
    build_id = answer.headers["location"].split("/")[2].split("?")[0]
    page = client.get(f"/builds/{build_id}/sheet").text
    # Two pieces: of each, row 3 and so one bronze and two blue rings are closed; the bail ring stays open.
    assert "Open 14 rings. Close 6 rings." in text_of(page)
    bags = page[page.index("Take from the bags") : page.index("Before you weave")]
    cells = [text_of(cell) for cell in bags.split("<tr>")[2:]]
    bronze = next(cell for cell in cells if "Bronze" in cell)
    # Four bronze rings and no spare: two are opened, two closed.
    assert bronze.endswith("2 2"), bronze
    press: Any = client.follow(client.submit(f"/builds/{build_id}", action=f"/builds/{build_id}/take-out"))
    assert press.status_code == 200
    done = client.submit(f"/builds/{build_id}/finish", {"minutes": "30"})
    assert done.status_code == 303, text_of(done.text)
    with laid.reading() as session:
        assert session.get_one(Build, int(build_id)).state == "finished"
        assert check_ledger(session) == ()
