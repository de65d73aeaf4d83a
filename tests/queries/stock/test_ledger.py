"""What pages read of stock: balances, lots, drawers, picks, histories; few queries, and never a scan of the movements."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Missing, NotEnoughStock
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.intake.stock.receipt import ReceiptDraft, ReceiptLine
from models.intake.stock.stock_out import StockOutDraft
from models.intake.stock.transfer import TransferDraft
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.count import count_bag
from models.operations.stock.ledger import Posting, TransactionHeader, costs_of, post, release, reserve
from models.operations.stock.receipt import receive_lots
from models.operations.stock.stock_out import remove_stock
from models.operations.stock.transfer import move_bag
from models.operations.stock.valuation import choose_valuation, valuation_change
from models.operations.undo import undo_act, undoable
from models.queries.stock.bag_choice import pick
from models.queries.stock.balance import (
    balance_of,
    balances,
    dead_stock,
    low_items,
    shelf_value,
    stock_unit_costs,
)
from models.queries.stock.count import count_difference
from models.queries.stock.ledger import act_view, history_points, item_history, recent_acts
from models.queries.stock.lot import drawer, lot_view, lots_of, places
from models.tables import Item, LotPlace, StockTransaction
from tests.bench.ledger_generator import FIRST_DAY, grow_shop
from tests.counting import queries_of
from tests.ledgers import DAY, DRAWER, a_lot, by_average, kept, take_out
from tests.shops import a_finding, a_ring

# --- balances ---


def test_a_balance_says_on_hand_reserved_free_worth_and_where(store: Store) -> None:
    with store.writing() as session:
        ring, other = a_ring(session), a_finding(session)
        first = a_lot(session, ring, 100, "3.00")
        a_lot(session, ring, 50, "3.00", place="tin")
        reserve(session, [kept(first, DRAWER, 30_000)])
        count_bag(session, CountDraft(HowMuch(milli=100_000, rough="about"), lot_id=first, place=DRAWER))
        found = balances(session, [ring, other])
        one = found[ring]
        assert (one.on_hand_milli, one.reserved_milli, one.free_milli, one.value_micros) == (
            150_000,
            30_000,
            120_000,
            6_000_000,
        )
        assert (one.unit_cost, one.places, one.lots, one.rough) == (Decimal("0.04"), (DRAWER, "tin"), 2, "about")
        assert one.last_moved_on == DAY
        assert (found[other].on_hand_milli, found[other].unit_cost, found[other].places) == (0, None, ())
        assert set(balances(session)) == {ring}
        assert balance_of(session, other).free_milli == 0


def test_the_least_sure_bag_marks_the_item_also_when_it_is_empty(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 10)
        count_bag(session, CountDraft(HowMuch(milli=10_000, rough="plenty"), lot_id=lot, place=DRAWER))
        take_out(session, lot, 10)
        assert balance_of(session, ring).rough == "plenty"


def test_what_my_stock_cost_me_is_the_value_over_what_is_there(store: Store) -> None:
    with store.writing() as session:
        ring, ear = a_ring(session), a_finding(session)
        a_lot(session, ring, 3, "0.10")
        a_lot(session, ear, 5, "1.00")
        take_out(session, 2, 5)
        costs = stock_unit_costs(session, [ring, ear])
        assert set(costs) == {ring}
        assert costs[ring].amount.quantize(Decimal("1e-20")) == Decimal("0.03333333333333333333")
        assert [(line.label, line.amount) for line in costs[ring].lines] == [
            ("Worth on the shelf", Decimal("0.10")),
            ("On hand", Decimal(3)),
        ]
        assert not costs[ring].provisional
        assert set(stock_unit_costs(session)) == {ring}


def test_a_cost_that_nobody_paid_is_provisional(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        line = ReceiptLine(HowMuch(milli=100_000), item_id=ring)
        receive_lots(session, ReceiptDraft((line,)))
        a_lot(session, ring, 100, "9.00")
        cost = stock_unit_costs(session)[ring]
        assert (cost.amount, cost.provisional) == (Decimal("0.065"), True)
        assert "stands in" in cost.lines[0].reason
        assert shelf_value(session).provisional_micros == 4_000_000
        take_out(session, 1, 100, place="")
        assert not stock_unit_costs(session)[ring].provisional
        assert (shelf_value(session).value_micros, shelf_value(session).provisional_micros) == (9_000_000, 0)


def test_what_runs_low_is_told_with_what_brings_it_to_its_target(store: Store) -> None:
    with store.writing() as session:
        points = {"low": (100_000, 250_000), "enough": (119_000, None), "none": (50_000, None), "unasked": (None, None)}
        ids = {}
        for number, (name, (reorder, target)) in enumerate(points.items()):
            ids[name] = a_ring(session, name=name, inner_nm=3_000_000 + number * 10**6)
            item = session.get_one(Item, ids[name])
            item.reorder_milli, item.target_milli = reorder, target
            if name != "none":
                a_lot(session, ids[name], 120)
        reserve(session, [kept(1, DRAWER, 30_000)])
        found = low_items(session)
        assert [(one.item.id, one.free_milli, one.wanted_milli) for one in found] == [
            (ids["none"], 0, 51_000),
            (ids["low"], 90_000, 160_000),
        ]
        session.get_one(Item, ids["none"]).retired = True
        session.flush()
        assert [one.item.id for one in low_items(session)] == [ids["low"]]


def test_dead_stock_is_what_nobody_used_the_dearest_first(store: Store) -> None:
    with store.writing() as session:
        rings = [a_ring(session, name=f"R{number}", inner_nm=3_000_000 + number * 10**6) for number in range(4)]
        for ring, cost in zip(rings, ("1", "9", "5", "7"), strict=True):
            a_lot(session, ring, 10, cost)
        take_out(session, 3, 1, day=DAY + timedelta(days=40))
        take_out(session, 4, 10)
        found = dead_stock(session, DAY + timedelta(days=30))
        assert [(one.item.name, one.value_micros) for one in found] == [("R1", 9_000_000), ("R0", 1_000_000)]
        assert dead_stock(session, DAY) == ()


def test_the_shelf_is_worth_the_sum_of_its_parts(store: Store) -> None:
    with store.writing() as session:
        a_lot(session, a_ring(session), 10, "1")
        a_lot(session, a_ring(session, name="S", metal="sterling-925"), 10, "5")
        a_lot(session, a_finding(session), 10, "2")
        worth = shelf_value(session)
        assert worth.value_micros == 8_000_000
        assert [(part.code, part.items, part.value_micros) for part in worth.by_kind] == [
            ("ring", 2, 6_000_000),
            ("finding", 1, 2_000_000),
        ]
        assert [(part.code, part.value_micros) for part in worth.by_metal] == [
            ("sterling-925", 7_000_000),
            ("bronze-c220", 1_000_000),
        ]


# --- lots, drawers and picks ---


def test_lots_come_oldest_first_with_their_bags(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        young = a_lot(session, ring, 10, "1", day=DAY + timedelta(days=1))
        old = a_lot(session, ring, 20, "3", batch="dye lot 7")
        empty = a_lot(session, ring, 5, "1")
        take_out(session, empty, 5)
        move_bag(session, TransferDraft(old, DRAWER, "drawer B10", HowMuch(milli=8_000)))
        lots = lots_of(session, [ring])[ring]
        assert [lot.id for lot in lots] == [old, young]
        assert [(bag.place, bag.quantity_milli) for bag in lots[0].bags] == [(DRAWER, 12_000), ("drawer B10", 8_000)]
        assert (lots[0].batch, lots[0].unit_cost, lots[0].free_milli) == ("dye lot 7", Decimal("0.15"), 20_000)
        everything = lots_of(session, [ring, 99], empty=True)
        assert ([lot.id for lot in everything[ring]], everything[99]) == ([old, empty, young], ())
        assert lot_view(session, empty).unit_cost is None
        with pytest.raises(Missing, match="no lot 99"):
            lot_view(session, 99)


def test_a_drawer_lists_its_bags_in_order(store: Store) -> None:
    with store.writing() as session:
        small, large = (
            a_ring(session, name="Small"),
            a_ring(session, name="Large", wire_nm=1_600_000, inner_nm=6_500_000),
        )
        for item, place in ((large, "drawer B10"), (large, "drawer B4"), (small, "drawer B10"), (small, "drawer B4")):
            a_lot(session, item, 10, "1", place=place)
        gone = a_lot(session, small, 10, "1", place="drawer B4")
        take_out(session, gone, 10, place="drawer B4")
        assert [(line.item.name, line.bag.place) for line in drawer(session)] == [
            ("Small", "drawer B4"),
            ("Large", "drawer B4"),
            ("Small", "drawer B10"),
            ("Large", "drawer B10"),
        ]
        assert [line.item.name for line in drawer(session, "drawer B4")] == ["Small", "Large"]
        assert [line.bag.lot_id for line in drawer(session, item_id=large)] == [2, 1]
        assert [line.lot_micros for line in drawer(session, lot_id=1)] == [1_000_000]
        assert drawer(session, "nowhere") == ()


def test_an_empty_bag_that_was_roughly_counted_stays_in_the_drawer(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 10)
        count_bag(session, CountDraft(HowMuch(milli=10_000, rough="about"), lot_id=lot, place=DRAWER))
        take_out(session, lot, 10)
        assert [line.bag.rough for line in drawer(session)] == ["about"]


def test_places_say_what_is_rough_and_when_they_were_counted(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        for place in ("drawer B10", "drawer B4", "drawer B4"):
            a_lot(session, ring, 10, place=place)
        count_bag(session, CountDraft(HowMuch(milli=9_000, rough="about"), lot_id=2, place="drawer B4", counted_on=DAY))
        assert [(one.place, one.bags, one.items, one.rough, one.counted_on) for one in places(session)] == [
            ("drawer B4", 2, 1, 1, DAY),
            ("drawer B10", 1, 1, 0, DAY),
        ]
        session.exec(select(LotPlace)).first().counted_on = None  # type: ignore[union-attr]
        session.flush()
        assert places(session)[1].counted_on is None


def test_a_pick_takes_the_oldest_first_and_passes_over_what_is_reserved(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        old, young = a_lot(session, ring, 20), a_lot(session, ring, 50, day=DAY + timedelta(days=1))
        reserve(session, [kept(old, DRAWER, 15_000)])
        picked = pick(session, ring, 12_000)
        assert [(one.lot_id, one.quantity_milli) for one in picked.takings] == [(old, 5_000), (young, 7_000)]
        assert not picked.one_lot
        whole = pick(session, ring, 12_000, one_lot=True)
        assert ([one.lot_id for one in whole.takings], whole.one_lot) == ([young], True)
        with pytest.raises(NotEnoughStock, match=r"Only 55 rings .* are free in stock, and 60 are needed. 15 more"):
            pick(session, ring, 60_000)
        with pytest.raises(Missing):
            pick(session, 99, 1_000)


def test_a_pick_says_when_it_rests_on_a_rough_count(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 20)
        assert not pick(session, ring, 5_000).rough
        count_bag(session, CountDraft(HowMuch(milli=20_000, rough="about"), lot_id=lot, place=DRAWER))
        assert pick(session, ring, 5_000).rough


# --- histories ---


def test_a_history_goes_back_page_by_page_with_what_was_on_hand(store: Store) -> None:
    with store.writing() as session:
        ring, other = a_ring(session), a_finding(session)
        lot, stranger = a_lot(session, ring, 100), a_lot(session, other, 100)
        for rings in range(1, 8):
            take_out(session, lot, rings)
            take_out(session, stranger, 1)
        seen: list[tuple[int, int]] = []
        before = None
        pages = 0
        while pages == 0 or before is not None:
            pages += 1
            page = item_history(session, ring, before=before, per_page=3)
            seen += [(line.quantity_milli // 1000, line.after_milli // 1000) for line in page.lines]
            before = page.before
        assert pages == 3
        assert seen == [(-7, 72), (-6, 79), (-5, 85), (-4, 90), (-3, 94), (-2, 97), (-1, 99), (100, 100)]
        assert len(item_history(session, ring, lot_id=lot).lines) == 8
        assert item_history(session, ring, per_page=8).before is None
        assert item_history(session, 99).lines == ()


def test_a_history_shows_what_was_taken_back(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100)
        left = remove_stock(session, StockOutDraft(HowMuch(milli=5_000), "lost", lot_id=lot, place=DRAWER))
        undo = undo_act(session, left.act_id)
        newest, lost, receipt = item_history(session, ring).lines
        assert (newest.undoes, lost.undone_by, receipt.undone_by) == (left.act_id, undo.act_id, None)
        view = act_view(session, left.act_id)
        assert (view.undone_by, view.kind, [item.name for item in view.items]) == (
            undo.act_id,
            "scrap",
            ["Bronze ring 1.0 × 3.6 mm"],
        )
        assert [act.id for act in recent_acts(session, limit=2)] == [3, 2]
        assert [act.id for act in recent_acts(session, before=2)] == [1]
        assert view.value_micros == 0
        with pytest.raises(Missing):
            act_view(session, 99)


def at_days(session: Session, *days: int) -> datetime:
    """Spread the acts so far over days, as if they had been booked then; answers the first moment."""
    start = datetime(2026, 1, 1, 12, tzinfo=UTC)
    for act, day in zip(session.exec(select(StockTransaction).order_by(col(StockTransaction.id))), days, strict=True):
        act.at = start + timedelta(days=day)
    session.flush()
    return start


def test_few_movements_are_points_as_they_were_booked(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100)
        take_out(session, lot, 30)
        move_bag(session, TransferDraft(lot, DRAWER, "tin", HowMuch(milli=50_000)))
        take_out(session, lot, 5)
        start = at_days(session, 0, 5, 10, 15)
        points = history_points(session, ring, since=start + timedelta(days=1), until=start + timedelta(days=12))
        assert [(point.at - start, point.on_hand_milli // 1000) for point in points] == [
            (timedelta(days=1), 100),
            (timedelta(days=5), 70),
            (timedelta(days=10), 70),
        ]
        early = history_points(session, ring, since=start - timedelta(days=9), until=start - timedelta(days=1))
        assert [point.on_hand_milli for point in early] == [0]


def test_of_many_movements_evenly_chosen_ones_are_points(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100)
        for _ in range(20):
            take_out(session, lot, 1)
        start = at_days(session, *range(21))
        points = history_points(session, ring, since=start, until=start + timedelta(days=20), points=4)
        assert [(point.at - start, point.on_hand_milli // 1000) for point in points] == [
            (timedelta(days=day), 100 - day) for day in (0, 5, 10, 15, 20)
        ]


def test_no_point_shows_a_bag_on_its_way(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100)
        for number in range(9):
            move_bag(
                session, TransferDraft(lot, DRAWER if number % 2 == 0 else "tin", "tin" if number % 2 == 0 else DRAWER)
            )
        start = at_days(session, *range(10))
        for points in (3, 4, 5, 100):
            found = history_points(session, ring, since=start, until=start + timedelta(days=20), points=points)
            assert {point.on_hand_milli for point in found} == {100_000}
            assert len(found) <= points + 1


# --- few queries, and no scan ---


@pytest.fixture(scope="module")
def grown(empty_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder with 500 items, 2,000 lots and 5,000 movements; never opened by a test itself."""
    folder = tmp_path_factory.mktemp("grown") / "shop"
    shutil.copytree(empty_shop, folder)
    store = Store(folder)
    with store.writing() as session:
        grow_shop(session, movements=5_000)
    store.close()
    return folder


