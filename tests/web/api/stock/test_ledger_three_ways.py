"""A receipt and a count handed in by a page's form, as JSON and as a CSV row: the same ledger, the same messages."""

from __future__ import annotations

import csv
import io
import re
from html import unescape
from typing import Any

import pytest
from sqlmodel import col, select

from models.database import Store
from models.intake.faults import Faults
from models.operations.imports import KINDS, Look, look_at_file, take_file
from models.tables import Lot, LotPlace, Movement
from tests.ledgers import DRAWER, a_lot
from tests.shops import a_ring
from tests.web.conftest import Client, find_form

RECEIPT = {
    "item": "Bronze ring 1.0 × 3.6 mm", "quantity": "about 400", "total_cost": "12.50", "batch": "bath 7", "place": "drawer B4",
    "supplier": "Quill Rings", "received_on": "2026-03-02", "currency": "USD", "exchange_rate": "0.9", "freight": "1.00",
}  # fmt: skip
COUNT = {"lot_id": "1", "place": DRAWER, "found": "about 388", "counted_on": "2026-03-09", "note": "One bag had split."}


def by_form(client: Client, store: Store, kind: str, row: dict[str, str]) -> dict[str, str]:
    if kind == "receipts":
        path = "/stock/receive"
        names = {"item", "quantity", "batch", "place"}
        sent = {
            f"lines.0.{name}" if name in names else name: value for name, value in row.items() if name != "total_cost"
        }
        sent |= {"lines.0.cost": row["total_cost"], "lines.0.cost_of": "total"}
        renamed = {"lines.0.cost": "total_cost"} | {f"lines.0.{name}": name for name in names}
    else:
        path = f"/stock/count?lot={row['lot_id']}&place=drawer+B4"
        sent = {name: row[name] for name in ("found", "counted_on", "note")}
        renamed = {}
    fields = {**client.form(path, path).fields, **sent}
    looked = client.post(path, {**fields, "do": "look"})
    form = find_form(looked.text, path).fields
    answer = client.post(path, {**form, "do": "book"}) if looked.status_code == 200 else looked
    if answer.status_code == 303:
        return {}
    return {renamed.get(name, name): words for name, words in faults_on(answer.text).items()}


def faults_on(page: str) -> dict[str, str]:
    """The faults of a page by field, from the list above its form."""
    block = page[page.index('id="troubles"') :]
    block = block[: block.index("</ul>")]
    return {name.replace("-", "."): unescape(words) for name, words in re.findall(r'href="#f-([^"]+)">([^<]+)<', block)}


def by_json(client: Client, store: Store, kind: str, row: dict[str, str]) -> dict[str, str]:
    answer = client.request("POST", f"/api/{kind}", json=dict(row))
    return {} if answer.status_code == 201 else {one["field"]: one["message"] for one in answer.json()["errors"]}


def by_file(client: Client, store: Store, kind: str, row: dict[str, str]) -> dict[str, str]:
    out = io.StringIO()
    writer = csv.DictWriter(out, list(row))
    writer.writeheader()
    writer.writerow(row)
    with store.writing() as session:
        look = look_at_file(session, KINDS[kind], out.getvalue().encode())
    assert isinstance(look, Look), look
    if look.bad:
        return Faults(look.bad[0].faults).by_field()
    with store.writing() as session:
        take_file(session, KINDS[kind], out.getvalue().encode())
    return {}


WAYS = {"form": by_form, "json": by_json, "file": by_file}


def ledger(store: Store) -> list[tuple[Any, ...]]:
    with store.reading() as session:
        moved = session.exec(select(Movement).order_by(col(Movement.id))).all()
        lots = session.exec(select(Lot).order_by(col(Lot.id))).all()
        bags = session.exec(select(LotPlace).order_by(col(LotPlace.id))).all()
        return [
            *((row.kind, row.place, row.quantity_milli, row.value_micros) for row in moved),
            *((lot.batch, lot.received_on, lot.paid_micros, lot.currency, lot.exchange_rate, lot.freight_micros, lot.supplier_id) for lot in lots),
            *((bag.place, bag.quantity_milli, bag.rough, bag.counted_on) for bag in bags),
        ]  # fmt: skip


@pytest.mark.parametrize("kind", ["receipts", "counts"])
@pytest.mark.parametrize("way", WAYS)
def test_the_same_case_makes_the_same_ledger(client: Client, store: Store, kind: str, way: str) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        if kind == "counts":
            a_lot(session, ring, 400, "12.00")
    assert WAYS[way](client, store, kind, RECEIPT if kind == "receipts" else COUNT) == {}
    found = ledger(store)
    if kind == "receipts":
        # 12.50 and 1.00 of freight at 0.90.
        assert found[0] == ("receipt", DRAWER, 400_000, 12_150_000)
        assert found[1][:4] == ("bath 7", found[1][1], 12_500_000, "USD")
        assert found[2] == (DRAWER, 400_000, "about", None)
    else:
        assert found[1] == ("count", DRAWER, -12_000, -360_000)
        assert found[3][:3] == (DRAWER, 388_000, "about")


@pytest.mark.parametrize(
    ("kind", "changed", "fields"),
    [
        ("receipts", {"quantity": "some"}, ["quantity"]),
        ("receipts", {"quantity": ""}, ["quantity"]),
        ("receipts", {"total_cost": "-2"}, ["total_cost"]),
        ("receipts", {"exchange_rate": ""}, ["exchange_rate"]),
        ("receipts", {"item": "No such ring"}, ["item"]),
        ("receipts", {"received_on": "2999-01-01"}, ["received_on"]),
        ("receipts", {"currency": "XXX"}, ["currency"]),
        ("counts", {"found": "heaps"}, ["found"]),
        ("counts", {"found": "2 m"}, ["found"]),
        ("counts", {"counted_on": "2999-01-01"}, ["counted_on"]),
    ],
)
def test_the_same_mistake_gets_the_same_message(
    client: Client, store: Store, kind: str, changed: dict[str, str], fields: list[str]
) -> None:
    with store.writing() as session:
        a_lot(session, a_ring(session), 400, "12.00")
    row = {**(RECEIPT if kind == "receipts" else COUNT), **changed}
    told = {way: hand_in(client, store, kind, row) for way, hand_in in WAYS.items()}
    assert list(told["json"]) == fields
    assert told["form"] == told["json"] == told["file"]
