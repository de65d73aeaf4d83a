"""When to buy again: past use from the ledger, proposals with their reasons, and what of it is accepted."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from sqlmodel import Session

from models.database import Store
from models.errors import Missing, Stale, Unfit
from models.intake.buying.reorder import Accepted, ReorderWishes, read_accepted, read_reorder_wishes
from models.intake.faults import Faults
from models.operations.buying.reorder import accept_levels, set_reorder_wishes
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.operations.undo import undo_act
from models.queries.buying.reorder import reorder_page, takes_since
from models.tables import Build, Item, Shop
from tests.ledgers import DRAWER, a_lot, a_started_build
from tests.operations.buying.test_purchase import a_supplier, an_offer
from tests.shops import a_design, a_part, a_ring, counted

TODAY = date(2026, 3, 2)
YEAR = timedelta(days=364)


def used(
    session: Session, lot_id: int, rings: int, day: date, build_id: int | None = None, *, kind: str = "take_out"
) -> int:
    """Rings that a build took on a day; answers the act."""
    posting = Posting(lot_id, DRAWER, "sale" if kind == "sell" else "issue", -rings * 1000)
    return post(session, TransactionHeader(kind, day, "Taken.", build_id=build_id), [posting]).act_id


@pytest.fixture
def ring(store: Store) -> int:
    """A ring of which every week of the past year a build took 50, bought in bags of 500 with two weeks' delivery."""
    with store.writing() as session:
        item_id = a_ring(session, price=None)
        an_offer(session, item_id, a_supplier(session, lead_days=14), pack="500", price="20.00")
        lot_id = a_lot(session, item_id, 5_000, "200.00", day=TODAY - YEAR)
        design = a_design(session, [a_part(item_id, 50)])
        for week in range(52):
            build_id = a_started_build(session, design)
            session.get_one(Build, build_id).state = "making"
            used(session, lot_id, 50, TODAY - timedelta(days=7 * week + 1), build_id)
    return item_id


def test_what_builds_took_is_one_take_each_net_of_what_came_back(store: Store, ring: int) -> None:
    with store.writing() as session:
        lot_id = a_lot(session, ring, 100, "4.00", day=TODAY)
        build_id = a_started_build(session, 1)
        used(session, lot_id, 60, TODAY - timedelta(days=3), build_id)
        back = Posting(lot_id, DRAWER, "return", 15_000, value_micros=600_000)
        post(session, TransactionHeader("finish", TODAY, "Finished.", build_id=build_id), [back])
        sold = used(session, lot_id, 10, TODAY, kind="sell")
        undo_act(session, used(session, lot_id, 20, TODAY, kind="sell"))
        post(
            session,
            TransactionHeader("scrap", TODAY, "Lost."),
            [Posting(lot_id, DRAWER, "scrap", -5_000, reason="lost")],
        )
        takes = takes_since(session, TODAY - timedelta(days=3))[ring]
        assert sold
    assert {(take.day, take.milli) for take in takes} == {
        (TODAY, 10_000),
        (TODAY - timedelta(days=3), 45_000),
        (TODAY - timedelta(days=1), 50_000),
    }


def test_a_steady_use_asks_for_what_is_taken_during_a_delivery_and_the_cheapest_packs(store: Store, ring: int) -> None:
    with store.reading() as session:
        (row,) = reorder_page(session, TODAY).rows
    # 50 a week for certain: two weeks of delivery take 100 and nothing is kept beyond it. Few takes: each counts.
    found = row.proposal
    assert found.demand.total_milli == 2_600_000
    assert found.demand.per_year == Decimal(2_600) * 365 / 364
    assert (row.reorder_milli, row.target_milli, row.lead_days, row.supplier) == (None, None, 14, "Kestrel Wire")
    assert found.method == "takes"
    # Two takes expected: with 95 % never more than five of 50.
    assert found.point_milli == 250_000
    # Root of 2 x 2.00 x 5.2 packs over 4.00 a year is 2.3 packs.
    assert found.packs == 2
    assert row.new_target_milli == 1_250_000
    assert [reason.label for reason in found.reasons][:2] == ["Whole periods looked at", "Taken in them"]


