"""Correcting what a receipt cost, on a page without scripts and under /api: the same figures, seen before booked."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from typing import Any

import pytest

from models.database import Store
from models.intake.how_much import HowMuch
from models.intake.stock.stock_out import StockOutDraft
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.stock_out import remove_stock
from tests.builds import Bench, a_bench, made
from tests.ledgers import DRAWER, a_lot, by_average, holds, on_hand
from tests.operations.stock.test_cost_undo import act_of, give
from tests.shops import a_ring
from tests.web.conftest import Client, find_form
from tests.web.pages.stock.test_items import text_of as words_of

RECEIPT = 1


@pytest.fixture
def ring(store: Store) -> int:
    """100 rings mistyped at 100.00, of which 15 were given away."""
    with store.writing() as session:
        ring = a_ring(session)
        give(session, a_lot(session, ring, 100, "100.00"), 15)
        return ring


def text_of(page: str) -> str:
    """The words of a page, without the blanks that a tag leaves before a stop."""
    return words_of(page).replace(" ,", ",").replace(" .", ".")


def path(act_id: int = RECEIPT) -> str:
    return f"/stock/receipts/{act_id}/cost"


def looked(client: Client, *, url: str = "", **typed: str) -> Any:
    """What the page answers to a look, with these typed; `line_0_cost` is the first line's cost."""
    url = url or path()
    fields = dict(client.form(url, url).fields)
    for name, value in typed.items():
        parts = name.split("_", 2)
        fields[f"lines.{parts[1]}.{parts[2]}" if parts[0] == "line" else name] = value
    return client.post(url, {**fields, "do": "look"})


def book(client: Client, page: str, *, url: str = "") -> Any:
    url = url or path()
    return client.post(url, {**find_form(page, url).fields, "do": "book"})


def test_the_page_says_what_changes_before_it_is_booked(client: Client, store: Store, ring: int) -> None:
    assert f'href="{path()}#lot-1"' in client.get("/stock/lots/1").text
    assert f'href="{path()}"' in client.get("/stock/acts/1").text
    seen = looked(client, line_0_cost="10", note="invoice 7")
    assert seen.status_code == 200
    words = text_of(seen.text)
    assert "€10.00 in the place of €100.00, so €0.10 each in the place of €1.00." in words
    assert "85 rings left of the lot are then worth €8.50, €76.50 less than €85.00 so far." in words
    assert "15 rings of “Bronze ring 1.0 × 3.6 mm” given away." in words
    assert "€13.50 too dear" in words
    with store.reading() as session:
        assert on_hand(session, ring) == (85, 85_000_000)
    done = text_of(client.follow(book(client, seen.text)).text)
    assert "Corrected what it cost: Received 100 rings of “Bronze ring 1.0 × 3.6 mm”. invoice 7" in done
    assert "What that changed" in done
    assert "€13.50 too dear" in done
    with store.reading() as session:
        assert on_hand(session, ring) == (85, 8_500_000)
        assert check_ledger(session) == ()


@pytest.mark.parametrize(
    ("count", "cost", "gone", "real"),
    [(100, "55.00", 57, "5.50"), (300, "55.05", 171, "5.55"), (7, "10.00", 3, "3.33"), (11, "1.00", 6, "9.99")],
)
def test_the_shown_parts_of_a_correction_add_up(  # noqa: PLR0917  (a case has as many)
    client: Client, store: Store, count: int, cost: str, gone: int, real: str
) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), count, cost)
        for part in (1, gone - 1):
            give(session, lot, part)
    words = text_of(looked(client, line_0_cost=real).text)
    after, change, before = re.findall(r"€([0-9.]+), €([0-9.]+) (?:less|more) than €([0-9.]+) so far", words)[0]
    assert abs(Decimal(before) - Decimal(after)) == Decimal(change)
    left = sum(map(Decimal, re.findall(r"€([0-9.]+) too (?:dear|cheap)", words)))
    assert Decimal(change) + left == abs(Decimal(cost) - Decimal(real))


def test_a_correction_is_taken_back_from_its_own_page(client: Client, store: Store, ring: int) -> None:
    client.follow(book(client, looked(client, line_0_cost="0.1", line_0_cost_of="each").text))
    assert "It was corrected before: entry 3." in text_of(client.get(path()).text)
    page = client.get("/stock/acts/1").text
    refused = text_of(page)
    assert "€100.00 €10.00 since it was corrected" in refused
    assert 'by <a href="/stock/acts/3">entry 3</a>' in page
    assert not re.search(r"on \d{4}-\d\d-\d\d", refused), "days are written as everywhere in the shop"
    assert "What this receipt cost was corrected since" in refused
    back = client.follow(client.submit("/stock/acts/3", action="/stock/acts/3/undo"))
    assert "Taken back: Corrected what it cost" in text_of(back.text)
    with store.reading() as session:
        assert on_hand(session, ring) == (85, 85_000_000)
    assert "What that changed, until it was taken back" in text_of(client.get("/stock/acts/3").text)


