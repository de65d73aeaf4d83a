"""Lots, places, moves, levels, jobs, scrap metal, rings taken first and the whole shelf, under /api."""

from __future__ import annotations

from typing import Any

import pytest

from models.database import Store
from models.operations.stock.check_ledger import check_ledger
from models.tables import Item
from tests.ledgers import DRAWER, a_lot, in_bag, on_hand
from tests.shops import NOON, a_ring
from tests.web.conftest import Client


@pytest.fixture
def ring(store: Store) -> int:
    """A hundred titanium rings for 10.00 in drawer B4, as lot 1."""
    with store.writing() as session:
        found = a_ring(session, name="Titanium ring", metal="titanium", wire_nm=800_000, inner_nm=2_800_000)
        a_lot(session, found, 100, "10.00", batch="tank 3")
        return found


@pytest.fixture
def wire(store: Store) -> int:
    """Five metres of copper wire of 1.2 mm for 10.00."""
    with store.writing() as session:
        item = Item(kind="wire", name="Copper wire", metal="copper", wire_nm=1_200_000, unit="m", created_at=NOON)
        session.add(item)
        session.flush()
        a_lot(session, item.id or 0, 5, "10.00", place="rack")
        return item.id or 0


def send(client: Client, path: str, body: dict[str, Any], method: str = "POST") -> Any:
    return client.request(method, f"/api{path}", json=body)


def sound(store: Store) -> bool:
    with store.reading() as session:
        assert check_ledger(session) == ()
    return True


def test_a_bag_moves_and_its_lot_says_where_it_lies(client: Client, store: Store, ring: int) -> None:
    answer = send(client, "/transfers", {"lot_id": 1, "from_place": DRAWER, "to_place": "tin 9", "quantity": 30})
    assert answer.status_code == 201
    assert [(one["kind"], one["quantity"]) for one in answer.json()["movements"]] == [
        ("transfer", -30),
        ("transfer", 30),
    ]
    (lot,) = client.get(f"/api/items/{ring}/lots").json()["lots"]
    assert (lot["batch"], lot["quantity"], lot["value"]["amount"]) == ("tank 3", 100, "10.00")
    assert [(bag["place"], bag["free"]) for bag in lot["bags"]] == [(DRAWER, 70), ("tin 9", 30)]
    assert [one["place"] for one in client.get("/api/places").json()["places"]] == [DRAWER, "tin 9"]
    send(client, f"/acts/{answer.json()['act_id']}/undo", {})
    with store.reading() as session:
        assert in_bag(session, 1) == 100
    assert sound(store)


@pytest.mark.parametrize(
    ("body", "status", "field"),
    [
        ({"lot_id": 1, "from_place": DRAWER}, 422, "to_place"),
        ({"lot_id": 1, "from_place": DRAWER, "to_place": DRAWER}, 422, "to_place"),
        ({"lot_id": 1, "from_place": DRAWER, "to_place": "tin", "quantity": 101}, 409, ""),
        ({"lot_id": 9, "to_place": "tin"}, 404, ""),
    ],
)
def test_a_move_that_cannot_be_says_why(
    client: Client, ring: int, body: dict[str, Any], status: int, field: str
) -> None:
    answer = send(client, "/transfers", body)
    assert answer.status_code == status
    assert field in [error["field"] for error in answer.json().get("errors", [{"field": ""}])]


def test_levels_are_kept_and_a_stale_one_is_refused(client: Client, ring: int) -> None:
    path = f"/items/{ring}/levels"
    assert client.get(f"/api{path}").json()["reorder"] is None
    kept = send(client, path, {"reorder": 150, "target": 400, "batch_colour": True, "version": 1}, "PUT").json()
    assert (kept["reorder"], kept["target"], kept["batch_colour"], kept["version"]) == (150, 400, True, 2)
    assert send(client, path, {"reorder": 10, "version": 1}, "PUT").status_code == 409
    assert send(client, path, {"reorder": 10, "target": 5}, "PUT").json()["errors"][0]["field"] == "target"
    assert send(client, path, {"version": "old"}, "PUT").status_code == 422
    assert send(client, "/items/99/levels", {}, "PUT").status_code == 404
    low = client.get("/api/items?shelf=low").json()["items"]
    assert [one["id"] for one in low] == [ring]
    assert client.get("/api/items?shelf=nowhere").status_code == 422


def test_the_shelf_says_what_it_is_worth_and_what_wants_a_look(client: Client, ring: int) -> None:
    send(client, f"/items/{ring}/levels", {"reorder": 150}, "PUT")
    found = client.get("/api/stock").json()
    assert (found["value"], found["items"], found["low"]) == ({"amount": "10.00", "currency": "EUR"}, 1, 1)
    assert found["valuation"] == "fifo"


def test_how_stock_is_valued_is_asked_and_changed(client: Client, store: Store, ring: int) -> None:
    with store.writing() as session:
        a_lot(session, ring, 100, "30.00")
    before = client.get("/api/settings/valuation").json()
    assert (before["method"], before["other"], before["other_items"]) == ("fifo", "average", 1)
    assert before["other_shifted"]["amount"] == "10.00"
    after = send(client, "/settings/valuation", {"method": "average", "version": before["version"]}, "PUT").json()
    assert after["method"] == "average"
    assert {lot["value"]["amount"] for lot in client.get(f"/api/items/{ring}/lots").json()["lots"]} == {"20.00"}
    assert send(client, "/settings/valuation", {"method": "last"}, "PUT").status_code == 422
    stale = {"method": "fifo", "version": before["version"]}
    assert send(client, "/settings/valuation", stale, "PUT").status_code == 409
    assert sound(store)


