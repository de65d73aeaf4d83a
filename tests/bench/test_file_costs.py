"""What the worst file or list costs the process that answers: under 2 s of processor and 300 MB above idle, each.

Every request is answered in a process of its own, over a copy of one grown shop. Run with `-s` to see the table.
"""

from __future__ import annotations

import base64
import json
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

import pytest

from models.database import Store
from models.intake.csv_file import ON_A_PAGE
from models.operations.imports import KINDS, take_file
from models.operations.stock.valuation import choose_valuation
from tests.operations.shop.test_gathering import grown

MOST_SECONDS = 2.0
MOST_MEGABYTES = 300
LINES = ON_A_PAGE.lines
TOP = Path(__file__).parents[2]

PROBE = """
import gc, json, os, resource, sys, time
from pathlib import Path
from models.database import Store
from tests.web.conftest import Client
from webapp.app import create_app, freeze_start, warm_up
from webapp.settings import Settings


def answer(asked, client):
    file = {"file": ("file.csv", asked["file"].encode(), "text/csv")} if asked["file"] else None
    if asked["json"] is not None:
        body, kind = asked["json"].encode(), {"content-type": "application/json"}
        return client.request("POST", asked["path"], content=body, headers=kind)
    if asked["fields"] or file:
        return client.post(asked["path"], dict(asked["fields"]), files=file)
    return client.get(asked["path"])


def measured(asked):
    store = Store(Path(asked["folder"]))
    with Client(create_app(store, Settings(store.folder)), raise_errors=False) as client:
        client.get(asked["first"])
        gc.collect()
        resident = int(Path("/proc/self/statm").read_text().split()[1]) * resource.getpagesize()
        before = time.process_time()
        found = answer(asked, client)
        spent = time.process_time() - before
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    size = len(found.content)
    return {"status": found.status_code, "seconds": spent, "megabytes": (peak - resident) / 1e6, "size": size}


first = Store(Path(sys.argv[1]))
warm_up(create_app(first, Settings(first.folder)))
first.close()
freeze_start()
for line in sys.stdin:
    # A process of its own for each, which has everything warm.
    child = os.fork()
    if not child:
        print(json.dumps(measured(json.loads(line))), flush=True)
        os._exit(0)
    if os.waitpid(child, 0)[1]:
        sys.exit("a request ended its process")
"""


@dataclass(frozen=True)
class Worst:
    """One request: what it is, where it goes, and what it sends; `statuses` are what may come of it."""

    name: str
    path: str
    fields: dict[str, str] = field(default_factory=dict)
    file: str = ""
    json: str | None = None
    first: str = "/settings/files"
    statuses: tuple[int, ...] = (200, 422)
    in_a_new_shop: bool = False
    """Items, designs and outlets are only new to a shop that has none of them."""
    by_average: bool = False
    """Whether the shop values by the weighted average."""


@dataclass(frozen=True)
class Cost:
    """What it cost."""

    status: int
    seconds: float
    megabytes: float
    size: int


TOKEN = "a-token-of-this-benchmark"  # noqa: S105  (a one-time mark)


FRESH = {"items", "designs", "outlets"}


def taking(code: str, text: str) -> Worst:
    """Taking in a file that was looked at."""
    content = base64.b64encode(text.encode()).decode()
    return Worst(
        f"take {text.count(chr(10))} lines of {code}",
        f"/settings/files/{code}/take",
        {"token": TOKEN, "content": content},
        statuses=(303,),
        in_a_new_shop=code in FRESH,
    )


def looking(name: str, code: str, text: str, *statuses: int) -> Worst:
    """Looking at a file."""
    return Worst(
        f"look at {name}",
        f"/settings/files/{code}",
        {"token": TOKEN},
        text,
        statuses=statuses or (200, 422),
        in_a_new_shop=code in FRESH and statuses == (200,),
    )


def of_one_item(code: str, number: int) -> str:
    """A file of which so many lines are of one item, and the others of as many items as there are."""
    header, *lines = grown(code, LINES).split("\n")
    column = header.split(",").index("lot_id" if code == "counts" else "item_id")
    same = [line.split(",") for line in lines[:number]]
    for place, cells in enumerate(same):
        cells[column] = str(place * 1000 + 1) if code == "counts" else "1"
    return "\n".join([header, *(",".join(cells) for cells in same), *lines[number:]])