def test_a_form_sent_twice_corrects_once(client: Client, store: Store, ring: int) -> None:
    form = find_form(looked(client, line_0_cost="10").text, path()).fields
    for _ in range(2):
        assert client.post(path(), {**form, "do": "book"}).status_code == 303
    with store.reading() as session:
        assert on_hand(session, ring) == (85, 8_500_000)


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"line_0_cost": "cheap"}, "lines-0-cost", "not a number"),
        ({"line_0_cost": "-1"}, "lines-0-cost", "Give 0 or more"),
        ({"line_0_cost": ""}, "lines-0-cost", "Say what it really cost."),
        ({"line_0_cost": "99999999"}, "lines-0-cost", "or less"),
        ({"line_0_cost": "9999999", "line_0_cost_of": "each"}, "lines-0-cost", "A line costs at most"),
        ({"line_0_cost": "1", "freight": "free"}, "freight", "not a number"),
        ({"line_0_cost": "1", "note": "x" * 501}, "note", "Keep this to 500 characters"),
    ],
)
def test_what_is_wrong_stands_beside_its_field(
    client: Client, ring: int, typed: dict[str, str], field: str, words: str
) -> None:
    answer = looked(client, **typed)
    assert answer.status_code == 422
    beside = answer.text.partition(f'id="f-{field}-fault"')[2].partition("</p>")[0]
    assert words in beside
    for name, value in typed.items():
        if value and name != "line_0_cost_of":
            assert value in answer.text, "what was typed is kept"
    assert ring


def test_what_moved_since_the_look_is_looked_at_again(client: Client, store: Store, ring: int) -> None:
    seen = looked(client, line_0_cost="10")
    with store.writing() as session:
        give(session, 1, 5)
    again = book(client, seen.text)
    assert again.status_code == 200
    assert "or stock moved, since this was worked out" in text_of(again.text)
    assert "80 rings left of the lot" in text_of(again.text)
    with store.reading() as session:
        assert on_hand(session, ring) == (80, 80_000_000)
    assert book(client, again.text).status_code == 303


def test_the_same_cost_has_nothing_to_book(client: Client, ring: int) -> None:
    answer = text_of(looked(client, line_0_cost="100").text)
    assert "That is what it costs already, so there is nothing to book." in answer
    assert "Correct it" not in answer
    assert ring


def test_what_is_no_receipt_has_no_such_page(client: Client, ring: int) -> None:
    assert client.get(path(2)).status_code == 404
    assert client.get(path(99)).status_code == 404
    assert ring


def test_the_page_and_the_api_say_the_same_under_average(client: Client, store: Store) -> None:
    with store.writing() as session:
        by_average(session)
        ring = a_ring(session)
        first, second = a_lot(session, ring, 100, "10.00"), a_lot(session, ring, 100, "100.00")
        give(session, first, 15)
        receipt = act_of(session, second)
    url = path(receipt)
    words = text_of(looked(client, url=url, line_0_cost="10").text)
    told = post(client, f"/api/receipts/{receipt}/correct-cost/look", {"total_cost": "10.00"})
    assert told.status_code == 200
    (change,) = told.json()["changes"]
    assert told.json()["on_hand"] == {"amount": "-83.25", "currency": "EUR"}
    assert told.json()["left"] == {"amount": "-6.75", "currency": "EUR"}
    assert (change["valued_by"], change["there"], change["worth_after"]["amount"]) == ("average", 185, "18.50")
    assert "185 rings in stock, valued by one average, are then worth €18.50, €83.25 less than €101.75" in words
    assert [(one["kind"], one["off"]["amount"]) for one in change["left_wrong"]] == [("act", "-6.75")]
    assert "€6.75 too dear" in words
    with store.reading() as session:
        assert on_hand(session, ring) == (185, 101_750_000)
    refused = client.request("POST", f"/api/acts/{receipt}/undo", json={})
    assert refused.status_code == 409
    assert "correct what the receipt cost instead" in refused.json()["detail"]


def post(client: Client, url: str, body: dict[str, Any], *, key: str = "") -> Any:
    return client.request("POST", url, json=body, headers={"Idempotency-Key": key} if key else {})


