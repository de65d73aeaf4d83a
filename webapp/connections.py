"""How long a connection may keep the server waiting, and how many may: what uvicorn leaves open.

A request's head must be whole soon, what is left of a refused body must end, and an answer must be taken. When there
are too many connections, the one that has kept the server waiting longest is closed, first of the address that has the
most; a request that is being answered never is. How long a body may take is decided in `bodies.py`.
"""

from __future__ import annotations

import asyncio
import sys
from collections import Counter
from typing import Any, cast

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 20
"""From the first moment of a connection, or the first byte of a further request, until its head is whole."""
REST_S = 60
"""For what is still on its way of a body that was refused; browsers show the answer only once all is sent."""
TAKE_S = 60
"""Without any progress in taking an answer."""
MOST_OF_ONE_ADDRESS = 64
"""Two browsers open a dozen at once, a program some more."""
MOST = 400
ACCEPTED_AT_ONCE = 64
"""Connections that are let in before the next one's turn to be counted comes."""


def most_connections() -> int:
    """How many connections may be open: fewer where the system allows few open files, which the shop needs too."""
    if sys.platform == "win32":
        return MOST
    import resource  # noqa: PLC0415  (not on every system)

    allowed, _hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    return MOST if allowed < 0 else max(ACCEPTED_AT_ONCE, min(MOST, allowed // 2 - ACCEPTED_AT_ONCE))


class TimelyProtocol(H11Protocol):
    """One connection, with an end to everything that the other side can draw out."""

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        self._late: asyncio.TimerHandle | None = None
        self._stuck: asyncio.TimerHandle | None = None
        self._waiting_for = ""
        self.waiting_since = self.loop.time()
        self._untaken = 0

    @property
    def address(self) -> str:
        """Where the connection comes from."""
        return str(self.client[0]) if self.client else ""

    @property
    def keeps_waiting(self) -> bool:
        """Whether it is the other side's turn: nothing of it is being answered."""
        return self.cycle is None or self.cycle.response_complete or self.cycle.more_body

    @property
    def has_begun(self) -> bool:
        """Whether a whole head has come, and its body is under way."""
        return self.cycle is not None and not self.cycle.response_complete

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Start the time of the first head, and make room."""
        super().connection_made(transport)
        self._watch()
        make_room(self, most_connections())

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop all times."""
        super().connection_lost(exc)
        for timer in (self._late, self._stuck):
            if timer is not None:
                timer.cancel()

    def data_received(self, data: bytes) -> None:
        """Take what came, and see what is waited for now."""
        super().data_received(data)
        self._watch()

    def on_response_complete(self) -> None:
        """An answer has left; what follows has a time of its own."""
        super().on_response_complete()
        self._watch()

    def pause_writing(self) -> None:
        """The other side takes no more for now."""
        super().pause_writing()
        self._untaken = self.transport.get_write_buffer_size()
        self._stuck = self.loop.call_later(TAKE_S, self._see_progress)

    def resume_writing(self) -> None:
        """The other side took what was there."""
        super().resume_writing()
        if self._stuck is not None:
            self._stuck.cancel()
            self._stuck = None

    def _watch(self) -> None:
        """Time what is waited for; a piece of it does not start the time anew."""
        if self.transport.is_closing():
            return
        waiting_for = ""
        if not self.has_begun:
            waiting_for = "rest" if self.conn.their_state is h11.SEND_BODY else "head"
        if waiting_for == self._waiting_for:
            return
        self._waiting_for = waiting_for
        self.waiting_since = self.loop.time()
        if self._late is not None:
            self._late.cancel()
            self._late = None
        if waiting_for:
            self._late = self.loop.call_later(REST_S if waiting_for == "rest" else HEAD_S, self._too_late)

    def _too_late(self) -> None:
        self.transport.abort()

    def _see_progress(self) -> None:
        left = self.transport.get_write_buffer_size()
        if left >= self._untaken:
            self.transport.abort()
            return
        self._untaken = left
        self._stuck = self.loop.call_later(TAKE_S, self._see_progress)


def make_room(new: TimelyProtocol, most: int) -> None:
    """Close the connection that waited longest where there are too many, of one address or of all."""
    others = [cast("TimelyProtocol", one) for one in new.connections if one is not new]
    by_address = Counter(one.address for one in [*others, new] if not one.transport.is_closing())
    if by_address[new.address] > MOST_OF_ONE_ADDRESS:
        crowded = new.address
    elif by_address.total() > most:
        crowded = by_address.most_common(1)[0][0]
    else:
        return
    waiting = [one for one in others if one.address == crowded and one.keeps_waiting and not one.transport.is_closing()]
    if waiting:
        # A body under way is worth more than a head that never came.
        min(waiting, key=lambda one: (one.has_begun, one.waiting_since)).transport.abort()
    elif by_address.total() > most:
        new.transport.abort()
