"""What the worst body that each call and page takes costs: CPU and memory of a server of its own, printed and asserted.

A piece that is laid out and a file of lines are bounded by what they hold, where that is read; they are not asked here.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import httpx
import pytest

from models.database import Store
from models.intake.stock.receipt import MOST_LINES
from models.operations.shop.sign_in import set_password
from tests.pictures import COSTLY
from tests.serving import running
from webapp.bodies import kind_of
from webapp.pages import ROOMS
from webapp.web.forms import MOST_FIELDS, fresh_token
from webapp.web.json_api import MOST_ROWS, MOST_VALUES

MOST_CPU_S = 2.0
MOST_MB = 300
MEGABYTE = 1024 * 1024
ELSEWHERE = re.compile(
    r"/designs/(\{design_id\}|new|rows)/(rows|preview)|/designs/rows/preview|/settings/files/.*|/api/layouts/.*|.*/layout"
)
ONES = re.compile(r"\{[^}]+\}")

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="reads what a process used from /proc")


@dataclass(frozen=True)
class Cost:
    """What one request took."""

    what: str
    sent_mb: float
    status: int
    cpu_s: float
    memory_mb: float

    def __str__(self) -> str:
        return f"{self.what:78} {self.sent_mb:6.2f} MB  {self.status}  {self.cpu_s:5.2f} s  {self.memory_mb:5.0f} MB"


class Measured:
    """A server, and what it used for each request that it was sent."""

    def __init__(self, address: str, pid: int) -> None:
        self.address = address.rstrip("/")
        self._process = Path(f"/proc/{pid}")
        self._client = httpx.Client(timeout=300)

    def close(self) -> None:
        """Let go of its connections."""
        self._client.close()

    def _cpu_s(self) -> float:
        fields = (self._process / "stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def _memory_mb(self, name: str) -> float:
        found = re.search(rf"{name}:\s+(\d+) kB", (self._process / "status").read_text())
        assert found
        return int(found[1]) / 1024

    def send(self, what: str, method: str, path: str, content: bytes, kind: str, *, times: int = 1) -> Cost:
        """Send a body, and keep what it took; `times` is how often at once."""
        idle_mb, began_s = self._memory_mb("VmRSS"), self._cpu_s()
        # 5 starts the highest mark of memory anew (proc(5)).
        (self._process / "clear_refs").write_text("5")
        headers = {"content-type": kind, "origin": self.address}

        def once(_number: int) -> int:
            return self._client.request(method, self.address + path, content=content, headers=headers).status_code

        with ThreadPoolExecutor(times) as together:
            statuses = list(together.map(once, range(times)))
        used_mb = max(0.0, self._memory_mb("VmHWM") - idle_mb)
        return Cost(what, len(content) * times / MEGABYTE, max(statuses), self._cpu_s() - began_s, used_mb)


def table(costs: list[Cost]) -> str:
    """The costs, the dearest first."""
    return "\n" + "\n".join(str(cost) for cost in sorted(costs, key=lambda one: (-one.cpu_s, -one.memory_mb)))


def too_dear(costs: list[Cost]) -> list[str]:
    return [str(cost) for cost in costs if cost.cpu_s > MOST_CPU_S or cost.memory_mb > MOST_MB]


@pytest.fixture(scope="module")
def measured(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Measured]:
    """A server on the invented studio."""
    folder = tmp_path_factory.mktemp("costs") / "shop"
    shutil.copytree(demo_folder, folder)
    with running("serve", "--data", folder, "--port", "0") as (address, process):
        server = Measured(address, process.pid)
        # What is made at the first use is no cost of a body.
        server.send(
            "warm", "POST", "/designs/preview", *multipart(COSTLY["JPEG with notes that point at each other"]())
        )
        yield server
        server.close()


def multipart(photo: bytes, name: str = "photo") -> tuple[bytes, str]:
    head = f'--xYx\r\nContent-Disposition: form-data; name="{name}"; filename="p"\r\nContent-Type: image/png\r\n\r\n'
    return head.encode() + photo + b"\r\n--xYx--\r\n", "multipart/form-data; boundary=xYx"


def test_no_picture_costs_more_than_it_may(measured: Measured) -> None:
    costs = []
    for name, make in COSTLY.items():
        content, kind = multipart(make())
        costs.append(measured.send(name, "POST", "/designs/preview", content, kind))
    print(table(costs))  # noqa: T201  (the table is what a bench is for)
    assert too_dear(costs) == []


def bodies_of(properties: dict[str, Any], most_bytes: int) -> Iterator[tuple[str, bytes]]:
    """The worst that each field of a call can be filled with, one field at a time, and all of them with long text."""
    room = most_bytes - 100
    for name, schema in properties.items():
        if "array" in json.dumps(schema):
            inner = schema.get("items", {}).get("properties", {})
            row = json.dumps(dict.fromkeys(list(inner)[:3], 1) or {"a": 1})
            for count in (MOST_LINES, MOST_ROWS, min(room // (len(row) + 2), MOST_VALUES // (row.count(",") + 2) - 1)):
                yield f"{name}: {count:,} rows", json.dumps({name: [json.loads(row)] * count}).encode()[:most_bytes]
        text = "1 1 " * ((room - len(name)) // 4)
        yield f"{name}: long text", json.dumps({name: text[: room - len(name)]}).encode()
    yield "many names", json.dumps({f"n{number}": 1 for number in range(min(MOST_VALUES, room // 14))}).encode()
    yield "nested lists", b'{"a": [' + b",".join([b"[[[]]]"] * (min(MOST_VALUES // 4, room // 8) - 1)) + b"]}"


def test_no_body_of_a_call_costs_more_than_it_may(measured: Measured) -> None:
    described = httpx.get(f"{measured.address}/openapi.json", timeout=60).json()["paths"]
    costs = []
    for path, methods in described.items():
        for method, call in methods.items():
            schema = call.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema")
            if schema is None or ELSEWHERE.fullmatch(path):
                continue
            here = ONES.sub("1", path)
            most = kind_of({"type": "http", "path": here}).most_bytes
            dearest = [
                measured.send(f"{method.upper()} {path}, {what}", method.upper(), here, body, "application/json")
                for what, body in bodies_of(schema.get("properties", {}), most)
            ]
            assert max(cost.status for cost in dearest) < 500, [str(one) for one in dearest if one.status >= 500]
            costs += (
                sorted(dearest, key=lambda one: -one.cpu_s)[:1] + sorted(dearest, key=lambda one: -one.memory_mb)[:1]
            )
    assert len(costs) > 80
    print(table(costs))  # noqa: T201  (the table is what a bench is for)
    assert too_dear(costs) == []


def forms_for(path: str, most_bytes: int) -> Iterator[tuple[str, bytes, str]]:
    coded = "application/x-www-form-urlencoded"
    for group, names in (("parts", ["quantity", "text"]), ("lines", ["item_id", "quantity", "cost"])):
        count = MOST_FIELDS // len(names) - 1
        rows = [(f"{group}.{number}.{name}", "1") for number in range(count) for name in names]
        yield f"{count:,} {group}", urlencode([("token", fresh_token()), *rows]).encode(), coded
    yield "very many fields", (b"a&" * MEGABYTE)[:most_bytes], coded
    yield (
        "all signs coded",
        (b"token=" + fresh_token().encode() + b"&name=" + b"%41" * MEGABYTE)[: most_bytes - 2],
        coded,
    )
    long = dict.fromkeys(("name", "note", "quick", "pasted", "rows", "place"), "1 1 " * 20000)
    yield "long texts", urlencode({"token": fresh_token(), **long}).encode(), coded
    if most_bytes > MEGABYTE:
        content, kind = multipart((b"\r\n--xY" * (8 * MEGABYTE))[: most_bytes - 1000])
        yield "a file of line ends", content, kind
        fields = b"".join(
            b'--xYx\r\nContent-Disposition: form-data; name="n%d"\r\n\r\n' % number + b"a" * 9000 + b"\r\n"
            for number in range(MOST_FIELDS - 1)
        )
        yield "4,000 fields of 9 KB", fields[: most_bytes - 1000] + b"--xYx--\r\n", kind


def test_no_form_costs_more_than_it_may(measured: Measured) -> None:
    costs = []
    for router in ROOMS:
        for route in router.routes:
            path = str(getattr(route, "path", ""))
            if "POST" not in getattr(route, "methods", set()) or ELSEWHERE.fullmatch(path):
                continue
            here = ONES.sub("1", path)
            sent = forms_for(here, kind_of({"type": "http", "path": here}).most_bytes)
            costs += [measured.send(f"POST {path}, {what}", "POST", here, body, kind) for what, body, kind in sent]
    assert len(costs) > 200
    assert [str(cost) for cost in costs if cost.status >= 500] == []
    print(table(costs))  # noqa: T201  (the table is what a bench is for)
    assert too_dear(costs) == []


def test_who_is_not_signed_in_costs_next_to_nothing(demo_folder: Path, tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(demo_folder, folder)
    store = Store(folder)
    with store.writing() as session:
        set_password(session, "seven kettles by the door")
    store.close()
    content, kind = multipart(b"a" * (36 * MEGABYTE), "password")
    with running("serve", "--data", folder, "--port", "0") as (address, process):
        server = Measured(address, process.pid)
        server.send("warm", "POST", "/sign-in", b"password=x", "application/x-www-form-urlencoded")
        costs = [
            server.send("30 posts of 36 MB to the sign-in page at once", "POST", "/sign-in", content, kind, times=30),
            server.send("30 posts of 36 MB to a call at once", "POST", "/api/items", content, kind, times=30),
            server.send("30 posts of 36 MB to a page at once", "POST", "/designs", content, kind, times=30),
        ]
        server.close()
    print(table(costs))  # noqa: T201  (the table is what a bench is for)
    assert all(cost.memory_mb < MOST_MB for cost in costs)
