"""Somebody else writes and does not finish: every way in says so in words within the stated time, and loses nothing."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

import models.database
from models.database import MOST_WAITING, Busy, Store
from models.operations.shop.sign_in import set_password
from models.queries.shop.shop import shop_settings
from tests.operations.test_imports import OUTLETS
from tests.web.conftest import find_form
from webapp.cli import app as command_line
from webapp.web.json_api import RETRY_S

pytestmark = pytest.mark.long

WAIT_S = 0.3
SLACK_S = 3.0
"""How much longer than stated an answer may take on a busy machine."""

# The two things that a writer of another process may hold: the lock of this program, and the database itself.
HOLDERS = {
    "lock": "from filelock import FileLock; held = FileLock('lock'); held.acquire()",
    "database": "import sqlite3; held = sqlite3.connect('shop.db'); held.execute('BEGIN IMMEDIATE')",
}


@contextmanager
def held_elsewhere(folder: Path, what: str) -> Iterator[None]:
    """Another process that holds the lock or the database of a shop until the block ends."""
    code = f"{HOLDERS[what]}; print('held', flush=True); input()"
    with subprocess.Popen(
        [sys.executable, "-c", code], cwd=folder, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdin is not None
        assert other.stdout.readline() == "held\n"
        try:
            yield
        finally:
            other.stdin.write("\n")
            other.stdin.close()


@contextmanager
def within_the_stated_time() -> Iterator[None]:
    began = time.monotonic()
    yield
    assert time.monotonic() - began < WAIT_S + SLACK_S


@pytest.fixture(autouse=True)
def short_wait(monkeypatch: pytest.MonkeyPatch, store: Store) -> None:
    monkeypatch.setattr(models.database, "LOCK_SECONDS", WAIT_S)
    store.lock_seconds = WAIT_S


@pytest.fixture(params=HOLDERS)
def holder(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def test_a_write_gives_up_within_the_stated_time_and_the_next_one_goes_through(store: Store, holder: str) -> None:
    with held_elsewhere(store.folder, holder), within_the_stated_time(), pytest.raises(Busy), store.writing():
        pytest.fail("nobody may write while somebody else does")
    with store.writing() as session:
        assert shop_settings(session).name == "Test bench"


def test_reading_and_trying_wait_for_nobody(store: Store, holder: str) -> None:
    with held_elsewhere(store.folder, holder), within_the_stated_time():
        with store.reading() as session:
            assert shop_settings(session).name == "Test bench"
        with store.trying() as session:
            assert shop_settings(session).name == "Test bench"


def test_a_form_is_shown_again_with_what_was_typed(client: Any, store: Store, holder: str) -> None:
    form = client.form("/outlets/new")
    typed = {**form.fields, "name": "Harvest fair", "kind": "market"}
    with held_elsewhere(store.folder, holder), within_the_stated_time():
        answer = client.post("/outlets/new", typed)
    assert (answer.status_code, answer.headers["retry-after"]) == (503, str(RETRY_S))
    assert "Nothing you typed is lost" in answer.text
    again = find_form(answer.text, form.action)
    assert (again.fields["name"], again.fields["kind"]) == ("Harvest fair", "market")
    assert client.post(again.action or "/outlets/new", again.fields).status_code == 303


def test_a_button_on_a_page_that_shows_no_form_again_says_so_too(client: Any, store: Store, holder: str) -> None:
    with held_elsewhere(store.folder, holder), within_the_stated_time():
        answer = client.post("/stock/weighings/1/forget", {"token": "a-token-of-this-test-0001"})
    assert (answer.status_code, answer.headers["retry-after"]) == (503, str(RETRY_S))
    assert "try again in a moment" in answer.text


def test_the_api_answers_a_problem_with_when_to_try_again(client: Any, store: Store, holder: str) -> None:
    body = {"kind": "packaging", "name": "Gift box"}
    with held_elsewhere(store.folder, holder), within_the_stated_time():
        answer = client.post("/api/items", json=body)
    assert (answer.status_code, answer.headers["retry-after"]) == (503, str(RETRY_S))
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["status"] == 503
    assert "Nothing was changed" in answer.json()["detail"]
    assert client.post("/api/items", json=body).status_code == 201


def test_signing_in_shows_its_form_again(client: Any, store: Store, holder: str) -> None:
    with store.writing() as session:
        set_password(session, "a long enough password")
    with held_elsewhere(store.folder, holder), within_the_stated_time():
        answer = client.post("/sign-in", {"password": "a long enough password", "next": "/stock"})
    assert (answer.status_code, answer.headers["retry-after"]) == (503, str(RETRY_S))
    again = find_form(answer.text)
    assert again.fields["next"] == "/stock"
    assert again.fields["password"] == ""


def test_the_command_line_says_it_in_words(store: Store, tmp_path: Path, holder: str) -> None:
    file = tmp_path / "outlets.csv"
    file.write_text(OUTLETS, encoding="utf-8")
    folder = ["--data", str(store.folder)]
    with held_elsewhere(store.folder, holder), within_the_stated_time():
        refused = CliRunner().invoke(command_line, ["import", "outlets", str(file), *folder])
        looked = CliRunner().invoke(command_line, ["import", "outlets", str(file), "--look", *folder])
        handed_out = CliRunner().invoke(command_line, ["export", "outlets", *folder])
    assert refused.exit_code == 1
    assert "Another program is writing to this shop" in refused.stderr
    assert looked.exit_code == handed_out.exit_code == 0
    assert "2 outlets" in looked.stdout
    assert CliRunner().invoke(command_line, ["import", "outlets", str(file), *folder]).exit_code == 0


def test_looking_at_a_file_or_a_receipt_waits_for_no_writer(client: Any, store: Store, holder: str) -> None:
    client.post("/api/items", json={"kind": "packaging", "name": "Gift box"})
    with held_elsewhere(store.folder, holder), within_the_stated_time():
        looked = client.submit("/settings/files/outlets", {"pasted": OUTLETS})
        receipt = client.submit("/stock/receive", {"lines.0.item": "Gift box", "lines.0.quantity": "20"})
    assert looked.status_code == 200
    assert "2 outlets" in looked.text
    assert receipt.status_code == 200
    assert "another write" not in receipt.text.lower()


def test_more_writers_than_may_wait_are_told_so_at_once(store: Store) -> None:
    store.lock_seconds = 30
    outcomes: list[str] = []

    def write() -> None:
        try:
            with store.writing():
                outcomes.append("wrote")
        except Busy:
            outcomes.append("busy")

    with store.writing():
        threads = [threading.Thread(target=write) for _ in range(MOST_WAITING + 5)]
        for thread in threads:
            thread.start()
        until = time.monotonic() + 10
        while len(outcomes) < 5 and time.monotonic() < until:
            time.sleep(0.01)
        assert outcomes == ["busy"] * 5
    for thread in threads:
        thread.join()
    assert outcomes.count("wrote") == MOST_WAITING
