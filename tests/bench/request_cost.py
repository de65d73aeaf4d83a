"""What one request costs a shop that serves: processor time and memory, measured on a server in a process of its own.

Linux only: the figures stand in /proc. The table of requests is in `test_request_costs`.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

from tests.serving import Server, running

TICKS = os.sysconf("SC_CLK_TCK")
_RESET_PEAK = "5"
"""Written to clear_refs, this sets the peak of resident memory back to what is resident now. Source: proc(5)."""


@dataclass(frozen=True, slots=True)
class Sent:
    """One request: its method and path, and what `httpx` takes beside them (json, data, files, content, headers)."""

    method: str
    path: str
    more: Mapping[str, object]


@dataclass(frozen=True, slots=True)
class Worst:
    """The worst input of one call.

    `make` builds the request for a running shop and may ask it things first; none of that is counted. `answers` are
    the statuses that are right, `says` a word that the answer holds.
    """

    name: str
    make: Callable[[httpx.Client], Sent]
    answers: tuple[int, ...]
    says: str = ""


@dataclass(frozen=True, slots=True)
class Cost:
    """What a request took of the server: processor seconds, the peak above idle in megabytes, and what it answered."""

    cpu_s: float
    peak_mb: float
    status: int
    text: str


def sends(method: str, path: str, **more: object) -> Callable[[httpx.Client], Sent]:
    """The `make` of a request that needs nothing from the shop."""
    return lambda _client: Sent(method, path, more)


@contextmanager
def served() -> Iterator[tuple[httpx.Client, Server]]:
    """The demo shop in a process of its own that has answered a page, and a client that asks as a page of it would."""
    with (
        running("demo", "--port", 0, "--log-level", "warning") as (address, server),
        httpx.Client(base_url=address, timeout=40, headers={"Origin": address.rstrip("/")}) as client,
    ):
        assert client.get("/").status_code == 200
        yield client, server


def cost_of(worst: Worst) -> Cost:
    """Send the worst request to a fresh server and say what it took."""
    with served() as (client, server):
        sent = worst.make(client)
        process = Path(f"/proc/{server.pid}")
        (process / "clear_refs").write_text(_RESET_PEAK)
        before_mb, before_s = _status_mb(process, "VmRSS"), _cpu_s(process)
        answer = client.request(sent.method, sent.path, **sent.more)  # type: ignore[arg-type]
        cpu_s, peak_mb = _cpu_s(process) - before_s, _status_mb(process, "VmHWM") - before_mb
        return Cost(cpu_s, peak_mb, answer.status_code, answer.content[:4_000_000].decode("utf-8", "replace"))


def _cpu_s(process: Path) -> float:
    """The processor time of a process and of its ended children, user and system."""
    fields = (process / "stat").read_text().rpartition(")")[2].split()
    return sum(int(ticks) for ticks in fields[11:15]) / TICKS


def _status_mb(process: Path, name: str) -> float:
    found = re.search(rf"^{name}:\s+(\d+) kB", (process / "status").read_text(), re.MULTILINE)
    assert found, name
    return int(found[1]) / 1000
