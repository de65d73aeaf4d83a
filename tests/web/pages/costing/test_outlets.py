"""Outlets by their pages, by the API and by a line of a file: one reading, one set of words."""

from __future__ import annotations

import html
import json
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import event

from models.database import Store
from models.intake.costing.outlet import read_outlet_row
from models.intake.faults import Faults
from models.operations.figures import refresh_figures, stale_figures
from models.queries.costing.outlet import outlet_view, outlets_page
from tests.shops import a_design, a_part, a_ring, an_outlet
from webapp.api.costing.outlets import OutletOut, OutletsOut

NEW = {
    "name": "Craft marketplace",
    "kind": "online",
    "tax_percent": "20",
    "shipping_charged": "3.50",
    "postage_paid": "3.20",
    "fees.0.label": "Commission",
    "fees.0.percent": "8",
    "fees.0.base": "price+shipping",
    "fees.1.label": "Payment",
    "fees.1.percent": "4",
    "fees.1.base": "price+shipping+tax",
    "fees.1.fixed": "0,30",
}


def names(store: Store) -> list[str]:
    with store.reading() as session:
        return [view.draft.name for view in outlets_page(session).outlets]


def test_a_shop_without_outlets_is_told_what_one_is(client: Any) -> None:
    page = client.get("/outlets").text
    assert "Nothing is sold anywhere yet" in page
    assert "Add the first outlet" in page


def test_an_outlet_is_added_and_a_sale_is_worked_out(client: Any, store: Store) -> None:
    answer = client.follow(client.submit("/outlets/new", NEW))
    assert "is added" in answer.text
    page = html.unescape(answer.text)
    # 43.50 is paid: 8 % of it is 3.48, 4 % and 0.30 are 2.04, a sixth is tax, 3.20 is postage.
    for words in ("commission 3.48,", "payment 2.04,", "postage you pay 3.20,", "tax 7.25;"):
        assert words in page
    assert "€27.53" in page
    assert names(store) == ["Craft marketplace"]


def test_the_list_shows_what_each_takes_at_the_price_that_was_asked(client: Any, store: Store) -> None:
    client.submit("/outlets/new", NEW)
    with store.writing() as session:
        an_outlet(session, name="Fair", kind="market", fees=())
    page = client.get("/outlets?price=100").text
    assert "Of €100.00, Fair leaves you most: <strong>€100.00</strong>" in page
    assert "103.50" in page
    wrong = client.get("/outlets?price=lots")
    assert wrong.status_code == 200
    assert "is not a number" in html.unescape(wrong.text)
    assert 'value="lots"' in wrong.text


def test_another_row_for_a_fee_keeps_what_was_typed_and_stores_nothing(client: Any, store: Store) -> None:
    answer = client.submit("/outlets/new", {**NEW, "more": "fee"})
    assert answer.status_code == 200
    assert 'name="fees.2.label"' in answer.text
    assert 'value="Craft marketplace"' in answer.text
    assert names(store) == []


def test_a_sale_is_worked_out_while_the_form_is_filled(client: Any, store: Store) -> None:
    answer = client.submit("/outlets/new", {**NEW, "price": "100", "try": "yes"}, headers={"HX-Request": "true"})
    assert "<html" not in answer.text
    assert "Of 103.50 that the buyer pays" in answer.text
    half = client.submit("/outlets/new", {**NEW, "fees.0.percent": "x", "try": "yes"}, headers={"HX-Request": "true"})
    assert "is not a number" in html.unescape(half.text)
    assert names(store) == []


def test_an_outlet_that_costs_more_than_a_sale_brings_says_so(client: Any) -> None:
    client.submit("/outlets/new", {**NEW, "period_fee": "500", "period_sales": "2"})
    page = client.get("/outlets/1").text
    assert "more than it brings" in page
    assert "more than comes in" in page


def test_an_outlet_is_changed_and_every_price_follows(client: Any, store: Store) -> None:
    client.submit("/outlets/new", NEW)
    with store.writing() as session:
        a_design(session, [a_part(a_ring(session), 48)])
        refresh_figures(session)
    client.follow(
        client.submit(
            "/outlets/1/edit", {"fees.0.percent": "12", "fees.1.label": "", "fees.1.percent": "", "fees.1.fixed": ""}
        )
    )
    with store.reading() as session:
        assert [fee.percent for fee in outlet_view(session, 1).draft.fees] == [Decimal(12)]
        assert stale_figures(session) == ()


def test_an_outlet_saved_unchanged_is_the_same(client: Any, store: Store) -> None:
    client.submit(
        "/outlets/new", {**NEW, "wanted_margin_percent": "25", "wanted_wage": "30", "ending": "x.90", "note": "a\nb"}
    )
    with store.reading() as session:
        before = outlet_view(session, 1).draft
    client.follow(client.submit("/outlets/1/edit"))
    with store.reading() as session:
        assert outlet_view(session, 1).draft == before


