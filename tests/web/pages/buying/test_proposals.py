"""When to buy again and the price watch, with scripts off: proposals taken and put back, wishes, what prices did."""

from __future__ import annotations

from datetime import timedelta

import pytest

from models.database import Store
from models.operations.buying.check import check_purchases
from models.operations.figures import refresh_figures
from models.operations.shop.clock import today
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.queries.costing.figures import stale_figures
from models.tables import Build, Item, Shop
from tests.ledgers import DRAWER, a_lot
from tests.operations.buying.test_purchase import a_supplier, an_offer
from tests.shops import NOON, a_design, a_listed_price, a_part, a_ring, an_outlet
from tests.web.conftest import Client, find_form
from tests.web.pages.buying.test_buying import words_of


@pytest.fixture
def rings(store: Store) -> list[int]:
    """Two rings that were sold loose every week of the last months, in a design that is listed."""
    now = today("UTC")
    with store.writing() as session:
        supplier = a_supplier(session)
        items = [a_ring(session, name=f"Ring {n}", inner_nm=3_600_000 + n * 400_000, price=None) for n in range(2)]
        for item_id in items:
            an_offer(session, item_id, supplier)
            lot = a_lot(session, item_id, 2_000, "80.00", day=now - timedelta(days=200))
            for week in range(1, 21):
                sale = Posting(lot, DRAWER, "sale", -40_000)
                post(session, TransactionHeader("sell", now - timedelta(days=7 * week), "Sold."), [sale])
        design = a_design(session, [a_part(items[0], 100)])
        session.add(
            Build(
                design_id=design,
                revision_id=1,
                state="finished",
                pieces=6,
                good=6,
                spoiled=0,
                started_on=now,
                finished_on=now,
                created_at=NOON,
            )
        )
        outlet = an_outlet(session)
        a_listed_price(session, design, outlet, "12.00")
        refresh_figures(session)
    return items


def levels(store: Store, item_id: int) -> tuple[int | None, int | None]:
    with store.reading() as session:
        item = session.get_one(Item, item_id)
        return item.reorder_milli, item.target_milli


def test_a_shop_without_a_past_says_what_will_stand_here(client: Client) -> None:
    assert "There is no past use to go by yet." in client.get("/buying/reorder").text
    assert "No price changed in the last 90 days." in client.get("/buying/prices").text


def test_all_proposals_are_taken_at_once_and_put_back_at_once(client: Client, store: Store, rings: list[int]) -> None:
    page = client.get("/buying/reorder")
    words = words_of(page.text)
    assert "2 items would get another reorder point" in words
    assert "Nobody said how long a delivery takes, so a week was taken" in words
    assert "Reorder point" in words
    taken = client.post("/buying/reorder/accept", find_form(page.text, "/buying/reorder/accept").fields)
    after = client.follow(taken)
    assert "2 reorder points are kept." in after.text
    assert "Every reorder point is as your use asks for." in after.text
    point, target = levels(store, rings[0])
    assert point is not None
    assert target is not None
    assert 0 < point < target
    undo = after.text.split('action="/buying/reorder/back/')[1].split('"')[0]
    client.post(f"/buying/reorder/back/{undo}", find_form(after.text, f"/buying/reorder/back/{undo}").fields)
    assert levels(store, rings[0]) == levels(store, rings[1]) == (None, None)


def test_one_proposal_is_taken_and_the_other_stays(client: Client, store: Store, rings: list[int]) -> None:
    fields = {"items.0.item_id": str(rings[1]), "items.0.reorder": "80", "items.0.target": "500"}
    form = find_form(client.get("/buying/reorder").text, "/buying/reorder/accept").fields
    client.post("/buying/reorder/accept", {"token": form["token"], **fields})
    assert (levels(store, rings[0]), levels(store, rings[1])) == ((None, None), (80_000, 500_000))


@pytest.mark.parametrize("path", ["x-1-2", "1-2", "1-a-b", "1--1-2", "1-2-3_"])
def test_an_undo_that_says_nothing_is_not_found(client: Client, rings: list[int], path: str) -> None:
    form = find_form(client.get("/buying/reorder").text, "/buying/reorder/accept").fields
    assert client.post(f"/buying/reorder/back/{path}", {"token": form["token"]}).status_code == 404


def test_wishes_are_changed_with_their_faults_beside_them(client: Client, store: Store, rings: list[int]) -> None:
    bad = client.submit("/buying/reorder/wishes", {"service": "100", "order_cost": "0", "days": "7"})
    assert bad.status_code == 422
    for name in ("service", "order_cost", "days"):
        assert f'id="f-{name}-fault"' in bad.text
    stale = client.form("/buying/reorder/wishes", "/buying/reorder/wishes").fields
    kept = client.submit("/buying/reorder/wishes", {"service": "99", "order_cost": "3.50", "days": "100"})
    assert "Nothing runs out in 99 % of deliveries; one order costs you €3.50" in words_of(client.follow(kept).text)
    assert client.post("/buying/reorder/wishes", {**stale, "service": "60"}).status_code == 409
    with store.reading() as session:
        assert (session.get_one(Shop, 1).reorder_days, session.get_one(Shop, 1).order_cost_micros) == (100, 3_500_000)


def test_a_dearer_ring_is_told_with_the_price_that_no_longer_pays(
    client: Client, store: Store, rings: list[int]
) -> None:
    with store.writing() as session:
        an_offer(session, rings[0], 1, price="9.00")
    words = words_of(client.get("/buying/prices").text)
    assert "1 design costs another sum: €5.15 a month less is earned at the same prices." in words
    assert "Ring 0 €0.04 €0.09 +125 %" in words
    assert "in the last 6 months" in words


def test_a_metal_that_would_cost_more_is_reckoned_and_nothing_is_kept(client: Client, rings: list[int]) -> None:
    words = words_of(client.get("/buying/prices?metal=bronze-c220&percent=50").text)
    assert "at +50 %, 1 design costs another sum" in words
    assert "No price changed" in client.get("/buying/prices").text
    assert client.get("/buying/prices?percent=-95").status_code == 422
    assert client.get("/buying/prices?days=0").status_code == 422


def test_a_metal_that_did_get_dearer_is_noted_and_taken_back_in_one_touch(
    client: Client, store: Store, rings: list[int]
) -> None:
    page = client.get("/buying/prices?metal=bronze-c220&percent=50")
    noted = client.post("/buying/prices/move", find_form(page.text, "/buying/prices/move").fields)
    after = client.follow(noted)
    assert "2 prices are noted anew." in after.text
    assert "Ring 0 €0.04 €0.06 +50 %" in words_of(after.text)
    undo = after.text.split('action="/buying/prices/back/')[1].split('"')[0]
    client.post(f"/buying/prices/back/{undo}", find_form(after.text, f"/buying/prices/back/{undo}").fields)
    assert "No price changed" in client.get("/buying/prices").text
    with store.reading() as session:
        assert check_purchases(session) == ()
        assert stale_figures(session) == ()
    none = client.post(
        "/buying/prices/move",
        {**find_form(page.text, "/buying/prices/move").fields, "token": "a" * 24, "metal": "niobium"},
    )
    assert (none.status_code, "No price of this metal would move" in none.text) == (409, True)
    token = find_form(client.get("/buying/prices?metal=bronze-c220&percent=5").text, "/buying/prices/move").fields[
        "token"
    ]
    assert client.post("/buying/prices/back/1-x", {"token": token}).status_code == 404
