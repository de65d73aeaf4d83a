"""Costs and prices under /api: nested lines, exact money, and refusals as problem details."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from models.database import Store
from models.operations.figures import refresh_figures
from tests.shops import a_design, a_finding, a_part, a_ring, an_outlet
from tests.web.conftest import Client


def a_shop(store: Store) -> int:
    with store.writing() as session:
        ring = a_ring(session)
        silver = a_ring(session, name="Silver ring", metal="sterling-925", price="40.00")
        design = a_design(
            session,
            [
                a_part(ring, 48, choice_group="colour", choice_name="bronze"),
                a_part(silver, 48, choice_group="colour", choice_name="silver"),
                a_part(a_finding(session), 1, optional=True),
            ],
        )
        an_outlet(session)
        an_outlet(session, name="Gallery", kind="consignment", position=1, fees=(("Commission", "40", "price", "0"),))
        refresh_figures(session)
    return design


def amount(line: dict[str, Any]) -> Decimal:
    assert line["amount"]["currency"] == "EUR"
    return Decimal(line["amount"]["amount"])


def adds_up(line: dict[str, Any]) -> bool:
    own = not line["lines"] or sum(amount(one) for one in line["lines"]) == amount(line)
    return own and all(adds_up(one) for one in line["lines"])


def test_a_cost_is_told_as_lines_that_add_up(store: Store, client: Client) -> None:
    design = a_shop(store)
    answer = client.get(f"/api/designs/{design}/cost?quantity=4")
    assert answer.status_code == 200
    cost = answer.json()
    assert cost["quantity"] == 4
    assert adds_up(cost["total"])
    assert amount(cost["total"]) == amount(cost["materials"]) + amount(cost["labour"]) + amount(cost["overhead"])
    assert Decimal(cost["per_piece"]["total"]["amount"]) * 4 == amount(cost["total"])
    ring = cost["materials"]["lines"][0]
    in_piece = ring["lines"][0]
    assert in_piece["quantity"] == 192
    assert in_piece["unit_amount"] == {"amount": "0.04", "currency": "EUR"}
    assert in_piece["because"][0]["source"].startswith("the current offer")
    wage = cost["labour"]["lines"][0]["because"][-1]
    assert wage["amount"] == {"amount": "20.00", "currency": "EUR", "per": "hour"}
    assert cost["mass_g"] > 0
    assert cost["fits"][0]["verdict"] == "comfortable"
    assert not cost["provisional"]


def test_choices_and_optional_parts_are_asked_for(store: Store, client: Client) -> None:
    design = a_shop(store)
    plain = client.get(f"/api/designs/{design}/cost").json()
    rich = client.get(f"/api/designs/{design}/cost", params={"choice": "colour=silver", "with": "2"}).json()
    assert amount(rich["materials"]) > amount(plain["materials"]) * 5
    assert rich["optional"] == [{"place": 2, "part": "Ear wire", "counted": True}]
    assert rich["choices"][0]["options"][1] == {"choice": "silver", "picked": True}


def test_prices_are_told_per_outlet(store: Store, client: Client) -> None:
    design = a_shop(store)
    body = client.get(f"/api/designs/{design}/prices").json()
    web, gallery = body["outlets"]
    assert web["standing"] == "not listed"
    assert web["at"] == "suggested"
    assert Decimal(web["suggested"]["amount"]) >= Decimal(web["break_even"]["amount"])
    assert Decimal(web["earned_per_hour"]["low"]["amount"]) < Decimal(web["earned_per_hour"]["high"]["amount"])
    assert sum(amount(line) for line in web["lines"]) == Decimal(web["buyer_pays"]["amount"])
    assert body["one_price"]["earns_least_at"] == "Gallery"
    assert Decimal(gallery["fees"]["amount"]) == Decimal(gallery["price"]["amount"]) * Decimal("0.4")


def test_a_price_can_be_tried_at_one_outlet_or_at_all(store: Store, client: Client) -> None:
    design = a_shop(store)
    everywhere = client.get(f"/api/designs/{design}/prices?price=38.50").json()
    assert {one["price"]["amount"] for one in everywhere["outlets"]} == {"38.50"}
    assert everywhere["one_price"]["retail"]["amount"] == "38.50"
    one = client.get(f"/api/designs/{design}/prices?price=38.50&outlet=2").json()
    assert [each["outlet"] for each in one["outlets"]] == [2]
    assert one["outlets"][0]["at"] == "tried"


def test_what_cannot_be_asked_is_refused_by_field(store: Store, client: Client) -> None:
    design = a_shop(store)
    for query, field in (
        ("cost?quantity=0", "quantity"),
        ("cost?quantity=many", "quantity"),
        ("cost?choice=colour=gold", "choice"),
        ("cost?with=0", "with"),
        ("prices?price=-1", "price"),
        ("prices?price=1.005", "price"),
    ):
        answer = client.get(f"/api/designs/{design}/{query}")
        assert answer.status_code == 422, query
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json()["errors"][0]["field"] == field
    assert client.get("/api/designs/99/cost").status_code == 404
    assert client.get(f"/api/designs/{design}/prices?outlet=99").status_code == 404


def test_a_price_is_listed_by_the_version_that_was_read(store: Store, client: Client) -> None:
    design = a_shop(store)
    url = f"/api/designs/{design}/prices"
    listed = client.request("POST", url, json={"outlet": 1, "price": "48.00", "version": 0})
    assert listed.status_code == 200
    (web,) = listed.json()["outlets"]
    assert web["listed"] == {"amount": "48.00", "currency": "EUR"}
    assert client.request("POST", url, json={"outlet": 1, "price": "50", "version": 0}).status_code == 409
    money = {"amount": "50.00", "currency": "EUR"}
    again = client.request("POST", url, json={"outlet": 1, "price": money, "version": web["listed_version"]})
    assert again.json()["outlets"][0]["listed"] == money
    version = again.json()["outlets"][0]["listed_version"]
    off = client.request("POST", url, json={"outlet": 1, "price": None, "version": version})
    assert off.json()["outlets"][0]["listed"] is None
    assert off.json()["outlets"][0]["listed_version"] == 0


def test_a_listing_that_is_wrong_is_refused(store: Store, client: Client) -> None:
    design = a_shop(store)
    url = f"/api/designs/{design}/prices"
    for body, field in (
        ({"price": "3", "version": 0}, "outlet"),
        ({"outlet": 1, "price": "-3", "version": 0}, "price"),
        ({"outlet": 1, "price": {"amount": "3", "currency": "USD"}, "version": 0}, "price"),
        ({"outlet": 1, "price": "3"}, "version"),
    ):
        answer = client.request("POST", url, json=body)
        assert answer.status_code == 422, body
        assert answer.json()["errors"][0]["field"] == field
    assert client.request("POST", url, json={"outlet": 9, "price": "3", "version": 0}).status_code == 404


def test_the_calls_are_described(client: Client) -> None:
    described = client.get("/openapi.json").json()
    paths = described["paths"]
    assert {"get", "post"} <= set(paths["/api/designs/{design_id}/prices"])
    cost = paths["/api/designs/{design_id}/cost"]["get"]
    assert {one["name"] for one in cost["parameters"]} >= {"quantity", "choice", "with"}
    named = cost["responses"]["200"]["content"]["application/json"]["schema"]["$ref"].rpartition("/")[2]
    assert "total" in described["components"]["schemas"][named]["properties"]
