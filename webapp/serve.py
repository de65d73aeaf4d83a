"""The server around one shop: where it listens, what it says when it is ready, how it ends. No route lives here."""

from __future__ import annotations

import errno
import os
import signal
import socket
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace

import uvicorn
from starlette.types import ASGIApp

from models.database import Store
from webapp.app import create_app, freeze_start, warm_up
from webapp.connections import ACCEPTED_AT_ONCE, TimelyProtocol
from webapp.network import Reach, home_network, this_machine
from webapp.settings import BadSetting, Settings, is_loopback

WAITING_AT_THE_DOOR = 1024
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
            # The system may keep more waiting at the door than the loop lets in at a time.
            for listening in sockets or ():
                listening.listen(WAITING_AT_THE_DOOR)
            self._ready()


def reach_of(settings: Settings, *, asks: bool) -> Reach:
    """Where the shop may listen; `asks` says whether it has a password to ask for.

    Raises `BadSetting` for a network while everybody would be let in, and for a host that is no home network's.
    """
    if is_loopback(settings.host):
        return this_machine(settings.host)
    if settings.demo:
        raise BadSetting(
            "host",
            f"The demo lets everybody in, so it answers on this machine only and not on '{settings.host}'. "
            "Leave --host out, or say --host 127.0.0.1.",
        )
    if not asks:
        raise BadSetting(
            "host",
            f"This shop has no password, so it answers on this machine only and not on '{settings.host}'. "
            "Set one with 'ringbench password', or in the browser under Settings; or leave --host out.",
        )
    return home_network(settings.host)


def serve_shop(store: Store, settings: Settings, say: Callable[[tuple[str, ...]], None], reach: Reach) -> None:
    """Answer for a prepared shop until the process is told to stop; `say` gets its addresses once they can be opened.

    Raises `BadSetting` for a port that is taken, or an address that is not this machine's.
    """
    listening = _listen(settings, reach.bind)
    settings = replace(settings, port=listening.getsockname()[1])
    app = create_app(store, settings, reach)
    config = server_config(app)
    warm_up(app)
    freeze_start()
    # The server finishes its requests when it is told to stop, and then passes the signal on. By default that would end
    # the process on the spot, with a demo's folder left behind; as an exit it lets everybody tidy up.
    if threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGTERM, lambda *_signal: sys.exit(0))
    with listening, suppress(KeyboardInterrupt):
        _Server(config, lambda: say(reach.addresses(settings.port))).run(sockets=[listening])


def server_config(app: ASGIApp) -> uvicorn.Config:
    """How every server of this program treats its connections."""
    return uvicorn.Config(
        app,
        http=TimelyProtocol,
        ws="none",
        lifespan="on",
        log_config=None,
        access_log=False,
        server_header=False,
        backlog=ACCEPTED_AT_ONCE,
        timeout_graceful_shutdown=SECONDS_TO_FINISH,
    )


def _listen(settings: Settings, bind: str) -> socket.socket:
    family = socket.AF_INET6 if ":" in bind else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            # A server that was just stopped leaves its port waiting for a minute; elsewhere this means another thing.
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((bind, settings.port))
    except OSError as taken:
        listening.close()
        if taken.errno == errno.EADDRNOTAVAIL:
            raise BadSetting(
                "host", f"'{settings.host}' is not an address of this machine. Give one that it has in the network."
            ) from taken
        raise BadSetting(
            "port",
            f"Port {settings.port} on {settings.host} cannot be used ({taken.strerror}). "
            "Choose another one with --port, or let --port 0 find a free one.",
        ) from taken
    return listening
