"""The app factory: one store, one set of settings, the rooms and the API around them. No route lives here."""

from __future__ import annotations

import gc
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.responses import Response
from starlette.routing import BaseRoute

from models.database import Store
from models.operations.shop.photo_sweep import why_none_is_swept
from models.queries.shop.shop import display_prefs
from webapp import VERSION
from webapp.api import APIS
from webapp.bodies import BodyLimit
from webapp.first_start import FirstStart
from webapp.logs import RequestLog, logger, start_log, stop_log
from webapp.network import Reach, this_machine
from webapp.pages import FINDER_PATH, ROOM_LINKS, ROOMS
from webapp.pages.shop import choices
from webapp.planner import Planner
from webapp.security import KnownHosts, SameSite, SecurityHeaders
from webapp.settings import Settings
from webapp.sign_in import SignedInOnly, cookie_name
from webapp.slow_tries import SlowTries
from webapp.web import error_pages as refusals
from webapp.web.reading import OneReading
from webapp.web.render import environment
from webapp.work_limit import WorkLimit

STATIC_FOLDER = Path(__file__).parent / "static"


class AlwaysFresh(StaticFiles):
    """Static files that a browser keeps but asks about, so that an upgrade never meets the style sheet of yesterday."""

    def file_response(self, *args: Any, **kwargs: Any) -> Response:
        """The file, or 304 when the browser has it."""
        answer = super().file_response(*args, **kwargs)
        answer.headers["Cache-Control"] = "no-cache"
        return answer


def create_app(store: Store, settings: Settings, reach: Reach | None = None) -> FastAPI:
    """Build the web face of one shop, whose store is prepared; without `reach` only this machine is answered."""
    reach = reach or this_machine()
    planner = Planner(store)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        log = start_log(settings.data_dir / "logs", settings.log_level)
        for words in (*store.notices, why_none_is_swept(store.folder)):
            if words:
                logger.warning("%s", words)
        environment()
        try:
            yield
        finally:
            planner.close()
            stop_log(log)
            store.close()

    # The usual documentation pages load scripts from elsewhere; the description itself stays.
    app = FastAPI(
        title="Ringbench",
        version=VERSION,
        summary="Costs, ring stock, builds and orders of a chainmaille studio.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/openapi.json",
        lifespan=lifespan,
    )
    app.state.store = store
    app.state.settings = settings
    app.state.planner = planner
    app.state.room_links = tuple(ROOM_LINKS)
    app.state.finder_path = FINDER_PATH
    app.state.cookie = cookie_name(settings.port)
    app.state.addresses = () if reach.only_here else reach.addresses(settings.port)
    app.mount("/static", AlwaysFresh(directory=STATIC_FOLDER), name="static")
    app.router.routes.extend(_routes())
    refusals.install(app)

    # The last one added stands outermost. How much may be sent rests on who sends it, so the gate stands before it.
    app.add_middleware(OneReading)
    app.add_middleware(WorkLimit)
    app.add_middleware(BodyLimit, refuse=refusals.refuse)
    if not settings.demo:
        app.add_middleware(SlowTries, store=store, refuse=refusals.refuse)
    app.add_middleware(
        SignedInOnly,
        store=store,
        refuse=refusals.refuse,
        cookie=cookie_name(settings.port),
        open_shop=settings.demo,
        only_here=reach.only_here,
    )
    app.add_middleware(FirstStart, store=store, refuse=refusals.refuse)
    app.add_middleware(SameSite, refuse=refusals.refuse)
    app.add_middleware(KnownHosts, known=reach.knows, refuse=refusals.refuse)
    app.add_middleware(RequestLog)
    app.add_middleware(SecurityHeaders)
    return app


@lru_cache(maxsize=1)
def _routes() -> tuple[BaseRoute, ...]:
    """The routes of every room and every call, the same for each shop: what a request may hold is worked out once."""
    house = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)
    for router in ROOMS:
        house.include_router(router, include_in_schema=False)
    for router in APIS:
        house.include_router(router)
    return tuple(house.router.routes)


def warm_up(app: FastAPI) -> None:
    """Call once before serving: what the first who opens a page would wait for is done already.

    Every template is compiled, the routes are laid out, the long lists of the settings are put into words, and the shop
    was read once.
    """
    pages = environment()
    for name in pages.list_templates(extensions=["html"]):
        pages.get_template(name)
    choices.put_into_words()
    # A route works out what it takes when it is first asked whether a request is its own.
    for route in app.router.routes:
        route.matches({"type": "http", "method": "GET", "path": "/", "root_path": "", "headers": []})
    with app.state.store.reading() as session:
        display_prefs(session)


COLLECT_AFTER = 20_000
"""So many more objects than were let go start a collection."""


def freeze_start() -> None:
    """Call once before serving: what start-up made stays for good, and frozen the collector walks it no more."""
    environment()
    gc.collect()
    gc.freeze()
    # A file of thousands of lines makes objects that all live until it is answered: looking through them after every
    # 700 new ones costs a fifth of its time and finds nothing.
    gc.set_threshold(COLLECT_AFTER, 20, 20)
