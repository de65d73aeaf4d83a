"""What can be made, stand-ins and the best mix under /api: the same answers as the pages, waited for or not."""

from __future__ import annotations

import time
from typing import Any

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.operations.figures import refresh_figures
from models.planning.mix_request import MixRequest
from models.planning.solver import Search
from models.tables import Build, MakePlan
from tests.builds import Bench, a_bench
from tests.ledgers import a_lot
from tests.planted import planted
from tests.shops import a_design, a_part, a_ring, an_outlet
from tests.web.conftest import Client
from webapp import planner


def two_designs(session: Session) -> Bench:
    """A pendant and earrings of the same bronze rings, and one outlet."""
    an_outlet(session)
    found = a_bench(session)
    a_design(session, [a_part(found.bronze, 30)], name="Rook earrings")
    refresh_figures(session)
    return found


@pytest.fixture
def bench(store: Store) -> Bench:
    """The same, in the shop of this test."""
    return planted(store, two_designs)


def post(client: Client, path: str, body: dict[str, Any], **headers: str) -> Any:
    return client.request("POST", path, json=body, headers=headers)


def test_makeable_tells_per_design_how_many_the_limiting_item_and_what_one_more_needs(
    client: Client, bench: Bench
) -> None:
    answer = client.get("/api/makeable?allowance=without&order=name").json()
    assert (answer["designs"], answer["can_be_made"], answer["rows"]) == (2, 2, 2)
    pendant = answer["makeable"][0]
    assert (pendant["design"], pendant["pieces"], pendant["sure"], pendant["with_allowance"]) == (
        "Copper leaf pendant", 5, True, False,
    )  # fmt: skip
    assert pendant["limiting"] == [{"item_id": bench.bronze, "item": "Bronze ring 1.0 × 3.6 mm"}]
    assert [(need["item_id"], need["quantity"], need["unit"]) for need in pendant["one_more_needs"]] == [
        (bench.bronze, 20, "piece")
    ]
    assert pendant["outlet"] == "Web shop"
    assert {"amount", "currency"} == set(pendant["earned_per_hour"]) == set(pendant["profit_per_hour"])
    after = client.get(f"/api/makeable?allowance=without&order=name&making={bench.design}&pieces=2").json()
    assert [row["after"] for row in after["makeable"]] == [3, 2]


@pytest.mark.parametrize(
    ("query", "field"),
    [("making=999", "making"), ("making=1&pieces=900", "pieces"), ("skill=9", "skill"), ("minutes=-1", "minutes")],
)
def test_nonsense_is_refused_with_problem_details(client: Client, bench: Bench, query: str, field: str) -> None:
    answer = client.get(f"/api/makeable?{query}")
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    assert field in answer.text


def test_stand_ins_are_declared_listed_proposed_and_taken_back(client: Client, store: Store, bench: Bench) -> None:
    with store.writing() as session:
        other = a_ring(session, name="Brass ring", metal="brass-c260")
        a_lot(session, other, 60, "2.00")
    made = post(client, f"/api/items/{bench.bronze}/stand-ins", {"stand_in_id": other})
    assert made.status_code == 201
    declared = made.json()
    assert (declared["item_id"], declared["instead_of"], declared["both_ways"]) == (other, bench.bronze, False)
    for item in (bench.bronze, other):
        assert client.get(f"/api/items/{item}/stand-ins").json() == {"stand_ins": [declared]}
    row = client.get("/api/makeable?order=name").json()["makeable"][0]
    assert [(one["item_id"], one["instead_of"], one["why"], one["same_look"]) for one in row["stand_ins"]] == [
        (other, bench.bronze, "declared", False)
    ]
    circle = post(client, f"/api/items/{other}/stand-ins", {"stand_in_id": other})
    assert (circle.status_code, circle.json()["errors"][0]["field"]) == (422, "stand_in_id")
    build = post(client, "/api/builds", {"design_id": bench.design, "instead": [f"{bench.bronze}:{other}"]}).json()
    assert build["instead"] == [f"{bench.bronze}:{other}"]
    assert other in {line["item_id"] for line in build["lines"]}
    assert client.request("DELETE", f"/api/stand-ins/{declared['id']}").status_code == 200
    assert client.request("DELETE", f"/api/stand-ins/{declared['id']}").status_code == 404
    assert client.get(f"/api/items/{bench.bronze}/stand-ins").json() == {"stand_ins": []}


def test_a_circle_of_stand_ins_is_refused_and_the_list_stays_as_it_was(
    client: Client, store: Store, bench: Bench
) -> None:
    with store.writing() as session:
        third = a_ring(session, name="Brass ring", metal="brass-c260")
    for item, other in ((bench.bronze, bench.silver), (bench.silver, third)):
        assert post(client, f"/api/items/{item}/stand-ins", {"stand_in_id": other}).status_code == 201
    before = client.get(f"/api/items/{bench.silver}/stand-ins").json()
    closed = post(client, f"/api/items/{third}/stand-ins", {"stand_in_id": bench.bronze})
    assert (closed.status_code, closed.json()["errors"][0]["field"]) == (422, "stand_in_id")
    assert "Brass ring" in closed.json()["errors"][0]["message"]
    assert client.get(f"/api/items/{bench.silver}/stand-ins").json() == before
    assert len(before["stand_ins"]) == 2


