"""Stock that leaves without a build, bags that move, and acts that are taken back or not, with the reason."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Conflict, Missing, NotEnoughStock, Unfit
from models.intake.faults import Faults
from models.intake.stock.stock_out import LEAVING_COLUMNS, StockOutDraft, read_stock_out
from models.intake.stock.transfer import TransferDraft, read_transfer
from models.operations.stock.bag import remember_tare
from models.operations.stock.ledger import Posting, TransactionHeader, post, reserve
from models.operations.stock.stock_out import StockOut, give_away, remove_stock, scrap_rings, sell_loose
from models.operations.stock.transfer import Moved, move_bag
from models.operations.stock.valuation import choose_valuation
from models.operations.undo import undo_act, undoable
from models.queries.stock.lot import lot_view
from models.tables import BuildLine, Item, LotPlace, Movement, StockTransaction
from tests.ledgers import (
    DAY,
    DRAWER,
    a_lot,
    a_started_build,
    by_average,
    holds,
    in_bag,
    kept,
    movements,
    on_hand,
    take_out,
)
from tests.shops import a_design, a_finding, a_part, a_ring


def leave(session: Session, raw: dict[str, object]) -> StockOut:
    read = read_stock_out(raw)
    assert isinstance(read, StockOutDraft), read
    return remove_stock(session, read)


def move(session: Session, raw: dict[str, object]) -> Moved:
    read = read_transfer(raw)
    assert isinstance(read, TransferDraft), read
    return move_bag(session, read)


@pytest.mark.parametrize(
    ("reason", "written", "words"),
    [
        ("spoiled", ("scrap", "scrap", "spoiled"), "30 rings of “Bronze ring 1.0 × 3.6 mm” spoiled."),
        ("lost", ("scrap", "scrap", "lost"), "30 rings of “Bronze ring 1.0 × 3.6 mm” lost."),
        ("gift", ("give", "scrap", "gift"), "30 rings of “Bronze ring 1.0 × 3.6 mm” given away."),
        ("sample", ("give", "scrap", "sample"), "30 rings of “Bronze ring 1.0 × 3.6 mm” given as a sample."),
        ("sold", ("sell", "sale", ""), "30 rings of “Bronze ring 1.0 × 3.6 mm” sold."),
    ],
)
def test_what_leaves_has_its_reason(store: Store, reason: str, written: tuple[str, str, str], words: str) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "4.00")
        price = {"total_price": "3"} if reason == "sold" else {}
        left = leave(session, {"reason": reason, "lot_id": lot, "place": DRAWER, "quantity": "30", **price})
        assert (left.cost_micros, left.quantity_milli, left.words) == (1_200_000, 30_000, words)
        row = session.exec(select(Movement).where(Movement.act_id == left.act_id)).one()
        assert (session.get_one(StockTransaction, left.act_id).kind, row.kind, row.reason) == written


def test_a_sale_keeps_its_price_over_the_bags_that_it_came_from(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        a_lot(session, ring, 10, "1.00")
        a_lot(session, ring, 50, "1.00", day=DAY + timedelta(days=1))
        left = leave(session, {"reason": "sold", "item_id": ring, "quantity": "13", "total_price": "1"})
        prices = session.exec(select(Movement.price_micros).where(Movement.act_id == left.act_id)).all()
        assert prices == [769_231, 230_769]
        each = leave(session, {"reason": "sold", "item_id": ring, "quantity": "13", "price_each": "0.05"})
        assert each.price_micros == 650_000


def test_the_oldest_lot_goes_first_and_its_fullest_bag(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        young = a_lot(session, ring, 10, day=DAY + timedelta(days=3))
        old = a_lot(session, ring, 20)
        move(session, {"lot_id": old, "from_place": DRAWER, "to_place": "tin", "quantity": "12"})
        left = leave(session, {"reason": "lost", "item_id": ring, "quantity": "22"})
        assert [(one.lot_id, one.place, one.quantity_milli) for one in left.takings] == [
            (old, "tin", 12_000),
            (old, DRAWER, 8_000),
            (young, DRAWER, 2_000),
        ]


def test_a_lot_without_a_place_gives_from_its_fullest_bags(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 20)
        move(session, {"lot_id": lot, "from_place": DRAWER, "to_place": "tin", "quantity": "8"})
        leave(session, {"reason": "lost", "lot_id": lot, "quantity": "15"})
        assert (in_bag(session, lot), in_bag(session, lot, "tin")) == (0, 5)
        with pytest.raises(NotEnoughStock, match=r"Only 5 rings .* are free in lot 1, and 6 are needed"):
            leave(session, {"reason": "lost", "lot_id": lot, "quantity": "6"})


def test_too_little_of_an_item_is_told_with_what_there_is(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 20)
        reserve(session, [kept(lot, DRAWER, 5_000)])
        with pytest.raises(NotEnoughStock) as told:
            leave(session, {"reason": "lost", "item_id": ring, "quantity": "16"})
        assert (told.value.available_milli, told.value.reserved_milli, told.value.lot_id) == (15_000, 5_000, None)
        with pytest.raises(Missing):
            leave(session, {"reason": "lost", "item_id": 99, "quantity": "16"})


def test_an_operation_takes_only_its_own_reasons(store: Store) -> None:
    from models.intake.how_much import HowMuch

    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 20)
        for operation, reason in ((scrap_rings, "gift"), (give_away, "lost"), (sell_loose, "lost")):
            with pytest.raises(Unfit, match="Choose one of"):
                operation(session, StockOutDraft(HowMuch(milli=1000), reason, lot_id=lot, place=DRAWER))


def test_a_lot_of_another_item_is_refused(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 20)
        other = a_finding(session)
        with pytest.raises(Unfit, match="This lot is of another item"):
            leave(session, {"reason": "lost", "lot_id": lot, "item_id": other, "quantity": "1"})


def test_about_so_many_makes_the_bag_rough(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100)
        left = leave(session, {"reason": "lost", "lot_id": lot, "place": DRAWER, "quantity": "about 30"})
        assert left.words == "About 30 rings of “Bronze ring 1.0 × 3.6 mm” lost."
        assert session.exec(select(LotPlace.rough)).one() == "about"


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"item_id": "1", "quantity": "5"}, "reason"),
        ({"reason": "eaten", "item_id": "1", "quantity": "5"}, "reason"),
        ({"reason": "lost", "quantity": "5"}, "item_id"),
        ({"reason": "lost", "item_id": "1"}, "quantity"),
        ({"reason": "lost", "item_id": "1", "quantity": "plenty"}, "quantity"),
        ({"reason": "lost", "item_id": "1", "quantity": "5", "total_price": "1"}, "total_price"),
        ({"reason": "sold", "item_id": "1", "quantity": "5"}, "total_price"),
        ({"reason": "sold", "item_id": "1", "quantity": "5", "total_price": "1", "price_each": "1"}, "price_each"),
        ({"reason": "lost", "item_id": "1", "quantity": "5", "left_on": "then"}, "left_on"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field(raw: dict[str, object], field: str) -> None:
    faults = read_stock_out(raw)
    assert isinstance(faults, Faults)
    assert list(faults.by_field()) == [field]


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"item": "Nobody", "quantity": "5"}, "item"),
        ({"item_id": "1", "quantity": "2.5"}, "quantity"),
        ({"item_id": "1", "quantity": "0.001 g"}, "quantity"),
        ({"item_id": "1", "quantity": "5", "left_on": "2999-01-01"}, "left_on"),
        ({"item_id": "1", "quantity": "99", "price_each": "9999999"}, "price_each"),
    ],
)
def test_what_the_shop_cannot_take_is_said_beside_its_field(store: Store, raw: dict[str, object], field: str) -> None:
    with store.writing() as session:
        a_lot(session, a_ring(session), 100)
        sold = {"reason": "sold", "total_price": "" if "price_each" in raw else "1"}
        with pytest.raises(Unfit) as told:
            leave(session, sold | raw)
        assert list(told.value.faults.by_field()) == [field]


def test_the_columns_of_the_file_are_the_fields_that_are_read(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100)
        row: dict[str, object] = {column.name: column.example for column in LEAVING_COLUMNS}
        row |= {"lot_id": str(lot), "item": "", "item_id": "", "reason": "sold"}
        left = leave(session, row)
        assert (left.price_micros, left.quantity_milli) == (4_500_000, 30_000)
        assert left.words.endswith("sold. Rolled under the bench.")


# --- scrap of precious metal ---


def test_spoiled_silver_is_kept_by_weight_and_can_be_sold(store: Store) -> None:
    with store.writing() as session:
        silver = a_ring(session, name="Silver", metal="sterling-925")
        session.get_one(Item, silver).mass_ug = 118_500
        lot = a_lot(session, silver, 40, "20.00")
        first = leave(session, {"reason": "spoiled", "lot_id": lot, "place": DRAWER, "quantity": "3"})
        assert (first.scrap_milli, first.cost_micros) == (356, 1_500_000)
        leave(session, {"reason": "spoiled", "lot_id": lot, "place": DRAWER, "quantity": "5"})
        scrap = session.exec(select(Item).where(Item.kind == "scrap")).one()
        assert (scrap.name, scrap.unit, scrap.metal) == ("Scrap of sterling silver 925", "g", "sterling-925")
        assert on_hand(session, scrap.id or 0)[1] == 0
        leave(session, {"reason": "lost", "item_id": scrap.id, "quantity": "0.001 g"})
        sold = leave(session, {"reason": "sold", "item_id": scrap.id, "quantity": "0.947 g", "total_price": "0.61"})
        assert (sold.cost_micros, sold.price_micros) == (0, 610_000)
        assert on_hand(session, scrap.id or 0) == (0, 0)


def test_only_what_is_spoiled_and_precious_becomes_scrap(store: Store) -> None:
    with store.writing() as session:
        silver = a_lot(session, a_ring(session, name="Silver", metal="sterling-925"), 40)
        bronze = a_lot(session, a_ring(session, inner_nm=9_000_000), 40)
        leave(session, {"reason": "lost", "lot_id": silver, "place": DRAWER, "quantity": "3"})
        leave(session, {"reason": "gift", "lot_id": silver, "place": DRAWER, "quantity": "3"})
        leave(session, {"reason": "spoiled", "lot_id": bronze, "place": DRAWER, "quantity": "3"})
        # A silver ear wire whose weight nobody knows.
        clasp = a_finding(session)
        session.get_one(Item, clasp).mass_ug = None
        unknown = a_lot(session, clasp, 40)
        left = leave(session, {"reason": "spoiled", "lot_id": unknown, "place": DRAWER, "quantity": "3"})
        assert left.scrap_milli == 0
        assert session.exec(select(Item).where(Item.kind == "scrap")).all() == []


def test_spoiled_silver_that_was_sold_as_scrap_cannot_be_taken_back(store: Store) -> None:
    with store.writing() as session:
        silver = a_ring(session, name="Silver", metal="sterling-925")
        lot = a_lot(session, silver, 40, "20.00")
        spoiled = leave(session, {"reason": "spoiled", "lot_id": lot, "place": DRAWER, "quantity": "3"})
        scrap = session.exec(select(Item.id).where(Item.kind == "scrap")).one()
        sale = leave(session, {"reason": "sold", "item_id": scrap, "quantity": "0.1 g", "total_price": "1"})
        with pytest.raises(Conflict, match="g of “Scrap of sterling silver 925” in lot 2, scrap"):
            undo_act(session, spoiled.act_id)
        undo_act(session, sale.act_id)
        undo_act(session, spoiled.act_id)
        assert (holds(session, lot), on_hand(session, scrap or 0)) == ((40, 20_000_000), (0, 0))


# --- moving ---


def test_a_whole_bag_moves_with_all_that_is_known_of_it(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        remember_tare(session, lot, DRAWER, 1_100_000)
        moved = move(session, {"lot_id": lot, "from_place": DRAWER, "to_place": "tin"})
        assert moved.words == "Moved 100 rings of “Bronze ring 1.0 × 3.6 mm” from drawer B4 to tin."
        old, new = lot_view(session, lot).bags
        assert (new.quantity_milli, new.tare_ug, new.counted_on) == (100_000, 1_100_000, DAY)
        assert (old.quantity_milli, old.tare_ug, old.counted_on) == (0, None, None)
        undo_act(session, moved.act_id)
        old, new = lot_view(session, lot).bags
        assert (old.quantity_milli, old.tare_ug, old.counted_on) == (100_000, 1_100_000, DAY)
        assert (new.quantity_milli, new.tare_ug) == (0, None)


def test_a_part_of_a_rough_bag_makes_the_other_bag_rough(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100)
        bag = session.exec(select(LotPlace)).one()
        bag.rough, bag.tare_ug = "about", 1_000_000
        session.flush()
        move(session, {"lot_id": lot, "from_place": DRAWER, "to_place": "tin", "quantity": "40"})
        old, new = lot_view(session, lot).bags
        assert (old.rough, new.rough, old.tare_ug, new.tare_ug) == ("about", "about", 1_000_000, None)


def test_about_so_many_moved_makes_both_bags_rough(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100)
        move(session, {"lot_id": lot, "from_place": DRAWER, "to_place": "tin", "quantity": "about 40"})
        assert [bag.rough for bag in lot_view(session, lot).bags] == ["about", "about"]


def test_a_bag_that_is_partly_reserved_moves_in_part_only(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100)
        build = a_started_build(session, a_design(session, [a_part(ring, 1)]))
        session.add(BuildLine(build_id=build, position=0, item_id=ring, lot_id=lot, place=DRAWER, planned_milli=60_000))
        reserve(session, [kept(lot, DRAWER, 60_000, build_id=build)])
        with pytest.raises(Conflict, match=f"reserved for build {build}"):
            move(session, {"lot_id": lot, "from_place": DRAWER, "to_place": "tin"})
        with pytest.raises(NotEnoughStock):
            move(session, {"lot_id": lot, "from_place": DRAWER, "to_place": "tin", "quantity": "41"})
        move(session, {"lot_id": lot, "from_place": DRAWER, "to_place": "tin", "quantity": "40"})


def test_what_is_not_there_does_not_move(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100)
        with pytest.raises(Missing, match="no bag of lot 1 in tin"):
            move(session, {"lot_id": lot, "from_place": "tin", "to_place": DRAWER})
        with pytest.raises(Unfit, match="one by one"):
            move(session, {"lot_id": lot, "from_place": DRAWER, "to_place": "tin", "quantity": "1.5"})


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"from_place": "a", "to_place": "b"}, "lot_id"),
        ({"lot_id": "1", "from_place": "a"}, "to_place"),
        ({"lot_id": "1", "from_place": "a", "to_place": "a"}, "to_place"),
        ({"lot_id": "1", "from_place": "a", "to_place": "b", "quantity": "0"}, "quantity"),
        ({"lot_id": "1", "from_place": "a", "to_place": "b", "moved_on": "x"}, "moved_on"),
    ],
)
def test_a_move_that_cannot_be_read_is_said_beside_its_field(raw: dict[str, object], field: str) -> None:
    faults = read_transfer(raw)
    assert isinstance(faults, Faults)
    assert list(faults.by_field()) == [field]


# --- taking back ---


def test_an_act_is_taken_back_once_and_says_when(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        left = leave(session, {"reason": "lost", "lot_id": lot, "place": DRAWER, "quantity": "30"})
        assert undoable(session, left.act_id).possible
        undo = undo_act(session, left.act_id)
        assert movements(session, undo.act_id) == [("reversal", 30, 300_000)]
        assert (
            session.get_one(StockTransaction, undo.act_id).words
            == "Took back: 30 rings of “Bronze ring 1.0 × 3.6 mm” lost."
        )
        again = undoable(session, left.act_id)
        assert not again.possible
        done_on = session.get_one(StockTransaction, undo.act_id).done_on
        assert again.reason == f"This was taken back already, on {done_on:%-d %B %Y}."
        with pytest.raises(Conflict, match="taken back already"):
            undo_act(session, left.act_id)
        with pytest.raises(Conflict, match="took something back itself"):
            undo_act(session, undo.act_id)


def test_why_not_names_what_is_missing(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        take_out(session, lot, 60)
        said = undoable(session, 1)
        assert not said.possible
        assert said.reason == (
            "Taking this back would need 100 rings of “Bronze ring 1.0 × 3.6 mm” in lot 1, drawer B4, "
            "and only 40 are still there. Take back what was done with them since, first."
        )


def test_why_not_names_what_is_reserved(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        reserve(session, [kept(lot, DRAWER, 60_000)])
        assert "60 rings of “Bronze ring 1.0 × 3.6 mm” in lot 1, drawer B4 are reserved for builds" in (
            undoable(session, 1).reason
        )


def test_a_value_that_went_on_at_the_average_is_told_apart(store: Store) -> None:
    with store.writing() as session:
        by_average(session)
        ring = a_ring(session)
        a_lot(session, ring, 10, "1.00")
        a_lot(session, ring, 10, "9.00")
        take_out(session, 1, 10)
        assert "at an average cost" in undoable(session, 2).reason
        with pytest.raises(Conflict, match="at an average cost"):
            undo_act(session, 2)


def test_a_builds_acts_are_taken_back_by_the_build_latest_first(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "1.00")
        build = a_started_build(session, a_design(session, [a_part(ring, 1)]))
        out = post(
            session, TransactionHeader("take_out", DAY, build_id=build), [Posting(lot, DRAWER, "issue", -10_000)]
        )
        back = post(
            session, TransactionHeader("finish", DAY, build_id=build), [Posting(lot, DRAWER, "return", 4_000, 40_000)]
        )
        with pytest.raises(Conflict, match=f"belongs to build {build}"):
            undo_act(session, back.act_id)
        with pytest.raises(Conflict, match=f"More was done for build {build} since"):
            undo_act(session, out.act_id, build_id=build)
        undo_act(session, back.act_id, build_id=build)
        undo_act(session, out.act_id, build_id=build)
        assert on_hand(session, ring) == (100, 1_000_000)
        assert session.exec(select(StockTransaction.build_id).where(StockTransaction.kind == "undo")).all() == [
            build,
            build,
        ]


def test_a_receipt_that_is_taken_back_leaves_an_empty_unmarked_bag(store: Store) -> None:
    with store.writing() as session:
        a_lot(session, a_ring(session), 100, "1.00")
        bag = session.exec(select(LotPlace)).one()
        bag.rough = "about"
        undo_act(session, 1)
        assert (bag.quantity_milli, bag.rough, bag.counted_on) == (0, "", None)


def test_an_act_that_never_was_is_said_so(store: Store) -> None:
    with store.writing() as session, pytest.raises(Missing, match="no entry 7"):
        undo_act(session, 7)


def test_the_price_of_a_sale_that_was_taken_back_stands_with_the_sale(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "1.00")
        sale = leave(session, {"reason": "sold", "lot_id": lot, "place": DRAWER, "quantity": "3", "total_price": "2"})
        assert sale.price_micros == 2 * 10**6
        undo_act(session, sale.act_id)
        rows = session.exec(select(Movement.kind, Movement.price_micros).order_by(col(Movement.id))).all()
        assert rows == [("receipt", None), ("sale", 2_000_000), ("reversal", None)]
        assert Decimal(holds(session, lot)[1]) == 1_000_000


def test_another_way_of_valuing_is_not_an_act_to_take_back(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        a_lot(session, ring, 10, "1.00")
        a_lot(session, ring, 10, "9.00")
        chosen = choose_valuation(session, "average")
        with pytest.raises(Conflict, match="Choose the former way in the settings"):
            undo_act(session, chosen.act_id or 0)
