"""Designs under /api: what is read can be sent back, the same messages as on the pages, every write once."""

from typing import Any

import pytest
from markupsafe import escape
from sqlmodel import func, select

from models.database import Store
from models.intake.designs.design import read_design_row
from models.intake.faults import Faults
from models.tables import Design, Revision
from tests.shops import a_finding, a_ring, an_outlet
from tests.web.conftest import Client

RING = {
    "kind": "ring",
    "metal": "niobium",
    "colour": "blue",
    "wire_mm": 0.8,
    "inner_mm": 2.8,
    "quantity": 24,
    "guess": "0.05",
}


def send(client: Client, method: str, url: str, body: object, **headers: str) -> Any:
    return client.request(method, url, json=body, headers=headers)


def add(client: Client, **fields: object) -> dict[str, Any]:
    answer = send(client, "POST", "/api/designs", {"name": "Leaf", **fields})
    assert answer.status_code == 201, answer.text
    found: dict[str, Any] = answer.json()
    assert answer.headers["location"] == f"/api/designs/{found['id']}"
    return found


def count(store: Store, table: type) -> int:
    with store.reading() as session:
        return session.exec(select(func.count()).select_from(table)).one()


def errors(answer: Any) -> dict[str, str]:
    assert answer.status_code == 422, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    return {error["field"]: error["message"] for error in answer.json()["errors"]}


def test_a_design_is_written_down_and_read_back(client: Client, store: Store) -> None:
    with store.writing() as session:
        item = a_ring(session)
    found = add(
        client, piece="pendant", weave="byzantine", skill=3, width_mm=18.5, measured_mass_g=6.4, allowance_percent=4,
        once_pieces=20, note="Hang it low.", work={"tumble": True, "tumble_minutes": 3.5, "pack": False, "open_count": 40},
        parts=[{"item_id": item, "quantity": 48, "purpose": "spine"}, RING],
    )  # fmt: skip
    again = client.get(f"/api/designs/{found['id']}").json()
    assert again == found
    assert (found["width_mm"], found["measured_mass_g"], found["weave_name"], found["revision"]) == (
        18.5,
        6.4,
        "Byzantine",
        1,
    )
    assert found["work"]["tumble_minutes"] == 3.5
    assert (found["work"]["pack"], found["work"]["setup"], found["work"]["open_count"]) == (False, True, 40)
    first, second = found["parts"]
    assert (first["item_id"], first["wire_mm"], first["quantity"], first["purpose"]) == (item, 1.0, 48, "spine")
    assert (second["item_id"], second["wire_mm"], second["guess"]) == (None, 0.8, {"amount": "0.05", "currency": "EUR"})


def test_what_was_read_can_be_sent_back_and_changes_nothing(client: Client, store: Store) -> None:
    with store.writing() as session:
        item = a_finding(session)
    found = add(client, measured_mass_g=6.412345, parts=[{"item_id": item, "quantity": 1}, RING], work={"seal": True})
    answer = send(client, "PUT", f"/api/designs/{found['id']}", found)
    assert answer.status_code == 200
    assert answer.json() == found
    assert count(store, Revision) == 1


def test_a_change_makes_a_revision_that_can_be_read_beside_the_first(client: Client) -> None:
    found = add(client, parts=[RING])
    changed = {**found, "parts": [{**RING, "quantity": 30}], "change_note": "fuller"}
    answer = send(client, "PUT", f"/api/designs/{found['id']}", changed).json()
    assert (answer["revision"], answer["newest_revision"], answer["change_note"]) == (2, 2, "fuller")
    old = client.get(f"/api/designs/{found['id']}?revision=1").json()
    assert (old["revision"], old["parts"][0]["quantity"]) == (1, 24)
    assert client.get(f"/api/designs/{found['id']}?revision=3").status_code == 404
    rows = client.get(f"/api/designs/{found['id']}/revisions").json()["revisions"]
    assert [(row["number"], row["rings"]) for row in rows] == [(2, 30), (1, 24)]


def test_a_stale_change_is_refused_with_both_values(client: Client) -> None:
    found = add(client)
    send(client, "PUT", f"/api/designs/{found['id']}", {**found, "skill": 2})
    answer = send(client, "PUT", f"/api/designs/{found['id']}", {**found, "skill": 4})
    assert answer.status_code == 409
    assert {"field": "Skill", "saved": "2", "sent": "4"} in answer.json()["changes"]


def test_the_list_has_the_figures_and_can_be_narrowed(client: Client, store: Store) -> None:
    with store.writing() as session:
        an_outlet(session)
        ring = a_ring(session)
    add(client, name="Leaf", piece="pendant", parts=[{"item_id": ring, "quantity": 40}])
    add(client, name="Bare")
    rows = client.get("/api/designs").json()["designs"]
    assert [row["name"] for row in rows] == ["Bare", "Leaf"]
    leaf = rows[1]
    assert leaf["cost"]["currency"] == "EUR"
    assert leaf["best_outlet"] == "Web shop"
    assert leaf["metals"] == ["bronze-c220"]
    assert [row["name"] for row in client.get("/api/designs?find=leaf&piece=pendant").json()["designs"]] == ["Leaf"]
    assert client.get("/api/designs?retired=true").json() == {"designs": []}
    assert client.get("/api/designs?order=sideways").status_code == 422


