"""The gate: every page and every call but signing in itself asks for a session or a key, once the shop has a password.

Plain ASGI. It also holds what pages need for it: the cookie, where to go after signing in, what a device is called.
"""

from __future__ import annotations

import re
from ipaddress import IPv6Address, IPv6Network
from urllib.parse import urlencode, urlsplit

from fastapi import Request
from sqlalchemy.exc import DatabaseError
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import cookie_parser
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from models.database import Store
from models.operations.shop.acting import acting_as
from models.operations.shop.clock import now
from models.operations.shop.sign_in import is_worth_keeping, seen
from models.queries.shop.sign_in import Visitor, visitor
from webapp.logs import logger
from webapp.network import as_address
from webapp.security import SAFE_METHODS, Refuse
from webapp.web.json_api import problem

SIGN_IN_PAGE = "/sign-in"
DEVICES_PAGE = "/settings/sign-in"
COOKIE_DAYS = 400
"""Longer than browsers keep a cookie; how long a session lasts is decided by the shop."""

NOT_GUARDED = (
    "This shop has no password any more, and it can be reached from the network, so nothing is shown. "
    "Set one with 'ringbench password' on the machine itself."
)
SIGN_IN_FIRST = "Sign in on the page /sign-in, or send a key made under Settings: Authorization: Bearer KEY."


class SignedInOnly:
    """Lets in who is signed in, sends others to the sign-in page, and keeps when a device was last seen."""

    def __init__(
        self, app: ASGIApp, store: Store, refuse: Refuse, *, cookie: str, open_shop: bool, only_here: bool
    ) -> None:
        """`open_shop` is a demo, where everybody is signed in; `only_here` a shop that only this machine can reach."""
        self.app = app
        self.store = store
        self.refuse = refuse
        self.cookie = cookie
        self.open_shop = open_shop
        self.only_here = only_here

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or self.open_shop or scope["path"].startswith("/static/"):
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        found = await run_in_threadpool(self._look, headers, scope["path"])
        scope.setdefault("state", {})["visitor"] = found
        if not found.guarded and not self.only_here:
            await self.refuse(scope, 403, NOT_GUARDED)(scope, receive, send)
            return
        if not found.may_enter and scope["path"] != SIGN_IN_PAGE:
            await self._stay_out(scope, headers)(scope, receive, send)
            return
        with acting_as(found.person_id):
            await self.app(scope, receive, send)
        if found.kind and is_worth_keeping(found.seen_at):
            # The answer has left already, so nobody waits for this.
            await run_in_threadpool(self._keep_seen, found)

    def _look(self, headers: Headers, path: str) -> Visitor:
        # A key opens calls only: on the pages a program could make itself keys that outlive it, or change the password.
        key = key_of(headers) if path.startswith("/api/") else ""
        with self.store.reading() as session:
            return visitor(session, token=token_of(headers, self.cookie), key=key, at=now())

    def _keep_seen(self, found: Visitor) -> None:
        try:
            with self.store.writing() as session:
                seen(session, kind=found.kind, visitor_id=found.id or 0)
        except (DatabaseError, OSError) as busy:
            # A write that another one holds up too long ends in a TimeoutError, which is an OSError.
            logger.info("when a device was last seen was not kept: %s", type(busy).__name__)

    def _stay_out(self, scope: Scope, headers: Headers) -> Response:
        path = scope["path"]
        if path.startswith("/api/") or path == "/openapi.json":
            answer = problem(401, SIGN_IN_FIRST)
            answer.headers["WWW-Authenticate"] = 'Bearer realm="Ringbench"'
            return answer
        if headers.get("hx-request") == "true":
            # A part of a page cannot become the sign-in page; the whole page goes there.
            whole = urlsplit(headers.get("hx-current-url", ""))
            return Response(
                status_code=401, headers={"HX-Redirect": sign_in_address(with_query(whole.path, whole.query))}
            )
        if scope["method"] in SAFE_METHODS:
            asked = with_query(path, scope.get("query_string", b"").decode("latin-1"))
            return RedirectResponse(sign_in_address(asked), status_code=303, headers={"Cache-Control": "no-store"})
        came_from = urlsplit(headers.get("referer", ""))
        return RedirectResponse(
            sign_in_address(with_query(came_from.path, came_from.query), unsent=True),
            status_code=303,
            headers={"Cache-Control": "no-store"},
        )