def test_accepting_sets_the_levels_and_what_they_were_puts_them_back(store: Store, ring: int) -> None:
    with store.writing() as session:
        before = accept_levels(session, [Accepted(ring, 250_000, 1_250_000)])
        assert before == (Accepted(ring, None, None),)
        (row,) = reorder_page(session, TODAY).rows
        assert row.same
        accept_levels(session, before)
        assert session.get_one(Item, ring).reorder_milli is None
        with pytest.raises(Missing):
            accept_levels(session, [Accepted(99, 1, 1)])
        with pytest.raises(Unfit, match="one by one"):
            accept_levels(session, [Accepted(ring, 1_500, 2_000)])


def test_wishes_move_the_proposals_and_a_stale_change_is_refused(store: Store, ring: int) -> None:
    with store.writing() as session:
        version = session.get_one(Shop, 1).version
        set_reorder_wishes(session, ReorderWishes(Decimal(99), Decimal(20), Decimal(10), 180), version)
        (row,) = reorder_page(session, TODAY).rows
        assert row.proposal.point_milli > 250_000
        assert row.proposal.packs > 2
        assert row.proposal.demand.periods == 25
        with pytest.raises(Stale):
            set_reorder_wishes(session, ReorderWishes(Decimal(90), Decimal(20), Decimal(10), 180), version)


def test_an_item_without_a_price_or_of_a_week_has_no_proposal_and_says_why(store: Store, ring: int) -> None:
    with store.writing() as session:
        unpriced = a_ring(session, name="Unpriced", inner_nm=5_000_000, price=None)
        young = a_ring(session, name="Young", inner_nm=6_000_000)
        for item_id in (unpriced, young):
            used(session, a_lot(session, item_id, 100, "4.00", day=TODAY - timedelta(days=2)), 10, TODAY, kind="sell")
        page = reorder_page(session, TODAY)
    assert {each.words.name: each.reason for each in page.without} == {
        "Unpriced": "No price of it is noted, so no order can be reckoned.",
        "Young": "It is known for less than 7 days. Ask again later.",
    }


def test_many_items_are_read_in_as_many_queries_as_few(store: Store, ring: int) -> None:
    seen = []
    for count in (1, 15):
        with store.writing() as session:
            for number in range(count):
                item_id = a_ring(session, name=f"Ring {count}.{number}", inner_nm=7_000_000 + count * 100_000 + number)
                used(
                    session,
                    a_lot(session, item_id, 100, "4.00", day=TODAY - YEAR),
                    10,
                    TODAY - timedelta(days=3),
                    kind="sell",
                )
        with store.reading() as session, counted(session) as statements:
            assert len(reorder_page(session, TODAY).rows) > count
        seen.append(len(statements))
    assert seen[0] == seen[1] <= 16


@pytest.mark.parametrize(
    ("raw", "fields"),
    [
        (
            {"service": "100", "order_cost": "0", "holding": "0", "days": "3"},
            ["service", "order_cost", "holding", "days"],
        ),
        (
            {"service": "40", "order_cost": "-1", "holding": "-1", "days": "x"},
            ["service", "order_cost", "holding", "days"],
        ),
        ({}, ["service", "order_cost", "holding", "days"]),
    ],
)
def test_wishes_that_make_no_sense_are_told_beside_their_fields(raw: dict[str, object], fields: list[str]) -> None:
    found = read_reorder_wishes(raw)
    assert isinstance(found, Faults)
    assert [fault.field for fault in found] == fields


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({}, "items"),
        ({"items": [{"item_id": "1", "reorder": "5", "target": "4"}]}, "items.0.target"),
        ({"items": [{"item_id": "1", "target": "4"}]}, "items.0.reorder"),
        ({"items": [{"reorder": "5"}]}, "items.0.item_id"),
    ],
)
def test_an_acceptance_that_cannot_be_is_told_beside_its_field(raw: dict[str, object], field: str) -> None:
    found = read_accepted(raw)
    assert isinstance(found, Faults)
    assert [fault.field for fault in found] == [field]