def test_a_design_is_copied_retired_and_brought_back(client: Client, store: Store) -> None:
    found = add(client, parts=[RING])
    copy = client.post(f"/api/designs/{found['id']}/copy")
    assert copy.status_code == 201
    assert (copy.json()["name"], copy.json()["copied_from"]) == ("Copy of Leaf", found["id"])
    assert client.post(f"/api/designs/{found['id']}/retire").json()["retired"]
    assert not client.post(f"/api/designs/{found['id']}/bring-back").json()["retired"]


def test_a_write_sent_twice_acts_once(client: Client, store: Store) -> None:
    body = {"name": "Leaf", "parts": [RING]}
    first = send(client, "POST", "/api/designs", body, **{"Idempotency-Key": "abc"})
    second = send(client, "POST", "/api/designs", body, **{"Idempotency-Key": "abc"})
    assert first.json() == second.json()
    assert second.headers["idempotency-replayed"] == "true"
    assert count(store, Design) == 1
    other = send(client, "POST", "/api/designs", {"name": "Other"}, **{"Idempotency-Key": "abc"})
    assert other.status_code == 422


@pytest.mark.parametrize(
    ("fields", "named"),
    [
        ({"name": ""}, "name"),
        ({"name": ["x"]}, "name"),
        ({"weave": "knitting"}, "weave"),
        ({"skill": 6}, "skill"),
        ({"width_mm": -1}, "width_mm"),
        ({"width": "wide"}, "width"),
        ({"measured_mass_g": "heavy"}, "measured_mass_g"),
        ({"allowance_percent": 101}, "allowance_percent"),
        ({"once_pieces": 0}, "once_pieces"),
        ({"work": "all"}, "work"),
        ({"work": {"tumble": True, "tumble_minutes": -1}}, "work.tumble_minutes"),
        ({"parts": {}}, "parts"),
        ({"parts": [1]}, "parts.0"),
        ({"parts": [RING, {**RING, "quantity": 0}]}, "parts.1.quantity"),
        ({"parts": [{**RING, "wire_mm": 30}]}, "parts.0.wire_mm"),
        ({"parts": [{**RING, "inner_mm": 0.1}]}, "parts.0.inner_mm"),
        ({"parts": [{"item_id": 99, "quantity": 1}]}, "parts.0.item_id"),
        ({"parts": [{**RING, "metal": "mithril"}]}, "parts.0.metal"),
        ({"parts": [{**RING, "guess": {"amount": "1", "currency": "USD"}}]}, "parts.0.guess"),
        ({"parts": [{**RING, "joined": "perhaps"}]}, "parts.0.joined"),
        ({"parts": [RING] * 201}, "parts"),
    ],
)
def test_every_bad_body_names_its_field_and_nothing_is_stored(
    client: Client, store: Store, fields: dict[str, object], named: str
) -> None:
    found = errors(send(client, "POST", "/api/designs", {"name": "Leaf", **fields}))
    assert list(found) == [named]
    assert count(store, Design) == 0


def test_a_whole_change_must_send_parts_work_and_version(client: Client) -> None:
    found = add(client, parts=[RING])
    answer = send(client, "PUT", f"/api/designs/{found['id']}", {"name": "Leaf"})
    assert set(errors(answer)) == {"parts", "work", "version"}
    assert client.get(f"/api/designs/{found['id']}").json() == found


@pytest.mark.parametrize(("method", "url"), [("GET", ""), ("PUT", ""), ("GET", "/revisions"), ("POST", "/copy"), ("POST", "/retire"), ("POST", "/bring-back")])  # fmt: skip
def test_a_design_that_is_not_there_is_told_so(client: Client, method: str, url: str) -> None:
    answer = client.request(method, f"/api/designs/99{url}", json={} if method != "GET" else None)
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"


def test_the_description_names_the_calls_and_their_fields(client: Client) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    body = paths["/api/designs"]["post"]["requestBody"]["content"]["application/json"]["schema"]
    assert {"name", "parts", "work", "weave"} <= set(body["properties"])
    assert set(paths["/api/designs/{design_id}"]) == {"get", "put"}
    assert (
        "version"
        in paths["/api/designs/{design_id}"]["put"]["requestBody"]["content"]["application/json"]["schema"]["required"]
    )


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("weave", "knitting"),
        ("skill", "9"),
        ("width", "wide"),
        ("measured_weight", "heavy"),
        ("allowance_percent", "101"),
        ("once_pieces", "0"),
    ],
)
def test_a_form_a_body_and_a_row_of_a_file_get_the_same_message(client: Client, field: str, value: str) -> None:
    row = read_design_row({"name": "Leaf", field: value})
    assert isinstance(row, Faults)
    message = row.by_field()[field]
    assert errors(send(client, "POST", "/api/designs", {"name": "Leaf", field: value})) == {field: message}
    page = client.submit("/designs/new", {"name": "Leaf", field: value}, action="/designs")
    assert page.status_code == 422
    assert escape(message) in page.text
