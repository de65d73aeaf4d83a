"""One word more in each open vocabulary is on its page, in the calls, in the file, and is kept.

Run by `tests/test_vocabulary.py` in a process where the words were added before anything else (`tests/more_words`).
"""

from __future__ import annotations

import html
from decimal import Decimal
from typing import Any

import httpx
import pytest
from fastapi import FastAPI

from models.costing.price_endings import round_up_to_ending
from models.database import Store
from models.operations.imports import KINDS
from models.tables import Item, Offer, Outlet, OutletFee, PurchaseLine, Shop
from tests.ledgers import a_lot
from tests.more_words import ADDED
from tests.shops import a_ring
from tests.web.conftest import Client, find_form

WORD = {name: next(iter(terms)) for name, terms in ADDED.items()}
"""One further word of each; where there are several, the others have tests of their own."""
OUTLET = {
    "name": "Town museum",
    "kind": WORD["OUTLET_KINDS"],
    "ending": WORD["PRICE_ENDINGS"],
    "shipping_charged": "4",
    "fees.0.label": "Commission",
    "fees.0.percent": "10",
    "fees.0.base": WORD["FEE_BASES"],
}


@pytest.fixture
def lot(store: Store) -> int:
    """A lot of four hundred rings."""
    with store.writing() as session:
        return a_lot(session, a_ring(session), 400, "12.00")


def take_file(client: Client, kind: str, text: str) -> httpx.Response:
    """Look at a file and take it in."""
    seen = client.submit(f"/settings/files/{kind}", files={"file": ("file.csv", text.encode(), "text/csv")})
    assert seen.status_code == 200, seen.text
    form = find_form(seen.text, f"/settings/files/{kind}/take")
    return client.post(form.action, form.fields)


def enums_of(described: Any) -> list[list[str]]:
    """Every list of words anywhere in a description."""
    if isinstance(described, dict):
        own = [described["enum"]] if isinstance(described.get("enum"), list) else []
        return own + [found for value in described.values() for found in enums_of(value)]
    if isinstance(described, list):
        return [found for value in described for found in enums_of(value)]
    return []


@pytest.mark.parametrize("name", sorted(set(WORD) - {"METAL_FAMILIES", "CUTS"}))
def test_calls_are_described_with_the_word(app: FastAPI, name: str) -> None:
    usual = {"FEE_BASES": "price+shipping", "LEAVING_REASONS": "spoiled", "OUTLET_KINDS": "online", "PACK_UNITS": "ozt",
             "PRICE_ENDINGS": "x.50", "PROCESSES": "anodise"}[name]  # fmt: skip
    lists = [words for words in enums_of(FastAPI.openapi(app)) if usual in words]
    assert lists
    assert all(set(ADDED[name]) <= set(words) for words in lists)


def test_a_way_to_cut_is_named_where_a_call_asks_for_it(app: FastAPI) -> None:
    assert "saw, cut, laser" in str(FastAPI.openapi(app)["paths"])


@pytest.mark.parametrize(
    ("page", "name", "words"),
    [
        ("/outlets/new", "OUTLET_KINDS", "A museum's shop"),
        ("/outlets/new", "PRICE_ENDINGS", "Ends in .75"),
        ("/outlets/new", "FEE_BASES", "the shipping"),
        ("/settings", "PRICE_ENDINGS", "Ends in .75"),
        ("/stock/items/new?kind=wire", "PACK_UNITS", "yards"),
        ("/stock/take-out?item=1", "LEAVING_REASONS", "Stolen"),
        ("/stock/process?lot=1", "PROCESSES", "Enamel"),
    ],
)
def test_pages_offer_the_word(client: Client, lot: int, page: str, name: str, words: str) -> None:
    answer = client.get(page)
    answer = client.follow(answer) if answer.status_code == 303 else answer
    shown = html.unescape(answer.text)
    assert f'value="{WORD[name]}"' in shown
    assert words in shown


