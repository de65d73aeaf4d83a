"""How long one request may work: its processor time is asked for in the long loops, and work past the limit is stopped.

The limit is for what nobody thought of: what is known to be too large is refused before, in
`models/layouts/engine/limits`.
"""

from __future__ import annotations

import threading
from time import thread_time

from starlette.types import ASGIApp, Receive, Scope, Send

from models.errors import WorkedTooLong
from models.trade.breaks import asking

MOST_WORK_S = 10.0
"""Processor time that a request may take in one thread, in seconds, from where it first asks."""


class WorkLimit:
    """Middleware that gives every request its own account of processor time."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        with asking(_Account().ask):
            await self.app(scope, receive, send)


class _Account:
    """The processor time of one request, thread by thread; waiting for others costs nothing."""

    def __init__(self) -> None:
        self._begun: dict[int, float] = {}

    def ask(self) -> None:
        """Raises: WorkedTooLong once a thread has worked past the limit."""
        now = thread_time()
        begun = self._begun.setdefault(threading.get_ident(), now)
        if now - begun > MOST_WORK_S:
            raise WorkedTooLong(MOST_WORK_S)
