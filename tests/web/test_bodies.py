"""What one request may carry and how long it may take: every kind of body at its limit, over it, hidden and slow."""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import AsyncIterator
from typing import Any

import pytest
from fastapi import Depends, FastAPI, Request
from hypothesis import given
from hypothesis import strategies as st

from models.database import Store
from models.intake.stock.receipt import MOST_LINES
from models.operations.shop.sign_in import set_password
from models.tables import SignInTry
from tests.web.conftest import HERE, Client
from tests.web.pages.shop.test_sign_in import GOOD, count, every_path
from webapp import bodies
from webapp.app import create_app
from webapp.bodies import (
    CALL,
    FILE,
    FIRST_PAGE,
    LAID_OUT_CALL,
    LAID_OUT_PAGE,
    LARGER,
    PAGE,
    PHOTO,
    kind_of,
)
from webapp.settings import Settings
from webapp.web.forms import MOST_FILE_BYTES, RawForm, read_form
from webapp.web.forms import _sent_form as sent_form
from webapp.web.json_api import DEEPEST, MOST_ROWS, MOST_VALUES, read_json

MEGABYTE = 1024 * 1024
JSON = {"content-type": "application/json"}


@pytest.fixture
def guarded(client: Client, store: Store) -> Client:
    """A browser that is signed out, on a shop with a password."""
    with store.writing() as session:
        set_password(session, GOOD)
    return client


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/settings", PAGE), ("/stock/items/new", PAGE), ("/designs", PHOTO), ("/designs/preview", PHOTO),
        ("/designs/7/edit", PHOTO), ("/designs/7/rows", LAID_OUT_PAGE), ("/designs/rows/preview", LAID_OUT_PAGE),
        ("/designs/7/kit", PAGE), ("/settings/files/items", FILE), ("/settings/files/items/take", FILE),
        ("/welcome", FIRST_PAGE), ("/api/designs", CALL), ("/api/designs/7/layout", LAID_OUT_CALL),
        ("/api/layouts/count", LAID_OUT_CALL), ("/nowhere", PAGE), ("/designs/7/edit/", PAGE), ("/designs\n", PAGE),
    ],
)  # fmt: skip
def test_every_kind_of_route_has_its_limit(path: str, kind: bodies.Kind) -> None:
    assert kind_of({"type": "http", "path": path}) is kind


def test_every_larger_limit_is_one_of_a_route_that_is_there(client: Client) -> None:
    paths = [path for method, path in every_path(client) if method in {"POST", "PUT", "PATCH"}]
    for pattern, kind in LARGER:
        for one in pattern.split("|") if pattern.startswith("/api") else [pattern]:
            assert any(re.fullmatch(one, path) for path in paths), (one, kind)


@pytest.mark.parametrize(
    ("path", "size"), [("/settings", "1 MB"), ("/api/items", "1 MB"), ("/designs", "40 MB"), ("/api/layouts/count", "4 MB")]
)  # fmt: skip
def test_a_body_over_the_limit_is_refused_by_its_stated_length(client: Client, path: str, size: str) -> None:
    most = kind_of({"type": "http", "path": path}).most_bytes
    answer = client.request("POST", path, headers={"content-length": str(most + 1)}, content=b"x")
    assert answer.status_code == 413
    assert f"larger than {size}" in answer.text
    assert (answer.headers["content-type"] == "application/problem+json") == path.startswith("/api/")


@pytest.mark.parametrize(
    ("path", "kind", "most_chunks"),
    [
        ("/api/takes", "multipart/form-data; boundary=x", 2),
        ("/api/takes", "application/json", 2),
        ("/designs/preview", "multipart/form-data; boundary=x", 41),
    ],
)
def test_a_body_that_hides_its_length_is_refused_as_soon_as_it_is_too_large(
    app: FastAPI, client: Client, path: str, kind: str, most_chunks: int
) -> None:
    @app.post("/api/takes")
    async def takes(request: Request) -> str:
        await (request.form() if "form" in kind else request.body())
        return "read it all"

    chunks_sent = 0

    async def endless() -> AsyncIterator[bytes]:
        nonlocal chunks_sent
        yield b'--x\r\nContent-Disposition: form-data; name="f"; filename="f"\r\n\r\n'
        for _ in range(60):
            chunks_sent += 1
            yield b"a" * MEGABYTE

    answer = client.request("POST", path, content=endless(), headers={"content-type": kind})
    assert answer.status_code == 413
    assert "MB" in answer.text
    assert chunks_sent <= most_chunks


