"""How long stock takes to read and to book, with 5,000 movements and with 500,000: medians of interleaved calls."""

from __future__ import annotations

import gc
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter

import pytest
from sqlmodel import Session

from models.database import Store
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.operations.stock.count import count_bag
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.operations.undo import undo_act
from models.queries.stock.bag_choice import pick
from models.queries.stock.balance import balances, low_items, shelf_value
from models.queries.stock.ledger import history_points, item_history
from models.queries.stock.lot import drawer, lots_of
from tests.bench.ledger_generator import grow_shop
from tests.ledgers import DAY

ROUNDS = 200
MOST_RATIO = 1.3
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def shops(empty_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, Store]]:
    """The same shop with few and with many movements."""
    stores = []
    for movements in (5_000, 500_000):
        folder = tmp_path_factory.mktemp(f"grown-{movements}") / "shop"
        shutil.copytree(empty_shop, folder)
        store = Store(folder)
        with store.writing() as session:
            grow_shop(session, movements=movements)
        stores.append(store)
    yield stores[0], stores[1]
    for store in stores:
        store.close()


def take_and_take_back(session: Session) -> None:
    """A build of six lines taken out of the busiest item's neighbours, then taken back."""
    postings = [
        Posting(bag.lot_id, bag.place, "issue", -12_000)
        for item_id in (1, 20, 30, 40, 50, 60)
        for bag in pick(session, item_id, 12_000).takings
    ]
    undo_act(session, post(session, TransactionHeader("take_out", DAY), postings).act_id)


def count_one(session: Session) -> None:
    undo_act(session, count_bag(session, CountDraft(HowMuch(milli=5_000), lot_id=1)).act_id)


CALLS: dict[str, Callable[[Session], object]] = {
    "the list of stock": lambda session: (balances(session), low_items(session), shelf_value(session)),
    "an item's page": lambda session: (
        balances(session, [1]),
        lots_of(session, [1]),
        item_history(session, 1),
        history_points(session, 1, since=NOON - timedelta(days=365), until=NOON),
    ),
    "a drawer": lambda session: drawer(session, "drawer B1"),
    "taking out": take_and_take_back,
    "counting": count_one,
}


@pytest.mark.parametrize("name", CALLS)
def test_a_hundred_times_the_movements_take_no_longer(shops: tuple[Store, Store], name: str) -> None:
    taken: tuple[list[float], list[float]] = ([], [])
    gc.collect()
    gc.freeze()
    for number in range(ROUNDS + 5):
        for store, times in zip(shops, taken, strict=True):
            with Session(store.engine, autoflush=True) as session:
                start = perf_counter()
                CALLS[name](session)
                if number >= 5:
                    times.append(perf_counter() - start)
                session.rollback()
    gc.unfreeze()
    few, many = median(taken[0]) * 1000, median(taken[1]) * 1000
    print(f"\n{name}: {few:.2f} ms with 5,000 movements, {many:.2f} ms with 500,000")  # noqa: T201
    assert many <= MOST_RATIO * few
