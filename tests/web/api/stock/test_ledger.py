"""The ledger under /api: receipts, counts, scrap, weighing and movements, by the same reading as the pages."""

from __future__ import annotations

from typing import Any

import pytest

from models.database import Store
from models.operations.stock.ledger import reserve
from tests.ledgers import DRAWER, a_lot, a_started_build, kept
from tests.shops import a_design, a_part, a_ring
from tests.web.conftest import Client


@pytest.fixture
def ring(store: Store) -> int:
    with store.writing() as session:
        return a_ring(session)


def post(client: Client, path: str, body: dict[str, Any], *, key: str = "") -> Any:
    headers = {"Idempotency-Key": key} if key else {}
    return client.request("POST", path, json=body, headers=headers)


def errors(answer: Any) -> dict[str, str]:
    assert answer.status_code == 422, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    return {one["field"]: one["message"] for one in answer.json()["errors"]}


def test_a_receipt_answers_the_movements_that_it_made(client: Client, ring: int) -> None:
    body = {
        "supplier": "Quill Rings", "freight": {"amount": "2.00", "currency": "EUR"}, "received_on": "2026-03-02",
        "lines": [{"item_id": ring, "quantity": 400, "total_cost": "12.00", "place": DRAWER, "batch": "bath 7"}],
    }  # fmt: skip
    answer = post(client, "/api/receipts", body)
    assert answer.status_code == 201
    made = answer.json()
    assert (made["kind"], made["done_on"]) == ("receive", "2026-03-02")
    assert made["words"] == "Received 400 rings of “Bronze ring 1.0 × 3.6 mm” from Quill Rings."
    line = made["movements"][0]
    assert (line["kind"], line["quantity"], line["unit"], line["place"], line["batch"]) == (
        "receipt",
        400,
        "piece",
        DRAWER,
        "bath 7",
    )
    assert line["value"] == {"amount": "14.00", "currency": "EUR"}
    item = client.get(f"/api/items/{ring}").json()
    assert (item["on_hand"], item["reserved"], item["free"], item["rough"]) == (400, 0, 400, "")
    assert item["average_cost"] == {"amount": "0.035", "currency": "EUR"}
    listed = client.get("/api/items").json()["items"][0]
    assert listed["on_hand"] == 400
    assert listed["on_order"] == 0


def test_a_flat_receipt_of_another_currency_is_one_line(client: Client, ring: int) -> None:
    body = {
        "item_id": ring,
        "packs": 2,
        "pack_price": {"amount": "5", "currency": "USD"},
        "currency": "USD",
        "exchange_rate": "0.9",
    }
    made = post(client, "/api/receipts", body).json()
    assert made["movements"][0]["value"]["amount"] == "9.00"
    assert errors(post(client, "/api/receipts", {**body, "exchange_rate": None})) == {
        "exchange_rate": "Give the rate: what does 1 USD cost in EUR?"
    }
    wrong = post(client, "/api/receipts", {**body, "pack_price": {"amount": "5", "currency": "GBP"}})
    assert "give the amount in USD" in errors(wrong)["pack_price"]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"quantity": 5}, "item_id"),
        ({"lines": []}, "lines.0.item_id"),
        ({"item_id": 99, "quantity": 1}, "item_id"),
        ({"lines": [{"item_id": 1, "quantity": "lots and lots"}]}, "lines.0.quantity"),
        ({"item_id": 1, "quantity": 5, "total_cost": -1}, "total_cost"),
        ({"item_id": 1, "quantity": 2.5}, "quantity"),
    ],
)
def test_a_wrong_receipt_names_its_fields(client: Client, ring: int, body: dict[str, Any], field: str) -> None:
    assert list(errors(post(client, "/api/receipts", body))) == [field]


def test_a_receipt_sent_twice_with_its_key_acts_once(client: Client, ring: int) -> None:
    body = {"item_id": ring, "quantity": 10, "total_cost": "1"}
    first, second = (post(client, "/api/receipts", body, key="r1") for _ in range(2))
    assert first.json() == second.json()
    assert second.headers["Idempotency-Replayed"] == "true"
    assert client.get(f"/api/items/{ring}").json()["on_hand"] == 10


def test_a_count_by_hand_and_one_by_weight(client: Client, store: Store, ring: int) -> None:
    with store.writing() as session:
        lot = a_lot(session, ring, 400, "12.00")
    made = post(client, "/api/counts", {"lot_id": lot, "found": 388, "expected": 400}).json()
    assert made["movements"][0]["quantity"] == -12
    assert made["movements"][0]["value"]["amount"] == "-0.36"
    stale = post(client, "/api/counts", {"lot_id": lot, "found": 388, "expected": 400})
    assert stale.status_code == 409
    assert stale.json()["changes"][0]["saved"].startswith("388")
    weighed = post(
        client,
        "/api/counts",
        {"lot_id": lot, "gross_g": 9.99, "sample": {"rings": 50, "mass_g": 4.995}, "scale_step_g": 0.001},
    )
    assert weighed.status_code == 201
    assert weighed.json()["movements"][0]["on_hand_after"] == 100
    both = post(client, "/api/counts", {"lot_id": lot, "found": 1, "gross_g": 3})
    assert "not both" in errors(both)["found"]
    assert "found" in errors(post(client, "/api/counts", {"lot_id": lot}))
    assert "gross_g" in errors(post(client, "/api/counts", {"lot_id": lot, "gross_g": -1}))
    assert post(client, "/api/counts", {"lot_id": 99, "found": 1}).status_code == 404


