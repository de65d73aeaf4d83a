"""Builds under /api: the same operations, with problem details for what is short, stale or wrong."""

from __future__ import annotations

from typing import Any

import pytest

from models.database import Store
from models.operations.stock.check_ledger import check_ledger
from tests.builds import Bench, a_bench, pieces_of
from tests.ledgers import DRAWER, on_hand
from tests.planted import planted
from tests.web.conftest import Client


@pytest.fixture
def bench(store: Store) -> Bench:
    """A pendant of 20 bronze and 4 silver rings, with enough for five of them."""
    return planted(store, a_bench)


def post(client: Client, path: str, body: dict[str, Any], **headers: str) -> Any:
    return client.request("POST", f"/api/builds{path}", json=body, headers=headers)


def test_a_build_is_started_taken_out_and_finished(client: Client, store: Store, bench: Bench) -> None:
    answer = post(client, "", {"design_id": bench.design, "pieces": 2, "note": "By a script."})
    assert answer.status_code == 201
    build = answer.json()
    assert answer.headers["location"] == f"/api/builds/{build['id']}"
    assert (build["state"], build["design"], build["version"]) == ("started", "Copper leaf pendant", 1)
    assert [(line["lot_id"], line["planned"]) for line in build["lines"]] == [
        (bench.old, 30),
        (bench.new, 10),
        (bench.silver_lot, 8),
    ]
    path = f"/{build['id']}"
    assert post(client, f"{path}/take-out", {"version": 1}).json()["state"] == "making"
    body = {
        "good": 2,
        "times": {"weave": 40, "close": "0:20"},
        "timing": "use",
        "lines": [{"lot_id": bench.new, "place": "tin", "spoiled": 3}],
        "place": "tray",
        "version": 2,
    }
    done = post(client, f"{path}/finish", body).json()
    assert (done["state"], done["good"], done["minutes"]) == ("finished", 2, 60)
    assert done["lines"][1]["extra"] == 3
    assert done["materials"] == {"amount": "6.41", "currency": "EUR"}
    assert [line["label"] for line in done["cost_lines"]] == ["Materials", "Labour", "Overhead"]
    assert done["piece_lot_id"] is not None
    assert client.get(f"/api/builds{path}").json() == done
    with store.reading() as session:
        assert pieces_of(session, bench)[0] == 2
        assert check_ledger(session) == ()


def test_made_books_everything_at_once_for_a_past_day(client: Client, store: Store, bench: Bench) -> None:
    body = {"design_id": bench.design, "pieces": 1, "minutes": "1:05", "made_on": "2026-03-02", "spoiled": 1}
    answer = post(client, "/made", body)
    assert answer.status_code == 201
    build = answer.json()
    assert (build["good"], build["spoiled"], build["made_on"], build["minutes"]) == (1, 1, "2026-03-02", 65)
    with store.reading() as session:
        assert on_hand(session, bench.bronze)[0] == 60


def test_a_start_says_its_days_and_made_on_follows_them(client: Client, bench: Bench) -> None:
    body = {"design_id": bench.design, "pieces": 1, "started_on": "2026-03-02", "due_on": "2026-04-01"}
    build = post(client, "", body).json()
    days = ("started_on", "due_on", "finished_on", "made_on")
    assert [build[name] for name in days] == ["2026-03-02", "2026-04-01", None, "2026-03-02"]
    path = f"/{build['id']}"
    done = post(client, f"{path}/finish", {"version": build["version"], "finished_on": "2026-03-05"}).json()
    assert [done[name] for name in days] == ["2026-03-02", "2026-04-01", "2026-03-05", "2026-03-05"]


def test_a_start_still_takes_its_day_as_made_on(client: Client, bench: Bench) -> None:
    build = post(client, "", {"design_id": bench.design, "pieces": 1, "made_on": "2026-03-02"}).json()
    assert (build["started_on"], build["due_on"]) == ("2026-03-02", None)


@pytest.mark.parametrize("field", ["started_on", "due_on", "made_on"])
def test_a_day_that_is_none_is_said_beside_its_field(client: Client, bench: Bench, field: str) -> None:
    answer = post(client, "", {"design_id": bench.design, "pieces": 1, field: "soon"})
    assert answer.status_code == 422
    assert field in answer.text


def test_lines_may_name_items_and_leave_the_bags_to_the_shop(client: Client, store: Store, bench: Bench) -> None:
    body = {
        "design_id": bench.design,
        "lines": [{"item_id": bench.bronze, "used": 20, "spoiled": 15}, {"item_id": bench.silver, "used": 0}],
    }
    build = post(client, "/made", body).json()
    assert [(line["lot_id"], line["taken"], line["extra"]) for line in build["lines"]] == [
        (bench.old, 20, 10),
        (bench.new, 0, 5),
    ]


def test_too_little_answers_every_item_that_is_short(client: Client, bench: Bench) -> None:
    answer = post(client, "", {"design_id": bench.design, "pieces": 11})
    assert answer.status_code == 409
    assert answer.headers["content-type"] == "application/problem+json"
    assert [(one["item_id"], one["needed"], one["available"]) for one in answer.json()["short"]] == [
        (bench.bronze, 220, 100),
        (bench.silver, 44, 40),
    ]
    named = {"design_id": bench.design, "lines": [{"lot_id": bench.old, "place": DRAWER, "used": 31}]}
    answer = post(client, "/made", named)
    assert answer.status_code == 409
    (short,) = answer.json()["short"]
    assert (short["lot_id"], short["place"], short["needed"], short["available"]) == (bench.old, DRAWER, 31, 30)