def visitor_of(request: Request) -> Visitor:
    """Who sends this request; nobody in particular where the gate stood open."""
    found = getattr(request.state, "visitor", None)
    return found if isinstance(found, Visitor) else Visitor(guarded=False)


def cookie_name(port: int) -> str:
    """The name of the cookie: browsers share cookies between the ports of a host, and each shop has its own."""
    return f"ringbench_{port}"


def token_of(headers: Headers, cookie: str) -> str:
    """The token of the session in the cookie; empty for none."""
    return cookie_parser(headers.get("cookie", "")).get(cookie, "")[:200]


def key_of(headers: Headers) -> str:
    """The key of a program in the Authorization header (RFC 6750); empty for none."""
    scheme, _, key = headers.get("authorization", "").partition(" ")
    return key.strip()[:200] if scheme.lower() == "bearer" else ""


def keep_cookie(answer: Response, request: Request, token: str) -> None:
    """Give the browser its session. It is sent over https only where the page itself came that way."""
    answer.set_cookie(
        request.app.state.cookie,
        token,
        max_age=COOKIE_DAYS * 24 * 3600,
        path="/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="lax",
    )


def drop_cookie(answer: Response, request: Request) -> None:
    """Take the session off the browser."""
    answer.delete_cookie(
        request.app.state.cookie, path="/", secure=request.url.scheme == "https", httponly=True, samesite="lax"
    )


def sign_in_address(next_path: str, *, unsent: bool = False) -> str:
    """The sign-in page, which goes on to a page of this shop afterwards."""
    asked = {"next": safe_next(next_path)} | ({"unsent": "1"} if unsent else {})
    return f"{SIGN_IN_PAGE}?{urlencode(asked)}"


def with_query(path: str, query: str) -> str:
    """A path with its query again."""
    return f"{path}?{query}" if query else path


def safe_next(asked: str) -> str:
    """Where to go after signing in: a page of this shop, else the first page. Never another site, nor sign-in again."""
    plain = asked.isprintable() and asked.isascii() and "\\" not in asked and len(asked) <= 2000
    if not plain or not asked.startswith("/") or asked.startswith("//"):
        return "/"
    try:
        parts = urlsplit(asked)
    except ValueError:
        return "/"
    outside = parts.scheme or parts.netloc or parts.path.startswith(("/api/", SIGN_IN_PAGE, "/sign-out", "/static/"))
    return "/" if outside else asked


_SYSTEMS = (
    ("Android", "Android"),
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Windows", "Windows"),
    ("CrOS", "Chromebook"),
    ("Macintosh", "Mac"),
    ("Linux", "Linux"),
)
_BROWSERS = (
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chrome"),
    ("Safari/", "Safari"),
)


def device_words(user_agent: str) -> str:
    """What a device says that it is, in a few words: 'Firefox on Android'."""
    system = next((word for mark, word in _SYSTEMS if mark in user_agent), "")
    browser = next((word for mark, word in _BROWSERS if mark in user_agent), "")
    if browser or system:
        return " on ".join(word for word in (browser or "A browser", system) if word)
    plain = re.sub(r"[^A-Za-z0-9 ./-]", "", user_agent).split("/")[0].strip()[:40]
    return plain or "A device without a name"


def address_of(scope: Scope) -> str:
    """The address that a try comes from; of a long one (IPv6) the half that a whole home shares."""
    client = scope.get("client")
    host = str(client[0]) if client else ""
    address = as_address(host.split("%")[0])
    if not isinstance(address, IPv6Address) or address.is_loopback:
        return host
    return str(address.ipv4_mapped or IPv6Network((address, 64), strict=False))