def test_scrap_and_sales_leave_and_more_than_is_free_is_told_with_numbers(
    client: Client, store: Store, ring: int
) -> None:
    with store.writing() as session:
        a_lot(session, ring, 100, "3.00")
    made = post(client, "/api/scrap", {"item_id": ring, "reason": "lost", "quantity": 10}).json()
    assert (made["kind"], made["movements"][0]["kind"], made["movements"][0]["reason"]) == ("scrap", "scrap", "lost")
    sold = post(
        client,
        "/api/scrap",
        {"item_id": ring, "reason": "sold", "quantity": 10, "total_price": {"amount": "2", "currency": "EUR"}},
    ).json()
    assert sold["movements"][0]["price"] == {"amount": "2.00", "currency": "EUR"}
    short = post(client, "/api/scrap", {"item_id": ring, "reason": "lost", "quantity": 81})
    assert short.status_code == 409
    assert short.json()["short"][0] | {"needed": 81, "available": 80} == short.json()["short"][0]
    assert "reason" in errors(post(client, "/api/scrap", {"item_id": ring, "reason": "eaten", "quantity": 1}))


def test_movements_are_paged_and_an_act_is_taken_back_once(client: Client, store: Store, ring: int) -> None:
    with store.writing() as session:
        lot = a_lot(session, ring, 100, "3.00")
    for _ in range(3):
        post(client, "/api/scrap", {"item_id": ring, "reason": "lost", "quantity": 10})
    first = client.get(f"/api/items/{ring}/movements?limit=2").json()
    assert [line["on_hand_after"] for line in first["movements"]] == [70, 80]
    rest = client.get(f"/api/items/{ring}/movements?before={first['before']}&lot={lot}").json()
    assert [line["on_hand_after"] for line in rest["movements"]] == [90, 100]
    assert rest["before"] is None
    act = first["movements"][0]["act_id"]
    back = client.request("POST", f"/api/acts/{act}/undo")
    assert back.status_code == 200
    assert back.json()["movements"][0]["quantity"] == 10
    again = client.request("POST", f"/api/acts/{act}/undo")
    assert again.status_code == 409
    assert "taken back already" in again.json()["detail"]
    assert client.request("POST", "/api/acts/999/undo").status_code == 404
    assert client.get("/api/items/99/movements").status_code == 404
    assert client.get(f"/api/items/{ring}/movements?limit=0").status_code == 422


def test_what_builds_reserved_is_not_free(client: Client, store: Store, ring: int) -> None:
    with store.writing() as session:
        lot = a_lot(session, ring, 100, "3.00")
        a_started_build(session, a_design(session, [a_part(ring, 5)]))
        reserve(session, [kept(lot, DRAWER, 30_000)])
    item = client.get(f"/api/items/{ring}").json()
    assert (item["on_hand"], item["reserved"], item["free"]) == (100, 30, 70)


# --- weighing ---


def test_a_weighing_says_count_range_and_whether_it_is_certain(client: Client, ring: int) -> None:
    body = {
        "wire": "1.0 mm",
        "inner": "3.6 mm",
        "metal": "bronze-c220",
        "sample": {"rings": 40, "mass_g": 3.996},
        "gross_g": 9.5,
        "tare_g": 1.51,
        "scale_step_g": 0.001,
    }
    found = post(client, "/api/weigh", body).json()
    assert (found["count"], found["low"], found["high"], found["certain"]) == (80, 80, 80, True)
    assert found["sample_needed"] is None
    assert found["ring_mass_from"] == "sample"
    assert abs(found["ring_mass_g"] - 0.0999) < 1e-9
    assert abs(sum(part["share"] for part in found["parts"]) - 1) < 1e-9
    computed = post(client, "/api/weigh", {**body, "sample": None}).json()
    assert computed["ring_mass_from"] == "computed"
    assert not computed["certain"]


def test_a_sample_alone_is_enough_and_an_item_tells_what_is_odd(client: Client, ring: int) -> None:
    alone = post(
        client, "/api/weigh", {"gross_g": "20 g", "sample": [{"rings": 10, "mass_g": 2}, {"rings": 10, "mass_g": 2.02}]}
    ).json()
    assert alone["low"] <= 100 <= alone["high"]
    odd = post(client, "/api/weigh", {"item_id": ring, "gross_g": 20, "sample": {"rings": 10, "mass_g": 9}}).json()[
        "odd"
    ]
    assert odd["likely_item_id"] is None
    assert odd["seen_g"] == 0.9


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "gross_g"),
        ({"gross_g": 5}, "sample"),
        ({"gross_g": 5, "wire": "16ga", "inner": 4, "metal": "copper"}, "wire"),
        ({"gross_g": 1, "tare_g": 5, "sample": {"rings": 5, "mass_g": 1}}, "gross_g"),
        ({"gross_g": 5, "sample": {"rings": 5, "mass_g": 0}}, "sample.0.mass_g"),
        ({"gross_g": 5, "sample": 7}, "sample"),
    ],
)
def test_a_weighing_that_says_nothing_names_its_field(client: Client, body: dict[str, Any], field: str) -> None:
    assert list(errors(post(client, "/api/weigh", body))) == [field]


def test_a_weighing_of_what_is_not_there_is_not_found_and_nothing_is_booked(client: Client, ring: int) -> None:
    assert post(client, "/api/weigh", {"gross_g": 5, "item_id": 99}).status_code == 404
    assert post(client, "/api/weigh", {"gross_g": 5, "lot_id": 99}).status_code == 404
    post(client, "/api/weigh", {"gross_g": 5, "item_id": ring})
    assert client.get(f"/api/items/{ring}/movements").json() == {"movements": [], "before": None}


def test_every_call_is_described(client: Client) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    for path in ("/api/weigh", "/api/receipts", "/api/counts", "/api/scrap", "/api/items/{item_id}/movements"):
        assert path in paths
