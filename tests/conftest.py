"""Fixtures for every kind of test: an empty shop folder with its tables, made once and copied."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import is_hypothesis_test
from sqlalchemy import Engine

from models import database
from models.database import Store
from models.operations.demo import found_demo
from models.operations.shop.shop import found_shop
from tests.budget import register_profiles

register_profiles()

BROWSER = Path(__file__).parent / "browser"

prepare_connection = database._prepare_connection


def prepare_quickly(connection: sqlite3.Connection, record: object) -> None:
    """As the shop does, but in this process nobody waits until the disk has it: no test cuts the power of its own machine.

    Programs that tests start, and those that are killed, wait as they do everywhere.
    """
    prepare_connection(connection, record)
    connection.execute("PRAGMA synchronous=OFF")


database._prepare_connection = prepare_quickly


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what draws its cases from Hypothesis, and what opens a real browser, so that the long run finds them all."""
    for item in items:
        if item.path.is_relative_to(BROWSER) and not item.get_closest_marker("sweep"):
            item.add_marker("long")
        if isinstance(item, pytest.Function) and is_hypothesis_test(item.obj):
            item.add_marker("property")


@pytest.fixture(scope="session")
def empty_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A migrated and founded shop folder that tests copy; never opened by a test itself."""
    folder = tmp_path_factory.mktemp("empty-shop")
    store = Store(folder)
    store.prepare()
    with store.writing() as session:
        found_shop(session, name="Test bench", currency="EUR")
    store.close()
    return folder


@pytest.fixture(scope="session")
def demo_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented studio, founded once; tests copy it, or only read it."""
    folder = tmp_path_factory.mktemp("demo") / "shop"
    store = Store(folder)
    store.prepare()
    with store.writing() as session:
        found_demo(session)
    store.close()
    return folder


@pytest.fixture
def store(empty_shop: Path, tmp_path: Path) -> Iterator[Store]:
    """A fresh shop of one test, on a real SQLite file."""
    folder = tmp_path / "shop"
    shutil.copytree(empty_shop, folder)
    fresh = Store(folder)
    yield fresh
    fresh.close()


def _knowing_statements(made: Callable[[Store], Engine]) -> Callable[[Store], Engine]:
    """Engines as the shop makes them, but what one shop of this process has compiled is not compiled for the next.

    A statement is kept by its dialect, so the engines of one kind share theirs.
    """
    first: dict[str, Engine] = {}

    def make(store: Store) -> Engine:
        engine = made(store)
        known = first.setdefault(engine.dialect.name, engine)
        engine.dialect, engine._compiled_cache = known.dialect, known._compiled_cache
        return engine

    return make


Store._engine = _knowing_statements(Store._engine)  # type: ignore[method-assign]
Store._engine_of_copies = _knowing_statements(Store._engine_of_copies)  # type: ignore[method-assign]
