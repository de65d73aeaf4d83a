"""What stands between the network and the pages: host names, cross-site posts, headers of every answer.

Plain ASGI, a few lines each. Who may sign in and how much may be sent do not live here.
"""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from webapp.network import is_same_address

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})
DEFAULT_PORTS = {"http": 80, "https": 443}

CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' data: blob:",
        "font-src 'self'",
        "connect-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
}

Refuse = Callable[[Scope, int, str], Response]
"""Builds the answer to a refused request: a page, or problem details under /api."""


def add_headers(headers: MutableHeaders) -> None:
    """Put the security headers on an answer; a value that a route set itself is kept."""
    for name, value in HEADERS.items():
        headers.setdefault(name, value)


class SecurityHeaders:
    """Every answer carries the content policy and its companions."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                add_headers(MutableHeaders(scope=message))
            await send(message)

        await self.app(scope, receive, with_headers if scope["type"] == "http" else send)


class KnownHosts:
    """Only names that mean this shop are answered, so that a foreign name cannot be pointed at it (DNS rebinding)."""

    def __init__(self, app: ASGIApp, known: Callable[[str], bool], refuse: Refuse) -> None:
        self.app = app
        self.known = known
        self.refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] not in {"http", "websocket"}:
            await self.app(scope, receive, send)
            return
        host = host_name(Headers(scope=scope).get("host", ""))
        # The address that the connection came in by is ours, also when the network gave it to us a moment ago.
        came_in_by = str((scope.get("server") or ("",))[0])
        if host and (self.known(host) or is_same_address(host, came_in_by)):
            await self.app(scope, receive, send)
            return
        words = "This address is not one that this shop answers to. Open it under the address that it printed at start."
        await self.refuse(scope, 421, words)(scope, receive, send)


class SameSite:
    """A write must come from a page of this very site; browsers say where a post comes from, and we believe them."""

    def __init__(self, app: ASGIApp, refuse: Refuse) -> None:
        self.app = app
        self.refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in SAFE_METHODS or comes_from_here(Headers(scope=scope)):
            await self.app(scope, receive, send)
            return
        words = (
            "This was sent from a page of another site, so nothing was changed. Open the page here and send it again."
        )
        await self.refuse(scope, 403, words)(scope, receive, send)


def comes_from_here(headers: Headers) -> bool:
    """Whether a write comes from this site's own page, or from a program that is not a browser.

    Sec-Fetch-Site decides where the browser sends it; on plain HTTP in a home network it does not, so Origin and then
    Referer are checked against Host. A request with none of them was not sent by a browser's page.
    """
    fetch_site = headers.get("sec-fetch-site")
    if fetch_site is not None and fetch_site not in {"same-origin", "none"}:
        return False
    source = headers.get("origin", headers.get("referer"))
    return source is None or same_authority(source, headers.get("host", ""))


def same_authority(url: str, host: str) -> bool:
    """Whether a URL points at this host and port (the default port of its scheme may be left out)."""
    try:
        source = urlsplit(url)
        default = DEFAULT_PORTS[source.scheme]
        target = urlsplit(f"{source.scheme}://{host}")
        here = (target.hostname, target.port or default)
        return bool(source.hostname) and (source.hostname, source.port or default) == here
    except (KeyError, ValueError):
        return False


def host_name(host: str) -> str:
    """The name in a Host header, without port or brackets; empty when it is not one."""
    try:
        parts = urlsplit(f"http://{host}")
        _ = parts.port
    except ValueError:
        return ""
    return "" if parts.username is not None or parts.path or parts.query else parts.hostname or ""
