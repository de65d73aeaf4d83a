"""The pages of stock and builds with 5,000 movements and with 500,000: medians of interleaved calls, queries and plans."""

from __future__ import annotations

import gc
import re
import secrets
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import Any

import pytest
from sqlalchemy import event
from sqlmodel import Session, func, select

from models.database import Store
from models.operations.figures import refresh_figures
from models.tables import Movement
from tests.bench.ledger_generator import grow_shop
from tests.counting import queries_of
from tests.shops import a_design, a_part
from tests.web.conftest import Client
from webapp.app import create_app, freeze_start
from webapp.settings import Settings

ROUNDS = 200
WARM_UP = 5
MOST_RATIO = 1.3
FEW, MANY = 5_000, 500_000
# The busiest item, which has a tenth of all movements, and five usual ones.
PARTS = ((1, 40), (20, 12), (30, 12), (40, 4), (50, 2), (60, 1))


@dataclass
class Shop:
    """A grown shop, a browser on it, and the form that starts a build, as its page gives it."""

    store: Store
    client: Client
    start_fields: dict[str, Any] = field(default_factory=dict)

    def get(self, path: str) -> None:
        """Open a page."""
        answer = self.client.get(path)
        assert answer.status_code == 200, f"{path} answered {answer.status_code}"

    def start(self) -> str:
        """Start a build; answer its path."""
        answer = self.client.post("/builds/new", {**self.start_fields, "token": secrets.token_urlsafe(18)})
        assert answer.status_code == 303, answer.text[:2000]
        return str(answer.headers["location"].partition("?")[0])

    def ready_to_finish(self) -> tuple[str, dict[str, Any]]:
        """A build whose rings are taken out, and the form that books it in as it stands."""
        path = self.start()
        taken = self.client.submit(path, action=f"{path}/take-out")
        assert taken.status_code == 303, taken.text[:2000]
        return path, {**self.client.form(f"{path}/finish", f"{path}/finish").fields, "minutes": "42"}

    def finish(self, path: str, fields: dict[str, Any]) -> None:
        """Book a build in."""
        answer = self.client.post(f"{path}/finish", fields)
        assert answer.status_code == 303, answer.text[:2000]


def grown(folder: Path, movements: int) -> Store:
    """A shop of 500 items and 2,000 lots with so many movements, and a design of six parts."""
    store = Store(folder)
    with store.writing() as session:
        grow_shop(session, movements=movements)
        a_design(session, [a_part(item_id, quantity) for item_id, quantity in PARTS])
        refresh_figures(session)
    return store


@pytest.fixture(scope="module")
def shops(empty_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Shop, Shop]]:
    """The same shop with few and with many movements, each with a browser."""
    opened = []
    for movements in (FEW, MANY):
        folder = tmp_path_factory.mktemp(f"pages-{movements}") / "shop"
        shutil.copytree(empty_shop, folder)
        store = grown(folder, movements)
        client = Client(create_app(store, Settings(folder)))
        client.__enter__()
        shop = Shop(store, client)
        shop.start_fields = client.form("/builds/new?design_id=1&pieces=1", "/builds/new").fields
        opened.append(shop)
    # As at the start of a real server; without it the collector walks the whole test process again and again.
    freeze_start()
    yield opened[0], opened[1]
    gc.unfreeze()
    for shop in opened:
        shop.client.__exit__(None, None, None)


@dataclass(frozen=True)
class Call:
    """What is timed, and what must be there before it and is not."""

    act: Callable[[Shop, Any], object]
    before: Callable[[Shop], Any] = lambda _shop: None


def page(path: str) -> Call:
    return Call(lambda shop, _ready: shop.get(path))


CALLS: dict[str, Call] = {
    "the Stock page": page("/stock"),
    "the busiest item's page": page("/stock/items/1"),
    "a usual item's page": page("/stock/items/20"),
    "an item's history": page("/stock/items/1/history"),
    "the page that starts a build": page("/builds/new?design_id=1&pieces=1"),
    "starting a build": Call(lambda shop, _ready: shop.start()),
    "finishing a build": Call(lambda shop, ready: shop.finish(*ready), before=Shop.ready_to_finish),
}


# With 5,000 movements a usual item has nine, which do not fill its page: the two pages do not show the same.
TIMED = tuple(name for name in CALLS if name != "a usual item's page")


@pytest.mark.parametrize("name", TIMED)
def test_a_hundred_times_the_movements_take_no_longer(shops: tuple[Shop, Shop], name: str) -> None:
    taken: tuple[list[float], list[float]] = ([], [])
    gc.collect()
    for number in range(ROUNDS + WARM_UP):
        # By turns, so that neither shop always comes second.
        for place in (0, 1) if number % 2 else (1, 0):
            shop = shops[place]
            ready = CALLS[name].before(shop)
            began = perf_counter()
            CALLS[name].act(shop, ready)
            if number >= WARM_UP:
                taken[place].append(perf_counter() - began)
    few, many = median(taken[0]) * 1000, median(taken[1]) * 1000
    print(f"\n{name}: {few:.1f} ms with 5,000 movements, {many:.1f} ms with 500,000: {many / few:.2f} times")  # noqa: T201
    assert many <= MOST_RATIO * few


def test_the_shops_have_as_many_movements_as_they_should(shops: tuple[Shop, Shop]) -> None:
    for shop, least in zip(shops, (FEW, MANY), strict=True):
        with shop.store.reading() as session:
            count = session.exec(select(func.count()).select_from(Movement)).one()
            busiest = session.exec(select(func.count()).where(Movement.item_id == 1)).one()
        assert least <= count < least + 20_000
        assert busiest >= least // 10


@pytest.mark.parametrize("name", CALLS)
def test_query_counts_do_not_grow_with_the_movements(shops: tuple[Shop, Shop], name: str) -> None:
    counts = []
    for shop in shops:
        ready = CALLS[name].before(shop)
        with queries_of(shop.store) as seen:
            CALLS[name].act(shop, ready)
        counts.append(len(seen))
    print(f"\n{name}: {counts[1]} queries")  # noqa: T201
    # An item with hardly any history needs one look-up less for its graph; a hundred times as much needs no more.
    assert 0 <= counts[1] - counts[0] <= 1


@pytest.mark.parametrize("name", CALLS)
def test_no_query_scans_the_movements_or_the_acts(shops: tuple[Shop, Shop], name: str) -> None:
    shop = shops[1]
    asked: list[tuple[str, Any]] = []

    def note(_connection: Any, _cursor: Any, statement: str, parameters: Any, *_more: Any) -> None:
        if statement.lstrip().startswith(("SELECT", "WITH", "UPDATE", "DELETE")):
            asked.append((statement, parameters))

    ready = CALLS[name].before(shop)
    event.listen(shop.store.engine, "before_cursor_execute", note)
    try:
        CALLS[name].act(shop, ready)
    finally:
        event.remove(shop.store.engine, "before_cursor_execute", note)
    assert asked
    with Session(shop.store.engine) as session:
        for statement, parameters in asked:
            one = parameters[0] if isinstance(parameters, list) else parameters
            for step in session.connection().exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", one).all():
                assert not re.match(r"SCAN (movement|act)(_\d+)?\b", step[3]), (statement, step[3])
        session.rollback()
