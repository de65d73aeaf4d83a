"""A real Chromium against a real server of the invented studio, on a free loopback port.

Where no Chromium is installed these tests skip and say so; with RINGBENCH_REQUIRE_BROWSER set they fail instead.
"""

from __future__ import annotations

import os
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Error, Page

from models.database import Store
from webapp.app import create_app
from webapp.settings import Settings

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)
DESKTOP = {"width": 1280, "height": 800}
PHONE = {"width": 390, "height": 844}


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args: dict[str, Any]) -> dict[str, Any]:
    """The Chromium that the system has; a browser that a test tool brings along is never downloaded."""
    if CHROMIUM is None:
        reason = "no Chromium is installed (Debian: apt-get install chromium)"
        if os.environ.get("RINGBENCH_REQUIRE_BROWSER"):
            pytest.fail(f"browser tests are required here, but {reason}")
        pytest.skip(reason)
    return {**browser_type_launch_args, "executable_path": CHROMIUM}


@dataclass
class Served:
    """A running server: its address and its store."""

    address: str
    store: Store
    stop: Callable[[], None] = field(repr=False)


def serve_folder(folder: Path, *, demo: bool = True) -> Served:
    """Serve a prepared shop folder on a free loopback port from a thread of this process."""
    store = Store(folder)
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    app = create_app(store, Settings(data_dir=folder, port=port, demo=demo))
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_level="error", lifespan="on"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    deadline = time.monotonic() + 15
    while not server.started:
        if time.monotonic() > deadline:
            raise RuntimeError("the server did not start within 15 s")
        time.sleep(0.02)

    def stop() -> None:
        server.should_exit = True
        thread.join(timeout=15)
        store.close()

    return Served(f"http://127.0.0.1:{port}", store, stop)


@pytest.fixture
def studio(demo_folder: Path, tmp_path: Path) -> Iterator[Served]:
    """A running server with a fresh copy of the invented studio."""
    folder = tmp_path / "shop"
    shutil.copytree(demo_folder, folder)
    served = serve_folder(folder)
    yield served
    served.stop()


@pytest.fixture(params=["desktop", pytest.param("phone", marks=pytest.mark.sweep)])
def screen(request: pytest.FixtureRequest, browser: Browser, studio: Served) -> Iterator[Page]:
    """A page on a desktop, and on the long walk on a phone; any script error or refused resource fails the test when it ends."""
    phone = request.param == "phone"
    context: BrowserContext = browser.new_context(
        base_url=studio.address, viewport=PHONE if phone else DESKTOP, has_touch=phone
    )
    page = context.new_page()
    troubles: list[str] = []

    def heard(message: ConsoleMessage) -> None:
        # A refused form answers 422 on purpose, and Chromium reports every such answer on the console.
        # htmx reports an answer that nobody waits for any more, since a newer one was asked for, the same way.
        usual = "status of 422" in message.text or message.text.startswith(("htmx:sendAbort", "htmx:afterRequest"))
        if message.type == "error" and not usual:
            troubles.append(message.text)

    def threw(error: Error) -> None:
        troubles.append(str(error))

    page.on("console", heard)
    page.on("pageerror", threw)
    yield page
    context.close()
    assert troubles == []


def stays_in_width(page: Page) -> bool:
    """Whether nothing scrolls sideways."""
    return bool(page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth"))
