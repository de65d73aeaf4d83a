"""A shop that has no settings yet answers with its first page, whatever was asked for."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from models.database import Store
from models.queries.shop.shop import is_founded
from webapp.security import Refuse

FIRST_PAGE = "/welcome"
OPEN_PATHS = (FIRST_PAGE, "/static/", "/openapi.json")


class FirstStart:
    """Sends pages to the first page until the shop is founded, and refuses the API; then it stands aside for good."""

    def __init__(self, app: ASGIApp, store: Store, refuse: Refuse) -> None:
        self.app = app
        self.store = store
        self.refuse = refuse
        self.founded = False

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if self.founded or scope["type"] != "http" or scope["path"].startswith(OPEN_PATHS):
            await self.app(scope, receive, send)
            return
        self.founded = await run_in_threadpool(self._look)
        if self.founded:
            await self.app(scope, receive, send)
            return
        await self._not_yet(scope)(scope, receive, send)

    def _look(self) -> bool:
        with self.store.reading() as session:
            return is_founded(session)

    def _not_yet(self, scope: Scope) -> Response:
        if scope["path"].startswith("/api/"):
            return self.refuse(
                scope, 409, "This shop is not set up yet. Open its first page in a browser and set it up."
            )
        return RedirectResponse(FIRST_PAGE, status_code=303)
