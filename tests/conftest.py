"""Fixtures for every kind of test: an empty shop folder with its tables, made once and copied."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import is_hypothesis_test

from models import database
from models.database import Store
from models.operations.demo import found_demo
from models.operations.shop.shop import found_shop
from tests.budget import register_profiles

register_profiles()

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
    """Mark what draws its cases from Hypothesis, so that the long run finds every such test by itself."""
    for item in items:
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
