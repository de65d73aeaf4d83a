"""Real servers for tests: a process of its own on a free loopback port, or a thread of this one. No test lives here."""

from __future__ import annotations

import os
import re
import secrets
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx
import uvicorn

from models.database import Store
from webapp.app import create_app
from webapp.serve import server_config
from webapp.settings import Settings

TOP = Path(__file__).parents[1]


class Server(subprocess.Popen[str]):
    """A server that was started, and what it had said when its address was there."""

    said = ""


@contextmanager
def running(*words: object, env: dict[str, str] | None = None, at: str = "127.0.0.1") -> Iterator[tuple[str, Server]]:
    """The command line in a process of its own, with the address that it printed; it is killed at the end."""
    process = Server(
        [sys.executable, "-W", "error::ResourceWarning", "-m", "webapp", *(str(word) for word in words)],
        cwd=TOP,
        env={**os.environ, **(env or {})},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    said = ""
    try:
        assert process.stdout is not None
        for line in process.stdout:
            said += line
            found = re.search(rf"http://{re.escape(at)}:(\d+)/", line)
            if found:
                break
        else:
            raise AssertionError(f"no address was printed: {said}")
        process.said = said
        yield found[0], process
    finally:
        process.kill()
        process.wait()
        assert process.stdout is not None
        process.stdout.close()


def command(*words: object) -> subprocess.CompletedProcess[str]:
    """A command of the command line that ends by itself."""
    line = [sys.executable, "-m", "webapp", *(str(word) for word in words)]
    return subprocess.run(line, cwd=TOP, capture_output=True, text=True, timeout=120, check=False)


@contextmanager
def in_a_thread(folder: Path) -> Iterator[str]:
    """A server over a shop folder in a thread of this process, with a store of its own; answers its address."""
    store = Store(folder)
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        port = listening.getsockname()[1]
        app = create_app(store, Settings(folder, port=port))
        server = uvicorn.Server(server_config(app))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        deadline = time.monotonic() + 20
        while not server.started:
            assert time.monotonic() < deadline, "the server did not start within 20 s"
            time.sleep(0.01)
        address = f"http://127.0.0.1:{port}/"
        # An app works out its routes when it is first asked, by means that two threads of one process cannot share.
        assert httpx.get(f"{address}no-such-page", timeout=60).status_code in {303, 404}
        try:
            yield address
        finally:
            server.should_exit = True
            thread.join(timeout=20)
            store.close()


@dataclass(frozen=True)
class Booking:
    """One form that takes rings out of a bag, with its one-time token; sent again it must not act again."""

    rings: int
    item_id: int
    lot_id: int
    place: str
    token: str = field(default_factory=lambda: secrets.token_urlsafe(18))

    @property
    def mark(self) -> str:
        """What its note says, so that it is found again in the history."""
        return f"mark {self.token}"

    def send(self, client: httpx.Client) -> httpx.Response:
        """Send it as the page does; 303 means that it is kept."""
        fields = {
            "token": self.token,
            "item_id": self.item_id,
            "bag": f"{self.lot_id}:{self.place}",
            "quantity": self.rings,
            "reason": "lost",
            "note": self.mark,
        }
        return client.post("/stock/take-out", data=fields)