@pytest.mark.parametrize(
    ("kind", "names"),
    [
        ("items", ["PACK_UNITS"]),
        ("offers", ["PACK_UNITS"]),
        ("outlets", ["OUTLET_KINDS", "FEE_BASES", "PRICE_ENDINGS"]),
        ("leavings", ["LEAVING_REASONS"]),
    ],
)
def test_files_say_that_they_take_the_word(kind: str, names: list[str]) -> None:
    says = " ".join(column.says for column in KINDS[kind].columns)
    assert [name for name in names if WORD[name] not in says] == []


@pytest.mark.parametrize("way", ["page", "call", "file"])
def test_an_outlet_is_kept_with_its_kind_ending_and_base(client: Client, store: Store, way: str) -> None:
    if way == "page":
        assert client.follow(client.submit("/outlets/new", OUTLET)).status_code == 200
    elif way == "call":
        fee = {"label": "Commission", "percent": "10", "base": "shipping"}
        body = {"name": "Town museum", "kind": "museum", "ending": "x.75", "shipping_charged": "4", "fees": [fee]}
        answer = client.request("POST", "/api/outlets", json=body)
        assert answer.status_code == 201, answer.text
    else:
        text = "name,kind,ending,shipping_charged,fee_1_label,fee_1_percent,fee_1_base\nTown museum,museum,x.75,4,Fee,10,shipping\n"
        assert take_file(client, "outlets", text).status_code == 303
    with store.reading() as session:
        outlet = session.get_one(Outlet, 1)
        assert (outlet.kind, outlet.ending, session.get_one(OutletFee, 1).base) == ("museum", "x.75", "shipping")
    shown = html.unescape(client.get("/outlets/1").text)
    assert "A museum's shop" in shown
    assert "10 % of the shipping" in shown
    assert client.get("/api/outlets/1").json()["kind"] == "museum"
    assert "museum" in client.get("/settings/files/outlets.csv").text


def test_a_fee_of_the_shipping_is_a_share_of_the_shipping(client: Client) -> None:
    client.submit("/outlets/new", OUTLET)
    page = html.unescape(client.get("/outlets/1?price=100").text)
    # Ten in a hundred of the four that are charged for shipping.
    assert "commission 0.40" in page.lower()


def test_the_shop_keeps_the_ending_and_prices_follow_it(client: Client, store: Store) -> None:
    assert client.submit("/settings", {"ending": "x.75"}, action="/settings").status_code == 303
    with store.reading() as session:
        assert session.get_one(Shop, 1).ending == "x.75"
    assert round_up_to_ending(Decimal("12.80"), "x.75", "EUR") == Decimal("13.75")
    assert round_up_to_ending(Decimal("20.05"), "20", "EUR") == Decimal(40)


@pytest.mark.parametrize("way", ["page", "call", "file"])
def test_a_pack_of_the_unit_is_kept_and_its_size_counts(client: Client, store: Store, way: str) -> None:
    wire = {"kind": "wire", "name": "Thin wire", "metal": "copper", "wire": "1.0 mm", "unit": "m"}
    offer = {"supplier": "A supplier", "pack": "10", "pack_unit": "yd", "price": "9.144"}
    if way == "page":
        client.follow(client.submit("/stock/items/new?kind=wire", {**wire, **offer}))
    elif way == "call":
        assert client.request("POST", "/api/items", json={**wire, **offer}).status_code == 201
    else:
        cells = {**wire, **offer}
        assert take_file(client, "items", f"{','.join(cells)}\n{','.join(cells.values())}\n").status_code == 303
    with store.reading() as session:
        assert session.get_one(Offer, 1).pack_unit == "yd"
        assert session.get_one(Item, 1).unit == "m"
    # Ten yards are 9.144 m, so a metre costs one.
    assert Decimal(client.get("/api/items/1").json()["unit_cost"]["amount"]) == 1