# ---- who is not signed in ----


async def _ask(app: FastAPI, method: str, path: str, headers: dict[str, str], chunks: list[bytes]) -> tuple[int, int]:
    """The status of a bare request, and how many pieces of its body were taken."""
    taken, status = 0, 0

    async def receive() -> dict[str, Any]:
        nonlocal taken
        taken += 1
        body = chunks[taken - 1] if taken <= len(chunks) else b""
        return {"type": "http.request", "body": body, "more_body": taken < len(chunks)}

    async def send(message: dict[str, Any]) -> None:
        nonlocal status
        status = message.get("status", status)

    raw = [(name.encode(), value.encode()) for name, value in {"host": "127.0.0.1:8042", **headers}.items()]
    scope = {
        "type": "http", "method": method, "path": path, "raw_path": path.encode(), "query_string": b"", "headers": raw,
        "scheme": "http", "http_version": "1.1", "server": ("127.0.0.1", 8042), "client": ("127.0.0.1", 1),
        "root_path": "",
    }  # fmt: skip
    await app(scope, receive, send)
    return status, taken


def test_who_is_not_signed_in_is_refused_everywhere_before_a_byte_is_read(guarded: Client) -> None:
    form = {"content-type": "multipart/form-data; boundary=x"}
    for method, path in every_path(guarded):
        if path != "/sign-in" and method not in {"GET", "HEAD"}:
            asked = _ask(guarded.app, method, path, form, [b"a" * MEGABYTE] * 36)
            status, taken = asyncio.run(asked)
            assert (status in {303, 401}, taken) == (True, 0), (method, path)


@pytest.mark.parametrize("kind", ["multipart/form-data; boundary=x", "application/x-www-form-urlencoded"])
def test_signing_in_takes_a_few_kilobytes_and_no_more(guarded: Client, store: Store, kind: str) -> None:
    said, hidden = {"content-type": kind, "content-length": str(36 * MEGABYTE)}, {"content-type": kind}
    head = b'--x\r\nContent-Disposition: form-data; name="password"\r\n\r\n' if "multipart" in kind else b"password="
    assert asyncio.run(_ask(guarded.app, "POST", "/sign-in", said, [head, *[b"a" * 4096] * 9])) == (413, 0)
    status, taken = asyncio.run(_ask(guarded.app, "POST", "/sign-in", hidden, [head, *[b"a" * 4096] * 9]))
    assert (status, taken) == (413, 3)
    assert count(store, SignInTry) == 0
    answer = guarded.request("POST", "/sign-in", content=b"a" * 9000, headers={"content-type": kind, "origin": HERE})
    assert "8 KB, the most for who is not signed in" in answer.text
    # The longest password and the longest address to go on to still fit.
    longest = {"password": "\N{GREEK SMALL LETTER OMEGA}" * 200, "next": "/stock?find=" + "%20" * 600}
    assert guarded.post("/sign-in", longest).status_code == 422
    assert guarded.post("/sign-in", {"password": GOOD}).status_code == 303


def test_a_shop_that_is_not_set_up_takes_little(store: Store) -> None:
    assert FIRST_PAGE.most_bytes == 64 * 1024
    with Client(create_app(store, Settings(store.folder))) as client:
        assert client.post("/welcome", {"name": "x" * 70_000}).status_code == 413


# ---- how long ----


@pytest.fixture
def in_a_hurry(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bodies, "GRACE_S", 0.3)
    monkeypatch.setattr(bodies, "LONGEST_PAUSE_S", 0.3)


