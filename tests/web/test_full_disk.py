"""A disk that is full or cannot be written to: said in plain words, with what was typed, and nothing half done."""

from __future__ import annotations

import errno
import logging
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from html import unescape
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from sqlalchemy import event
from sqlmodel import select

from models.database import Store
from models.disk import FULL, READ_ONLY, disk_words
from models.operations.shop import photo
from models.tables import Supplier
from tests.serving import TOP
from tests.web.conftest import HERE, Client
from webapp.app import create_app
from webapp.settings import Settings

NOTE = "a long note of an invented supplier " * 20


def pages_of(store: Store) -> int:
    with sqlite3.connect(store.file) as connection:
        return int(connection.execute("PRAGMA page_count").fetchone()[0])


@pytest.fixture(params=["full", "read-only"])
def stuck(request: pytest.FixtureRequest, store: Store) -> Iterator[tuple[Client, str]]:
    """A browser on a shop whose database can take no more, by SQLite's own word, and what is to be said."""
    pragma = f"max_page_count={pages_of(store)}" if request.param == "full" else "query_only=ON"

    def limit(connection: Any, _record: Any) -> None:
        connection.execute(f"PRAGMA {pragma}")

    event.listen(store.engine, "connect", limit)
    store.engine.dispose()
    with Client(create_app(store, Settings(store.folder))) as opened:
        yield opened, FULL if request.param == "full" else READ_ONLY


def suppliers(store: Store) -> list[str]:
    with store.reading() as session:
        return [row.name for row in session.exec(select(Supplier))]


def until_full(client: Client, send: Any) -> Any:
    """Write until the disk takes no more: what room a page of the database still has is used up first."""
    for number in range(400):
        answer = send(number)
        if answer.status_code not in {201, 303}:
            return answer
    raise AssertionError("it never got full")


def test_a_page_says_what_the_disk_does_and_keeps_what_was_typed(stuck: tuple[Client, str], store: Store) -> None:
    client, words = stuck
    seen = client.form("/stock/suppliers/new")

    def send(number: int) -> Any:
        token = f"{number:024}"
        return client.post("/stock/suppliers/new", {**seen.fields, "token": token, "name": f"S{number}", "note": NOTE})

    answer = until_full(client, send)
    assert answer.status_code == 507
    assert words.split(",")[0] in unescape(answer.text)
    assert NOTE.strip() in answer.text
    assert "something broke" not in answer.text.lower()
    kept = suppliers(store)
    assert client.get("/stock/suppliers").status_code == 200
    assert kept == [f"S{number}" for number in range(len(kept))]


def test_a_call_answers_problem_details(stuck: tuple[Client, str]) -> None:
    client, words = stuck
    answer = until_full(
        client, lambda number: client.request("POST", "/api/suppliers", json={"name": f"S{number}", "note": NOTE})
    )
    assert answer.status_code == 507
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["detail"] == words
    assert answer.json()["title"] == "There is no room to write"


@pytest.mark.parametrize(
    ("number", "words"), [(errno.ENOSPC, FULL), (errno.EROFS, READ_ONLY), (errno.EACCES, READ_ONLY)]
)
def test_a_photo_that_the_disk_does_not_take_loses_nothing_that_was_typed(
    client: Client, store: Store, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    def full(*_given: object) -> None:
        raise OSError(number, "invented")

    monkeypatch.setattr(photo.os, "fsync", full)
    out = BytesIO()
    Image.new("RGB", (40, 30), "teal").save(out, "PNG")
    seen = client.form("/designs/new", "/designs")
    fields = {**seen.fields, "name": "Ember pendant", "note": NOTE.strip()}
    answer = client.post("/designs", fields, files={"photo": ("p.png", out.getvalue(), "image/png")})
    assert answer.status_code == 507
    assert words.split(",", maxsplit=1)[0] in unescape(answer.text)
    assert "Ember pendant" in answer.text
    assert NOTE.strip() in answer.text
    assert list(store.photos.iterdir()) == []
    monkeypatch.undo()
    assert client.post("/designs", fields, files={"photo": ("p.png", out.getvalue(), "image/png")}).status_code == 303


def test_a_log_that_cannot_be_written_breaks_no_answer(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logging, "raiseExceptions", False)

    def full(*_given: object) -> None:
        raise OSError(errno.ENOSPC, "invented")

    monkeypatch.setattr(logging.FileHandler, "_open", full)
    logging.getLogger("ringbench").handlers[0].close()
    assert client.get("/stock").status_code == 200


def test_a_full_disk_is_told_at_the_gate_too(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    with Client(create_app(store, Settings(store.folder)), raise_errors=False) as client:
        error = sqlite3.OperationalError("database or disk is full")
        error.sqlite_errorcode = sqlite3.SQLITE_FULL
        monkeypatch.setattr("webapp.sign_in.visitor", lambda *_given, **_more: (_ for _ in ()).throw(error))
        answer = client.get("/stock")
        assert answer.status_code == 507
        assert "The disk is full" in answer.text
        assert "default-src 'none'" in answer.headers["content-security-policy"]
        assert client.request("GET", "/api/items").json()["status"] == 507


def test_what_is_about_something_else_is_not_blamed_on_the_disk(client: Client, app: Any) -> None:
    for error in (OSError(errno.ENOENT, "x"), ValueError("x"), sqlite3.OperationalError("no such table: x")):
        assert disk_words(error) == ""

    @app.get("/breaks")
    def breaks() -> None:
        raise FileNotFoundError(errno.ENOENT, "invented")

    client._http._transport.raise_app_exceptions = False  # type: ignore[attr-defined]
    assert client.get("/breaks", headers={"origin": HERE}).status_code == 500


SMALL_DISK = """
import sys
from pathlib import Path
from models.database import Store
from models.disk import disk_words
from models.operations.shop.shop import found_shop
from models.operations.shop.clock import now
from models.tables import Once
store = Store(Path(sys.argv[1]))
store.prepare()
with store.writing() as session:
    found_shop(session, name="Test bench", currency="EUR")
try:
    for number in range(400):
        with store.writing() as session:
            session.add(Once(key=f"key {number}", body_hash="", result="x" * 18_000, used_at=now()))
except Exception as error:
    print(disk_words(error) or repr(error))
"""


@pytest.mark.long
def test_a_disk_that_is_really_full_is_known(tmp_path: Path) -> None:
    """On a small disk of its own, where this account may make one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", disk], capture_output=True, check=False)
    if made.returncode:
        pytest.skip("this account may make no disk")
    try:
        line = [sys.executable, "-c", SMALL_DISK, str(disk / "shop")]
        said = subprocess.run(line, cwd=TOP, capture_output=True, text=True, timeout=120, check=True)
    finally:
        subprocess.run(["umount", "-l", disk], check=True)
    assert said.stdout.strip() == FULL, said.stderr
