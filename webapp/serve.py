"""The server around one shop: where it listens, what it says when it is ready, how it ends. No route lives here."""

from __future__ import annotations

import os
import signal
import socket
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace

import uvicorn

from models.database import Store
from webapp.app import create_app, settle
from webapp.settings import BadSetting, Settings, is_loopback

SECONDS_TO_FINISH = 5
"""How long a request that is under way at the end may take to be answered."""


class _Server(uvicorn.Server):
    """A server that tells when it is ready to be asked."""

    def __init__(self, config: uvicorn.Config, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._ready()


def refuse_open_host(host: str) -> None:
    """Refuse to listen where others could reach the shop, as nobody has to sign in yet. Raises `BadSetting`."""
    if not is_loopback(host):
        raise BadSetting(
            "host",
            f"Ringbench cannot ask who somebody is yet, so it answers on this machine only and not on '{host}'. "
            "Leave --host out, or say --host 127.0.0.1.",
        )


def serve_shop(store: Store, settings: Settings, say: Callable[[str], None]) -> None:
    """Answer for a prepared shop until the process is told to stop; `say` gets the address once it can be opened.

    Raises `BadSetting` for a host that is not this machine, or a port that is taken.
    """
    refuse_open_host(settings.host)
    listening = _listen(settings)
    settings = replace(settings, port=listening.getsockname()[1])
    config = uvicorn.Config(
        create_app(store, settings),
        http="h11",
        ws="none",
        lifespan="on",
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=SECONDS_TO_FINISH,
    )
    settle()
    # The server finishes its requests when it is told to stop, and then passes the signal on. By default that would end
    # the process on the spot, with a demo's folder left behind; as an exit it lets everybody tidy up.
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, lambda *_signal: sys.exit(0))
    with listening, suppress(KeyboardInterrupt):
        _Server(config, lambda: say(settings.address)).run(sockets=[listening])


def _listen(settings: Settings) -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.host.strip("[]") else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            # A server that was just stopped leaves its port waiting for a minute; elsewhere this means another thing.
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((settings.host.strip("[]"), settings.port))
    except OSError as taken:
        listening.close()
        raise BadSetting(
            "port",
            f"Port {settings.port} on {settings.host} cannot be used ({taken.strerror}). "
            "Choose another one with --port, or let --port 0 find a free one.",
        ) from taken
    return listening
