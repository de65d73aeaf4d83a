"""How fast three hundred designs are listed and kept fresh: medians of interleaved calls in one run, after a warm-up."""

from __future__ import annotations

import gc
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median
from time import perf_counter

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.operations.figures import refresh_figures, stale_figures
from models.operations.shop.shop import found_shop
from models.queries.bench import bench_page
from models.queries.designs.list import DesignFilter, design_list
from models.tables import DesignFigure, Item, Offer, PriceFigure
from tests.shops import a_design, a_listed_price, a_part, a_ring, an_outlet, counted
from tests.web.conftest import Client
from webapp.app import create_app, freeze_start
from webapp.pages.designs import designs as room
from webapp.settings import Settings

DESIGNS = 300
METALS = ("bronze-c220", "sterling-925", "niobium", "aluminium-5356")


def fill(session: Session, designs: int) -> None:
    """Forty rings, half of them bought by weight, four outlets, and designs of six parts, a third of them listed."""
    chance = random.Random(42)
    rings = [
        a_ring(
            session,
            name=f"Ring {n}",
            metal=METALS[n % 4],
            wire_nm=800_000 + 10_000 * n,
            pack=50 if n % 2 else 100,
            pack_unit="g" if n % 2 else "piece",
        )
        for n in range(40)
    ]
    outlets = [
        an_outlet(session, name="Web shop", fees=(("Selling", "6.5", "price+shipping", "0.20"),)),
        an_outlet(session, name="Market", kind="market", position=1, fees=(("Card", "1.7", "price", "0"),)),
        an_outlet(session, name="Gallery", kind="consignment", position=2, fees=(("Commission", "40", "price", "0"),)),
        an_outlet(session, name="Shops", kind="wholesale", position=3, fees=()),
    ]
    for number in range(designs):
        parts = [a_part(ring, chance.randint(4, 90)) for ring in chance.sample(rings, 6)]
        design = a_design(session, parts, name=f"Design {number}")
        if number % 3 == 0:
            a_listed_price(session, design, outlets[0], "48.00")
    refresh_figures(session)


def new_shop(folder: Path, designs: int) -> Store:
    store = Store(folder)
    store.prepare()
    with store.writing() as session:
        found_shop(session, name="Long list", currency="EUR")
        fill(session, designs)
    return store


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A shop of three hundred designs."""
    store = new_shop(tmp_path_factory.mktemp("long-list"), DESIGNS)
    yield store
    store.close()


def medians_ms(*calls: Callable[[], object], rounds: int) -> list[float]:
    """The median of each call in milliseconds, the calls interleaved so that a slow moment hits all of them."""
    taken: list[list[float]] = [[] for _ in calls]
    for call in calls:
        call()
    gc.collect()
    for _ in range(rounds):
        for each, call in zip(taken, calls, strict=True):
            start = perf_counter()
            call()
            each.append((perf_counter() - start) * 1000)
    return [median(each) for each in taken]


def test_the_list_of_300_designs_takes_at_most_3_times_as_long_as_300_ready_rows(
    shop: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    with shop.reading() as session:
        ready = design_list(session, DesignFilter())
    assert len(ready.rows) == DESIGNS
    assert all(row.total_micros and row.best for row in ready.rows)
    with Client(create_app(shop, Settings(shop.folder))) as client:
        # As at the start of a real server; without it the collector walks the whole test process again and again.
        freeze_start()

        def from_the_shop() -> None:
            monkeypatch.setattr(room, "design_list", design_list)
            assert client.get("/designs").status_code == 200

        def from_ready_rows() -> None:
            monkeypatch.setattr(room, "design_list", lambda _session, _asked: ready)
            assert client.get("/designs").status_code == 200

        shop_ms, ready_ms = medians_ms(from_the_shop, from_ready_rows, rounds=15)
        from_the_shop()
        shown = client.get("/designs").text
    gc.unfreeze()
    print(f"list of {DESIGNS} designs {shop_ms:.1f} ms, ready rows {ready_ms:.1f} ms: {shop_ms / ready_ms:.2f} times")  # noqa: T201
    assert shown.count("Design 2") > 100
    assert shop_ms < 3 * ready_ms


def test_one_metals_price_changed_over_300_designs_takes_under_2_seconds(shop: Store) -> None:
    def new_price() -> int:
        with shop.writing() as session:
            query = select(Offer).join(Item).where(Item.metal == METALS[0])
            for offer in session.exec(query):
                offer.price_micros += 10_000
            return refresh_figures(session)

    (taken_ms,) = medians_ms(new_price, rounds=3)
    print(f"one metal's price over {DESIGNS} designs {taken_ms:.0f} ms")  # noqa: T201
    assert taken_ms < 2000
    with shop.reading() as session:
        assert stale_figures(session) == ()
        assert len(session.exec(select(DesignFigure)).all()) == DESIGNS
        assert len(session.exec(select(PriceFigure)).all()) == DESIGNS * 4


def test_query_counts_do_not_grow_with_the_designs(shop: Store, tmp_path: Path) -> None:
    small = new_shop(tmp_path / "small", 3)

    def counts(store: Store) -> tuple[int, int, int]:
        with store.reading() as session:
            with counted(session) as listed:
                design_list(session, DesignFilter())
            with counted(session) as on_the_bench:
                bench_page(session)
        with store.writing() as session, counted(session) as refreshed:
            refresh_figures(session)
        return len(listed), len(on_the_bench), len(refreshed)

    few, many = counts(small), counts(shop)
    small.close()
    print(f"queries of the list, the Bench and a refresh: {many}")  # noqa: T201
    assert many == few
