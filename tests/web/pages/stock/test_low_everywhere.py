"""Whatever is free, reserved, on order, drafted, wished for or roughly counted: every page, file and call says low alike."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from html import unescape
from random import Random

import pytest
from sqlmodel import Session

from models.database import Store
from models.intake.buying.purchase import PurchaseDraft, PurchaseLineDraft
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.intake.stock.levels import LevelsDraft
from models.operations.buying.need import add_needs
from models.operations.buying.purchase import draft_purchase, send_purchase
from models.operations.figures import refresh_figures
from models.operations.stock.count import count_bag
from models.operations.stock.ledger import reserve
from models.operations.stock.levels import set_levels
from models.tables import Item
from tests.ledgers import DRAWER, a_lot, kept
from tests.shops import a_design, a_ring
from tests.web.conftest import Client
from tests.web.pages.stock.test_items import text_of

NAME = "Ring number "


@dataclass(frozen=True)
class Shelf:
    """One item in whole rings, and what the rule says of it, worked out by hand."""

    there: int
    held: int
    point: int | None
    more: int
    coming: int
    drafted: int
    asked: int
    plenty: bool
    retired: bool

    @property
    def free(self) -> int:
        return self.there - self.held

    @property
    def low(self) -> bool:
        return self.point is not None and self.free <= self.point and not self.plenty and not self.retired

    @property
    def to_buy(self) -> int:
        if self.plenty:
            return 0
        left = self.free + self.coming + self.drafted - self.asked
        if self.point is None or self.retired or left > self.point:
            return max(-left, 0)
        return self.point + max(1, self.more) - left


def a_shelf(random: Random) -> Shelf:
    """Figures so small that an item lies at its point as often as on either side of it."""
    there = random.randint(0, 4)
    return Shelf(
        there=there,
        held=random.choice([0, 0, random.randint(0, there)]),
        point=random.choice([None, 0, 1, 2, 3, 4]),
        more=random.randint(0, 3),
        coming=random.choice([0, 0, 1, 2]),
        drafted=random.choice([0, 0, 1]),
        asked=random.choice([0, 0, 0, 1, 2]),
        plenty=there > 0 and random.random() < 0.15,
        retired=random.random() < 0.15,
    )


def stocked(session: Session, number: int, shelf: Shelf) -> int:
    item_id = a_ring(session, name=f"{NAME}{number}", inner_nm=3_000_000 + number * 200_000)
    if shelf.there:
        lot = a_lot(session, item_id, shelf.there, "1.00")
        if shelf.plenty:
            much = HowMuch(milli=shelf.there * 1000, rough="plenty")
            count_bag(session, CountDraft(much, lot_id=lot, place=DRAWER))
        if shelf.held:
            reserve(session, [kept(lot, DRAWER, shelf.held * 1000)])
    if shelf.point is not None:
        milli = shelf.point * 1000
        set_levels(session, item_id, LevelsDraft(milli, milli + shelf.more * 1000, batch_colour=False))
    for packs, sent in ((shelf.coming, True), (shelf.drafted, False)):
        if packs:
            line = PurchaseLineDraft(packs, item_id=item_id, pack_milli=1000, pack_unit="piece", price=Decimal(1))
            made = draft_purchase(session, PurchaseDraft((line,)))
            if sent:
                send_purchase(session, made)
    if shelf.asked:
        add_needs(session, [(item_id, shelf.asked * 1000, "")])
    session.get_one(Item, item_id).retired = shelf.retired
    return item_id


def a_bench_with_a_design(session: Session) -> None:
    """The Bench of a shop without designs only shows the first steps."""
    a_design(session, [])
    refresh_figures(session)


def rows_of(page: str) -> Iterator[tuple[int, str]]:
    """Each row of a page's tables that names one of these items: its place, and all its words."""
    for row in page.split("<tr")[1:]:
        words = text_of(unescape("<tr" + row.split("</tr>")[0]))
        if NAME in words:
            yield int(words.split(NAME)[1].split(maxsplit=1)[0]), words


def said_low(client: Client, ids: Sequence[int]) -> Mapping[str, set[int]]:
    """What every face of the shop says is low, as the places of the items."""
    place = {item_id: number for number, item_id in enumerate(ids)}

    def api(question: str) -> set[int]:
        return {place[one["id"]] for one in client.get(f"/api/items?{question}").json()["items"] if one["low"]}

    lists = client.get("/stock").text + client.get("/stock?retired=yes").text
    file = client.get("/settings/files/stock.csv").text.splitlines()
    column = file[0].split(",").index("low")
    return {
        "the list's filter": {number for number, _ in rows_of(client.get("/stock?shelf=low").text)},
        "the list": {number for number, words in rows_of(lists) if "buy again at" in words},
        "the items' pages": {
            number for one, number in place.items() if "Low: at or under" in text_of(client.get(f"/stock/items/{one}").text)
        },
        "Buying": {number for number, words in rows_of(client.get("/buying").text) if re.search(r"\blow\b", words)},
        "/api/items?shelf=low": {
            place[one["id"]] for one in client.get("/api/items?shelf=low").json()["items"]
        },
        "/api/items": api("") | api("retired=yes"),
        "/api/items/{id}": {place[one] for one in ids if client.get(f"/api/items/{one}").json()["low"]},
        "/api/needs": {place[one["item_id"]] for one in client.get("/api/needs").json()["needs"] if one["low"]},
        "the file": {place[int(line.split(",")[0])] for line in file[1:] if line.split(",")[column] == "yes"},
    }  # fmt: skip


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in (1, 2, 3))])
def test_every_face_of_the_shop_says_low_alike(client: Client, store: Store, seed: int) -> None:
    random = Random(seed)
    shelves = [a_shelf(random) for _ in range(30)]
    with store.writing() as session:
        ids = [stocked(session, number, shelf) for number, shelf in enumerate(shelves)]
        a_bench_with_a_design(session)
    low = {number for number, shelf in enumerate(shelves) if shelf.low}
    assert any(shelf.free == shelf.point for shelf in shelves if shelf.low)
    assert said_low(client, ids) == dict.fromkeys(said_low(client, ids), low)
    assert client.get("/api/stock").json()["low"] == len(low)
    needed = {one["item_id"]: one["to_buy"] for one in client.get("/api/needs").json()["needs"]}
    assert needed.keys() >= {ids[number] for number in low}
    assert [needed.get(ids[number], 0) for number in range(30)] == [shelf.to_buy for shelf in shelves]
    bench = text_of(client.get("/").text)
    to_buy = sum(1 for shelf in shelves if shelf.to_buy)
    covered = sum(1 for shelf in shelves if shelf.low and not shelf.to_buy)
    assert f"{to_buy} items to buy" in bench
    says = f"{covered} {'item is' if covered == 1 else 'items are'} low, and enough is coming"
    assert (says in bench) is bool(covered)


@pytest.mark.long
def test_what_is_on_order_is_said_beside_low_and_is_not_bought_twice(client: Client, store: Store) -> None:
    with store.writing() as session:
        ring = stocked(session, 0, Shelf(3, 0, 3, 2, 2, 0, 0, plenty=False, retired=False))
        a_bench_with_a_design(session)
    assert "low, 2 on order buy again at 3" in text_of(client.get("/stock").text)
    assert "Low: at or under the reorder point of 3 rings; 2 on order" in text_of(
        client.get(f"/stock/items/{ring}").text
    )
    assert "low, 2 on order" in text_of(client.get("/buying").text)
    assert client.get("/api/needs").json()["needs"][0]["to_buy"] == 0
    assert "1 item is low, and enough is coming" in text_of(client.get("/").text)
