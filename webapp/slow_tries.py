"""Tries at the password that come after many failed ones are answered late: slow enough that guessing is hopeless.

Nobody is kept out by it, and no thread waits. How long an address must wait by its own tries is in
`queries/shop/sign_in`. Plain ASGI, inside the gate.
"""

from __future__ import annotations

import asyncio
from collections import Counter

from starlette.concurrency import run_in_threadpool
from starlette.types import ASGIApp, Receive, Scope, Send

from models.database import Store
from models.operations.shop.clock import now
from models.queries.shop.sign_in import seconds_late
from webapp.security import Refuse
from webapp.sign_in import DEVICES_PAGE, SIGN_IN_PAGE, address_of

MOST_AT_ONCE = 4
"""Tries of one address that may be on their way together while they are slowed down."""
TOO_MANY = "There are too many tries at once from here. Wait 2 seconds, then try again."


class SlowTries:
    """Holds up what tries a password, where there were many failed tries lately."""

    def __init__(self, app: ASGIApp, store: Store, refuse: Refuse) -> None:
        self.app = app
        self.store = store
        self.refuse = refuse
        self._trying: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        tries = scope["type"] == "http" and scope["method"] == "POST" and scope["path"] in {SIGN_IN_PAGE, DEVICES_PAGE}
        address = address_of(scope) if tries else ""
        late_s = await run_in_threadpool(self._late, address) if tries else 0
        if not late_s:
            await self.app(scope, receive, send)
            return
        if self._trying[address] >= MOST_AT_ONCE:
            answer = self.refuse(scope, 429, TOO_MANY)
            answer.headers["Retry-After"] = str(late_s)
            await answer(scope, receive, send)
            return
        self._trying[address] += 1
        try:
            await asyncio.sleep(late_s)
            await self.app(scope, receive, send)
        finally:
            self._trying[address] -= 1
            self._trying += Counter()

    def _late(self, address: str) -> int:
        with self.store.reading() as session:
            return seconds_late(session, address, now())
