"""The check of the ledger: clean on a worked-in shop, and every kind of damage planted in a copy is found and named."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from models.database import Store
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.intake.stock.stock_out import StockOutDraft
from models.intake.stock.transfer import TransferDraft
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.count import count_bag
from models.operations.stock.ledger import Posting, TransactionHeader, costs_of, open_lot, post, reserve
from models.operations.stock.stock_out import remove_stock
from models.operations.stock.transfer import move_bag
from models.operations.stock.valuation import choose_valuation
from models.operations.undo import undo_act
from models.tables import Build, BuildLine, Lot
from tests.ledgers import DAY, DRAWER, a_lot, a_started_build, kept
from tests.shops import a_design, a_finding, a_part, a_ring


def work_for_a_week(store: Store) -> None:
    """Two lots of one ring and one of another, of which something of every kind is done."""
    with store.writing() as session:
        ring, other = a_ring(session), a_ring(session, name="Silver", metal="sterling-925", inner_nm=4_000_000)
        pendant = a_finding(session, name="Pendant")
        first, second = a_lot(session, ring, 100, "3.00"), a_lot(session, ring, 50, "4.00")
        silver = a_lot(session, other, 40, "9.99")
        remove_stock(session, StockOutDraft(HowMuch(milli=3000), "spoiled", lot_id=silver, place=DRAWER))
        remove_stock(session, StockOutDraft(HowMuch(milli=7000), "sold", lot_id=first, place=DRAWER))
        count_bag(session, CountDraft(HowMuch(milli=90_000), lot_id=first, place=DRAWER))
        move_bag(session, TransferDraft(first, DRAWER, "tin", HowMuch(milli=30_000)))
        choose_valuation(session, "average")
        build_id = a_started_build(session, a_design(session, [a_part(ring, 1)]))
        session.get_one(Build, build_id).state = "making"
        issues = [Posting(second, DRAWER, "issue", -10_000)]
        (cost,) = costs_of(session, issues)
        post(session, TransactionHeader("take_out", DAY, build_id=build_id), issues)
        piece = open_lot(session, Lot(item_id=pendant, received_on=DAY, received_milli=1000))
        made = Posting(piece, DRAWER, "receipt", 1000, cost + 500, labour_micros=500)
        post(session, TransactionHeader("finish", DAY, build_id=build_id), [made])
        issues = [Posting(silver, DRAWER, "issue", -5_000)]
        (cost,) = costs_of(session, issues)
        tumbled = open_lot(session, Lot(item_id=other, received_on=DAY, received_milli=5000))
        made = Posting(tumbled, DRAWER, "receipt", 5_000, cost + 700, labour_micros=700)
        post(session, TransactionHeader("process", DAY), [*issues, made])
        undone = remove_stock(session, StockOutDraft(HowMuch(milli=4000), "lost", lot_id=second, place=DRAWER))
        undo_act(session, undone.act_id)
        started = a_started_build(session, a_design(session, [a_part(ring, 1)], name="Other"))
        session.add(
            BuildLine(build_id=started, position=0, item_id=ring, lot_id=second, place=DRAWER, planned_milli=9_000)
        )
        reserve(session, [kept(second, DRAWER, 9_000, build_id=started)])


@pytest.fixture(scope="module")
def worked(empty_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop folder after a week of work; never opened by a test itself."""
    folder = tmp_path_factory.mktemp("worked") / "shop"
    shutil.copytree(empty_shop, folder)
    store = Store(folder)
    work_for_a_week(store)
    store.close()
    return folder


@pytest.fixture
def shop(worked: Path, tmp_path: Path) -> Iterator[Store]:
    """A copy of the worked-in shop."""
    folder = tmp_path / "copy"
    shutil.copytree(worked, folder)
    store = Store(folder)
    yield store
    store.close()


def damage(store: Store, *statements: str) -> None:
    """Write behind the program's back, with keys and checks off."""
    with closing(sqlite3.connect(store.file)) as raw:
        raw.execute("PRAGMA foreign_keys=OFF")
        raw.execute("PRAGMA ignore_check_constraints=ON")
        for statement in statements:
            assert raw.execute(statement).rowcount != 0, statement
        raw.commit()


def found(store: Store) -> dict[str, tuple[str, int | str]]:
    """The rules that are broken, each with the table and the row that it names."""
    with store.reading() as session:
        return {breach.rule: (breach.table, breach.row) for breach in check_ledger(session)}


def test_a_worked_in_shop_is_clean(shop: Store) -> None:
    assert found(shop) == {}


SALE = "(SELECT min(id) FROM movement WHERE kind = 'sale')"
TRANSFER = "(SELECT min(id) FROM movement WHERE kind = 'transfer')"
SHIFT = "(SELECT min(id) FROM movement WHERE kind = 'revalue')"
REVERSAL = "(SELECT min(id) FROM movement WHERE kind = 'reversal')"
MADE = "(SELECT max(id) FROM movement WHERE kind = 'receipt' AND labour_micros = 700)"
PIECE = "(SELECT max(id) FROM movement WHERE kind = 'receipt' AND labour_micros = 500)"


