"""Receiving stock: by count, weight and pack, at what it cost, with freight and foreign money, to the last millionth."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.errors import Unfit
from models.intake.faults import Faults
from models.intake.stock.item import ItemDraft, read_item
from models.intake.stock.receipt import (
    RECEIPT_COLUMNS,
    ReceiptDraft,
    ReceiptRow,
    gather_receipts,
    read_receipt,
    read_receipt_row,
)
from models.operations.stock.item import add_item, edit_item
from models.operations.stock.receipt import Received, receive_lots
from models.queries.shop.shop import currency_lock
from models.queries.stock.lot import lot_view
from models.tables import Item, Lot, LotPlace, StockTransaction, Supplier
from tests.ledgers import holds, on_hand
from tests.shops import a_finding, a_ring


def receive(session: Session, raw: dict[str, object]) -> Received:
    draft = read_receipt(raw)
    assert isinstance(draft, ReceiptDraft), draft
    return receive_lots(session, draft)


def faults_of(session: Session, raw: dict[str, object]) -> dict[str, str]:
    with pytest.raises(Unfit) as told:
        receive(session, raw)
    return told.value.faults.by_field()


def misread(raw: dict[str, object]) -> dict[str, str]:
    faults = read_receipt(raw)
    assert isinstance(faults, Faults), faults
    return faults.by_field()


def test_rings_are_received_by_count_at_their_unit_cost(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        received = receive(
            session,
            {
                "item_id": ring,
                "quantity": "500",
                "unit_cost": "0.0345",
                "place": "drawer B4",
                "batch": "dye lot 7",
                "supplier": "Ostrel Wireworks (invented)",
                "received_on": "2026-03-02",
                "note": "Order 118",
                "tare": "2.5 g",
            },
        )
        lot = lot_view(session, received.lots[0].lot_id)
        assert (lot.quantity_milli, lot.value_micros, lot.paid_micros) == (500_000, 17_250_000, 17_250_000)
        assert (lot.supplier, lot.batch, lot.note, lot.received_on) == (
            "Ostrel Wireworks (invented)",
            "dye lot 7",
            "Order 118",
            date(2026, 3, 2),
        )
        bag = lot.bags[0]
        assert (bag.place, bag.rough, bag.counted_on, bag.tare_ug) == ("drawer B4", "", date(2026, 3, 2), 2_500_000)
        assert session.exec(select(StockTransaction.words)).one() == (
            "Received 500 rings of “Bronze ring 1.0 × 3.6 mm” from Ostrel Wireworks (invented)."
        )


@pytest.mark.parametrize(
    ("words", "rings", "rough"),
    [
        ("about 400", 400, "about"),
        ("~400", 400, "about"),
        ("ca. 400 rings", 400, "about"),
        ("400?", 400, "about"),
        ("400 pcs", 400, ""),
        ("plenty", 1000, "plenty"),
        ("Plenty, about 800", 800, "plenty"),
        ("1234", 1234, ""),
    ],
)
def test_a_rough_count_is_taken_and_marked(store: Store, words: str, rings: int, rough: str) -> None:
    with store.writing() as session:
        received = receive(session, {"item_id": a_ring(session), "quantity": words, "total_cost": "4"})
        assert holds(session, received.lots[0].lot_id) == (rings, 4_000_000)
        assert session.exec(select(LotPlace.rough)).one() == rough
        assert received.lots[0].rough == rough


def test_plenty_says_what_it_is_taken_for(store: Store) -> None:
    with store.writing() as session:
        received = receive(session, {"item_id": a_ring(session), "quantity": "plenty", "total_cost": "4"})
        assert received.lots[0].words == ("Plenty: taken as 1,000 rings until it is counted.",)


def test_a_weight_becomes_rings_by_the_mass_of_one_and_is_rough(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        session.get_one(Item, ring).mass_ug = 97_300
        session.flush()
        received = receive(session, {"item_id": ring, "quantity": "250 g", "total_cost": "20"})
        # 250 / 0.0973 = 2569.37
        assert holds(session, received.lots[0].lot_id) == (2569, 20_000_000)
        assert received.lots[0].words == ("250 g at 0.0973 g for one, as weighed, is about 2569 rings.",)
        assert session.exec(select(LotPlace.rough)).one() == "about"


def test_a_computed_mass_says_that_it_is_computed(store: Store) -> None:
    with store.writing() as session:
        received = receive(session, {"item_id": a_ring(session), "quantity": "1 ozt", "total_cost": "20"})
        # pi^2/4 x 1.0^2 x 4.6 mm = 11.3501 mm3, at 8.80 g/cm3 0.0998812 g; 31.1034768 / 0.0998812 = 311.40
        assert received.lots[0].quantity_milli == 311_000
        assert "as computed from its size and metal" in received.lots[0].words[0]


def test_rubber_is_not_counted_by_a_computed_mass(store: Store) -> None:
    with store.writing() as session:
        rubber = a_ring(session, metal="epdm", price=None)
        said = faults_of(session, {"item_id": rubber, "quantity": "50 g", "total_cost": "2"})
        assert said == {
            "quantity": "What one weighs is not known well enough. Weigh a counted sample first, or give the count."
        }


def test_packs_hold_what_the_offer_says_unless_another_pack_came(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, pack=100)
        first = receive(session, {"item_id": ring, "packs": "3", "pack_price": "4.25"})
        second = receive(session, {"item_id": ring, "packs": "2", "pack": "250", "pack_price": "9"})
        third = receive(session, {"item_id": ring, "packs": "2", "pack": "25 g", "total_cost": "9"})
        assert holds(session, first.lots[0].lot_id) == (300, 12_750_000)
        assert holds(session, second.lots[0].lot_id) == (500, 18_000_000)
        assert third.lots[0].rough == "about"


def test_a_weighed_pack_of_the_offer_is_rough(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, pack=50, pack_unit="g", price="6.80")
        received = receive(session, {"item_id": ring, "packs": "1", "pack_price": "6.80"})
        assert (received.lots[0].quantity_milli, received.lots[0].rough) == (501_000, "about")


def test_an_item_without_an_offer_needs_its_pack(store: Store) -> None:
    with store.writing() as session:
        said = faults_of(session, {"item_id": a_ring(session, price=None), "packs": "3", "pack_price": "4"})
        assert said == {"packs": "It has no current offer, so say what one pack holds."}


def test_wire_comes_by_length_or_weight(store: Store) -> None:
    with store.writing() as session:
        wire = a_finding(session, name="Wire", price=None)
        row = session.get_one(Item, wire)
        row.kind, row.unit, row.metal, row.wire_nm, row.mass_ug = "wire", "m", "copper", 1_000_000, None
        session.flush()
        by_length = receive(session, {"item_id": wire, "quantity": "2500 mm", "total_cost": "3"})
        by_weight = receive(session, {"item_id": wire, "quantity": "100 g", "total_cost": "3"})
        assert (by_length.lots[0].quantity_milli, by_length.lots[0].rough) == (2_500, "")
        # 100 g / (pi/4 x 1 mm2 x 8.96 g/cm3 = 7.0372 g/m) = 14.210 m
        assert (by_weight.lots[0].quantity_milli, by_weight.lots[0].rough) == (14_210, "about")


def test_freight_is_spread_over_the_lines_by_their_value_to_the_last_millionth(store: Store) -> None:
    with store.writing() as session:
        ring, ear = a_ring(session), a_finding(session)
        received = receive(
            session,
            {
                "freight": "1.00",
                "lines": [
                    {"item_id": ring, "quantity": "100", "total_cost": "1"},
                    {"item_id": ring, "quantity": "100", "total_cost": "1"},
                    {"item_id": ear, "quantity": "10", "total_cost": "1"},
                ],
            },
        )
        assert [lot.freight_micros for lot in received.lots] == [333_334, 333_333, 333_333]
        assert sum(lot.value_micros for lot in received.lots) == 4_000_000
        assert on_hand(session, ring) == (200, 2_666_667)
        assert len({lot.lot_id for lot in received.lots}) == 3


def test_foreign_money_is_turned_by_the_typed_rate_once(store: Store) -> None:
    with store.writing() as session:
        received = receive(
            session,
            {
                "currency": "usd",
                "exchange_rate": "0.9173",
                "freight": "7.77",
                "item_id": a_ring(session),
                "quantity": "333",
                "unit_cost": "0.0333",
            },
        )
        # 333 x 0.0333 = 11.0889 USD = 10.17184797 EUR; freight 7.77 USD = 7.127421 EUR
        lot = lot_view(session, received.lots[0].lot_id)
        assert (lot.value_micros, lot.freight_micros) == (10_171_848 + 7_127_421, 7_127_421)
        assert (lot.paid_micros, lot.currency, lot.exchange_rate) == (11_088_900, "USD", Decimal("0.9173"))


def test_the_first_amount_fixes_the_currency(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, price=None)
        receive(session, {"item_id": ring, "quantity": "5", "total_cost": "0"})
        assert currency_lock(session) == ""
        receive(session, {"item_id": ring, "quantity": "5", "total_cost": "0.01"})
        assert "what a lot cost" in currency_lock(session)


def test_opening_stock_without_a_cost_is_valued_by_the_offer_and_says_so(store: Store) -> None:
    with store.writing() as session:
        received = receive(session, {"item_id": a_ring(session, price="4.00", pack=100), "quantity": "about 250"})
        lot = received.lots[0]
        assert (lot.value_micros, lot.provisional) == (10_000_000, True)
        assert lot.words == ("Valued by the offer, 2026-03-02.",)
        assert lot_view(session, lot.lot_id).paid_micros is None


def test_opening_stock_without_any_price_is_worth_nothing_and_says_so(store: Store) -> None:
    with store.writing() as session:
        lot = receive(session, {"item_id": a_ring(session, price=None), "quantity": "250"}).lots[0]
        assert (lot.value_micros, lot.provisional) == (0, True)
        assert lot.words == ("No cost is known, so it is worth nothing here until one is.",)


def test_what_came_free_is_not_provisional(store: Store) -> None:
    with store.writing() as session:
        lot = receive(session, {"item_id": a_ring(session), "quantity": "250", "total_cost": "0"}).lots[0]
        assert (lot.value_micros, lot.provisional) == (0, False)


def test_an_item_may_be_named_and_a_doubtful_name_is_asked_about(store: Store) -> None:
    with store.writing() as session:
        first = a_ring(session, name="Twin")
        received = receive(session, {"item": "twin", "quantity": "5", "total_cost": "1"})
        assert received.lots[0].item_id == first
        second = a_ring(session, name="Twin", inner_nm=9_000_000)
        assert faults_of(session, {"item": "Twin", "quantity": "5"}) == {
            "item_id": f"Several stock items are called “Twin”. Say which by its number: {first}, {second}."
        }
        session.get_one(Item, first).retired = True
        session.flush()
        assert receive(session, {"item": "TWIN", "quantity": "5"}).lots[0].item_id == second
        assert faults_of(session, {"item": "Nobody", "quantity": "5"}) == {
            "item": "There is no stock item called “Nobody”. Put it in stock first."
        }


def test_faults_found_later_stand_beside_their_line(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        said = faults_of(
            session,
            {
                "lines": [
                    {"item_id": ring, "quantity": "5"},
                    {"item_id": ring, "quantity": "2.5"},
                    {"item_id": 99, "quantity": "1"},
                ]
            },
        )
        assert said == {"lines.2.item_id": "There is no stock item 99."}
        said = faults_of(session, {"lines": [{"item_id": ring, "quantity": "5"}, {"item_id": ring, "quantity": "2.5"}]})
        assert said == {"lines.1.quantity": "These are counted one by one. Give a whole number, such as 48."}
        assert session.exec(select(Lot)).all() == []


@pytest.mark.parametrize(
    ("more", "field", "words"),
    [
        ({"received_on": "2999-01-01"}, "received_on", "yet to come"),
        ({"currency": "USD"}, "exchange_rate", "what does 1 USD cost in EUR"),
        ({"exchange_rate": "2"}, "exchange_rate", "Leave the rate empty"),
        ({"supplier_id": "44"}, "supplier_id", "no supplier 44"),
        ({"quantity": "9000000", "unit_cost": "99"}, "unit_cost", "at most 10,000,000"),
        ({"freight": "9999999", "currency": "USD", "exchange_rate": "3"}, "freight", "at most 10,000,000"),
        ({"quantity": "0.001 g"}, "quantity", "comes to nothing"),
        ({"quantity": "2 m"}, "quantity", "counted in rings, not by length"),
    ],
)
def test_what_the_shop_cannot_take_is_said_beside_its_field(
    store: Store, more: dict[str, object], field: str, words: str
) -> None:
    with store.writing() as session:
        said = faults_of(session, {"item_id": a_ring(session), "quantity": "5", **more})
        assert list(said) == [field]
        assert words in said[field]


@pytest.mark.parametrize(
    ("raw", "field", "words"),
    [
        ({"quantity": "5"}, "item_id", "Say what came in"),
        ({"item_id": "1"}, "quantity", "Say how much came"),
        ({"item_id": "1", "quantity": "0"}, "quantity", "more than 0"),
        ({"item_id": "1", "quantity": "-5"}, "quantity", "below zero"),
        ({"item_id": "1", "quantity": "many"}, "quantity", "is not a quantity"),
        ({"item_id": "1", "quantity": "5 buckets"}, "quantity", "is not a unit here"),
        ({"item_id": "1", "quantity": "1,234"}, "quantity", "Do you mean 1234 or 1.234"),
        ({"item_id": "1", "quantity": "99999999"}, "quantity", "10,000,000 or less"),
        ({"item_id": "1", "quantity": "0.0001"}, "quantity", "at most 3 decimals"),
        ({"item_id": "1", "quantity": "5", "packs": "2"}, "packs", "not both"),
        ({"item_id": "1", "packs": "0"}, "packs", "Give 0.001 or more"),
        ({"item_id": "1", "quantity": "5", "unit_cost": "1", "total_cost": "5"}, "total_cost", "one cost only"),
        ({"item_id": "1", "quantity": "5", "pack_price": "1"}, "packs", "how many packs"),
        ({"item_id": "1", "quantity": "5", "total_cost": "-1"}, "total_cost", "0 or more"),
        ({"item_id": "1", "quantity": "5", "currency": "ZZZ"}, "currency", "ISO 4217"),
        ({"lines": []}, "lines.0.item_id", "Say what came in"),
        ({"lines": [{}, {"quantity": "5"}]}, "lines.1.item_id", "Say what came in"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field(raw: dict[str, object], field: str, words: str) -> None:
    said = misread(raw)
    assert list(said) == [field]
    assert words in said[field]


def test_empty_lines_of_a_form_are_passed_over(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lines = [{"item_id": ring, "quantity": "5", "place": "tin"}, {"item_id": "", "quantity": "", "place": "tin"}]
        assert len(receive(session, {"lines": lines}).lots) == 1


def test_a_new_supplier_is_taken_down_once(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        receive(session, {"item_id": ring, "quantity": "5", "supplier": "Quillby Rings (invented)"})
        receive(session, {"item_id": ring, "quantity": "5", "supplier": "quillby rings (invented)"})
        assert session.exec(select(Supplier.name)).all() == ["Quillby Rings (invented)"]


def test_what_was_in_stock_stays_counted_in_its_unit(store: Store) -> None:
    with store.writing() as session:
        raw = {"kind": "consumable", "name": "Tumbling soap", "unit": "g"}
        draft = read_item(raw)
        assert isinstance(draft, ItemDraft)
        soap = add_item(session, draft)
        edit_item(session, soap, replace(draft, unit="piece"), 1)
        edit_item(session, soap, draft, 2)
        receive(session, {"item_id": soap, "quantity": "250 g", "total_cost": "6"})
        with pytest.raises(Unfit, match="came into stock counted in grams"):
            edit_item(session, soap, replace(draft, unit="piece"), 3)
        edit_item(session, soap, replace(draft, note="Without scent"), 3)


# --- a file of receipts ---


def rows(*cells: dict[str, str]) -> list[ReceiptRow]:
    found = []
    for row in cells:
        read = read_receipt_row({column.name: "" for column in RECEIPT_COLUMNS} | row)
        assert isinstance(read, ReceiptRow), read
        found.append(read)
    return found


def test_lines_of_one_receipt_are_gathered_with_their_freight() -> None:
    march, alone, more = rows(
        {"receipt": "March", "item": "A", "quantity": "5", "freight": "1.50"},
        {"item": "B", "quantity": "6"},
        {"receipt": "march", "item": "C", "packs": "2", "freight": "0.25"},
    )
    gathered = gather_receipts([march, alone, more])
    assert not isinstance(gathered, Faults)
    assert [[line.item for line in draft.lines] for draft in gathered] == [["A", "C"], ["B"]]
    assert gathered[0].freight == Decimal("1.75")
    assert (gathered[0].flat, gathered[1].flat) == (False, True)


def test_lines_of_one_receipt_must_agree() -> None:
    gathered = gather_receipts(
        rows(
            {"receipt": "March", "item": "A", "quantity": "5", "supplier": "One (invented)"},
            {"receipt": "March", "item": "B", "quantity": "5", "supplier": "Two (invented)"},
        )
    )
    assert isinstance(gathered, Faults)
    assert "rows.1.receipt" in gathered.by_field()


def test_the_columns_of_the_file_are_the_fields_that_are_read(store: Store) -> None:
    examples = {column.name: column.example for column in RECEIPT_COLUMNS}
    examples |= {"item": "", "packs": "", "pack": "", "unit_cost": "", "pack_price": "", "quantity": "about 400"}
    with store.writing() as session:
        examples["item_id"] = str(a_ring(session))
        read = read_receipt_row(examples)
        assert isinstance(read, ReceiptRow)
        lot = receive_lots(session, read.draft).lots[0]
        view = lot_view(session, lot.lot_id)
        assert (view.batch, view.note, view.supplier) == ("dye lot 7", "Order 118", "A supplier's name")
        # 10.20 x 0.92 + 4.50 x 0.92
        assert view.value_micros == 13_524_000
        assert view.received_on == date(2026, 3, 31)
