"""How long a build takes to plan, start and finish, with 5,000 movements and with 500,000: medians of interleaved calls.

The design takes the busiest item, which has a tenth of all movements, and five others.
"""

from __future__ import annotations

import gc
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from statistics import median
from time import perf_counter

import pytest
from sqlalchemy import event
from sqlmodel import Session

from models.database import Store
from models.intake.builds.build import BuildRequest, FinishDraft, MadeDraft, StartDraft, TakeOutDraft, WorkDone
from models.operations.builds.finish import finish_build
from models.operations.builds.made import book_made
from models.operations.builds.start import start_build, take_out
from models.operations.figures import refresh_figures
from models.queries.builds.build import build_view
from models.queries.builds.list import build_list
from models.queries.builds.plan import plan_build
from tests.bench.ledger_generator import grow_shop
from tests.ledgers import DAY
from tests.shops import a_design, a_part

ROUNDS = 200
MOST_RATIO = 1.3
ITEMS = (1, 20, 30, 40, 50, 60)


@pytest.fixture(scope="module")
def shops(empty_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Store, Store]]:
    """The same shop with few and with many movements, and forty builds behind it."""
    stores = []
    for movements in (5_000, 500_000):
        folder = tmp_path_factory.mktemp(f"grown-{movements}") / "shop"
        shutil.copytree(empty_shop, folder)
        store = Store(folder)
        with store.writing() as session:
            grow_shop(session, movements=movements)
            a_design(session, [a_part(item_id, 6) for item_id in ITEMS])
            refresh_figures(session)
            for number in range(40):
                book_made(session, MadeDraft(BuildRequest(1), work=WorkDone((40 + number % 5) * 1000), made_on=DAY))
        stores.append(store)
    yield stores[0], stores[1]
    for store in stores:
        store.close()


def start(session: Session) -> int:
    return start_build(session, StartDraft(BuildRequest(1, 2), started_on=DAY)).build_id


def finish(session: Session) -> None:
    build_id = start(session)
    take_out(session, build_id, TakeOutDraft(taken_on=DAY))
    finish_build(session, build_id, FinishDraft(work=WorkDone(84_000), finished_on=DAY))


CALLS: dict[str, Callable[[Session], object]] = {
    "planning": lambda session: plan_build(session, BuildRequest(1, 2)),
    "starting": start,
    "starting, taking out and finishing": finish,
    "a build's page": lambda session: build_view(session, 1),
    "the list of builds": build_list,
}


@pytest.mark.parametrize("name", CALLS)
def test_a_hundred_times_the_movements_take_no_longer(shops: tuple[Store, Store], name: str) -> None:
    taken: tuple[list[float], list[float]] = ([], [])
    gc.collect()
    gc.freeze()
    for number in range(ROUNDS + 5):
        for store, times in zip(shops, taken, strict=True):
            with Session(store.engine, autoflush=True) as session:
                start_at = perf_counter()
                CALLS[name](session)
                if number >= 5:
                    times.append(perf_counter() - start_at)
                session.rollback()
    gc.unfreeze()
    few, many = median(taken[0]) * 1000, median(taken[1]) * 1000
    print(f"\n{name}: {few:.2f} ms with 5,000 movements, {many:.2f} ms with 500,000")  # noqa: T201
    assert many <= MOST_RATIO * few


@pytest.mark.parametrize("name", CALLS)
def test_no_plan_of_a_query_scans_the_movements(shops: tuple[Store, Store], name: str) -> None:
    seen: list[tuple[str, object]] = []

    def note(_connection: object, _cursor: object, statement: str, parameters: object, *_more: object) -> None:
        if statement.lstrip().upper().startswith("SELECT"):
            seen.append((statement, parameters))

    store = shops[1]
    event.listen(store.engine, "before_cursor_execute", note)
    try:
        with Session(store.engine, autoflush=True) as session:
            CALLS[name](session)
            session.rollback()
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
    assert seen
    with store.engine.connect() as connection:
        for statement, parameters in seen:
            rows = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)  # type: ignore[arg-type]
            plan = [row[3] for row in rows]
            assert not [line for line in plan if line.startswith(("SCAN movement", "SCAN act"))], (statement, plan)
