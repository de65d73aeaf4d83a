"""What is ready before the server says that it serves: nobody who opens the first page waits for it."""

from __future__ import annotations

import gc
import signal
import socket
from collections.abc import Iterator
from pathlib import Path

import jinja2
import pytest

from models.database import Store
from tests.web.conftest import Client
from webapp.app import create_app, warm_up
from webapp.network import this_machine
from webapp.pages.shop import choices
from webapp.serve import _Server, serve_shop
from webapp.settings import Settings
from webapp.web.render import environment, template_folder

pytestmark = pytest.mark.long

LISTS = (choices.currencies, choices._locales, choices._time_zones)


@pytest.fixture
def cold() -> Iterator[None]:
    """As a process is before anything was shown; the frozen collector is let go again."""
    environment.cache_clear()
    for made in LISTS:
        made.cache_clear()
    ended = signal.getsignal(signal.SIGTERM)
    yield
    signal.signal(signal.SIGTERM, ended)
    gc.unfreeze()


@pytest.mark.usefixtures("cold")
def test_no_template_is_compiled_while_somebody_waits(
    store: Store, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    warm_up(create_app(store, Settings(data_dir=store.folder)))
    compiled: list[str] = []
    compile_one = jinja2.Environment.compile
    monkeypatch.setattr(
        jinja2.Environment,
        "compile",
        lambda self, source, *more, **named: compiled.append(str(more)) or compile_one(self, source, *more, **named),
    )
    for path in ("/", "/stock", "/designs/new", "/builds", "/settings", "/stock/rings"):
        assert client.get(path).status_code == 200
    assert compiled == []
    assert all(made.cache_info().misses == 1 for made in LISTS)


@pytest.mark.usefixtures("cold")
def test_the_server_is_warm_before_it_says_that_it_serves(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    ready: list[int] = []

    def run(_self: object, sockets: list[socket.socket]) -> None:
        ready.append(len(environment().cache or ()))

    monkeypatch.setattr(_Server, "run", run)
    serve_shop(store, Settings(data_dir=tmp_path, port=0), lambda _addresses: None, this_machine())
    assert ready == [len(list(template_folder().rglob("*.html")))]
