"""The browser of these tests: a plain client that keeps no script, fetches a form's hidden fields, and posts it back."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import AsyncExitStack
from dataclasses import dataclass, field
from html.parser import HTMLParser
from types import TracebackType
from typing import Any, Self, TypeVar
from urllib.parse import urljoin

import httpx
import pytest
from fastapi import FastAPI

from models.database import Store
from webapp.app import create_app
from webapp.settings import Settings

T = TypeVar("T")

HERE = "http://127.0.0.1:8042"


@dataclass
class SeenForm:
    """A form as it stands on a page: where it goes, and what its fields hold as a browser would send them."""

    action: str
    method: str
    fields: dict[str, Any] = field(default_factory=dict)

    def put(self, name: str, value: str) -> None:
        """Add a value; a second one of the same name makes a list."""
        if name in self.fields:
            known = self.fields[name]
            self.fields[name] = [*(known if isinstance(known, list) else [known]), value]
        else:
            self.fields[name] = value


class FormReader(HTMLParser):
    """Collects the forms of a page with what stands in their fields."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[SeenForm] = []
        self._open: SeenForm | None = None
        self._textarea: str | None = None
        self._text = ""
        self._select: str | None = None
        self._options: list[tuple[str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "form":
            self._open = SeenForm(given.get("action", ""), given.get("method", "get"))
            self.forms.append(self._open)
        elif self._open is None:
            return
        elif tag == "input" and given.get("name"):
            kind = given.get("type", "text")
            if (kind in {"checkbox", "radio"} and "checked" not in given) or kind in {"file", "submit"}:
                return
            self._open.put(given["name"], given.get("value", ""))
        elif tag == "textarea":
            self._textarea, self._text = given.get("name", ""), ""
        elif tag == "select":
            self._select, self._options = given.get("name", ""), []
        elif tag == "option" and self._select is not None:
            self._options.append((given.get("value", ""), "selected" in given))

    def handle_data(self, data: str) -> None:
        if self._textarea is not None:
            self._text += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = None
        elif tag == "textarea" and self._textarea and self._open:
            # A browser drops the line end right behind the opening tag.
            self._open.put(self._textarea, self._text.removeprefix("\n"))
            self._textarea = None
        elif tag == "select" and self._select and self._open:
            if self._options:
                chosen = [value for value, selected in self._options if selected]
                self._open.put(self._select, chosen[-1] if chosen else self._options[0][0])
            self._select = None


def forms_of(page: str) -> list[SeenForm]:
    """The forms of a page."""
    reader = FormReader()
    reader.feed(page)
    return reader.forms


class Client:
    """Calls an app in this process, in one loop, with its lifespan; every method waits for the whole answer.

    The loop has a thread of its own: browser tests in the same run leave theirs running in the main one.
    """

    def __init__(self, app: FastAPI, *, raise_errors: bool = True, address: str = "127.0.0.1") -> None:
        """`address` is where it calls from."""
        self.app = app
        self.address = address
        self.raise_errors = raise_errors

    def __enter__(self) -> Self:
        self._thread = ThreadPoolExecutor(max_workers=1)
        self._runner = asyncio.Runner()
        self._run(self._start())
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._run(self._stack.aclose())
        self._thread.submit(self._runner.close).result()
        self._thread.shutdown()

    def _run(self, work: Coroutine[Any, Any, T]) -> T:
        return self._thread.submit(self._runner.run, work).result()

    async def _start(self) -> None:
        self._stack = AsyncExitStack()
        await self._stack.enter_async_context(self.app.router.lifespan_context(self.app))
        transport = httpx.ASGITransport(self.app, self.raise_errors, client=(self.address, 50_000))
        self._http = await self._stack.enter_async_context(httpx.AsyncClient(transport=transport, base_url=HERE))

    def request(self, method: str, url: str, **given: Any) -> httpx.Response:
        """Any request; redirects are not followed."""
        return self._run(self._http.request(method, url, **given))

    def get(self, url: str, **given: Any) -> httpx.Response:
        """Fetch a page."""
        return self.request("GET", url, **given)

    def post(self, url: str, data: Mapping[str, Any] | None = None, **given: Any) -> httpx.Response:
        """Post a form as a browser on this site does."""
        headers = {"origin": HERE, **given.pop("headers", {})}
        return self.request("POST", url, data=data, headers=headers, **given)

    def form(self, url: str, action: str | None = None) -> SeenForm:
        """The post form of a page: the one with this action, or the first that posts to the page itself or anywhere."""
        answer = self.get(url)
        assert answer.status_code == 200, f"{url} answered {answer.status_code}"
        return find_form(answer.text, action)

    def submit(
        self,
        url: str,
        data: Mapping[str, Any] | None = None,
        *,
        action: str | None = None,
        leave_out: Sequence[str] = (),
        **given: Any,
    ) -> httpx.Response:
        """Open a page, change the named fields of its form, and send it with everything else as it stood."""
        seen = self.form(url, action)
        fields = {name: value for name, value in {**seen.fields, **(data or {})}.items() if name not in leave_out}
        return self.post(urljoin(url, seen.action) if seen.action else url, fields, **given)

    def follow(self, answer: httpx.Response) -> httpx.Response:
        """Go where a redirect points."""
        assert answer.status_code == 303, f"expected a redirect, got {answer.status_code}: {answer.text[:2000]}"
        return self.get(answer.headers["location"])


def find_form(page: str, action: str | None = None) -> SeenForm:
    """The post form with this action, or the first one that is more than a single button."""
    posts = [seen for seen in forms_of(page) if seen.method.lower() == "post"]
    if action is not None:
        posts = [seen for seen in posts if seen.action == action]
    else:
        posts.sort(key=lambda seen: set(seen.fields) <= {"token", "version"})
    assert posts, f"no form that posts{f' to {action}' if action else ''} on this page"
    return posts[0]


@pytest.fixture
def app(store: Store) -> FastAPI:
    """The app over a fresh founded shop; it describes itself as one with the same routes did before it."""
    made = create_app(store, Settings(store.folder))

    def describe() -> dict[str, Any]:
        size = len(made.router.routes)
        if size not in DESCRIBED:
            DESCRIBED[size] = FastAPI.openapi(made)
        return DESCRIBED[size]

    made.openapi = describe  # type: ignore[method-assign]
    return made


DESCRIBED: dict[int, dict[str, Any]] = {}
"""Descriptions of all calls by the number of routes: working one out takes a second, and every shop has the same."""


@pytest.fixture
def client(app: FastAPI) -> Iterator[Client]:
    """A browser without scripts on a fresh founded shop."""
    with Client(app) as opened:
        yield opened