def grow(movement: str, quantity: int = 0, value: int = 0) -> list[str]:
    """Falsify a movement and everything that is kept beside it, so that only a rule about sense can notice."""
    where = f"WHERE id = (SELECT lot_id FROM movement WHERE id = {movement})"  # noqa: S608
    item = f"WHERE item_id = (SELECT item_id FROM movement WHERE id = {movement})"  # noqa: S608
    bag = (
        f"WHERE lot_id = (SELECT lot_id FROM movement WHERE id = {movement})"  # noqa: S608
        f" AND place = (SELECT place FROM movement WHERE id = {movement})"
    )
    return [
        f"UPDATE lot SET quantity_milli = quantity_milli + {quantity}, value_micros = value_micros + {value} {where}",  # noqa: S608
        *([f"UPDATE lot_place SET quantity_milli = quantity_milli + {quantity} {bag}"] if quantity else []),  # noqa: S608
        f"UPDATE item_balance SET on_hand_milli = on_hand_milli + {quantity}, value_micros = value_micros + {value} {item}",  # noqa: S608
        f"UPDATE movement SET after_milli = after_milli + {quantity} {item} AND id >= {movement}",  # noqa: S608
        f"UPDATE movement SET quantity_milli = quantity_milli + {quantity}, value_micros = value_micros + {value} WHERE id = {movement}",  # noqa: S608
    ]


@pytest.mark.parametrize(
    ("rule", "table", "row", "statements"),
    [
        ("a lot holds what its movements add up to", "lot", 2, ["UPDATE lot SET quantity_milli = quantity_milli + 1000 WHERE id = 2"]),
        ("a lot is worth what its movements add up to", "lot", 1, ["UPDATE lot SET value_micros = value_micros + 1 WHERE id = 1"]),
        ("a bag holds what its movements add up to", "lot_place", 1, ["UPDATE lot_place SET quantity_milli = quantity_milli - 1000 WHERE id = 1"]),
        ("a bag holds what its movements add up to", "lot", 1, ["DELETE FROM lot_place WHERE lot_id = 1 AND place = 'tin'"]),
        ("an item's balance is that of its lots", "item_balance", 1, ["UPDATE item_balance SET on_hand_milli = on_hand_milli + 1000 WHERE item_id = 1"]),
        ("an item's balance is that of its lots", "item_balance", 1, ["UPDATE item_balance SET value_micros = value_micros - 1 WHERE item_id = 1"]),
        ("an item's balance is that of its lots", "item_balance", 2, ["DELETE FROM item_balance WHERE item_id = 2"]),
        ("an item's balance says when it moved last", "item_balance", 1, ["UPDATE item_balance SET last_moved_on = '2020-01-01' WHERE item_id = 1"]),
        ("no more is reserved than is there", "lot_place", 1, ["UPDATE lot_place SET reserved_milli = 999000 WHERE id = 1"]),
        ("what is reserved is the sum of its reservations", "lot_place", 2, ["UPDATE lot_place SET reserved_milli = 8000 WHERE id = 2", "UPDATE item_balance SET reserved_milli = 8000 WHERE item_id = 1"]),
        ("what is reserved is the sum of its reservations", "lot_place", 2, ["DELETE FROM reservation"]),
        ("what is reserved is the sum of its reservations", "lot", 1, ["INSERT INTO reservation SELECT 2, 'build', 1, 1, 'nowhere', 5000"]),
        ("a movement belongs to an act", "movement", 4, ["UPDATE movement SET act_id = 9999 WHERE id = 4"]),
        ("a movement belongs to a lot", "movement", 6, ["UPDATE movement SET lot_id = 9999 WHERE id = 6"]),
        ("a movement belongs to a lot", "movement", 6, ["UPDATE movement SET lot_id = 3 WHERE id = 6"]),
        ("a lot belongs to an item", "lot", 3, ["UPDATE lot SET item_id = 9999 WHERE id = 3"]),
        ("a movement says what is on hand after it", "movement", 5, ["UPDATE movement SET after_milli = after_milli + 1 WHERE id = 5"]),
        ("a movement says what is on hand after it", "movement", 6, ["DELETE FROM movement WHERE id = 2"]),
        ("stock goes the way that its movement says", "movement", 6, grow(SALE, 20_000)),
        ("what is counted moves in whole pieces", "movement", 6, grow(SALE, 1)),
        ("moving a bag moves no value, and shifting value moves no stock", "movement", 8, grow(TRANSFER, value=-7)),
        ("what leaves one place comes to another", "movement", 9, grow(TRANSFER, 2000)),
        ("shifting value makes none", "movement", 11, grow(SHIFT, value=-5)),
        ("moving a bag moves no value, and shifting value moves no stock", "movement", 10, ["UPDATE movement SET quantity_milli = 1000 WHERE id = 10"]),
        ("no lot is ever below zero", "movement", 6, grow(SALE, -200_000)),
        ("no lot is ever below zero", "movement", 6, grow(SALE, value=-90_000_000)),
        ("no bag is ever below zero", "movement", 9, ["UPDATE movement SET quantity_milli = -95000 WHERE id = 8", "UPDATE movement SET quantity_milli = 95000 WHERE id = 9"]),
        ("value is conserved", "movement", "all", ["UPDATE item_balance SET value_micros = value_micros + 1 WHERE item_id = 2"]),
        ("value is conserved", "movement", "all", ["UPDATE movement SET value_micros = value_micros - 1 WHERE id = 6"]),
        ("a reversal is the exact opposite of what it takes back", "movement", 19, grow(REVERSAL, value=1)),
        ("a reversal is the exact opposite of what it takes back", "movement", 19, ["UPDATE movement SET reverses_id = 6 WHERE kind = 'reversal'"]),
        ("a reversal is the exact opposite of what it takes back", "movement", 19, ["UPDATE movement SET reverses_id = NULL WHERE kind = 'reversal'"]),
        ("a reversal is the exact opposite of what it takes back", "movement", 6, ["UPDATE movement SET reverses_id = 1 WHERE id = 6"]),
        ("what is taken back is taken back whole", "movement", 18, ["DELETE FROM movement WHERE id = 19"]),
        ("an act moves what its kind says", "movement", 19, ["UPDATE movement SET kind = 'return', reverses_id = NULL WHERE id = 19"]),
        ("an act moves what its kind says", "movement", 6, ["UPDATE movement SET kind = 'scrap' WHERE id = 6"]),
        ("an act moves what its kind says", "movement", 12, ["UPDATE movement SET kind = 'sale' WHERE id = 12"]),
        ("an act moves what its kind says", "movement", 18, ["UPDATE act SET undoes_id = 5 WHERE id = 12"]),
        ("a count says what it found", "act", 6, ["DELETE FROM bag_count"]),
        ("every act moved something", "act", 5, ["DELETE FROM movement WHERE id = 6"]),
        ("a count moves what it found over what was expected", "bag_count", 1, ["UPDATE bag_count SET found_milli = 91000"]),
        ("a count brings its bag to what was found", "bag_count", 1, ["UPDATE bag_count SET found_milli = found_milli + 1000, expected_milli = expected_milli + 1000"]),
        ("a job makes nothing from nothing", "act", 11, grow(MADE, value=1)),
        ("a build makes nothing from nothing", "build", 1, grow(PIECE, value=1)),
    ],
)  # fmt: skip
def test_damage_is_found_and_its_first_row_named(
    shop: Store, rule: str, table: str, row: int | str, statements: list[str]
) -> None:
    damage(shop, *statements)
    assert found(shop).get(rule) == (table, row)


