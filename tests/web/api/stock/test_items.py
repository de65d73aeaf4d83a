"""Rings, items, offers, suppliers, weaves and metals under /api; and one bad case through form, JSON and CSV alike."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from html import unescape
from typing import Any

import httpx
import pytest

from models.database import Store
from models.intake.stock.item import ITEM_COLUMNS
from models.queries.stock.item import load_materials
from models.trade.weaves import WEAVES
from tests.shops import a_design, a_part, a_ring
from tests.web.conftest import Client

RING = {"kind": "ring", "metal": "bronze-c220", "wire": 1.0, "inner": "3.6 mm"}


def send(client: Client, method: str, path: str, body: dict[str, Any], **headers: str) -> httpx.Response:
    return client.request(method, path, json=body, headers=headers)


def faults(answer: httpx.Response) -> dict[str, str]:
    assert answer.status_code == 422, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    return {error["field"]: error["message"] for error in answer.json()["errors"]}


def test_a_ring_is_answered_with_its_facts_and_its_fits(client: Client) -> None:
    answer = client.get("/api/ring", params={"wire": "20 AWG", "inner": "1/8 in", "metal": "copper"})
    assert answer.status_code == 200
    ring = answer.json()
    assert (ring["wire_mm"], ring["inner_mm"], ring["wire_label"]) == (0.811821, 3.175, "20 AWG")
    assert ring["outer_mm"] == pytest.approx(4.798642)
    assert ring["aspect_ratio"] == pytest.approx(3.9109607)
    assert ring["mass_g"] == pytest.approx(0.0580892, rel=1e-5)
    assert ring["rings_per_100g"] == pytest.approx(100 / ring["mass_g"])
    assert ring["kerf_mm"] == 0.2
    assert {fit["weave"] for fit in ring["fits"]} == set(WEAVES)
    assert (
        client.get("/api/ring", params={"wire": "1", "inner": "4", "metal": "copper", "kerf": "0"}).json()["kerf_mm"]
        == 0
    )


def test_a_ring_that_cannot_be_is_a_problem_with_its_fields(client: Client) -> None:
    found = faults(client.get("/api/ring", params={"wire": "16ga", "inner": "20 AWG", "metal": "bronze"}))
    assert set(found) == {"wire", "inner", "metal"}
    assert set(faults(client.get("/api/ring"))) == {"wire", "inner", "metal"}


def test_an_item_is_added_and_answered_where_it_says(client: Client) -> None:
    body = {**RING, "pack": 100, "price": {"amount": "4.50", "currency": "EUR"}, "supplier": "Quill Rings"}
    answer = send(client, "POST", "/api/items", body)
    assert answer.status_code == 201
    item = client.get(answer.headers["location"]).json()
    assert item == answer.json()
    assert (item["wire_mm"], item["inner_mm"], item["outer_mm"], item["aspect_ratio"]) == (1.0, 3.6, 5.6, 3.6)
    assert item["unit_cost"] == {"amount": "0.045", "currency": "EUR"}
    assert item["offer"]["price"] == {"amount": "4.50", "currency": "EUR"}
    assert [line["label"] for line in item["unit_cost_lines"]] == ["Price of the pack", "The pack holds"]
    assert (item["on_hand"], item["reserved"], item["free"], item["average_cost"]) == (0, 0, 0, None)
    assert item["on_order"] == 0


def test_a_cost_that_never_ends_is_sent_to_twelve_decimals(client: Client) -> None:
    item = send(client, "POST", "/api/items", {**RING, "pack": "50 g", "price": "6.40"}).json()
    amount = item["unit_cost"]["amount"]
    assert Decimal(amount).as_tuple().exponent == -12
    assert item["mass_g"] == pytest.approx(0.09993, rel=1e-3)


def test_items_are_found_and_cut_into_pages(client: Client, store: Store) -> None:
    with store.writing() as session:
        for number in range(61):
            a_ring(session, name=f"Ring {number}", inner_nm=3_000_000 + 100_000 * number, price=None)
    page = client.get("/api/items").json()
    assert (len(page["items"]), page["total"], page["page"], page["pages"]) == (60, 61, 1, 2)
    assert len(client.get("/api/items?page=2").json()["items"]) == 1
    assert [item["inner_mm"] for item in client.get("/api/items?inner=4.0 mm&wire=18 AWG").json()["items"]] == [4.0]
    assert client.get("/api/items?retired=yes").json()["items"] == []
    assert set(faults(client.get("/api/items?kind=nugget&page=0"))) == {"kind", "page"}


def test_only_the_fields_that_are_sent_change(client: Client) -> None:
    send(client, "POST", "/api/items", {**RING, "wire": "20 AWG", "inner": "1/8 in", "colour": "red", "mass": 0.06})
    answer = send(client, "PATCH", "/api/items/1", {"version": 1, "note": "Springy."})
    item = answer.json()
    assert (item["note"], item["colour"], item["wire_label"], item["inner_label"]) == (
        "Springy.",
        "red",
        "20 AWG",
        "1/8 in",
    )
    assert (item["version"], item["mass_g"], item["mass_measured"]) == (2, 0.06, True)
    sized = send(client, "PATCH", "/api/items/1", {"version": 2, "wire": 0.8}).json()
    assert (sized["wire_mm"], sized["wire_label"], sized["name"]) == (
        0.8,
        "",
        "Red commercial bronze C220 ring 0.8 × 3.175 mm",
    )


def test_a_stale_change_is_a_problem_with_both_values(client: Client) -> None:
    send(client, "POST", "/api/items", RING)
    send(client, "PATCH", "/api/items/1", {"version": 1, "note": "First."})
    answer = send(client, "PATCH", "/api/items/1", {"version": 1, "note": "Second."})
    assert answer.status_code == 409
    assert answer.json()["changes"] == [{"field": "Note", "saved": "First.", "sent": "Second."}]
    assert set(faults(send(client, "PATCH", "/api/items/1", {"note": "x"}))) == {"version"}


def test_a_used_item_keeps_its_metal_and_sizes(client: Client, store: Store) -> None:
    send(client, "POST", "/api/items", RING)
    with store.writing() as session:
        a_design(session, [a_part(1)], name="Reed pendant")
    found = faults(send(client, "PATCH", "/api/items/1", {"version": 1, "wire": 1.2}))
    assert "Reed pendant uses this ring" in found["wire"]


def test_a_near_size_is_a_fault_that_can_be_answered(client: Client) -> None:
    send(client, "POST", "/api/items", RING)
    near = {**RING, "wire": "18 AWG"}
    assert set(faults(send(client, "POST", "/api/items", near))) == {"near_ok"}
    assert send(client, "POST", "/api/items", {**near, "near_ok": True}).status_code == 201


def test_the_same_key_adds_once_and_refuses_another_body(client: Client, store: Store) -> None:
    first = send(client, "POST", "/api/items", RING, **{"Idempotency-Key": "abc"})
    again = send(client, "POST", "/api/items", RING, **{"Idempotency-Key": "abc"})
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.json() == first.json()
    assert again.headers["idempotency-replayed"] == "true"
    assert send(client, "POST", "/api/items", {**RING, "wire": 2}, **{"Idempotency-Key": "abc"}).status_code == 422
    with store.reading() as session:
        assert len(load_materials(session)) == 1


def test_offers_are_listed_added_and_taken(client: Client) -> None:
    send(client, "POST", "/api/items", {**RING, "pack": 100, "price": "4.50"})
    added = send(
        client,
        "POST",
        "/api/items/1/offers",
        {"pack": "1 ozt", "price": "9.00", "currency": "USD", "exchange_rate": 0.9},
    )
    assert added.status_code == 201
    assert added.json()["price"] == {"amount": "9.00", "currency": "USD"}
    assert added.json()["unit_cost"]["currency"] == "EUR"
    offers = client.get("/api/items/1/offers").json()["offers"]
    assert [(offer["pack_unit"], offer["current"]) for offer in offers] == [("ozt", True), ("piece", False)]
    back = client.request("POST", "/api/items/1/offers/1/current").json()["offers"]
    assert [(offer["id"], offer["current"]) for offer in back] == [(1, True), (2, False)]
    assert set(faults(send(client, "POST", "/api/items/1/offers", {"pack": 0, "price": -1}))) == {"pack", "price"}


def test_suppliers_are_listed_added_and_changed(client: Client) -> None:
    added = send(client, "POST", "/api/suppliers", {"name": "Quill Rings", "lead_days": 5})
    assert (added.status_code, added.headers["location"]) == (201, "/api/suppliers/1")
    changed = send(client, "PATCH", "/api/suppliers/1", {"version": 1, "lead_days": None})
    assert (changed.json()["name"], changed.json()["lead_days"]) == ("Quill Rings", None)
    assert client.get("/api/suppliers").json()["suppliers"] == [changed.json()]
    assert client.get("/api/suppliers/1").json() == changed.json()
    assert set(faults(send(client, "POST", "/api/suppliers", {"name": "quill rings"}))) == {"name"}


def test_weaves_have_their_bands_and_records(client: Client) -> None:
    weaves = client.get("/api/weaves").json()["weaves"]
    assert len(weaves) == len(WEAVES)
    assert all(weave["source"] for weave in weaves)
    band = {"smallest": 2.9, "low": 3.2, "high": "3.9", "largest": 4.5}
    page = send(client, "PUT", "/api/weaves/byzantine/band", {**band, "version": 0}).json()
    assert (page["own_band"], page["version"], page["band"]["high"]) == (True, 1, 3.9)
    assert send(client, "PUT", "/api/weaves/byzantine/band", {**band, "low": 3.3, "version": 0}).status_code == 409
    assert set(faults(send(client, "PUT", "/api/weaves/byzantine/band", {**band, "low": 9, "version": 1}))) == {"high"}
    fit = {"weave": "byzantine", "wire": 1.0, "inner": 3.6, "verdict": "tight"}
    assert send(client, "POST", "/api/fits", fit).status_code == 201
    assert client.get("/api/weaves/byzantine").json()["fits"][0]["verdict"] == "tight"
    ring = client.get("/api/ring", params={"wire": "1", "inner": "3.6", "metal": "copper"}).json()
    assert next(one for one in ring["fits"] if one["weave"] == "byzantine")["own_record"]
    assert set(faults(send(client, "POST", "/api/fits", {**fit, "weave": "knitting"}))) == {"weave"}


def test_metals_have_densities_with_sources(client: Client) -> None:
    added = send(client, "POST", "/api/metals", {"name": "Shibuichi", "density": 9.6, "source": "weighed myself"})
    assert added.status_code == 201
    metals = client.get("/api/metals").json()["metals"]
    assert metals[0] == added.json()
    assert all(metal["source"] for metal in metals)
    changed = send(client, "PATCH", "/api/metals/shibuichi", {"version": 1, "density": "9.5"})
    assert (changed.json()["density"], changed.json()["version"]) == (9.5, 2)
    assert send(client, "PATCH", "/api/metals/copper", {"version": 1, "density": 9}).status_code == 404
    assert set(faults(send(client, "POST", "/api/metals", {"name": "copper", "density": 9, "source": "x"}))) == {"name"}


@pytest.mark.parametrize(
    ("method", "path"),
    [("GET", "/api/items/9"), ("PATCH", "/api/items/9"), ("GET", "/api/items/9/offers"), ("POST", "/api/items/9/offers"),
     ("POST", "/api/items/9/offers/1/current"), ("GET", "/api/suppliers/9"), ("GET", "/api/weaves/knitting"),
     ("PUT", "/api/weaves/knitting/band")],
)  # fmt: skip
def test_what_is_not_there_is_a_404_problem(client: Client, method: str, path: str) -> None:
    body = {"version": 1, "pack": 1, "price": "1", "smallest": 3, "low": 3, "high": 4, "largest": 5}
    answer = client.get(path) if method == "GET" else send(client, method, path, body)
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"


@pytest.mark.parametrize(
    "path", ["/stock/items/{}", "/stock/suppliers/{}", "/api/items/{}", "/api/items/{}/offers", "/api/suppliers/{}"]
)
def test_a_number_past_all_rows_is_not_there_either(client: Client, path: str) -> None:
    for number in (2**31, 2**63, 10**25, -(10**25)):
        assert client.get(path.format(number)).status_code == 404


@pytest.mark.parametrize("body", ["[]", "{", '{"wire": NaN}', '{"wire": 1e999999}', "null"])
def test_a_body_that_is_no_json_object_is_refused(client: Client, body: str) -> None:
    answer = client.request("POST", "/api/items", content=body, headers={"content-type": "application/json"})
    assert answer.status_code == 400


def test_the_description_has_request_fields_and_answers_of_every_call(client: Client) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    post = paths["/api/items"]["post"]
    sent = post["requestBody"]["content"]["application/json"]["schema"]["properties"]
    assert {column.name for column in ITEM_COLUMNS} <= set(sent)
    assert all("description" in sent[column.name] for column in ITEM_COLUMNS)
    assert "Idempotency-Key" in [parameter["name"] for parameter in post["parameters"]]
    for path in ("/api/ring", "/api/items", "/api/items/{item_id}", "/api/suppliers", "/api/weaves", "/api/metals"):
        answer = paths[path]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
        assert "$ref" in answer, path


BAD_CASES: dict[str, dict[str, str]] = {
    "sizes and metal": {"kind": "ring", "metal": "bronze", "wire": "16ga", "inner": "20 AWG", "tint": "green"},
    "a wire thicker than its opening": {"kind": "ring", "metal": "copper", "wire": "4 mm", "inner": "3 mm"},
    "a price that cannot be": {
        "kind": "ring", "metal": "copper", "wire": "1", "inner": "4", "pack": "0", "price": "-3", "currency": "XXX",
    },
    "a rate left out": {
        "kind": "ring", "metal": "copper", "wire": "1", "inner": "4", "pack": "1", "price": "3", "currency": "USD",
    },
    "a near-equal size": {"kind": "ring", "metal": "niobium", "wire": "0.81 mm", "inner": "2.8 mm"},
    "a nameless box": {"kind": "packaging", "unit": "stone", "mass": "heavy"},
}  # fmt: skip


@pytest.mark.parametrize("case", BAD_CASES)
def test_the_same_bad_case_gets_the_same_messages_by_form_json_and_csv(client: Client, store: Store, case: str) -> None:
    with store.writing() as session:
        a_ring(session, name="Grey niobium", metal="niobium", wire_nm=800_000, inner_nm=2_800_000)
    raw = BAD_CASES[case]
    by_json = faults(send(client, "POST", "/api/items", raw))

    form = client.form(f"/stock/items/new?kind={raw['kind']}")
    by_form = client.post("/stock/items/new", {**form.fields, **raw})
    assert by_form.status_code == 422

    sheet = io.StringIO()
    writer = csv.DictWriter(sheet, fieldnames=list(raw))
    writer.writeheader()
    writer.writerow(raw)
    by_csv = client.submit(
        "/settings/files/items", files={"file": ("items.csv", sheet.getvalue().encode(), "text/csv")}
    )

    assert by_json
    for message in by_json.values():
        assert message in unescape(by_form.text), "form"
        assert message in unescape(by_csv.text), "csv"
    for field in by_json:
        assert f'id="f-{field}' in by_form.text
    with store.reading() as session:
        assert len(load_materials(session)) == 1
