"""One reading a request: all that an answer shows is read in one session, so that it shows one state of the shop."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from sqlmodel import Session
from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Message, Receive, Scope, Send


@dataclass(frozen=True, slots=True)
class _Opened:
    """A session with what closes it."""

    session: Session
    closing: AbstractContextManager[Session]


def reading(request: Request) -> Session:
    """The session in which this request reads, opened by whoever reads first; `OneReading` closes it."""
    opened = getattr(request.state, "reading", None)
    if not isinstance(opened, _Opened):
        closing = request.app.state.store.reading()
        opened = request.state.reading = _Opened(closing.__enter__(), closing)
    return opened.session


def end_reading(request: Request) -> None:
    """Close what was read so far: nothing is held open while a write waits for its turn, or a search runs."""
    _close(request.scope.get("state", {}))


def read_anew(request: Request) -> None:
    """Read what is shown after a refused write as the shop is now, the preferences too."""
    end_reading(request)
    request.scope.get("state", {}).pop("prefs", None)


class OneReading:
    """Middleware that closes the reading of a request once its answer is made, before it leaves."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        state = scope.setdefault("state", {})

        async def send_when_closed(message: Message) -> None:
            await _close_aside(state)
            await send(message)

        try:
            await self.app(scope, receive, send_when_closed)
        finally:
            await _close_aside(state)


async def _close_aside(state: dict[str, Any]) -> None:
    if "reading" in state:
        await run_in_threadpool(_close, state)


def _close(state: dict[str, Any]) -> None:
    opened = state.pop("reading", None)
    if isinstance(opened, _Opened):
        opened.closing.__exit__(None, None, None)