def test_a_key_acts_once(client: Client, store: Store, bench: Bench) -> None:
    body = {"design_id": bench.design, "pieces": 1}
    first, second = (post(client, "/made", body, **{"Idempotency-Key": "evening-1"}) for _ in range(2))
    assert first.json() == second.json()
    assert second.headers["idempotency-replayed"] == "true"
    assert post(client, "/made", {**body, "pieces": 2}, **{"Idempotency-Key": "evening-1"}).status_code == 422
    with store.reading() as session:
        assert pieces_of(session, bench)[0] == 1


def test_a_stale_version_is_refused(client: Client, bench: Bench) -> None:
    build = post(client, "", {"design_id": bench.design}).json()
    post(client, f"/{build['id']}/take-out", {})
    answer = post(client, f"/{build['id']}/finish", {"version": 1})
    assert answer.status_code == 409
    assert answer.json()["changes"][0]["saved"] == "is under way"
    assert post(client, f"/{build['id']}/take-out", {}).status_code == 409


@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("", {}, "design_id"),
        ("", {"design_id": 1, "pieces": 0}, "pieces"),
        ("", {"design_id": 1, "choice": {"colour": "red"}}, "choice"),
        ("", {"design_id": 1, "with": [7]}, "with"),
        ("/made", {"design_id": 1, "minutes": "soon"}, "minutes"),
        ("/made", {"design_id": 1, "minutes": 10_000}, "timing"),
        ("/made", {"design_id": 1, "times": {"weave": "x"}}, "times.weave"),
        ("/made", {"design_id": 1, "lines": [{"lot_id": 1, "place": "attic", "used": 1}]}, "lines.0.bag"),
        ("/made", {"design_id": 1, "lines": [{}]}, "lines.0.item_id"),
        ("/made", {"design_id": 1, "lines": "all"}, "lines"),
    ],
)
def test_what_is_wrong_is_named_by_its_field(
    client: Client, bench: Bench, path: str, body: dict[str, Any], field: str
) -> None:
    answer = post(client, path, body)
    assert answer.status_code == 422, answer.text
    assert field in [error["field"] for error in answer.json()["errors"]]


def test_what_is_not_there_is_not_found(client: Client, bench: Bench) -> None:
    assert client.get("/api/builds/99").status_code == 404
    assert post(client, "", {"design_id": 99}).status_code == 404
    for act in ("take-out", "finish", "abandon", "unpick", "undo"):
        assert post(client, f"/99/{act}", {}).status_code == 404


def test_builds_are_given_up_unpicked_and_taken_back(client: Client, store: Store, bench: Bench) -> None:
    build = post(client, "", {"design_id": bench.design}).json()
    path = f"/{build['id']}"
    post(client, f"{path}/take-out", {})
    lines = [{"lot_id": bench.old, "place": DRAWER, "spoiled": 2}]
    assert post(client, f"{path}/abandon", {"lines": lines}).json()["state"] == "abandoned"
    assert post(client, f"{path}/undo", {}).json()["state"] == "making"
    assert post(client, f"{path}/finish", {}).json()["good"] == 1
    assert post(client, f"{path}/unpick", {"lines": lines}).status_code == 200
    with store.reading() as session:
        assert on_hand(session, bench.bronze)[0] == 98
    assert post(client, f"{path}/undo", {"version": "old"}).status_code == 422
    for _ in range(3):
        answer = post(client, f"{path}/undo", {})
    assert answer.json()["state"] == "started"
    fresh = post(client, "", {"design_id": bench.design}).json()
    assert post(client, f"/{fresh['id']}/undo", {}).json() == {"id": fresh["id"], "gone": True}
    with store.reading() as session:
        assert check_ledger(session) == ()


def test_builds_are_listed_by_state_and_design(client: Client, bench: Bench) -> None:
    made = post(client, "/made", {"design_id": bench.design}).json()
    started = post(client, "", {"design_id": bench.design}).json()
    found = client.get("/api/builds").json()["builds"]
    assert [one["id"] for one in found] == [started["id"], made["id"]]
    only = client.get(f"/api/builds?state=finished&design_id={bench.design}").json()["builds"]
    assert [one["id"] for one in only] == [made["id"]]
    assert only[0]["each"]["currency"] == "EUR"
    assert client.get(f"/api/builds?before={made['id']}").json()["builds"] == []
    assert client.get("/api/builds?limit=0").status_code == 422
    assert client.get("/api/builds?state=lost").status_code == 422


def test_a_build_that_was_taken_back_is_listed_only_when_asked_for_and_says_so(client: Client, bench: Bench) -> None:
    made = post(client, "/made", {"design_id": bench.design}).json()
    given_up = post(client, "", {"design_id": bench.design}).json()
    assert not made["taken_back"]
    assert not post(client, f"/{given_up['id']}/abandon", {}).json()["taken_back"]
    undone = post(client, f"/{made['id']}/undo", {}).json()
    assert (undone["state"], undone["taken_back"], undone["undo"]) == ("abandoned", True, "")
    assert [one["id"] for one in client.get("/api/builds").json()["builds"]] == [given_up["id"]]
    assert [one["id"] for one in client.get("/api/builds?state=abandoned").json()["builds"]] == [given_up["id"]]
    both = client.get("/api/builds?taken_back=true").json()["builds"]
    assert [(one["id"], one["taken_back"]) for one in both] == [(given_up["id"], False), (made["id"], True)]