async def _pieces(pause_s: float, count: int, last_s: float = 0) -> AsyncIterator[bytes]:
    yield b"name=" + b"a" * 100
    for _ in range(count):
        await asyncio.sleep(pause_s)
        yield b"a" * 400
    await asyncio.sleep(last_s)


FORM = {"content-type": "application/x-www-form-urlencoded", "origin": HERE}


@pytest.mark.usefixtures("in_a_hurry")
@pytest.mark.parametrize("path", ["/settings", "/api/items"])
def test_a_body_that_stops_on_its_way_is_given_up(client: Client, path: str) -> None:
    headers = FORM if path == "/settings" else {**FORM, **JSON}
    answer = client.request("POST", path, content=_pieces(0, 5, last_s=5), headers=headers)
    assert answer.status_code == 408
    assert "did not arrive in time" in answer.text
    assert answer.headers["connection"] == "close"


@pytest.mark.usefixtures("in_a_hurry")
def test_a_body_that_drips_is_given_up_though_it_never_stops(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bodies, "SLOWEST_BYTES_A_SECOND", 100_000)
    answer = client.request("POST", "/settings", content=_pieces(0.05, 100), headers=FORM)
    assert answer.status_code == 408


@pytest.mark.long
@pytest.mark.usefixtures("in_a_hurry")
def test_a_slow_but_steady_body_arrives(client: Client) -> None:
    answer = client.request("POST", "/settings", content=_pieces(0.05, 20), headers=FORM)
    assert answer.status_code in {303, 422}


def test_a_photo_over_a_poor_network_has_the_time_that_it_needs() -> None:
    """A third-generation phone network at its worst, 64 kbit/s (common practice, no source), in pieces of 1400 bytes."""
    photo, piece = 10 * MEGABYTE, 1400
    waited_s = 0.0
    for sent in range(0, photo, piece):
        assert waited_s <= bodies.GRACE_S + sent / bodies.SLOWEST_BYTES_A_SECOND
        waited_s += piece * 8 / 64_000


# ---- what a body holds ----


def _reads(app: FastAPI) -> list[object]:
    found: list[object] = []

    @app.post("/api/reads")
    def reads(body: dict[str, Any] = Depends(read_json)) -> str:  # noqa: B008
        found.append(body)
        return "read"

    @app.post("/reads")
    def forms(raw: RawForm = Depends(read_form)) -> str:  # noqa: B008
        found.append(raw)
        return "read"

    return found