@pytest.fixture
def big(grown: Path, tmp_path: Path) -> Iterator[Store]:
    """A copy of the grown shop."""
    folder = tmp_path / "big"
    shutil.copytree(grown, folder)
    store = Store(folder)
    yield store
    store.close()


NOON = datetime(2025, 11, 30, 12, tzinfo=UTC)
READS: dict[str, Callable[[Session], object]] = {
    "balances": balances,
    "balances of some": lambda session: balances(session, range(1, 61)),
    "stock costs": stock_unit_costs,
    "low": low_items,
    "dead": lambda session: dead_stock(session, date(2026, 6, 1)),
    "worth": shelf_value,
    "lots": lambda session: lots_of(session, [1], empty=True),
    "lot": lambda session: lot_view(session, 1),
    "drawer": lambda session: drawer(session, "drawer B1"),
    "all drawers": drawer,
    "places": places,
    "pick": lambda session: pick(session, 1, 900_000),
    "pick one lot": lambda session: pick(session, 1, 900_000, one_lot=True),
    "history": lambda session: item_history(session, 1),
    "history further back": lambda session: item_history(session, 1, before=4_000),
    "history of a lot": lambda session: item_history(session, 1, lot_id=3),
    "points": lambda session: history_points(session, 1, since=NOON - timedelta(days=900), until=NOON),
    "few points": lambda session: history_points(session, 1, since=NOON - timedelta(days=10), until=NOON),
    "recent": recent_acts,
    "act": lambda session: act_view(session, 59),
    "undoable": lambda session: undoable(session, 58),
    "count": lambda session: count_difference(session, CountDraft(HowMuch(milli=5_000), lot_id=1)),
    "costs": lambda session: costs_of(session, [Posting(1, "drawer B1", "issue", -1_000)]),
    "valuation": lambda session: valuation_change(session, "average"),
}


