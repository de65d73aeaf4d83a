"""Who keeps a server waiting: heads that never end, bodies that stop, answers nobody takes, and too many at once.

Real sockets, on this machine only; every wait has an end.
"""

from __future__ import annotations

import resource
import select
import socket
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest

from models.database import Store
from models.operations.shop.sign_in import set_password
from tests.serving import in_a_thread, running
from tests.web.pages.shop.test_sign_in import GOOD
from webapp import connections

HALF_A_HEAD = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-More: "
HALF_A_BODY = b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 4000\r\n\r\npassword="
CROWD = 1100


def opened(address: str, said: bytes = b"") -> socket.socket:
    parts = urlsplit(address)
    assert parts.hostname == "127.0.0.1"
    found = socket.create_connection((parts.hostname, parts.port or 0), timeout=10)
    found.sendall(said)
    return found


def seconds_until_closed(connection: socket.socket, most_s: float) -> float:
    """How long the other side keeps it open, whatever it says meanwhile."""
    began = time.monotonic()
    while time.monotonic() < began + most_s:
        ready, _, _ = select.select([connection], [], [], 0.05)
        try:
            if ready and not connection.recv(65536):
                return time.monotonic() - began
        except ConnectionError:
            return time.monotonic() - began
    raise AssertionError(f"still open after {most_s} s")


@pytest.fixture
def guarded_folder(store: Store) -> Path:
    """A shop with a password."""
    with store.writing() as session:
        set_password(session, GOOD)
    store.close()
    return store.folder


@contextmanager
def room_for(files: int) -> Iterator[None]:
    """More open files for this process, which plays the crowd."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if 0 <= hard < files:
        pytest.skip(f"this machine lets no process open {files} files")
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, files), hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@pytest.mark.long
@pytest.mark.skipif(not hasattr(resource, "prlimit"), reason="the limit of another process can be set on Linux only")
def test_a_crowd_of_half_sent_requests_keeps_nobody_else_waiting(guarded_folder: Path) -> None:
    with room_for(CROWD + 300), running("serve", "--data", guarded_folder, "--port", "0") as (address, process):
        # What most systems allow a program.
        resource.prlimit(process.pid, resource.RLIMIT_NOFILE, (1024, 1024))
        for said in (b"", HALF_A_HEAD, HALF_A_BODY):
            with ExitStack() as crowd:
                for _ in range(CROWD):
                    crowd.enter_context(opened(address, said))
                for path in ("sign-in", "static/ringbench.css", "api/stock/items", "sign-in"):
                    began = time.monotonic()
                    assert httpx.get(f"{address}{path}", timeout=10).status_code in {200, 401}
                    assert time.monotonic() - began < 2, (said, path)
                began = time.monotonic()
                assert httpx.post(f"{address}sign-in", data={"password": GOOD}, timeout=10).status_code == 303
                assert time.monotonic() - began < 2, said


@pytest.fixture
def hurried(guarded_folder: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A server whose times are short."""
    monkeypatch.setattr(connections, "HEAD_S", 0.6)
    monkeypatch.setattr(connections, "REST_S", 0.6)
    monkeypatch.setattr(connections, "TAKE_S", 0.6)
    with in_a_thread(guarded_folder) as address:
        yield address


def test_a_head_that_drips_is_cut_off_though_it_never_stops(hurried: str) -> None:
    with opened(hurried, HALF_A_HEAD) as connection:
        began = time.monotonic()
        while time.monotonic() < began + 5:
            time.sleep(0.05)
            try:
                connection.sendall(b"a")
            except ConnectionError:
                break
        assert 0.4 < time.monotonic() - began < 3


def test_a_connection_that_says_nothing_is_closed(hurried: str) -> None:
    with opened(hurried) as connection:
        assert 0.4 < seconds_until_closed(connection, 5) < 3


def test_a_second_head_has_its_own_time_and_the_first_answer_comes(hurried: str) -> None:
    with opened(hurried, b"GET /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n") as connection:
        assert connection.recv(65536).startswith(b"HTTP/1.1 200")
        connection.sendall(HALF_A_HEAD)
        assert seconds_until_closed(connection, 5) < 3


def test_a_refused_body_that_never_ends_is_cut_off(hurried: str) -> None:
    head = b"POST /settings HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 900000000\r\n\r\n"
    with opened(hurried, head) as connection:
        assert connection.recv(65536).startswith(b"HTTP/1.1 303")
        began = time.monotonic()
        while time.monotonic() < began + 5:
            try:
                connection.sendall(b"a" * 1000)
            except ConnectionError:
                break
            time.sleep(0.02)
        assert time.monotonic() - began < 3


def test_the_answer_to_a_body_that_is_too_large_arrives_although_all_of_it_is_sent(hurried: str) -> None:
    head = b"POST /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 3000000\r\n\r\n"
    with opened(hurried, head) as connection:
        connection.sendall(b"a" * 3_000_000)
        connection.sendall(b"GET /sign-in HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
        answers = b""
        while piece := connection.recv(65536):
            answers += piece
        assert answers.startswith(b"HTTP/1.1 413")
        assert b"HTTP/1.1 200" in answers


@pytest.mark.long
def test_an_answer_that_nobody_takes_is_given_up(hurried: str) -> None:
    many = b"GET /static/htmx.min.js HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n" * 400
    with socket.socket() as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        parts = urlsplit(hurried)
        connection.connect((parts.hostname, parts.port))
        connection.sendall(many)
        time.sleep(3)
        taken = 0
        connection.settimeout(5)
        try:
            while piece := connection.recv(1 << 20):
                taken += len(piece)
        except ConnectionError:
            pass
        whole = (Path(connections.__file__).parent / "static" / "htmx.min.js").stat().st_size
        assert taken < 400 * whole / 2


def test_a_slow_taker_gets_the_whole_answer(hurried: str) -> None:
    with socket.socket() as connection:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        parts = urlsplit(hurried)
        connection.connect((parts.hostname, parts.port))
        connection.sendall(b"GET /static/htmx.min.js HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n")
        connection.settimeout(5)
        taken = b""
        while piece := connection.recv(2000):
            taken += piece
            time.sleep(0.03)
        assert taken.endswith((Path(connections.__file__).parent / "static" / "htmx.min.js").read_bytes())


@pytest.mark.skipif(sys.platform == "win32", reason="no limit of files there")
def test_few_open_files_mean_few_connections(monkeypatch: pytest.MonkeyPatch) -> None:
    for allowed, most in ((1024, 400), (256, 64), (600, 236), (-1, 400), (100, 64)):
        monkeypatch.setattr(resource, "getrlimit", lambda _what, allowed=allowed: (allowed, allowed))
        assert connections.most_connections() == most
