"""One reading a request: every page is read from one state of the shop, and a write holds no reading open."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from fastapi.routing import APIRoute
from sqlmodel import Session

from models.database import Store
from models.errors import fit
from models.intake.stock.supplier import read_supplier
from models.operations.stock.supplier import edit_supplier
from tests.web.conftest import Client, find_form
from webapp.api import APIS
from webapp.api.buying import buy_plan
from webapp.app import create_app
from webapp.pages import ROOMS
from webapp.pages.buying import buying
from webapp.settings import Settings
from webapp.web.forms import RawForm

IN_PATHS = {"/stock/weaves/": "european-4-in-1", "/stock/metals/": "copper", "/settings/files/": "items"}
"""What stands for a thing in the addresses that do not take a number."""
ASKED = {"lot": "1", "item": "1", "q": "ring", "said": "no-such-key"}


class Counted:
    """A store whose readings are counted, with how many of them are open."""

    def __init__(self, store: Store, patch: pytest.MonkeyPatch) -> None:
        self.store, self.opened, self.open, self.open_at_write = store, 0, 0, 0
        self.meanwhile: Callable[[], None] | None = None
        """What somebody else does before the next write begins."""
        self._reading, self._writing = store.reading, store.writing
        patch.setattr(store, "reading", self.reading)
        patch.setattr(store, "writing", self.writing)

    @contextmanager
    def reading(self) -> Iterator[Session]:
        self.opened += 1
        self.open += 1
        try:
            with self._reading() as session:
                yield session
        finally:
            self.open -= 1

    @contextmanager
    def writing(self) -> Iterator[Session]:
        self.open_at_write = max(self.open_at_write, self.open)
        if self.meanwhile:
            self.meanwhile()
        with self._writing() as session:
            yield session


@pytest.fixture
def studio(demo_folder: Path, tmp_path: Path) -> Iterator[Store]:
    """A copy of the invented studio."""
    folder = tmp_path / "studio"
    shutil.copytree(demo_folder, folder)
    store = Store(folder)
    yield store
    store.close()


@pytest.fixture
def shop(studio: Store, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Client, Counted]]:
    """A browser on the studio, whose gate has looked at the shop already, and the count of its readings."""
    counted = Counted(studio, monkeypatch)
    with Client(create_app(studio, Settings(studio.folder, demo=True))) as client:
        client.get("/stock")
        counted.opened = 0
        yield client, counted


def addresses() -> Iterator[str]:
    """An address of every page and every call that reads, with what it must be asked."""
    for route in (route for router in (*ROOMS, *APIS) for route in router.routes):
        if isinstance(route, APIRoute) and "GET" in route.methods:
            named = next((word for start, word in IN_PATHS.items() if start in route.path), "1")
            asked = {one.name: ASKED[one.name] for one in route.dependant.query_params if one.name in ASKED}
            yield re.sub(r"\{[^}]+\}", named, route.path) + ("?" + urlencode(asked) if asked else "")


def test_every_page_and_every_call_reads_the_shop_once(shop: tuple[Client, Counted]) -> None:
    client, counted = shop
    readings: dict[str, int] = {}
    for address in addresses():
        counted.opened = 0
        if client.get(address).status_code == 200:
            readings[address] = counted.opened
        assert counted.open == 0, f"{address} left its reading open"
    assert len(readings) > 110
    assert {address: times for address, times in readings.items() if times != 1} == {}


def test_a_write_waits_with_no_reading_open_and_a_refused_one_reads_anew(shop: tuple[Client, Counted]) -> None:
    client, counted = shop
    page = client.form("/stock/suppliers/new")
    counted.opened = 0
    answer = client.post("/stock/suppliers/new", {**page.fields, "name": ""})
    assert answer.status_code == 422
    assert counted.open_at_write == 0
    assert counted.opened == 2, "one for the form as it came, one for the page that is shown again"
    assert counted.open == 0


def test_a_call_that_writes_holds_no_reading_open(shop: tuple[Client, Counted]) -> None:
    client, counted = shop
    assert client.request("POST", "/api/suppliers", json={"name": "Wren Wire (invented)"}).status_code == 201
    assert (counted.open_at_write, counted.open) == (0, 0)


def test_a_form_that_came_too_late_is_shown_with_the_version_of_then(shop: tuple[Client, Counted]) -> None:
    client, counted = shop
    address = "/stock/suppliers/1/edit"
    page = client.form(address)
    other = {**page.fields, "note": "Closed in August"}

    def somebody_else() -> None:
        counted.meanwhile = None
        with counted.writing() as session:
            edit_supplier(
                session, 1, fit(read_supplier(RawForm(tuple(other.items())).raw())), version=int(page.fields["version"])
            )

    counted.meanwhile = somebody_else
    answer = client.post(address, {**page.fields, "note": "Closed in July"})
    assert answer.status_code == 409
    assert int(find_form(answer.text).fields["version"]) == int(page.fields["version"]) + 1


def test_nothing_of_the_shop_is_held_open_while_the_cheapest_packs_are_searched(
    shop: tuple[Client, Counted], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, counted = shop
    open_in_search: list[int] = []
    for module in (buying, buy_plan):

        def searched(*asked: Any, search: Callable[..., Any] = module.answer) -> Any:
            open_in_search.append(counted.open)
            return search(*asked)

        monkeypatch.setattr(module, "answer", searched)
    assert client.get("/buying?said=no-such-key").status_code == 200
    assert counted.opened == 1
    assert client.request("POST", "/api/buy-plan", json={}).status_code == 200
    assert open_in_search == [0, 0]