def test_a_breach_is_told_in_words(shop: Store) -> None:
    damage(shop, "UPDATE lot SET quantity_milli = quantity_milli + 1000 WHERE id = 2")
    with shop.reading() as session:
        told = [str(breach) for breach in check_ledger(session)]
    assert told[0] == (
        "a lot holds what its movements add up to: lot 2. It says 41000 thousandths, and its movements add up to 40000."
    )


def test_the_first_of_several_broken_rows_is_named(shop: Store) -> None:
    damage(shop, "UPDATE lot SET value_micros = value_micros + 1")
    assert found(shop)["a lot is worth what its movements add up to"] == ("lot", 1)


@pytest.mark.parametrize("kind", ["finish", "process"])
def test_what_was_made_and_taken_back_is_not_counted_as_made(store: Store, kind: str) -> None:
    with store.writing() as session:
        ring, pendant = a_ring(session), a_finding(session, name="Pendant")
        lot = a_lot(session, ring, 100, "3.00")
        build_id = a_started_build(session, a_design(session, [a_part(ring, 1)])) if kind == "finish" else None
        if build_id is not None:
            session.get_one(Build, build_id).state = "making"
        taken = [Posting(lot, DRAWER, "issue", -10_000), Posting(lot, DRAWER, "scrap", -5_000, reason="spoiled")]
        cost, _spoiled = costs_of(session, taken)
        for _ in range(2):
            piece = open_lot(session, Lot(item_id=pendant, received_on=DAY, received_milli=1000))
            made = Posting(piece, "shelf", "receipt", 1000, cost + 900, labour_micros=900)
            act_id = post(session, TransactionHeader(kind, DAY, build_id=build_id), [*taken, made]).act_id
            assert check_ledger(session) == ()
            undo_act(session, act_id, build_id=build_id)
            assert check_ledger(session) == ()
    damage(store, "UPDATE movement SET labour_micros = 900 WHERE labour_micros = -900")
    assert found(store)["a reversal is the exact opposite of what it takes back"][0] == "movement"
