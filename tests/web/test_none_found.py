"""None is a fine count: wherever a person counts, on pages, under /api and in files, an empty bag can be said."""

from __future__ import annotations

from typing import Any

import pytest
from sqlmodel import col, select

from models.database import Store
from models.intake.buying.purchase import GoodsReceiptDraft, read_came
from models.operations.imports import KINDS
from models.operations.shop.clock import now
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.ledger_files import take_receipts
from models.queries.stock.balance import balances
from models.queries.stock.item import item_view
from models.queries.stock.room import item_shelf
from models.tables import Item, Lot, LotPlace
from tests.builds import a_bench, making
from tests.ledgers import DRAWER, a_lot, in_bag
from tests.shops import a_finding, a_ring
from tests.web.conftest import Client, find_form
from tests.web.pages.stock.test_counting import book, look, url_of
from tests.web.pages.stock.test_items import text_of


@pytest.fixture
def lot(store: Store) -> int:
    """A bag of 40 bronze rings."""
    with store.writing() as session:
        return a_lot(session, a_ring(session), 40, "2.00")


def emptied(store: Store, lot: int) -> bool:
    with store.reading() as session:
        assert check_ledger(session) == ()
        rough = session.exec(select(LotPlace.rough).where(LotPlace.lot_id == lot)).one()
        return (in_bag(session, lot), session.get_one(Lot, lot).value_micros, rough) == (0, 0, "")


@pytest.mark.parametrize("found", ["0", "0 rings", "0 g", "none", "Empty", "about 0", "plenty 0"])
def test_an_empty_bag_is_counted_on_its_page_in_any_words(client: Client, store: Store, lot: int, found: str) -> None:
    page = look(client, url_of(lot), found=found)
    assert "40 rings fewer than the page said" in text_of(page)
    assert "Counted 0 rings" in text_of(book(client, url_of(lot), page))
    assert emptied(store, lot)


@pytest.mark.parametrize(
    "scale", [{"gross_g": "0"}, {"gross_g": "1.60", "tare_g": "1.6"}, {"gross_g": "0.00 g", "tare_g": "0"}]
)
def test_an_empty_bag_is_counted_on_the_scale(client: Client, store: Store, lot: int, scale: dict[str, str]) -> None:
    page = look(client, url_of(lot), **scale)
    assert "0 rings , for certain." in text_of(page)
    assert "Counted 0 rings" in text_of(book(client, url_of(lot), page))
    assert emptied(store, lot)


@pytest.mark.parametrize(
    "body", [{"found": 0}, {"found": "0"}, {"found": "none"}, {"gross_g": 0}, {"gross_g": 2.5, "tare_g": 2.5}]
)
def test_an_empty_bag_is_counted_by_a_program(client: Client, store: Store, lot: int, body: dict[str, Any]) -> None:
    answer = client.post("/api/counts", json={"lot_id": lot, **body})
    assert answer.status_code == 201, answer.text
    assert emptied(store, lot)


def test_an_empty_bag_says_none_where_nobody_knows_what_one_weighs(client: Client, store: Store) -> None:
    with store.writing() as session:
        finding = a_finding(session)
        session.get_one(Item, finding).mass_ug = None
        lot = a_lot(session, finding, 12, "3.00")
    answer = client.post("/api/counts", json={"lot_id": lot, "gross_g": "1.6 g", "tare_g": "1.6 g"})
    assert answer.status_code == 201, answer.text
    assert emptied(store, lot)
    assert client.post("/api/counts", json={"lot_id": lot, "gross_g": "1.7 g", "tare_g": "1.6 g"}).status_code == 422


def test_nothing_on_the_scale_is_no_rings(client: Client) -> None:
    ring = {"wire": "1.0 mm", "inner": "3.6 mm", "metal": "copper"}
    said = client.post("/api/weigh", json={**ring, "gross_g": 0}).json()
    assert (said["count"], said["low"], said["certain"]) == (0, 0, True)


