"""Buying under /api: the cheapest packs, purchases drafted, sent, received in parts and cancelled, offers and terms."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import select

from models.database import Store
from models.operations.buying.need import add_needs
from models.operations.figures import refresh_figures
from models.tables import Offer, Purchase, Supplier
from tests.ledgers import a_lot
from tests.operations.buying.test_purchase import a_supplier, an_offer
from tests.shops import a_design, a_part, a_ring
from tests.web.conftest import Client


@pytest.fixture
def ring(store: Store) -> int:
    """A ring with 40 free, sold in bags of 100 at 4.00 (three or more at 3.00, postage 3.00) and of 250 at 12.00."""
    with store.writing() as session:
        item_id = a_ring(session, price=None)
        near, far = a_supplier(session, postage="3.00", lead_days=4), a_supplier(session, "Harbour Metals")
        an_offer(session, item_id, near, breaks="3 at 3.00")
        an_offer(session, item_id, far, pack="250", price="12.00", current="no")
        a_lot(session, item_id, 40, "1.60")
    return item_id


def post(client: Client, path: str, body: dict[str, Any]) -> Any:
    return client.request("POST", path, json=body)


def test_the_cheapest_packs_are_found_for_what_is_sent_with_their_proof(client: Client, ring: int) -> None:
    plan = post(client, "/api/buy-plan", {"needs": [{"item_id": ring, "quantity": 300}]}).json()
    assert plan["total"] == {"amount": "12.00", "currency": "EUR"}
    (order,) = plan["orders"]
    assert (order["supplier"], order["lead_days"], order["postage"]["amount"]) == (
        "Kestrel Wire",
        4,
        "3.00",
    )
    assert [(pack["packs"], pack["quantity"]) for pack in order["packs"]] == [(3, 300.0)]
    assert plan["covered"][0] == {
        "item_id": ring, "item": "Bronze ring 1.0 × 3.6 mm", "unit": "piece", "needed": 260.0, "arriving": 300.0, "left_over": 40.0,
    }  # fmt: skip
    assert (plan["proof"]["proven"], plan["proof"]["stopped"]) == (True, "")
    assert [each["supplier"] for each in plan["alone"]] == ["Kestrel Wire", "Harbour Metals"]
    assert plan["saved"]["amount"].startswith("0")


def test_without_needs_the_shops_own_list_is_planned_and_drafted(client: Client, store: Store, ring: int) -> None:
    with store.writing() as session:
        other = a_ring(session, name="Unpriced ring", inner_nm=5_000_000, price=None)
        add_needs(session, [(ring, 300_000, ""), (other, 10_000, "")])
    plan = post(client, "/api/buy-plan", {}).json()
    assert [each["item"] for each in plan["not_covered"]] == ["Unpriced ring"]
    packs = [{"offer": pack["offer"], "packs": pack["packs"]} for order in plan["orders"] for pack in order["packs"]]
    made = post(client, "/api/buy-plan/draft", {"packs": packs})
    assert made.status_code == 201
    (drafted,) = made.json()["purchases"]
    assert (drafted["state"], drafted["supplier"], drafted["packs"]) == ("draft", "Kestrel Wire", 3)
    assert post(client, "/api/buy-plan", {}).json()["orders"] == []


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"needs": [{"item_id": 99, "quantity": 1}]}, "needs.0.item"),
        ({"needs": [{"item_id": 1, "quantity": -1}]}, "needs.0.quantity"),
        ({"needs": [{"item_id": 1, "quantity": "0.5"}]}, "needs.0.quantity"),
        ({"needs": "all"}, "needs"),
        ({"lead_days": -1}, "lead_days"),
        ({"seconds": 0}, "seconds"),
    ],
)
def test_a_plan_that_cannot_be_asked_is_refused_beside_its_field(
    client: Client, ring: int, body: dict[str, Any], field: str
) -> None:
    answer = post(client, "/api/buy-plan", body)
    assert answer.status_code == 422
    assert [error["field"] for error in answer.json()["errors"]] == [field]


def test_a_purchase_is_drafted_sent_received_in_parts_and_cancelled(client: Client, ring: int) -> None:
    drafted = post(client, "/api/purchases", {"supplier": "Kestrel Wire", "lines": [{"item_id": ring, "packs": 4}]})
    assert (drafted.status_code, drafted.headers["location"]) == (201, "/api/purchases/1")
    line = drafted.json()["lines"][0]
    assert (line["quantity"], line["on_order"], line["pack"]) == (400.0, 0.0, "100 piece")
    sent = post(client, "/api/purchases/1/send", {"sent_on": "2026-03-02"}).json()
    assert (sent["state"], sent["due_on"], sent["lines"][0]["on_order"]) == ("sent", "2026-03-06", 400.0)
    assert client.get(f"/api/items/{ring}").json()["on_order"] == 400.0
    part = post(
        client, "/api/purchases/1/receive", {"lines": [{"line_id": line["id"], "packs": 1, "quantity": "98"}]}
    ).json()
    assert (part["state"], part["received_packs"], len(part["receipts"])) == ("part", 1, 1)
    item = client.get(f"/api/items/{ring}").json()
    assert (item["on_hand"], item["free"], item["on_order"]) == (138.0, 138.0, 300.0)
    gone = client.request("POST", "/api/purchases/1/cancel").json()
    assert (gone["state"], gone["lines"][0]["on_order"]) == ("cancelled", 0.0)
    assert client.request("POST", "/api/purchases/1/cancel").status_code == 409
    assert [one["id"] for one in client.get("/api/purchases").json()["purchases"]] == [1]
    assert client.get("/api/purchases?state=open").json() == {"purchases": []}
    assert client.get("/api/purchases?state=lost").status_code == 422


def test_a_draft_is_written_anew_only_over_the_version_that_was_read(client: Client, ring: int) -> None:
    made = post(client, "/api/purchases", {"supplier_id": 1, "lines": [{"item_id": ring, "packs": 4}]}).json()
    body = {"supplier_id": 1, "lines": [{"item_id": ring, "packs": 6}]}
    assert client.request("PUT", "/api/purchases/1", json=body).status_code == 422
    changed = client.request("PUT", "/api/purchases/1", json={**body, "version": made["version"]}).json()
    assert (changed["packs"], changed["lines"][0]["price"]["amount"].rstrip("0").rstrip(".")) == (6, "3")
    assert client.request("PUT", "/api/purchases/1", json={**body, "version": made["version"]}).status_code == 409


def test_the_same_purchase_with_one_key_is_drafted_once(client: Client, store: Store, ring: int) -> None:
    body = {"supplier_id": 1, "lines": [{"item_id": ring, "packs": 4}]}
    for _ in range(2):
        answer = client.request("POST", "/api/purchases", json=body, headers={"Idempotency-Key": "once-and-only-once"})
        assert answer.status_code == 201
    with store.reading() as session:
        assert len(session.exec(select(Purchase)).all()) == 1


@pytest.mark.usefixtures("ring")
@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("/api/suppliers", {"name": "New", "postage": "-1"}, "postage"),
        ("/api/suppliers", {"name": "New", "minimum": -1}, "minimum"),
        ("/api/suppliers", {"name": "New", "free_from": "30"}, "postage"),
        ("/api/suppliers", {"name": "New", "currency": "USD"}, "exchange_rate"),
        ("/api/suppliers", {"name": "New", "currency": "gold"}, "currency"),
        ("/api/items/1/offers", {"pack": "0", "price": "1"}, "pack"),
        ("/api/items/1/offers", {"pack": "10", "price": "-1"}, "price"),
        ("/api/items/1/offers", {"pack": "10", "price": "4", "breaks": "5 at 3; 5 at 2"}, "breaks"),
        ("/api/items/1/offers", {"pack": "10", "price": "4", "breaks": "cheap"}, "breaks"),
        (
            "/api/items/1/offers",
            {"pack": "10", "price": "4", "breaks": [{"from_packs": 1, "price": 3}]},
            "breaks.0.from_packs",
        ),
        ("/api/items/1/offers", {"pack": "10", "price": "4", "lead_days": -2}, "lead_days"),
    ],
)
def test_terms_that_can_never_be_are_refused_and_nothing_is_kept(
    client: Client, store: Store, path: str, body: dict[str, Any], field: str
) -> None:
    answer = post(client, path, body)
    assert answer.status_code == 422, answer.text
    assert [error["field"] for error in answer.json()["errors"]] == [field]
    with store.reading() as session:
        assert (len(session.exec(select(Supplier)).all()), len(session.exec(select(Offer)).all())) == (2, 2)


def test_terms_and_price_breaks_are_read_as_they_are_sent(client: Client, ring: int) -> None:
    terms = {
        "name": "Dune Bead",
        "postage": "4.50",
        "free_from": 60,
        "minimum": "10",
        "currency": "USD",
        "exchange_rate": "0.9",
    }
    made = post(client, "/api/suppliers", terms).json()
    assert (made["postage"]["currency"], made["exchange_rate"], made["free_from"]["amount"].split(".")[0]) == (
        "USD",
        "0.9",
        "60",
    )
    kept = client.request(
        "PATCH",
        f"/api/suppliers/{made['id']}",
        json={"version": made["version"], "minimum": made["minimum"], "lead_days": 9},
    ).json()
    assert (kept["lead_days"], kept["postage"]) == (9, made["postage"])
    offer = post(client, f"/api/items/{ring}/offers", {
        "pack": "100", "price": "5", "currency": "USD", "exchange_rate": "0.9", "supplier_id": made["id"], "current": False,
        "breaks": [{"from_packs": 5, "price": "4.5"}], "lead_days": 12,
    }).json()  # fmt: skip
    assert (offer["current"], offer["standing"], offer["lead_days"]) == (False, True, 12)
    assert [(one["from_packs"], one["price"]["currency"]) for one in offer["breaks"]] == [(5, "USD")]


def test_things_go_on_the_list_and_off_it(client: Client, ring: int) -> None:
    listed = post(client, "/api/needs", {"item": "Bronze ring 1.0 × 3.6 mm", "quantity": 300, "purpose": "a market"})
    assert listed.status_code == 201
    (need,) = listed.json()["needs"]
    assert (need["free"], need["to_buy"], need["wishes"][0]["purpose"]) == (40.0, 260.0, "a market")
    assert client.get("/api/needs").json()["needs"] == [need]
    assert client.request("DELETE", f"/api/needs/{need['wishes'][0]['id']}").json() == {"needs": []}
    assert client.request("DELETE", "/api/needs/99").status_code == 404
    assert post(client, "/api/needs", {"item": "Nothing such", "quantity": 1}).status_code == 422


def test_proposals_and_the_price_watch_answer_as_their_pages_do(client: Client, store: Store, ring: int) -> None:
    assert client.get("/api/reorder").json() == {"proposals": [], "without": {}}
    assert post(client, "/api/reorder", {"items": [{"item_id": ring, "reorder": 50, "target": 200}]}).json() == {
        "accepted": 1
    }
    (need,) = client.get("/api/needs").json()["needs"]
    assert (need["reorder_point"], need["to_buy"]) == (50.0, 160.0)
    assert post(client, "/api/reorder", {"items": [{"item_id": 99, "reorder": 50}]}).status_code == 404
    assert post(client, "/api/reorder", {"items": []}).status_code == 422
    with store.writing() as session:
        a_design(session, [a_part(ring, 100)])
        refresh_figures(session)
        an_offer(session, ring, 1, price="5.00")
    watch = client.get("/api/price-watch").json()
    assert [(one["design"], one["before"]["amount"] < one["after"]["amount"]) for one in watch["designs"]] == [
        ("Copper leaf pendant", True)
    ]
    supposed = client.get("/api/price-watch?metal=bronze-c220&percent=-10").json()
    assert (supposed["supposed"], len(supposed["designs"])) == (True, 1)
    assert client.get("/api/price-watch?metal=unobtainium").status_code == 422
