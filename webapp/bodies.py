"""What one request may carry, and how long it may take to arrive: the limits of every kind of route, in one place.

Plain ASGI, inside the gate: who is not signed in may send what signing in takes and no more. A body over its limit is
refused by its stated length before a byte is read, else as soon as too much has come. What a form or a JSON body may
hold in number stands with its reader (`web/forms.py`, `web/json_api.py`).
"""

from __future__ import annotations

import asyncio
import re
from dataclasses import dataclass

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from models.queries.shop.sign_in import Visitor
from webapp.security import Refuse

KILOBYTE = 1024
MEGABYTE = 1024 * KILOBYTE

GRACE_S = 30
SLOWEST_BYTES_A_SECOND = 2000
"""A phone at the edge of its network is faster; a photo of 10 MB may take an hour and a half."""
LONGEST_PAUSE_S = 60
"""However much has come: after such a pause nobody sends on."""

TOO_SLOW = "What was sent did not arrive in time, so nothing was changed. Try again where the network is better."


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of route: how much its body may hold, and what to say of one that holds more."""

    most_bytes: int
    what: str
    hint: str = "Send less at once."

    def too_large(self) -> str:
        """The words for a body over the limit."""
        most = self.most_bytes
        size = f"{most // MEGABYTE} MB" if most >= MEGABYTE else f"{most // KILOBYTE} KB"
        return f"What was sent is larger than {size}, the most for {self.what}. {self.hint}"


NOT_SIGNED_IN = Kind(8 * KILOBYTE, "who is not signed in", "Sign in first.")
FIRST_PAGE = Kind(64 * KILOBYTE, "the first page")
PAGE = Kind(MEGABYTE, "a page")
CALL = Kind(MEGABYTE, "a call", "Send it in several calls.")
LAID_OUT_CALL = Kind(4 * MEGABYTE, "a piece that is laid out")
LAID_OUT_PAGE = Kind(8 * MEGABYTE, "a piece that is laid out")
FILE = Kind(4 * MEGABYTE, "a file", "Send it in several files.")
# A photo straight from a phone can pass what a design keeps (10 MB); it must arrive to be refused beside its field,
# with everything else that was typed.
PHOTO = Kind(40 * MEGABYTE, "a design with its photo", "A smaller photo will do.")

LARGER: tuple[tuple[str, Kind], ...] = (
    (r"/designs(/preview|/[^/]+/edit)?", PHOTO),
    (r"/designs/([^/]+/rows|new/rows|rows/preview)", LAID_OUT_PAGE),
    (r"/settings/files/[^/]+(/take)?", FILE),
    (r"/api/layouts/count|/api/designs/[^/]+/layout", LAID_OUT_CALL),
    (r"/welcome", FIRST_PAGE),
)
"""The routes that take another body than their kind, by their whole path."""
_LARGER = tuple((re.compile(path), kind) for path, kind in LARGER)


def kind_of(scope: Scope) -> Kind:
    """What kind of body a request may have, by its path and by who sends it."""
    visitor = scope.get("state", {}).get("visitor")
    if isinstance(visitor, Visitor) and not visitor.may_enter:
        return NOT_SIGNED_IN
    path = str(scope["path"])
    for pattern, kind in _LARGER:
        if pattern.fullmatch(path):
            return kind
    return CALL if path.startswith("/api/") else PAGE


class BodyLimit:
    """Hands a body on as it comes, until it is too large for its route or too slow for any."""

    def __init__(self, app: ASGIApp, refuse: Refuse) -> None:
        self.app = app
        self.refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        kind = kind_of(scope)
        stated = Headers(scope=scope).get("content-length", "0")
        if not (stated.isascii() and stated.isdigit()):
            await self.refuse(scope, 400, "The stated length of what was sent is not a number.")(scope, receive, send)
            return
        if int(stated[:20]) > kind.most_bytes:
            await self.refuse(scope, 413, kind.too_large())(scope, receive, send)
            return
        await self.app(scope, _Arriving(receive, kind), send)


class _Arriving:
    """One body on its way in: its size and the time that was spent waiting for it."""

    def __init__(self, receive: Receive, kind: Kind) -> None:
        self._receive = receive
        self._kind = kind
        self._bytes = 0
        self._waited_s = 0.0
        self._whole = False

    async def __call__(self) -> Message:
        if self._whole:
            # Whoever asks now only wants to hear when the other side goes away.
            return await self._receive()
        message = await self._next()
        if message["type"] == "http.request":
            self._bytes += len(message.get("body", b""))
            self._whole = not message.get("more_body", False)
        if self._bytes > self._kind.most_bytes:
            raise HTTPException(413, self._kind.too_large())
        return message

    async def _next(self) -> Message:
        # Only waiting counts: while the program itself is busy, nobody out there is slow.
        left_s = GRACE_S + self._bytes / SLOWEST_BYTES_A_SECOND - self._waited_s
        clock = asyncio.get_running_loop().time
        began = clock()
        try:
            async with asyncio.timeout(max(0.0, min(left_s, LONGEST_PAUSE_S))):
                return await self._receive()
        except TimeoutError as late:
            raise HTTPException(408, TOO_SLOW, headers={"Connection": "close"}) from late
        finally:
            self._waited_s += clock() - began