def wrong(code: str) -> str:
    """A file of which every cell of every line is wrong, as large as may be."""
    names = [column.name for column in KINDS[code].columns]
    cell = "?" * max(1, (ON_A_PAGE.bytes - 2_000) // (LINES * (len(names) + 1)) - 1)
    return "\n".join([",".join(names), *[",".join([cell[:60]] * len(names))] * LINES])


FILES = {
    "half a million columns": "kind,name" + "," * 499_000 + "x\nfinding,Hook\n",
    "a quarter of a million unknown columns": "name" + ",c" * 240_000 + "\nx\n",
    "a megabyte without a line end": "kind" + "x" * 990_000,
    "a quotation mark that is never closed": 'kind,name\n"' + "x\n" * 490_000,
    "a megabyte of empty lines": "kind,name\n" + "\n" * 990_000,
    "a megabyte of apostrophes": "kind,name\n" + "finding," + "'" * 980_000,
}
BOX = {
    "ones": "1 " * 150,
    "metals": "silver bronze copper " * 14,
    "bars": "a|" * 150,
    "digits": "1" * 300,
    "columns": "1\t" * 150,
    "gauges": "18 ga x " * 37,
    "words": " ".join(f"w{number}" for number in range(60)),
}


def worsts() -> Iterator[Worst]:
    """Every call that takes a file or a list, each with what costs it most."""
    for name, text in FILES.items():
        yield looking(name, "items", text)
    for code in KINDS:
        number = 20 if code == "outlets" else LINES
        yield looking(f"{LINES} lines of {code}", code, grown(code, LINES), 200)
        yield looking(f"{LINES} wrong lines of {code}", code, wrong(code))
        yield taking(code, grown(code, number))
    for code in ("receipts", "counts", "leavings"):
        for text in (grown(code, LINES), of_one_item(code, 100 if code == "receipts" else 2)):
            yield replace(looking(f"{LINES} lines of {code} by the average", code, text), by_average=True)
            taken = replace(taking(code, text), name=f"take {LINES} lines of {code} by the average", by_average=True)
            yield replace(taken, statuses=(303, 422))
    for name, line in BOX.items():
        fields = {"token": TOKEN, "name": "Anything", "quick": "\n".join([line] * 200), "act": "add"}
        yield Worst(f"200 lines of {name} in the parts box", "/designs/preview", fields, first="/designs/new")
    rows = {f"parts.{number}.text": "1 " * 150 for number in range(3900)}
    yield Worst("3,900 rows of parts", "/designs/preview", {"token": TOKEN, **rows}, first="/designs/new")
    empty = '{"lines": [' + "{}," * 1_300_000 + "{}]}"
    for path in ("/api/receipts", "/api/purchases"):
        yield Worst(f"a list of 1.3 million to {path}", path, json=empty, statuses=(404, 405, 413, 422))
    parts = '{"name": "x", "parts": [' + "{}," * 1_300_000 + "{}]}"
    yield Worst("a list of 1.3 million to /api/designs", "/api/designs", json=parts, statuses=(413, 422))
    for code in KINDS:
        yield Worst(f"save {code}", f"/settings/files/{code}.csv", statuses=(200,))
        yield Worst(f"save {code} in parts", f"/settings/files/{code}/parts", statuses=(200,))


@pytest.fixture(scope="module")
def grown_shop(empty_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop that has taken in two thousand lines of every kind but outlets, of which it has three."""
    folder = tmp_path_factory.mktemp("file-costs") / "shop"
    shutil.copytree(empty_shop, folder)
    store = Store(folder)
    for code in KINDS:
        text = grown(code, 3 if code == "outlets" else LINES)
        if code not in {"counts", "leavings"}:
            with store.writing() as session:
                take_file(session, KINDS[code], text.encode())
    store.close()
    return folder


def costs_of(worsts: Sequence[Worst], empty: Path, full: Path, tmp_path: Path) -> Iterator[tuple[Worst, Cost]]:
    """What each request costs, answered over a copy of a shop by a process of its own."""
    with subprocess.Popen(
        [sys.executable, "-c", PROBE, str(empty)], cwd=TOP, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as probe:
        assert probe.stdin is not None
        assert probe.stdout is not None
        for number, worst in enumerate(worsts):
            folder = Path(shutil.copytree(empty if worst.in_a_new_shop else full, tmp_path / str(number)))
            if worst.by_average:
                _value_by_the_average(folder)
            probe.stdin.write(json.dumps({"folder": str(folder), **asdict(worst)}) + "\n")
            probe.stdin.flush()
            said = probe.stdout.readline()
            assert said, worst.name
            yield worst, Cost(**json.loads(said))
            shutil.rmtree(folder)


def _value_by_the_average(folder: Path) -> None:
    store = Store(folder)
    with store.writing() as session:
        choose_valuation(session, "average")
    store.close()


def table(found: Sequence[tuple[Worst, Cost]]) -> str:
    """The costs as a table, the dearest first."""
    rows = sorted(found, key=lambda each: -each[1].seconds)
    return "\n".join(
        f"{worst.name:55} {cost.status} {cost.seconds:6.2f} s {cost.megabytes:6.0f} MB {cost.size / 1e3:8.0f} kB"
        for worst, cost in rows
    )


def test_no_file_and_no_list_costs_more_than_two_seconds_or_three_hundred_megabytes(
    grown_shop: Path, empty_shop: Path, tmp_path: Path
) -> None:
    found = list(costs_of(tuple(worsts()), empty_shop, grown_shop, tmp_path))
    print(f"\n{table(found)}")  # noqa: T201  (the point of it)
    for worst, cost in found:
        assert cost.status in worst.statuses, worst.name
    assert table([each for each in found if each[1].seconds > MOST_SECONDS]) == ""
    assert table([each for each in found if each[1].megabytes > MOST_MEGABYTES]) == ""