@pytest.mark.parametrize("piece", [b"[],", b"{},", b"0,", b'"",', b"[[]],"])
def test_a_body_of_very_many_values_is_refused_before_they_are_made(
    app: FastAPI, client: Client, piece: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = _reads(app)
    monkeypatch.setattr("webapp.web.json_api.json.loads", lambda *_given, **_more: pytest.fail("it was read"))
    content = b'{"parts": [' + piece * (MOST_VALUES // piece.count(b",") + 1) + b"0]}"
    answer = client.request("POST", "/api/reads", content=content, headers=JSON)
    assert answer.status_code == 413
    assert answer.headers["content-type"] == "application/problem+json"
    assert found == []


@pytest.mark.parametrize("path", ["/api/receipts", "/api/reorder", "/api/designs", "/api/purchases"])
def test_a_list_of_very_many_rows_is_refused_whatever_they_hold(client: Client, path: str) -> None:
    body = {"lines": [{"a": {"parts": [1, {}] + [1] * MOST_ROWS}}]}
    answer = client.request("POST", path, json=body)
    assert answer.status_code == 413
    assert f"at most {MOST_ROWS:,}" in answer.json()["detail"]
    assert client.request("POST", path, json={"lines": [{}] * 300}).status_code == 422


def test_a_receipt_has_fewer_lines_than_one_write_can_bear(client: Client) -> None:
    answer = client.request("POST", "/api/receipts", json={"lines": [{"item": "x"}] * (MOST_LINES + 1)})
    assert answer.status_code == 422
    assert [fault["field"] for fault in answer.json()["errors"]] == ["lines"]


def test_a_long_row_of_a_piece_is_no_list_of_rows(app: FastAPI, client: Client) -> None:
    found = _reads(app)
    body = {"rows": [[1] * 3000]}
    assert client.request("POST", "/api/reads", json=body).status_code == 200
    assert found == [body]


@pytest.mark.parametrize(
    "content",
    [b'{"a": "\\ud800"}', b'{"a": ["x", {"b": "\\uDfff"}]}', b'{"\\ud834": 1}', b'{"a": "\xed\xa0\x80"}',
     b'{"a": "\\udc00\\ud800"}', '{"a": "x"}'.encode("utf-16")],
)  # fmt: skip
@pytest.mark.parametrize("key", [{}, {"idempotency-key": "one"}])
def test_half_a_letter_in_json_is_no_json(client: Client, content: bytes, key: dict[str, str]) -> None:
    for path in ("/api/items", "/api/metals", "/api/designs", "/api/weigh"):
        answer = client.request("POST", path, content=content, headers={**JSON, **key})
        assert answer.status_code == 400, path
        assert "not readable JSON" in answer.json()["detail"]


def test_whole_letters_of_every_kind_are_read(app: FastAPI, client: Client) -> None:
    found = _reads(app)
    content = b'\xef\xbb\xbf{"a": "\\ud834\\udd1e \xe2\x82\xac"}'
    assert client.request("POST", "/api/reads", content=content, headers=JSON).status_code == 200
    assert found == [{"a": "\U0001d11e €"}]


@pytest.mark.parametrize("levels", [DEEPEST, 200, 400, 600, 800, 900, 950, 980, 995, 5000])
@pytest.mark.parametrize("pair", [("[", "]"), ('{"a":', "}")])
def test_a_deep_nesting_is_refused_and_never_breaks_what_walks_it_later(
    client: Client, levels: int, pair: tuple[str, str]
) -> None:
    content = '{"name": ' + pair[0] * levels + "1" + pair[1] * levels + "}"
    answer = client.request("POST", "/api/suppliers", content=content, headers={**JSON, "idempotency-key": "deep"})
    assert answer.status_code == 400


@pytest.mark.parametrize(
    "charset", ["utf-7", "unicode_escape", "punycode", "idna", "zlib", "utf-16", "raw_unicode_escape"]
)
def test_a_form_in_another_code_is_refused(app: FastAPI, client: Client, charset: str) -> None:
    found = _reads(app)
    content = b'--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n\\ud800\r\n--x--\r\n'
    kind = f"multipart/form-data; boundary=x; charset={charset}"
    answer = client.request("POST", "/reads", content=content, headers={"content-type": kind, "origin": HERE})
    assert answer.status_code == 415
    assert found == []


@given(st.binary(max_size=60), st.sampled_from(["", "; charset=utf-8", '; charset="UTF-8"']))
def test_whatever_a_form_sends_can_be_written_down_again(value: bytes, charset: str) -> None:
    async def receive() -> dict[str, Any]:
        body = b'--xYx\r\nContent-Disposition: form-data; name="a"\r\n\r\n' + value + b"\r\n--xYx--\r\n"
        return {"type": "http.request", "body": body, "more_body": False}

    kind = f"multipart/form-data; boundary=xYx{charset}"
    scope = {"type": "http", "method": "POST", "path": "/", "headers": [(b"content-type", kind.encode())]}
    raw = asyncio.run(sent_form(Request(scope, receive)))
    json.dumps(raw.items, ensure_ascii=False).encode()


def test_of_a_file_no_more_is_held_than_shows_that_it_is_too_large() -> None:
    head = b'--x\r\nContent-Disposition: form-data; name="photo"; filename="p.png"\r\n\r\n'

    async def receive() -> dict[str, Any]:
        body = head + b"a" * (MOST_FILE_BYTES + 5) + b"\r\n--x--\r\n"
        return {"type": "http.request", "body": body, "more_body": False}

    kind = b"multipart/form-data; boundary=x"
    scope = {"type": "http", "method": "POST", "path": "/", "headers": [(b"content-type", kind)]}
    raw = asyncio.run(sent_form(Request(scope, receive)))
    assert len(raw.files["photo"].content) == MOST_FILE_BYTES