def test_a_plan_is_waited_for_and_comes_with_its_rings_and_proof(client: Client, bench: Bench) -> None:
    answer = post(client, "/api/make-plan", {"hours": 10, "goal": "pieces", "allowance": "without"})
    assert answer.status_code == 200
    plan = answer.json()
    assert answer.headers["location"] == f"/api/make-plan/{plan['id']}"
    assert (plan["state"], plan["answer"], plan["pieces"]) == ("done", "plan", 5)
    assert (plan["proof"]["value"], plan["proof"]["bound"], plan["proof"]["gap"]) == (5, 5, 0)
    assert [(line["design"], line["pieces"]) for line in plan["lines"]] == [("Copper leaf pendant", 5)]
    bronze = next(use for use in plan["rings"] if use["item_id"] == bench.bronze)
    assert (bronze["taken"], bronze["left"]) == (100, 0)
    assert sum(bag["quantity"] for bag in bronze["bags"]) == 100
    assert client.get(f"/api/make-plan/{plan['id']}").json() == plan


def test_caps_by_design_are_kept_and_wishes_that_fail_are_told(client: Client, bench: Bench) -> None:
    caps = [{"design_id": bench.design, "at_least": 9}]
    plan = post(client, "/api/make-plan", {"caps": caps}).json()
    assert (plan["answer"], plan["lines"], plan["proof"]) == ("unmeetable", [], None)
    assert [(one["wish"], one["wanted"], one["possible"]) for one in plan["short"]] == [("Copper leaf pendant", 9, 4)]
    most = post(
        client, "/api/make-plan", {"caps": [{"design_id": bench.design, "at_least": 1, "at_most": 1}], "goal": "pieces"}
    ).json()
    assert {line["design"]: line["pieces"] for line in most["lines"]}["Copper leaf pendant"] == 1


def test_the_same_key_asks_once(client: Client, store: Store, bench: Bench) -> None:
    body = {"hours": 5, "goal": "pieces"}
    first = post(client, "/api/make-plan", body, **{"Idempotency-Key": "once"})
    second = post(client, "/api/make-plan", body, **{"Idempotency-Key": "once"})
    assert first.json() == second.json()
    assert second.headers["idempotency-replayed"] == "true"
    with store.reading() as session:
        assert len(session.exec(select(MakePlan)).all()) == 1


def test_a_long_search_is_answered_at_once_where_nobody_waits_and_can_be_stopped(
    client: Client, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = planner.plan_mix

    def search(question: MixRequest, how: Search) -> object:
        assert how.cancelled is not None
        while not how.cancelled():
            time.sleep(0.02)
        return real(question)

    monkeypatch.setattr(planner, "plan_mix", search)
    answer = post(client, "/api/make-plan", {"wait": 0, "goal": "pieces"})
    assert answer.status_code == 202
    where = answer.headers["location"]
    assert client.get(where).json()["state"] in {"waiting", "searching"}
    assert post(client, f"{where}/stop", {}).json()["done"]
    for _ in range(100):
        plan = client.get(where).json()
        if plan["state"] == "done":
            break
        time.sleep(0.05)
    assert (plan["state"], plan["answer"]) == ("done", "plan")


def test_a_plan_is_booked_once_and_taken_back(client: Client, store: Store, bench: Bench) -> None:
    plan = post(client, "/api/make-plan", {"goal": "pieces", "allowance": "without"}).json()
    path = f"/api/make-plan/{plan['id']}"
    first, second = post(client, f"{path}/builds", {}).json(), post(client, f"{path}/builds", {}).json()
    assert (first["done"], second["done"]) == (True, False)
    assert first["plan"]["booked"]
    assert len(first["plan"]["lines"][0]["builds"]) == 1
    with store.reading() as session:
        assert len(session.exec(select(Build)).all()) == 1
    assert post(client, f"{path}/rest", {}).status_code == 409
    assert post(client, f"{path}/undo", {}).json()["plan"]["booked"] is False
    assert post(client, f"{path}/undo", {}).status_code == 409


def test_what_limits_a_plan_is_asked_for_apart(client: Client, bench: Bench) -> None:
    plan = post(client, "/api/make-plan", {"goal": "pieces", "allowance": "without"}).json()
    path = f"/api/make-plan/{plan['id']}"
    assert post(client, f"{path}/limits", {}).json()["done"]
    for _ in range(100):
        plan = client.get(path).json()
        if plan["limits"] is not None:
            break
        time.sleep(0.05)
    best = plan["limits"]["tried"][0]
    assert (best["what"], best["item_id"], best["unit"], best["gain"]) == ("item", bench.bronze, 20, 1)


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"hours": 0}, "hours"),
        ({"hours": -1}, "hours"),
        ({"caps": [{"design_id": 1, "at_most": -1}]}, "caps.0.at_most"),
        ({"caps": "all"}, "caps"),
        ({"caps": [7]}, "caps.0"),
        ({"wait": 9999}, "wait"),
        ({"search": 0}, "search"),
        ({"goal": "fame"}, "goal"),
        ({"keep_back": [{"item_id": 1, "quantity": "-3"}]}, "keep_back.0.quantity"),
    ],
)
def test_a_bad_question_is_refused_by_field_and_not_kept(
    client: Client, store: Store, bench: Bench, body: dict[str, Any], field: str
) -> None:
    answer = post(client, "/api/make-plan", body)
    assert answer.status_code == 422
    assert field in [error["field"] for error in answer.json()["errors"]]
    with store.reading() as session:
        assert session.exec(select(MakePlan)).all() == []


def test_unknown_plans_are_missing(client: Client, bench: Bench) -> None:
    assert client.get("/api/make-plan/77").status_code == 404
    for act in ("stop", "limits", "builds", "rest", "undo"):
        assert post(client, f"/api/make-plan/77/{act}", {}).status_code == 404
