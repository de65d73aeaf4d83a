"""Fixtures for every kind of test: an empty shop folder with its tables, made once and copied."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from models.database import Store
from models.operations.demo import found_demo
from models.operations.shop.shop import found_shop

settings.register_profile(
    "plain", max_examples=40, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("plain")


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
