"""Receipts, counts, leavings and moves read the same from a form, a JSON body and a row of a file."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.intake.faults import Faults
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Reader
from models.intake.stock.count import CountDraft, read_count
from models.intake.stock.receipt import ReceiptDraft, ReceiptRow, read_receipt, read_receipt_row
from models.intake.stock.stock_out import StockOutDraft, read_stock_out
from models.intake.stock.transfer import TransferDraft, read_transfer


def said(text: str, *, plenty: bool = True) -> HowMuch | str:
    """What a quantity is read as, or what is wrong with it."""
    reader = Reader({"quantity": text})
    found = how_much(reader, "quantity", missing="Say how much.", plenty=plenty)
    faults = reader.faults()
    if found is None:
        assert faults is not None
        return faults.by_field()["quantity"]
    assert faults is None
    return found


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("48", HowMuch(milli=48_000)),
        ("48 rings", HowMuch(milli=48_000, pieces=True)),
        ("2.125", HowMuch(milli=2_125)),
        ("2,5", HowMuch(milli=2_500)),
        ("about 400", HowMuch(milli=400_000, rough="about")),
        ("Approx. 400", HowMuch(milli=400_000, rough="about")),
        ("≈400", HowMuch(milli=400_000, rough="about")),
        ("400 ?", HowMuch(milli=400_000, rough="about")),
        ("about 23.5 g", HowMuch(weight_ug=23_500_000, rough="about")),
        ("1 ozt", HowMuch(weight_ug=31_103_477)),
        ("2 m", HowMuch(length_nm=2_000_000_000)),
        ("6 ft", HowMuch(length_nm=1_828_800_000)),
        ("plenty", HowMuch(rough="plenty")),
        ("plenty (800)", HowMuch(milli=800_000, rough="plenty")),
        ("lots, about 800", HowMuch(milli=800_000, rough="plenty")),
    ],
)
def test_a_quantity_is_read_as_people_say_it(text: str, found: HowMuch) -> None:
    assert said(text) == found


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "Say how much."),
        ("about", "is not a quantity"),
        ("a few", "is not a quantity"),
        ("0", "more than 0"),
        ("0 g", "more than 0"),
        ("-3", "below zero"),
        ("1e5", "is not a"),
        ("NaN", "is not a quantity"),
        ("1/2", "is not an amount"),
        ("5 parsecs", "is not a unit here"),
        ("5 GA", "is not a unit here"),
        ("9" * 30, "too many digits"),
    ],
)
def test_what_is_no_quantity_is_told_with_what_would_be(text: str, words: str) -> None:
    found = said(text)
    assert isinstance(found, str)
    assert words in found


def test_plenty_is_refused_where_a_number_is_needed() -> None:
    assert said("plenty", plenty=False) == "Give a number here, such as 48 or about 400."


@given(st.text(max_size=40))
def test_any_text_is_a_quantity_or_a_message(text: str) -> None:
    found = said(text)
    assert isinstance(found, str) or not found.said or min(
        figure for figure in (found.milli, found.weight_ug, found.length_nm) if figure is not None
    ) > 0  # fmt: skip


def test_a_receipt_reads_the_same_three_ways() -> None:
    text = {
        "item_id": "12",
        "quantity": "500",
        "unit_cost": "0.034",
        "currency": "usd",
        "exchange_rate": "0.92",
        "freight": "4.50",
        "received_on": "2026-03-02",
        "place": " drawer B4 ",
        "supplier": "",
    }
    json = {
        "item_id": 12,
        "quantity": 500,
        "unit_cost": Decimal("0.034"),
        "currency": "USD",
        "exchange_rate": Decimal("0.92"),
        "freight": Decimal("4.50"),
        "received_on": "2026-03-02",
        "place": "drawer B4",
    }
    form, body, row = read_receipt(text), read_receipt(json), read_receipt_row({**text, "receipt": "", "packs": ""})
    assert isinstance(form, ReceiptDraft)
    assert isinstance(row, ReceiptRow)
    assert form == body == row.draft
    assert (form.lines[0].unit_cost, form.received_on, form.flat) == (Decimal("0.034"), date(2026, 3, 2), True)


def test_faults_are_the_same_three_ways() -> None:
    text = {"item_id": "x", "quantity": "some", "total_cost": "-1", "received_on": "soon"}
    form, row = read_receipt(text), read_receipt_row(text)
    lines = read_receipt({"received_on": "soon", "lines": [{"item_id": "x", "quantity": "some", "total_cost": "-1"}]})
    assert isinstance(form, Faults)
    assert isinstance(row, Faults)
    assert isinstance(lines, Faults)
    assert form.by_field() == row.by_field()
    assert {field.removeprefix("lines.0."): words for field, words in lines.by_field().items()} == form.by_field()


def test_a_count_reads_the_same_from_text_and_from_json() -> None:
    text = {"lot_id": "3", "place": "tin", "found": "about 412", "expected": "420", "counted_on": "2026-03-02"}
    json = {"lot_id": 3, "place": "tin", "found": "about 412", "expected": 420, "counted_on": "2026-03-02"}
    found = read_count(text)
    assert isinstance(found, CountDraft)
    assert found == read_count(json)
    assert (found.expected_milli, found.found.milli) == (420_000, 412_000)


def test_a_leaving_and_a_move_read_the_same_from_text_and_from_json() -> None:
    left = read_stock_out({"reason": "sold", "item_id": "3", "quantity": "5", "price_each": "0.10"})
    assert isinstance(left, StockOutDraft)
    assert left == read_stock_out({"reason": "sold", "item_id": 3, "quantity": 5, "price_each": Decimal("0.10")})
    moved = read_transfer({"lot_id": "3", "from_place": "", "to_place": "tin", "quantity": ""})
    assert isinstance(moved, TransferDraft)
    assert moved == read_transfer({"lot_id": 3, "from_place": None, "to_place": "tin"})
