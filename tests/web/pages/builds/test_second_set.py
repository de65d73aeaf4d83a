"""Pieces of a design whose rings are kept or out already: it is said before a second set is taken, and may be taken."""

from __future__ import annotations

from html import unescape

import pytest
from sqlmodel import select

from models.database import Store
from models.operations.stock.check_ledger import check_ledger
from models.tables import Build
from tests.builds import Bench, a_bench, making, started
from tests.ledgers import on_hand
from tests.planted import planted
from tests.web.conftest import Client, find_form
from tests.web.reading import words as text_of


@pytest.fixture
def bench(store: Store) -> Bench:
    """A pendant of 20 bronze and 4 silver rings, with enough for five of them."""
    return planted(store, a_bench)


def an_open_build(store: Store, bench: Bench, state: str, pieces: int = 2) -> int:
    with store.writing() as session:
        return (making if state == "making" else started)(session, bench, pieces)


def states(store: Store) -> list[str]:
    with store.reading() as session:
        assert check_ledger(session) == ()
        return [build.state for build in session.exec(select(Build).order_by(Build.id))]  # type: ignore[arg-type]


QUICK_PLACES = ("/", "/builds", "/designs/{design}")


@pytest.mark.parametrize("page", QUICK_PLACES)
@pytest.mark.parametrize("state", ["started", "making"])
def test_i_made_says_what_is_under_way_before_a_second_set_is_taken(
    client: Client, store: Store, bench: Bench, state: str, page: str
) -> None:
    build = an_open_build(store, bench, state)
    with store.reading() as session:
        before = on_hand(session, bench.bronze)
    typed = {"design_id": str(bench.design), "pieces": "2", "minutes": "60"}
    asked = client.submit(page.format(design=bench.design), typed, action="/builds/made")
    assert asked.status_code == 409
    said = text_of(asked.text)
    assert f"under way already in build {build}" in said
    assert f"Build {build} makes 2 pieces of it" in said
    where = f"/builds/{build}/finish" if state == "making" else f"/builds/{build}"
    assert f'href="{where}"' in asked.text
    assert client.get(where).status_code == 200
    with store.reading() as session:
        assert on_hand(session, bench.bronze) == before
    # Nothing typed is lost, and whoever means it sends it once more.
    form = find_form(asked.text, "/builds/made").fields
    assert (form["pieces"], form["minutes"]) == ("2", "60")
    booked = client.post("/builds/made", form)
    assert booked.status_code == 303, text_of(booked.text)
    assert states(store) == [state, "finished"]


def test_the_full_page_says_it_at_once_and_books_it_on_purpose(client: Client, store: Store, bench: Bench) -> None:
    build = an_open_build(store, bench, "making")
    page = f"/builds/made?design_id={bench.design}&pieces=2"
    assert f"book build {build} in instead" in text_of(unescape(client.get(page).text))
    assert "Book beside it" in client.get(page).text
    assert client.submit(page, {"minutes": "60"}, action="/builds/made").status_code == 303
    assert states(store) == ["making", "finished"]


def test_a_build_that_was_started_since_the_page_was_opened_is_said_too(
    client: Client, store: Store, bench: Bench
) -> None:
    form = client.form(f"/builds/made?design_id={bench.design}", "/builds/made").fields
    assert "beside" not in form
    build = an_open_build(store, bench, "started")
    again = client.post("/builds/made", form)
    assert (again.status_code, f"in build {build}" in again.text) == (409, True)
    assert client.post("/builds/made", find_form(again.text, "/builds/made").fields).status_code == 303


def test_without_anything_under_way_nothing_is_asked(client: Client, store: Store, bench: Bench) -> None:
    done = client.submit("/", {"design_id": str(bench.design), "minutes": "60"}, action="/builds/made")
    assert done.status_code == 303
    page = client.get(f"/builds/made?design_id={bench.design}").text
    assert "second set" not in page
    assert "Book beside it" not in page


def test_starting_another_build_says_that_one_is_under_way(client: Client, store: Store, bench: Bench) -> None:
    build = an_open_build(store, bench, "started", 1)
    page = f"/builds/new?design_id={bench.design}"
    assert f"Go on with build {build}" in text_of(client.get(page).text)
    assert client.submit(page, action="/builds/new").status_code == 303


@pytest.mark.parametrize("path", ["/api/builds/made", "/api/builds"])
def test_a_program_is_told_which_builds_keep_their_own_rings(
    client: Client, store: Store, bench: Bench, path: str
) -> None:
    first = client.post(path, json={"design_id": bench.design}).json()
    assert first["under_way"] == []
    build = an_open_build(store, bench, "making", 1)
    said = client.post(path, json={"design_id": bench.design})
    assert said.status_code == 201
    known = {one["id"]: one for one in said.json()["under_way"]}
    assert known[build] == {"id": build, "state": "making", "pieces": 1, "finish": f"/api/builds/{build}/finish"}
    assert said.json()["id"] not in known
