"""The JSON side: exact numbers in, problem details out, writes that act once."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

import pytest
from fastapi import Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.database import Store
from models.errors import Conflict, Missing, Stale, Unfit
from models.intake.faults import Fault, Faults
from models.tables import Shop
from webapp.web.json_api import MOST_JSON_BYTES, Answer, json_body, plain, problems, read_json, write_once

PROBLEM = "application/problem+json"


@pytest.fixture
def bodies(app: Any) -> list[dict[str, Any]]:
    """Every body that arrives at /api/studio, which renames the studio or does what `do` says."""
    found: list[dict[str, Any]] = []

    @app.post(
        "/api/studio",
        status_code=201,
        responses=problems(409, 422),
        openapi_extra=json_body({"name": {"type": "string"}}, ("name",)),
    )
    def write(request: Request, body: Annotated[dict[str, Any], Depends(read_json)]) -> Response:
        def act(session: Session) -> Answer | Faults:
            found.append(body)
            shop = session.get(Shop, 1)
            assert shop is not None
            shop.name = str(body.get("name"))
            session.add(shop)
            session.flush()
            match body.get("do"):
                case "faults":
                    return Faults((Fault("name", "Give it a name."), Fault("parts.0.quantity", "Give a number.")))
                case "unfit":
                    raise Unfit(Faults.of("metal", "There is no such metal."))
                case "missing":
                    raise Missing("design", 7)
                case "conflict":
                    raise Conflict("Two rings are missing.")
                case "stale":
                    raise Stale("studio", (("Name", "Theirs", "Mine"),))
            return Answer(
                {"name": shop.name, "wire_mm": Decimal("1.2"), "price": {"amount": "38.50", "currency": "EUR"}},
                201,
                "/api/studio",
            )

        return write_once(request, body, act)

    @app.get("/api/for-this-test/{design_id}")
    def one(design_id: int, quantity: int = 1) -> dict[str, int]:
        return {"id": design_id}

    return found


def studio(store: Store) -> str:
    with store.reading() as session:
        shop = session.get(Shop, 1)
        assert shop is not None
        return shop.name


def send(client: Any, body: dict[str, Any], **headers: str) -> Any:
    return client.request("POST", "/api/studio", json=body, headers=headers)


def test_fractions_arrive_as_exact_decimals(client: Any, bodies: list[dict[str, Any]]) -> None:
    client.request(
        "POST", "/api/studio", content=b'{"wire": 0.1, "n": 3}', headers={"content-type": "application/json"}
    )
    assert bodies == [{"wire": Decimal("0.1"), "n": 3}]


def test_a_write_answers_its_result_and_where_it_is(client: Any, store: Store, bodies: list[dict[str, Any]]) -> None:
    answer = send(client, {"name": "Api studio"})
    assert answer.status_code == 201
    assert answer.headers["location"] == "/api/studio"
    assert answer.json() == {"name": "Api studio", "wire_mm": 1.2, "price": {"amount": "38.50", "currency": "EUR"}}
    assert studio(store) == "Api studio"


@pytest.mark.parametrize(
    ("content", "kind", "status"),
    [
        (b"{", "application/json", 400),
        (b"[1]", "application/json", 400),
        (b"null", "application/json", 400),
        (b'{"a": NaN}', "application/json", 400),
        (b'{"a": 1e999999}', "application/json", 400),
        (b'{"a": ' + b"9" * 5000 + b"}", "application/json", 400),
        (b'{"a":' * 100_000, "application/json", 400),
        (b"\xff\xfe", "application/json", 400),
        (b"name=x", "application/x-www-form-urlencoded", 415),
        (b"{}", "text/plain", 415),
        (b"", "application/json", 400),
    ],
)
def test_a_body_that_cannot_be_used_is_a_problem(
    client: Any, bodies: list[dict[str, Any]], content: bytes, kind: str, status: int
) -> None:
    answer = client.request("POST", "/api/studio", content=content, headers={"content-type": kind})
    assert answer.status_code == status
    assert answer.headers["content-type"] == PROBLEM
    assert set(answer.json()) == {"type", "title", "status", "detail"}
    assert bodies == []


def test_faults_are_listed_by_field_and_nothing_is_stored(
    client: Any, store: Store, bodies: list[dict[str, Any]]
) -> None:
    answer = send(client, {"name": "x", "do": "faults"})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == PROBLEM
    assert answer.json()["errors"] == [
        {"field": "name", "message": "Give it a name."},
        {"field": "parts.0.quantity", "message": "Give a number."},
    ]
    assert studio(store) == "Test bench"


@pytest.mark.parametrize(
    ("do", "expected"),
    [
        ("unfit", (422, "One thing is wrong.")),
        ("missing", (404, "There is no design 7.")),
        ("conflict", (409, "Two rings are missing.")),
        ("stale", (409, "This studio was changed since you opened it.")),
    ],
)
def test_refusals_become_problems_and_nothing_is_stored(
    client: Any, store: Store, bodies: list[dict[str, Any]], do: str, expected: tuple[int, str]
) -> None:
    answer = send(client, {"name": "x", "do": do})
    assert (answer.json()["status"], answer.json()["detail"]) == expected
    assert answer.status_code == expected[0]
    assert answer.headers["content-type"] == PROBLEM
    assert studio(store) == "Test bench"
    if do == "stale":
        assert answer.json()["changes"] == [{"field": "Name", "saved": "Theirs", "sent": "Mine"}]


def test_a_key_makes_a_write_act_once(client: Any, bodies: list[dict[str, Any]]) -> None:
    first = send(client, {"name": "Once"}, **{"Idempotency-Key": '"k-1"'})
    second = send(client, {"name": "Once"}, **{"Idempotency-Key": '"k-1"'})
    assert first.json() == second.json()
    assert (first.status_code, second.status_code) == (201, 201)
    assert "idempotency-replayed" not in first.headers
    assert second.headers["idempotency-replayed"] == "true"
    assert len(bodies) == 1


def test_a_key_with_another_body_is_refused(client: Any, store: Store, bodies: list[dict[str, Any]]) -> None:
    send(client, {"name": "First"}, **{"Idempotency-Key": "k-2"})
    answer = send(client, {"name": "Second"}, **{"Idempotency-Key": "k-2"})
    assert answer.status_code == 422
    assert "already used" in answer.json()["detail"]
    assert studio(store) == "First"


def test_a_refused_write_leaves_its_key_free(client: Any, store: Store, bodies: list[dict[str, Any]]) -> None:
    assert send(client, {"name": "x", "do": "faults"}, **{"Idempotency-Key": "k-3"}).status_code == 422
    assert send(client, {"name": "Right"}, **{"Idempotency-Key": "k-3"}).status_code == 201
    assert studio(store) == "Right"


def test_without_a_key_every_write_acts(client: Any, bodies: list[dict[str, Any]]) -> None:
    send(client, {"name": "a"})
    send(client, {"name": "a"})
    assert len(bodies) == 2


@pytest.mark.parametrize("key", ["x" * 201, "a\tb"])
def test_a_key_that_cannot_be_used_is_a_problem(
    client: Any, store: Store, bodies: list[dict[str, Any]], key: str
) -> None:
    answer = send(client, {"name": "a"}, **{"Idempotency-Key": key})
    assert answer.status_code == 400
    assert studio(store) == "Test bench"


def test_an_address_that_cannot_be_read_is_a_problem_by_field(client: Any, bodies: list[dict[str, Any]]) -> None:
    answer = client.get("/api/for-this-test/7?quantity=many")
    assert answer.status_code == 422
    assert answer.headers["content-type"] == PROBLEM
    assert [error["field"] for error in answer.json()["errors"]] == ["quantity"]


def test_an_unknown_call_is_a_problem(client: Any) -> None:
    answer = client.get("/api/nothing")
    assert (answer.status_code, answer.headers["content-type"]) == (404, PROBLEM)
    assert client.request("DELETE", "/openapi.json").status_code == 405


def test_the_description_names_bodies_and_problems(client: Any, bodies: list[dict[str, Any]]) -> None:
    described = client.get("/openapi.json").json()["paths"]["/api/studio"]["post"]
    assert described["requestBody"]["content"]["application/json"]["schema"]["required"] == ["name"]
    assert [parameter["name"] for parameter in described["parameters"]] == ["Idempotency-Key"]
    assert PROBLEM in described["responses"]["422"]["content"]


def test_pages_that_load_scripts_from_elsewhere_are_off(client: Any) -> None:
    assert client.get("/docs").status_code == 404
    assert client.get("/redoc").status_code == 404


def test_plain_values_keep_whole_numbers_whole() -> None:
    assert plain({"a": (Decimal("2.00"), Decimal("1.29"), None, "x")}) == {"a": [2, 1.29, None, "x"]}
    assert type(plain(Decimal("2.00"))) is int


def test_more_json_than_is_read_at_once_is_refused_before_it_is_read(client: Any) -> None:
    body = '{"kind": "packaging", "name": "x", "note": "' + "x" * MOST_JSON_BYTES + '"}'
    answer = client.post("/api/items", content=body, headers={"content-type": "application/json"})
    assert (answer.status_code, answer.headers["content-type"]) == (413, "application/problem+json")
    assert "larger than 1 MB" in answer.json()["detail"]


def test_a_list_of_more_than_anybody_types_is_refused_unread(client: Any) -> None:
    answer = client.post("/api/receipts", json={"lines": [{}] * 2_001})
    assert (answer.status_code, answer.headers["content-type"]) == (413, "application/problem+json")


@pytest.mark.parametrize("version", ["1", 1.5, True, -1])
def test_a_version_that_is_no_whole_number_is_refused_in_the_same_words_everywhere(
    client: Any, version: object
) -> None:
    supplier = client.request("POST", "/api/suppliers", json={"name": "Quill Rings"}).json()["id"]
    item = client.request("POST", "/api/items", json={"kind": "ring", "metal": "copper", "wire": 1, "inner": 4}).json()
    for method, url, body in (
        ("PUT", "/api/settings", {"name": "Other"}),
        ("PUT", "/api/settings/valuation", {"method": "average"}),
        ("PATCH", f"/api/suppliers/{supplier}", {"note": "x"}),
        ("PATCH", f"/api/items/{item['id']}", {"note": "x"}),
        ("PUT", f"/api/items/{item['id']}/levels", {"reorder": "5"}),
        ("POST", "/api/builds/1/undo", {}),
    ):
        answer = client.request(method, url, json={**body, "version": version})
        assert answer.status_code == 422, url
        assert answer.json()["errors"] == [
            {"field": "version", "message": "Give the version that you read, a whole number."}
        ], url