def write_of_every_kind(session: Session) -> None:
    receive_lots(session, ReceiptDraft((ReceiptLine(HowMuch(milli=5_000), item_id=1, place="tin"),)))
    out = post(session, TransactionHeader("take_out", DAY), [Posting(1, "drawer B1", "issue", -1_000)])
    undo_act(session, out.act_id)
    remove_stock(session, StockOutDraft(HowMuch(milli=5_000), "spoiled", item_id=1))
    counted = count_bag(session, CountDraft(HowMuch(milli=900_000), lot_id=1))
    undo_act(session, counted.act_id)
    move_bag(session, TransferDraft(1, "drawer B1", "tin", HowMuch(milli=1_000)))
    hold = [kept(1, "drawer B1", 1_000)]
    reserve(session, hold)
    release(session, hold)
    choose_valuation(session, "average")
    take_out(session, 1, 1, place="drawer B1")


@pytest.mark.parametrize("name", [*READS, "writes", "writes by average"])
def test_no_query_scans_the_movements_or_the_acts(big: Store, name: str) -> None:
    asked: list[tuple[str, Any]] = []

    def note(_connection: Any, _cursor: Any, statement: str, parameters: Any, *_more: Any) -> None:
        if statement.lstrip().startswith(("SELECT", "WITH", "UPDATE")):
            asked.append((statement, parameters))

    with Session(big.engine) as session:
        if name == "writes by average":
            by_average(session)
        event.listen(big.engine, "before_cursor_execute", note)
        try:
            (READS.get(name) or write_of_every_kind)(session)
        finally:
            event.remove(big.engine, "before_cursor_execute", note)
        assert asked
        for statement, parameters in asked:
            one = parameters[0] if isinstance(parameters, list) else parameters
            plan = session.connection().exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", one).all()
            for step in plan:
                assert not re.match(r"SCAN (movement|act)(_\d+)?\b", step[3]), (statement, step[3])
        session.rollback()


@pytest.mark.parametrize("name", READS)
def test_the_number_of_queries_does_not_grow_with_the_rows(
    big: Store, empty_shop: Path, tmp_path: Path, name: str
) -> None:
    shutil.copytree(empty_shop, tmp_path / "small")
    small = Store(tmp_path / "small")
    with small.writing() as session:
        grow_shop(session, movements=60, items=5, lots=20)
        session.flush()
    numbers = []
    for store in (small, big):
        with store.reading() as session, queries_of(store) as seen:
            READS[name](session)
        numbers.append(len(seen))
    small.close()
    assert numbers[0] == numbers[1]


def test_the_grown_shop_is_as_the_ledger_would_have_written_it(big: Store) -> None:
    with big.reading() as session:
        assert check_ledger(session) == ()
        busiest = session.connection().exec_driver_sql("SELECT count(*) FROM movement WHERE item_id = 1").scalar_one()
    assert busiest == 500
    assert date(2024, 1, 1) == FIRST_DAY
