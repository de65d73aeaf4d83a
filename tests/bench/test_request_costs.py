"""What the worst request of each call on a piece may cost: under 2 s of processor time and 300 MB above idle.

One row for each call and piece; a new one needs a row here and nothing else. Files stand in `test_file_costs`, other
bodies and pictures in `test_body_costs`. To see the table: `python -m pytest -n0 -s tests/bench/test_request_costs.py`.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import Any

import httpx
import pytest

from tests.bench.large_pieces import AT_HAND, LARGEST, rows
from tests.bench.request_cost import Sent, Worst, cost_of, sends
from tests.web.conftest import FormReader

MOST_CPU_S = 2.0
MOST_PEAK_MB = 300.0


def kept(client: httpx.Client, piece: dict[str, Any]) -> int:
    """A new design that is laid out as this piece."""
    made = client.post("/api/designs", json={"name": "Worst of all"}).json()
    laid = client.put(f"/api/designs/{made['id']}/layout", json={**piece, "version": made["version"]})
    assert laid.status_code == 200, laid.text[:500]
    return int(made["id"])


def put(piece: dict[str, Any]) -> Callable[[httpx.Client], Sent]:
    """Keeping a piece in the place of one that is as large."""

    def make(client: httpx.Client) -> Sent:
        design_id = kept(client, rows(200, 299))
        version = client.get(f"/api/designs/{design_id}/layout").json()["version"]
        return Sent("PUT", f"/api/designs/{design_id}/layout", {"json": {**piece, "version": version}})

    return make


def asks(path: str, piece: dict[str, Any]) -> Callable[[httpx.Client], Sent]:
    """Asking for something of a piece that is kept."""
    return lambda client: Sent("GET", path.format(kept(client, piece)), {})


def press(act: str, piece: dict[str, Any]) -> Callable[[httpx.Client], Sent]:
    """A button of the laying-out room, pressed on a piece that is kept."""

    def make(client: httpx.Client) -> Sent:
        page = client.get(f"/designs/{kept(client, piece)}/rows")
        reader = FormReader()
        reader.feed(page.text)
        form = next(form for form in reader.forms if "state" in form.fields)
        return Sent("POST", "/designs/rows/preview", {"data": {**form.fields, "act": act}})

    return make


DRAWN = {
    "a design's page": "/designs/{}",
    "the drawing": "/designs/{}/drawing.svg",
    "the picture": "/designs/{}/drawing.png?size=2400",
}
TOLD = {"the rows of a design": "/api/designs/{}/layout", "a design": "/api/designs/{}", "the kit": "/designs/{}/kit"}
STEPS = {
    "another order of work": "/designs/{}/rows/order?sides=in+turn&method=single+rings",
    "the order of work": "/api/designs/{}/order-of-work?sides=in+turn",
    "the instruction sheet": "/designs/{}/sheet",
    "the room": "/designs/{}/rows",
}
# A chain of a weave that is not solved has no drawing.
ANSWERS = (200, 409, 422)

TABLE = (
    *(Worst(f"count {name}", sends("POST", "/api/layouts/count", json=one), (200,)) for name, one in LARGEST.items()),
    *(Worst(f"keep {name}", put(one), (200,)) for name, one in LARGEST.items()),
    *(
        Worst(f"{what} of {name}", asks(path, one), ANSWERS)
        for name, one in LARGEST.items()
        for what, path in DRAWN.items()
    ),
    *(
        Worst(f"{what} of 2,000 rows of 30", asks(path, LARGEST["2,000 rows of 30"]), ANSWERS)
        for what, path in {**TOLD, **STEPS}.items()
    ),
    *(
        Worst(f"{what} of {name}", asks(path, one), ANSWERS)
        for name, one in AT_HAND.items()
        for what, path in STEPS.items()
    ),
    *(Worst(f"mirror {name}", press("mirror", one), (200, 422)) for name, one in AT_HAND.items()),
    Worst("the instruction sheet of 10,000", asks("/designs/{}/sheet", rows(100, 100)), (200,)),
    Worst(
        "the instruction sheet of 33 rows of hubs",
        asks("/designs/{}/sheet", rows(33, 33, "japanese-12-in-2", connector="b")),
        (200,),
    ),
    Worst(
        "60,000 rings with a rule of their own",
        sends(
            "POST",
            "/api/layouts/count",
            json={
                "kind": "chain",
                "weave": "full-persian-6-in-1",
                "stretches": [{"units": 30_000, "repeat": ["a"]}],
                "own_links": list(range(1, 13)),
            },
        ),
        (422,),
        "up to 120,000 links",
    ),
)


@pytest.mark.skipif(sys.platform != "linux", reason="the figures are read from /proc")
@pytest.mark.parametrize("worst", TABLE, ids=lambda worst: worst.name)
def test_no_request_costs_more_than_two_seconds_or_three_hundred_megabytes(worst: Worst) -> None:
    cost = cost_of(worst)
    print(f"{worst.name}: {cost.status}, {cost.cpu_s:.2f} s, {cost.peak_mb:.0f} MB")  # noqa: T201
    assert cost.status in worst.answers, cost.text[:500]
    assert worst.says in cost.text
    assert cost.cpu_s < MOST_CPU_S
    assert cost.peak_mb < MOST_PEAK_MB
