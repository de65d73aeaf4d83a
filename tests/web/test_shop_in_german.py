"""The studio in a shop that writes 1.250,50: pages, files and programs, each in its own shape, and nothing off by 1000."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from models.database import Store
from models.operations.imports import KINDS, Look, file_of, look_at_file, take_file
from tests.web.conftest import Client, find_form
from tests.web.reading import words as text_of

SOAP, BRONZE, COLLAR = 46, 2, 39
"""Items of the studio: tumbling soap by the gram, bronze rings 1.0 × 3.6, fine bronze chain by the metre."""

UNEVEN = (
    "UPDATE shop SET locale='de_DE', overhead_micros=1125000, kerf_nm=125000",
    "UPDATE outlet SET postage_micros=1125000, period_micros=1250500000",
    "UPDATE item SET mass_ug=1125000 WHERE kind='finding'",
    "UPDATE item SET hole_nm=1125000 WHERE kind='bead'",
    "UPDATE supplier SET postage_micros=1125000, free_from_micros=1250125000",
    "UPDATE revision SET width_nm=12125000, length_nm=1250125000, allowance_percent='1.125'",
)
"""Values whose three decimals would be thousands here, if they came back as a program writes them."""


@pytest.fixture
def empty_shop(demo_folder: Path) -> Path:
    """The invented studio instead of an empty shop."""
    return demo_folder


@pytest.fixture
def german(store: Store) -> Store:
    with store.writing() as session:
        for statement in UNEVEN:
            session.execute(text(statement))
    return store


def everything(store: Store) -> dict[str, str]:
    with store.reading() as session:
        return {code: file_of(session, kind) for code, kind in KINDS.items()}


def on_hand(client: Client, item_id: int) -> float:
    return float(client.get(f"/api/items/{item_id}").json()["on_hand"])


def opening(client: Client, item_id: int, name: str, quantity: str) -> str:
    """Say what lies in a bag already, and answer the page that follows."""
    path = "/stock/opening"
    fields = client.form(f"{path}?find={name}", path).fields
    line = next(key.removesuffix("item_id") for key, value in fields.items() if value == str(item_id))
    looked = client.post(path, {**fields, f"{line}quantity": quantity, "do": "look"})
    if looked.status_code != 200:
        return looked.text
    seen = find_form(looked.text, path).fields
    return client.follow(client.post(path, {**seen, "do": "book"})).text


@pytest.mark.parametrize(
    ("quantity", "came"),
    [
        ("1.000", 1000),
        ("1.250,5 g", 1250.5),
        ("1.000.000", 1_000_000),
        ("2,5 kg", 2500),
        ("12.5", 12.5),
        ("1 250", 1250),
    ],
)
def test_what_lies_in_the_bags_is_typed_as_the_shop_writes(
    client: Client, german: Store, quantity: str, came: float
) -> None:
    item = client.post(
        "/stock/items/new",
        {
            **client.form("/stock/items/new?kind=consumable", "/stock/items/new").fields,
            "name": "Citric acid",
            "unit": "g",
        },
    )
    item_id = int(item.headers["location"].partition("?")[0].rpartition("/")[2])
    opening(client, item_id, "citric", quantity)
    assert on_hand(client, item_id) == came


def test_a_weight_that_may_be_two_is_asked_beside_its_field(client: Client, german: Store) -> None:
    fields = client.form(f"/stock/items/{BRONZE}/edit").fields
    answer = client.post(f"/stock/items/{BRONZE}/edit", {**fields, "mass": "1.250 g"})
    assert answer.status_code == 422
    assert "Do you mean 1250 or 1,250? Type it with a comma, or without a point." in text_of(answer.text)
    assert 'value="1.250 g"' in answer.text


def test_a_price_reads_as_it_is_printed(client: Client, german: Store) -> None:
    path = "/outlets/1/edit"
    assert client.submit(path, {"period_fee": "1.250,00 €", "postage_paid": "1.000"}).status_code == 303
    fields = client.form(path).fields
    assert (fields["period_fee"], fields["postage_paid"]) == ("1250,00", "1000,00")


EDITED = (
    *(f"/stock/items/{number}/edit" for number in (2, 8, 17, 21, 33, 35, 39, 41, 46)),
    *(f"/outlets/{number}/edit" for number in (1, 2, 3)),
    *(f"/designs/{number}/edit" for number in (1, 2, 3)),
    *(f"/stock/suppliers/{number}/edit" for number in (1, 2)),
    "/settings",
    "/settings/times",
)


@pytest.mark.long
def test_every_form_sent_back_as_it_stands_changes_nothing(client: Client, german: Store) -> None:
    before = everything(german)
    read = ("/api/settings", "/api/suppliers", "/api/outlets", "/api/settings/rates")
    known = {path: _without_versions(client.get(path).json()) for path in read}
    for path in EDITED:
        answer = client.submit(path)
        assert answer.status_code == 303, (path, text_of(answer.text)[:1500])
    assert everything(german) == before
    assert {path: _without_versions(client.get(path).json()) for path in read} == known


def _without_versions(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _without_versions(one) for key, one in value.items() if key != "version"}
    return [_without_versions(one) for one in value] if isinstance(value, list) else value


def test_every_file_of_its_own_is_taken_back_without_a_question(german: Store) -> None:
    for delimiter in ",;":
        for code in ("items", "outlets", "designs", "parts", "offers"):
            with german.writing() as session:
                content = file_of(session, KINDS[code], delimiter=delimiter).encode()
                look = look_at_file(session, KINDS[code], content)
            assert isinstance(look, Look), (code, look)
            asked = [fault.message for line in look.bad for fault in line.faults if "Do you mean" in fault.message]
            assert not asked, (code, delimiter, asked)


@pytest.mark.parametrize(
    ("content", "came"),
    [
        ("item;quantity;total_cost\ntumbling soap;1.000;1.250,50\n", 1000),
        ("item;quantity;total_cost\ntumbling soap;1,250;3\n", 1.25),
        ("item,quantity,total_cost\ntumbling soap,1000,1250.50\n", 1000),
        ("item,quantity,total_cost\ntumbling soap,1.2500,3\n", 1.25),
        ('item,quantity,total_cost\ntumbling soap,"1,250.5",3\n', 1250.5),
        ("item,quantity,total_cost\ntumbling soap,1.000,3\n", None),
        ('item,quantity,total_cost\ntumbling soap,"1,000",3\n', None),
        ("item;quantity;total_cost\ntumbling soap;1.250 g;3\n", None),
    ],
)
def test_a_file_says_by_what_parts_its_cells_how_it_writes_numbers(
    client: Client, german: Store, content: str, came: float | None
) -> None:
    before = on_hand(client, SOAP)
    with german.writing() as session:
        look = look_at_file(session, KINDS["receipts"], content.encode())
        assert isinstance(look, Look)
        faults = [fault.message for line in look.bad for fault in line.faults]
        if came is None:
            assert [words[:11] for words in faults] == ["Do you mean"]
            return
        assert not faults
        take_file(session, KINDS["receipts"], content.encode())
    assert on_hand(client, SOAP) == pytest.approx(before + came)


def test_a_program_writes_as_programs_do_whatever_the_shop_writes(client: Client, german: Store) -> None:
    before = on_hand(client, SOAP)
    sent = {"lines": [{"item_id": SOAP, "quantity": "1.250", "total_cost": "1.000"}]}
    answer = client.request("POST", "/api/receipts", json=sent)
    assert answer.status_code == 201, answer.text
    assert on_hand(client, SOAP) == pytest.approx(before + 1.25)
    refused = client.request(
        "POST", "/api/receipts", json={"lines": [{"item_id": SOAP, "quantity": "1.250,00", "total_cost": "1"}]}
    )
    assert refused.status_code == 422


def test_lines_of_parts_and_their_rows_keep_what_was_typed_through_every_press(client: Client, german: Store) -> None:
    form = client.form("/designs/new", "/designs").fields
    lines = "1.000 bronze 1,0 x 3,6: field\n45,5 cm fine bronze chain\n1.250,5 g tumbling soap"
    page = client.post("/designs/preview", {**form, "quick": lines, "act": "add"})
    fields = find_form(page.text, "/designs").fields
    assert [fields[f"parts.{n}.quantity"] for n in range(3)] == ["1000", "0,455", "1250,5"]
    again = find_form(client.post("/designs/preview", {**fields, "act": "again-1"}).text, "/designs").fields
    assert again["parts.1.text"].startswith("0,455 m ")
    again |= {"parts.1.pick": f"item:{COLLAR}", "parts.0.quantity": "1.250"}
    saved = client.post("/designs", {**again, "name": "A collar", "act": ""})
    assert saved.status_code == 303, text_of(saved.text)[:1500]
    design = saved.headers["location"].partition("?")[0].rpartition("/")[2]
    parts = client.get(f"/api/designs/{design}").json()["parts"]
    assert [part["quantity"] for part in parts] == [1250, 0.455, 1250.5]


def test_a_founding_is_read_in_the_language_that_it_chooses(tmp_path: Path) -> None:
    from webapp.app import create_app
    from webapp.settings import Settings

    store = Store(tmp_path / "new")
    store.prepare()
    with Client(create_app(store, Settings(store.folder))) as client:
        form = client.form("/welcome").fields
        answer = client.post(
            "/welcome",
            {
                **form,
                "name": "Bench",
                "currency": "IDR",
                "locale": "id_ID",
                "time_zone": "UTC",
                "wage_per_hour": "55.000",
            },
        )
        assert answer.status_code == 303, text_of(answer.text)
        assert client.get("/api/settings").json()["wage_per_hour"]["amount"] == "55000.00"
    store.close()