def test_the_api_corrects_once_for_a_key_and_answers_its_movements(client: Client, store: Store, ring: int) -> None:
    body = {"unit_cost": {"amount": "0.10", "currency": "EUR"}, "note": "invoice 7"}
    answer = post(client, f"/api/receipts/{RECEIPT}/correct-cost", body, key="once")
    assert answer.status_code == 201
    made_ = answer.json()
    assert (made_["more"]["amount"], made_["on_hand"]["amount"], made_["left"]["amount"]) == (
        "-90.00", "-76.50", "-13.50",
    )  # fmt: skip
    assert [(one["kind"], one["quantity"], one["value"]["amount"]) for one in made_["act"]["movements"]] == [
        ("correction", 0, "-90.00"),
        ("carried", 0, "13.50"),
    ]
    again = post(client, f"/api/receipts/{RECEIPT}/correct-cost", body, key="once")
    assert (again.json(), again.headers["Idempotency-Replayed"]) == (made_, "true")
    with store.reading() as session:
        assert holds(session, 1) == (85, 8_500_000)
    same = post(client, f"/api/receipts/{RECEIPT}/correct-cost", body)
    assert (same.status_code, same.json()["detail"]) == (
        409,
        "That is what this receipt costs already, so nothing changes.",
    )
    read = client.get(f"/api/receipts/{RECEIPT}").json()
    assert (read["corrections"], read["lines"][0]["cost"]["amount"], read["lines"][0]["left"]) == ([3], "10.00", 85)
    history = client.get(f"/api/items/{ring}/movements").json()["movements"]
    assert [line["kind"] for line in history[:2]] == ["carried", "correction"]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "total_cost"),
        ({"total_cost": "1", "unit_cost": "1"}, "total_cost"),
        ({"lines": [{"total_cost": "1"}]}, "lines.0.lot_id"),
        ({"lines": [{"lot_id": 9, "total_cost": "1"}]}, "lines.0.lot_id"),
        ({"lines": [{"lot_id": 1, "total_cost": "x"}]}, "lines.0.total_cost"),
        ({"lines": []}, "lines.0.total_cost"),
        ({"lines": "all"}, "lines"),
        ({"total_cost": {"amount": "1", "currency": "USD"}}, "total_cost"),
        ({"freight": "-1"}, "freight"),
    ],
)
def test_what_the_api_cannot_read_is_named_by_field(
    client: Client, ring: int, body: dict[str, Any], field: str
) -> None:
    for url in (f"/api/receipts/{RECEIPT}/correct-cost", f"/api/receipts/{RECEIPT}/correct-cost/look"):
        answer = post(client, url, body)
        assert answer.status_code == 422, answer.text
        assert [one["field"] for one in answer.json()["errors"]] == [field]
    assert ring


def test_what_is_no_receipt_is_not_found_under_api(client: Client, ring: int) -> None:
    assert client.get("/api/receipts/2").status_code == 404
    assert post(client, "/api/receipts/2/correct-cost", {"total_cost": "1"}).status_code == 404
    assert post(client, "/api/receipts/2/correct-cost/look", {"total_cost": "1"}).status_code == 404
    client.request("POST", f"/api/acts/{2}/undo", json={})
    client.request("POST", f"/api/acts/{RECEIPT}/undo", json={})
    assert post(client, f"/api/receipts/{RECEIPT}/correct-cost", {"total_cost": "1"}).status_code == 409
    assert client.get(f"/api/receipts/{RECEIPT}").status_code == 409
    assert client.get(path()).status_code == 409
    assert ring


def test_history_and_the_file_of_movements_show_a_correction(client: Client, ring: int) -> None:
    client.follow(book(client, looked(client, line_0_cost="10").text))
    history = text_of(client.get(f"/stock/items/{ring}/history").text)
    assert "Cost corrected" in history
    assert "Of it, left already" in history
    rows = list(csv.DictReader(io.StringIO(client.get("/settings/files/movements.csv").text.removeprefix("\ufeff"))))
    assert [(row["done"], row["kind"], row["quantity"], row["value"].lstrip("'")) for row in rows[-2:]] == [
        ("correct_cost", "correction", "0", "-90.00"),
        ("correct_cost", "carried", "0", "13.50"),
    ]


def test_a_build_says_that_its_rings_were_booked_at_another_cost(client: Client, store: Store) -> None:
    with store.writing() as session:
        bench: Bench = a_bench(session)
        build_id = made(session, bench, 2)
        receipt = act_of(session, bench.old)
        bought = StockOutDraft(HowMuch(milli=1000), "gift", lot_id=bench.silver_lot, place=DRAWER)
        remove_stock(session, bought)
    assert "too cheap" not in text_of(client.get(f"/builds/{build_id}").text)
    client.follow(book(client, looked(client, url=path(receipt), line_0_cost="3").text, url=path(receipt)))
    words = text_of(client.get(f"/builds/{build_id}").text)
    assert "These Bronze ring 1.0 × 3.6 mm were booked €1.50 too cheap: what their receipt cost was corrected" in words
