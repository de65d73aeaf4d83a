"""An offer handed in by a page's form, as JSON and as a CSV row: the same offer, the same messages."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from sqlmodel import col, select

from models.database import Store
from models.operations.imports import KINDS, Look, look_at_file, take_file
from models.tables import Offer, OfferBreak, Supplier
from tests.shops import a_ring
from tests.web.api.stock.test_ledger_three_ways import faults_on
from tests.web.conftest import Client

OFFER = {
    "supplier": "Harbour Metals", "pack": "50 g", "price": "6.40", "currency": "USD", "exchange_rate": "0.9",
    "breaks": "5 at 6.00; 20 at 5.50", "lead_days": "12", "offer_note": "Item no. 12", "current": "no",
}  # fmt: skip
ITEM = "Bronze ring 1.0 × 3.6 mm"


@pytest.fixture(autouse=True)
def ring(store: Store) -> int:
    """A ring with a price already."""
    with store.writing() as session:
        return a_ring(session)


def by_form(client: Client, store: Store, row: dict[str, str]) -> dict[str, str]:
    answer = client.submit("/stock/items/1/price", row)
    return {} if answer.status_code == 303 else faults_on(answer.text)


def by_json(client: Client, store: Store, row: dict[str, str]) -> dict[str, str]:
    answer = client.request("POST", "/api/items/1/offers", json=dict(row))
    return {} if answer.status_code == 201 else {one["field"]: one["message"] for one in answer.json()["errors"]}


def by_file(client: Client, store: Store, row: dict[str, str]) -> dict[str, str]:
    out = io.StringIO()
    writer = csv.DictWriter(out, ["item", *row])
    writer.writeheader()
    writer.writerow({"item": ITEM, **row})
    with store.writing() as session:
        look = look_at_file(session, KINDS["offers"], out.getvalue().encode())
    assert isinstance(look, Look), look
    if look.bad:
        return {fault.field: fault.message for fault in look.bad[0].faults}
    with store.writing() as session:
        assert take_file(session, KINDS["offers"], out.getvalue().encode()) == 1
    return {}


WAYS = {"form": by_form, "json": by_json, "file": by_file}


def kept(store: Store) -> list[Any]:
    """The offers, their sellers and their breaks, without the moments of their noting."""
    with store.reading() as session:
        offers = session.exec(
            select(Offer, Supplier.name)
            .outerjoin(Supplier, col(Supplier.id) == col(Offer.supplier_id))
            .order_by(col(Offer.id))
        ).all()
        said = [
            (
                offer.pack_milli,
                offer.pack_unit,
                offer.price_micros,
                offer.currency,
                offer.exchange_rate,
                offer.current,
                offer.standing,
                offer.lead_days,
                offer.note,
                name,
            )
            for offer, name in offers
        ]
        breaks = session.exec(select(OfferBreak).order_by(col(OfferBreak.from_packs))).all()
        return [*said, *((each.offer_id, each.from_packs, each.price_micros) for each in breaks)]


@pytest.mark.parametrize("way", WAYS)
def test_the_same_offer_is_kept_whichever_way_it_comes(client: Client, store: Store, way: str) -> None:
    assert WAYS[way](client, store, OFFER) == {}
    found = kept(store)
    assert found[1][:5] == (50_000, "g", 6_400_000, "USD", found[1][4])
    assert found[1][5:] == (False, True, 12, "Item no. 12", "Harbour Metals")
    assert found[2:] == [(2, 5, 6_000_000), (2, 20, 5_500_000)]
    assert found[0][5:7] == (True, True)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"pack": "0"}, ("pack", "A pack of nothing has no price for one; give more than 0.")),
        ({"price": "-1"}, ("price", "Give 0 or more; -1 is too small.")),
        (
            {"breaks": "1 at 3"},
            ("breaks", "Price breaks begin at 2 packs or more, and each at more packs than the one before."),
        ),
        ({"breaks": "often"}, ("breaks", "“often” is not a price break; type it as 5 at 3.20; 20 at 2.90.")),
        ({"exchange_rate": ""}, ("exchange_rate", "Give the rate: what does 1 USD cost in EUR?")),
    ],
)
def test_what_is_wrong_is_said_in_the_same_words(
    client: Client, store: Store, way: str, wrong: dict[str, str], message: tuple[str, str]
) -> None:
    before = kept(store)
    assert WAYS[way](client, store, {**OFFER, **wrong}) == dict([message])
    assert kept(store) == before


def test_a_file_names_what_it_does_not_know_and_what_it_cannot_tell_apart(client: Client, store: Store) -> None:
    with store.writing() as session:
        a_ring(session, name=ITEM, inner_nm=5_000_000)
    text = f"item,item_id,pack,price\nNothing such,,100,4\n{ITEM},,100,4\n,99,100,4\n,2,100,4.20\n"
    with store.writing() as session:
        look = look_at_file(session, KINDS["offers"], text.encode())
    assert isinstance(look, Look)
    assert [[fault.field for fault in line.faults] for line in look.lines] == [["item"], ["item_id"], ["item_id"], []]