def test_opening_stock_takes_none_for_an_answer_and_asks_no_more(client: Client, store: Store) -> None:
    with store.writing() as session:
        empty, full = a_ring(session), a_ring(session, name="Copper ring", metal="copper")
    typed = {"lines.0.quantity": "0", "lines.1.quantity": "30"}
    looked = client.submit("/stock/opening", {**typed, "do": "look"}, action="/stock/opening")
    assert looked.status_code == 200, text_of(looked.text)
    seen = client.submit("/stock/opening", typed, action="/stock/opening")
    fields = {**find_form(seen.text, "/stock/opening").fields, "do": "book"}
    after = client.post("/stock/opening", fields)
    assert after.status_code == 303, text_of(after.text)
    assert "Every item was counted in once" in client.follow(after).text
    with store.reading() as session:
        held = balances(session, [empty, full])
        assert sorted(one.on_hand_milli for one in held.values()) == [0, 30_000]
        shelf = item_shelf(session, item_view(session, empty), now=now())
        assert shelf.ever
        assert check_ledger(session) == ()
    assert "0 rings on hand" in text_of(client.get(f"/stock/items/{empty}").text)


def test_opening_stock_under_api_and_in_a_file_takes_none_too(client: Client, store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
    line = {"item_id": ring, "quantity": 0}
    assert client.post("/api/receipts", json=line).status_code == 422
    made = client.post("/api/receipts", json={"opening": True, "lines": [line, {**line, "quantity": 5}], "freight": 1})
    assert made.status_code == 201, made.text
    with store.writing() as session:
        lots = session.exec(select(Lot).order_by(col(Lot.id))).all()
        assert [(one.quantity_milli, one.freight_micros) for one in lots] == [(0, 0), (5_000, 1_000_000)]
        assert check_ledger(session) == ()
        kind = KINDS["receipts"]
        rows = [
            {key: "" if value is None else str(value) for key, value in row.items()} for row in kind.export(session)
        ]
        assert [row["opening"] for row in rows] == ["yes", ""]
        assert take_receipts(session, rows, None) == (2, {})
    undo = client.post("/api/acts/1/undo", json={})
    assert undo.status_code in (200, 201), undo.text
    with store.reading() as session:
        assert check_ledger(session) == ()


@pytest.mark.parametrize(
    ("more", "field"),
    [({"total_cost": "3"}, "total_cost"), ({"unit_cost": "3"}, "unit_cost"), ({"freight": "3"}, "freight")],
)
def test_none_has_no_cost_and_bears_no_freight(client: Client, store: Store, more: dict[str, str], field: str) -> None:
    with store.writing() as session:
        ring = a_ring(session)
    answer = client.post("/api/receipts", json={"opening": True, "item_id": ring, "quantity": "0", **more})
    assert answer.status_code == 422
    assert [fault["field"] for fault in answer.json()["errors"]] == [field]


@pytest.mark.parametrize("none", ["0", "00", "0.0", 0, ""])
def test_packs_of_which_none_came_are_passed_over(none: object) -> None:
    found = read_came({"lines": [{"line_id": 1, "packs": none}, {"line_id": 2, "packs": "2"}]})
    assert isinstance(found, GoodsReceiptDraft)
    assert [line.line_id for line in found.lines] == [2]


def test_the_bag_of_a_build_may_be_empty_by_its_weight(client: Client, store: Store) -> None:
    with store.writing() as session:
        bench = a_bench(session)
        build = making(session, bench, 5)
    body = {"good": 5, "lines": [{"lot_id": bench.old, "place": DRAWER, "after": 0, "tare": 0}]}
    answer = client.post(f"/api/builds/{build}/finish", json=body)
    assert answer.status_code == 200, answer.text
    with store.reading() as session:
        bag = session.exec(select(LotPlace).where(LotPlace.lot_id == bench.old)).one()
        assert (bag.quantity_milli, bag.rough) == (0, "")
        assert check_ledger(session) == ()