def test_rings_from_wire_are_planned_and_booked(client: Client, store: Store, wire: int) -> None:
    asked = f"wire_id={wire}&rings=100&mandrel=5.0%20mm&kerf=0.25%20mm&expected_minutes=30"
    plan = client.get(f"/api/coil-plan?{asked}").json()
    assert plan["needed"] == pytest.approx(plan["wire_mm"] / 1000, abs=0.001)
    assert plan["wire_mm"] == pytest.approx(plan["in_rings_mm"] + plan["sawn_mm"] + plan["ends_mm"], abs=0.01)
    assert plan["enough"] is True
    assert plan["cautions"]
    body = {"wire_id": wire, "made": 96, "used": "2 m", "new_inner": "5.1 mm", "minutes": 30, "place": "drawer C2"}
    answer = send(client, "/jobs/make-rings", body)
    assert answer.status_code == 201
    job = answer.json()
    assert (job["kind"], job["used"], job["made"]) == ("coil", 2, 96)
    assert client.get(answer.headers["location"]).json() == job
    assert [one["id"] for one in client.get(f"/api/jobs?item_id={wire}").json()["jobs"]] == [job["id"]]
    send(client, f"/acts/{job['act_id']}/undo", {})
    with store.reading() as session:
        assert on_hand(session, wire) == (5, 10_000_000)
    assert client.get(f"/api/jobs/{job['id']}").json()["undone_by"] is not None
    assert sound(store)


def test_a_bag_is_anodised_at_its_cost(client: Client, store: Store, ring: int) -> None:
    body = {
        "lot_id": 1, "place": DRAWER, "process": "anodise", "quantity": 50, "lost": 2, "colour": "teal",
        "cost": {"amount": "1.50", "currency": "EUR"}, "minutes": 0,
    }  # fmt: skip
    answer = send(client, "/jobs/process", body)
    assert answer.status_code == 201, answer.text
    job = answer.json()
    assert (job["process"], job["used"], job["made"]) == ("anodise", 50, 48)
    assert float(job["cost"]["amount"]) >= 6.5
    assert sound(store)


@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("/jobs/make-rings", {"wire_id": 1, "made": 5, "new_inner": "5 mm"}, "used"),
        ("/jobs/make-rings", {"wire_id": 1, "made": 5, "used": "1 m"}, "ring_id"),
        ("/jobs/process", {"lot_id": 1, "process": "gild", "colour": "gold"}, "process"),
        ("/jobs/process", {"lot_id": 1, "process": "dye", "colour": "red", "cost": {"amount": "1", "currency": "USD"}}, "cost"),
        ("/scrap-metal", {"metal": "copper", "weight": 3}, "metal"),
        ("/scrap-metal", {"metal": "sterling-925"}, "weight"),
        ("/builds/take", {"lines": []}, "lines"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named_by_its_field(
    client: Client, ring: int, path: str, body: dict[str, Any], field: str
) -> None:
    answer = send(client, path, body)
    assert answer.status_code == 422, answer.text
    assert field in [error["field"] for error in answer.json()["errors"]]


def test_a_plan_without_a_mandrel_is_refused(client: Client, wire: int) -> None:
    answer = client.get(f"/api/coil-plan?wire_id={wire}&rings=10")
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["field"] == "mandrel"
    assert client.get("/api/coil-plan?wire_id=99&rings=10&mandrel=5").status_code == 404


def test_scrap_metal_is_put_by_and_sold(client: Client, store: Store) -> None:
    kept = send(client, "/scrap-metal", {"metal": "sterling-925", "weight": 12.5, "note": "Filings."}).json()
    item = kept["movements"][0]["item_id"]
    assert kept["movements"][0]["quantity"] == 12.5
    sold = send(client, "/scrap", {"item_id": item, "reason": "sold", "quantity": 12.5, "total_price": "8.00"})
    assert sold.status_code == 201, sold.text
    assert sold.json()["movements"][0]["price"]["amount"] == "8.00"
    assert sound(store)


def test_rings_are_taken_first_and_a_design_is_made_of_them(client: Client, store: Store, ring: int) -> None:
    taken = send(client, "/builds/take", {"lines": [{"lot_id": 1, "place": DRAWER, "used": 40}], "note": "A try."})
    assert taken.status_code == 201, taken.text
    build = taken.json()
    assert (build["state"], build["design_id"], build["lines"][0]["taken"]) == ("making", None, 40)
    path = f"/builds/{build['id']}/design"
    assert send(client, path, {"name": ""}).status_code == 422
    assert send(client, path, {"name": "Wren", "version": 99}).status_code == 409
    named = {"name": "Wren pendant", "piece": "pendant", "lines": [{"item_id": ring, "used": 36}]}
    made = send(client, path, named).json()
    assert made["design"] == "Wren pendant"
    done = send(client, f"/builds/{build['id']}/finish", {"minutes": 30, "timing": "use"}).json()
    assert (done["state"], done["lines"][0]["returned"]) == ("finished", 4)
    assert send(client, path, named).status_code == 409
    assert sound(store)