@pytest.mark.parametrize("way", ["page", "call", "file"])
def test_stock_leaves_for_the_reason_and_its_history_says_so(client: Client, lot: int, way: str) -> None:
    if way == "page":
        answer = client.submit(
            "/stock/take-out?item=1", {"reason": "stolen", "quantity": "12"}, action="/stock/take-out"
        )
        assert answer.status_code == 303
    elif way == "call":
        answer = client.request("POST", "/api/scrap", json={"reason": "stolen", "item_id": 1, "quantity": "12"})
        assert answer.status_code == 201, answer.text
    else:
        assert take_file(client, "leavings", "reason,item_id,quantity\nstolen,1,12\n").status_code == 303
    shown = html.unescape(client.get("/stock/items/1/history").text)
    assert "12 rings of “Bronze ring 1.0 × 3.6 mm” stolen." in shown
    assert ">Stolen</a>" in shown
    assert "stolen," in client.get("/settings/files/leavings.csv").text


@pytest.mark.parametrize(("unit", "pack", "rings"), [("score", "3", 60), ("stone", "0.01", 636)])
def test_packs_of_the_unit_come_in_as_what_they_hold(
    client: Client, store: Store, unit: str, pack: str, rings: int
) -> None:
    with store.writing() as session:
        a_ring(session)
    offer = {"supplier": "A supplier", "pack": pack, "pack_unit": unit, "price": "6", "current": True}
    assert client.request("POST", "/api/items/1/offers", json=offer).status_code == 201
    came = client.request("POST", "/api/receipts", json={"lines": [{"item_id": 1, "packs": "1"}]})
    assert came.status_code == 201, came.text
    # A hundredth of a stone is 63.5 g, and a ring of this bronze weighs 0.0998 g.
    assert Decimal(client.get("/api/items/1").json()["on_hand"]) == rings


def test_a_sale_of_another_kind_keeps_its_reason_and_its_price(client: Client, lot: int) -> None:
    what = {"reason": "auctioned", "item_id": 1, "quantity": "10"}
    assert client.request("POST", "/api/scrap", json=what).status_code == 422
    assert client.request("POST", "/api/scrap", json={**what, "total_price": "7"}).status_code == 201
    shown = html.unescape(client.get("/stock/items/1/history").text)
    assert ">Sold at an auction</a>" in shown
    assert "€7.00" in shown
    line = client.get("/settings/files/leavings.csv").text.splitlines()[1]
    assert line.startswith("auctioned,")
    assert ",7.00," in line or ",7," in line


@pytest.mark.parametrize("way", ["page", "call"])
def test_a_lot_is_worked_on_in_the_new_way(client: Client, lot: int, way: str) -> None:
    what = {"process": "enamel", "colour": "blue"}
    if way == "page":
        page = client.get("/stock/process?lot=1")
        at = page.headers["location"] if page.status_code == 303 else "/stock/process?lot=1"
        looked = client.post(at, {**client.form(at).fields, **what, "do": "look"})
        assert "enamelled" in looked.text
        answer = client.post(at, {**find_form(looked.text).fields, "do": "book"})
        assert answer.status_code == 303, answer.text
    else:
        answer = client.request("POST", "/api/jobs/process", json={"lot_id": lot, **what})
        assert answer.status_code == 201, answer.text
    shown = html.unescape(client.get("/stock/jobs").text)
    assert ">Enamel</a>" in shown
    assert "enamelled" in shown


def test_rings_are_planned_that_are_cut_in_the_new_way(client: Client) -> None:
    wire = {"kind": "wire", "name": "Thin wire", "metal": "copper", "wire": "1.0 mm", "unit": "m"}
    client.submit("/stock/items/new?kind=wire", wire)
    page = client.get("/stock/make-rings?wire_id=1&mandrel=3.5+mm&rings=100&cutting=laser")
    assert page.status_code == 200
    assert 'value="laser" selected' in page.text
    assert "Never look into the beam." in page.text


def test_the_metals_page_takes_a_family_that_has_no_metal_yet(client: Client) -> None:
    assert client.get("/stock/metals").status_code == 200


def test_purchases_are_of_the_same_units() -> None:
    assert WORD["PACK_UNITS"] in PurchaseLine.__table__.c.pack_unit.type.vocabulary  # type: ignore[attr-defined]