def test_an_outlet_changed_meanwhile_is_shown_beside_what_was_typed(client: Any, store: Store) -> None:
    client.submit("/outlets/new", NEW)
    stale = client.form("/outlets/1/edit").fields
    client.submit("/outlets/1/edit", {"tax_percent": "19"})
    answer = client.post("/outlets/1/edit", {**stale, "tax_percent": "21"})
    assert answer.status_code == 409
    assert 'value="21"' in answer.text
    assert ">19<" in answer.text


def test_an_outlet_is_retired_and_brought_back(client: Any, store: Store) -> None:
    client.submit("/outlets/new", NEW)
    gone = client.follow(client.submit("/outlets/1", action="/outlets/1/retire"))
    assert "is retired" in gone.text
    assert names(store) == []
    back = client.follow(client.post("/outlets/1/bring-back", {"token": "b" * 20}))
    assert "in use again" in back.text
    assert names(store) == ["Craft marketplace"]
    again = client.post("/outlets/1/bring-back", {"token": "c" * 20})
    assert again.status_code == 409
    assert "in use already" in again.text


@pytest.mark.parametrize("path", ["/outlets/99", "/outlets/99/edit", "/outlets/none"])
def test_an_outlet_that_is_not_there_is_a_plain_404(client: Any, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    assert "nothing at this address" in answer.text or "There is no outlet" in answer.text


def test_an_outlet_sent_twice_is_added_once(client: Any, store: Store) -> None:
    fields = {**client.form("/outlets/new").fields, **NEW}
    assert (
        client.post("/outlets/new", fields).headers["location"]
        == client.post("/outlets/new", fields).headers["location"]
    )
    assert names(store) == ["Craft marketplace"]


# The same case in three shapes: what is changed of a form, what of JSON, what of a line of a file, and where it is wrong.
THREE_WAYS = {
    "no name": ({"name": ""}, {"name": ""}, {"name": ""}, "name", "name"),
    "a kind that is unknown": ({"kind": "auction"}, {"kind": "auction"}, {"kind": "auction"}, "kind", "kind"),
    "a tax beyond all": ({"tax_percent": "101"}, {"tax_percent": 101}, {"tax_percent": "101"}, "tax_percent", "tax_percent"),
    "postage in words": ({"postage_paid": "free"}, {"postage_paid": "free"}, {"postage_paid": "free"}, "postage_paid", "postage_paid"),
    "no sales to share": ({"period_sales": "0"}, {"period_sales": 0}, {"period_sales": "0"}, "period_sales", "period_sales"),
    "a margin of all": ({"wanted_margin_percent": "100"}, {"wanted_margin_percent": 100}, {"wanted_margin_percent": "100"}, "wanted_margin_percent", "wanted_margin_percent"),
    "a wage below nothing": ({"wanted_wage": "-1"}, {"wanted_wage": -1}, {"wanted_wage": "-1"}, "wanted_wage", "wanted_wage"),
    "a multiple below one": ({"retail_multiple": "0.5"}, {"retail_multiple": Decimal("0.5")}, {"retail_multiple": "0.5"}, "retail_multiple", "retail_multiple"),
    "an ending of our own": ({"ending": "x.42"}, {"ending": "x.42"}, {"ending": "x.42"}, "ending", "ending"),
    "a fee without a name": (
        {"fees.0.label": "", "fees.0.percent": "8"},
        {"fees": [{"label": "", "percent": 8}]},
        {"fee_1_label": "", "fee_1_percent": "8"},
        "fees.0.label",
        "fee_1_label",
    ),
    "a fee of something else": (
        {"fees.0.label": "Fee", "fees.0.base": "profit"},
        {"fees": [{"label": "Fee", "base": "profit"}]},
        {"fee_1_label": "Fee", "fee_1_base": "profit"},
        "fees.0.base",
        "fee_1_base",
    ),
    "fees of a hundred per cent": (
        {"fees.0.label": "Commission", "fees.0.percent": "100"},
        {"fees": [{"label": "Commission", "percent": 100}]},
        {"fee_1_label": "Commission", "fee_1_percent": "100"},
        "fees.0.percent",
        "fee_1_percent",
    ),
    "fees that take the price once tax is paid": (
        {"tax_percent": "25", "prices_include_tax": "yes", "fees.0.label": "Commission", "fees.0.percent": "81"},
        {"tax_percent": 25, "fees": [{"label": "Commission", "percent": 81}]},
        {"tax_percent": "25", "fee_1_label": "Commission", "fee_1_percent": "81"},
        "fees.0.percent",
        "fee_1_percent",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", THREE_WAYS)
def test_a_page_a_program_and_a_file_get_the_same_words(client: Any, store: Store, case: str) -> None:
    typed, body, row, field, column = THREE_WAYS[case]
    page = client.submit("/outlets/new", {"name": "Fair", "kind": "market", **typed})
    assert page.status_code == 422
    sent = json.dumps({"name": "Fair", "kind": "market", **body}, default=float)
    api = client.request("POST", "/api/outlets", content=sent, headers={"content-type": "application/json"})
    assert api.status_code == 422
    (error,) = api.json()["errors"]
    assert error["field"] == field
    assert f"f-{field.replace('.', '-')}-fault" in page.text
    assert error["message"] in html.unescape(page.text)
    line = read_outlet_row({"name": "Fair", "kind": "market", **row})
    assert isinstance(line, Faults)
    assert line.by_field() == {column: error["message"]}
    assert names(store) == []


def test_the_api_adds_reads_and_changes_an_outlet(client: Any, store: Store) -> None:
    body = {
        "name": "Gallery",
        "kind": "consignment",
        "fees": [
            {"label": "Commission", "percent": 40},
            {"label": "Card", "fixed": {"amount": "0.20", "currency": "EUR"}},
        ],
    }
    made = client.request("POST", "/api/outlets", json=body)
    assert made.status_code == 201
    assert made.headers["location"] == "/api/outlets/1"
    assert made.json()["prices_include_tax"] is True
    got = client.get("/api/outlets/1?price=100").json()
    assert Decimal(got["example"]["left"]["amount"]) == Decimal("59.8")
    assert got["example"]["left"]["currency"] == "EUR"
    changed = client.request("PUT", "/api/outlets/1", json={"version": 1, "tax_percent": 20})
    assert changed.status_code == 200
    assert changed.json()["fees"] == made.json()["fees"]
    assert (changed.json()["tax_percent"], changed.json()["version"]) == (20, 2)
    assert client.request("PUT", "/api/outlets/1", json={"version": 1, "tax_percent": 21}).status_code == 409
    assert client.request("PUT", "/api/outlets/1", json={"tax_percent": 21}).json()["errors"][0]["field"] == "version"
    assert client.request("PUT", "/api/outlets/9", json={"version": 1}).status_code == 404


def test_the_api_sends_an_outlet_that_it_takes_back(client: Any, store: Store) -> None:
    client.submit("/outlets/new", {**NEW, "wanted_wage": "30", "wanted_margin_percent": "12.5"})
    sent = client.get("/api/outlets/1").json()
    back = client.request("PUT", "/api/outlets/1", json=sent)
    assert back.status_code == 200, back.text
    assert back.json() == sent


def test_the_api_answers_as_it_is_described(client: Any) -> None:
    client.submit("/outlets/new", {**NEW, "wanted_wage": "30"})
    client.submit("/outlets/new", {"name": "Shops", "kind": "wholesale"})
    assert len(OutletsOut.model_validate(client.get("/api/outlets").json()).outlets) == 2
    assert OutletOut.model_validate(client.get("/api/outlets/2").json()).example.retail is not None
    described = client.get("/openapi.json").json()["paths"]
    schema = described["/api/outlets"]["post"]["responses"]["201"]["content"]["application/json"]["schema"]
    assert schema == {"$ref": "#/components/schemas/OutletOut"}


def test_the_api_retires_and_brings_back(client: Any, store: Store) -> None:
    client.submit("/outlets/new", NEW)
    assert client.request("PUT", "/api/outlets/1", json={"version": 1, "retired": True}).json()["retired"] is True
    assert client.get("/api/outlets").json() == {"outlets": []}
    assert len(client.get("/api/outlets?retired=true").json()["outlets"]) == 1
    assert client.request("PUT", "/api/outlets/1", json={"version": 2, "retired": "no"}).status_code == 422
    assert client.request("PUT", "/api/outlets/1", json={"version": 2, "retired": False}).json()["retired"] is False


def test_the_api_refuses_another_currency_and_a_price_in_words(client: Any) -> None:
    body = {"name": "x", "kind": "online", "postage_paid": {"amount": "3", "currency": "USD"}}
    assert client.request("POST", "/api/outlets", json=body).json()["errors"][0]["field"] == "postage_paid"
    body = {"name": "x", "kind": "online", "fees": [{"label": "y", "fixed": {"amount": "3", "currency": "USD"}}]}
    assert client.request("POST", "/api/outlets", json=body).json()["errors"][0]["field"] == "fees.0.fixed"
    assert client.get("/api/outlets?price=lots").status_code == 422


def test_the_list_asks_the_database_the_same_number_of_questions_for_many_outlets(store: Store) -> None:
    counts = []
    for _ in range(2):
        with store.writing() as session:
            for place in range(10):
                an_outlet(session, name=f"Outlet {len(counts)}-{place}")
        seen: list[str] = []

        def note(*given: Any, seen: list[str] = seen) -> None:
            seen.append(given[2])

        event.listen(store.engine, "before_cursor_execute", note)
        with store.reading() as session:
            assert len(outlets_page(session).outlets) == 10 * (len(counts) + 1)
        event.remove(store.engine, "before_cursor_execute", note)
        counts.append(len(seen))
    assert counts[0] == counts[1]
