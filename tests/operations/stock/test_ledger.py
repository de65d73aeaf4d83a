"""The ledger itself: what an act writes, what it refuses, what it takes back, and that balances keep step."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Missing, NotEnoughStock
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.ledger import Posting, TransactionHeader, post, release, reserve, reverse
from models.operations.stock.reservation import for_build, holds_of
from models.tables import ItemBalance, Lot, LotPlace, Movement, StockTransaction
from models.trade.lots import CannotReverse
from tests.ledgers import DAY, DRAWER, a_lot, by_average, holds, in_bag, kept, movements, on_hand, take_out
from tests.shops import a_finding, a_ring


def scrap(lot_id: int, rings: int) -> Posting:
    return Posting(lot_id, DRAWER, "scrap", -rings * 1000, reason="spoiled")


def all_movements(session: Session) -> list[Movement]:
    return list(session.exec(select(Movement).order_by(col(Movement.id))))


def test_what_leaves_a_lot_takes_its_share_and_the_last_takes_the_rest(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 3, "0.10")
        assert [take_out(session, lot, 1).cost_micros for _ in range(3)] == [33_333, 33_334, 33_333]
        assert holds(session, lot) == (0, 0)


def test_an_act_moves_lot_bag_and_item_together(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "4.00")
        posted = take_out(session, lot, 30, day=DAY + timedelta(days=2))
        assert (holds(session, lot), in_bag(session, lot), on_hand(session, ring)) == (
            (70, 2_800_000),
            70,
            (70, 2_800_000),
        )
        assert movements(session, posted.act_id) == [("issue", -30, -1_200_000)]
        assert session.get_one(ItemBalance, ring).last_moved_on == DAY + timedelta(days=2)


def test_every_movement_says_what_was_on_hand_after_it(store: Store) -> None:
    with store.writing() as session:
        ring, other = a_ring(session), a_ring(session, name="Other", inner_nm=9_000_000)
        first, second = a_lot(session, ring, 50), a_lot(session, ring, 20)
        a_lot(session, other, 7)
        post(session, TransactionHeader("take_out", DAY), [scrap(first, 5), scrap(second, 20)])
        assert [row.after_milli // 1000 for row in all_movements(session)] == [50, 70, 7, 65, 45]


def test_no_bag_goes_below_zero_and_nothing_is_written(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot, other = a_lot(session, ring, 10, "1"), a_lot(session, ring, 90, "1", place="tin")
        before = (len(all_movements(session)), holds(session, other))
        with pytest.raises(NotEnoughStock) as told:
            post(session, TransactionHeader("scrap", DAY), [Posting(other, "tin", "scrap", -4000), scrap(lot, 11)])
        refused = told.value
        assert (refused.needed_milli, refused.available_milli, refused.lot_id, refused.place) == (
            11_000,
            10_000,
            lot,
            DRAWER,
        )
        assert "Only 10 rings of “Bronze ring 1.0 × 3.6 mm” are free in lot 1, drawer B4, and 11 are needed." in str(
            refused
        )
        session.expire_all()
        assert (len(all_movements(session)), holds(session, other)) == before
        assert len(session.exec(select(StockTransaction)).all()) == 2


def test_a_lot_that_is_not_there_is_said_so(store: Store) -> None:
    with store.writing() as session, pytest.raises(Missing, match="There is no lot 99"):
        take_out(session, 99, 1)


@pytest.mark.parametrize(
    ("posting", "words"),
    [
        (Posting(1, DRAWER, "issue", 1000, 5), "“issue” does not go this way"),
        (Posting(1, DRAWER, "receipt", -1000), "“receipt” does not go this way"),
        (Posting(1, DRAWER, "reversal", 1000, 5), "“reversal” does not go this way"),
        (Posting(1, DRAWER, "receipt", 1000), "what comes in has its value"),
        (Posting(1, DRAWER, "issue", -1000, -5), "what leaves has the value that the valuation says"),
        (Posting(1, DRAWER, "issue", -500), "moves in whole pieces"),
        (Posting(1, DRAWER, "count", 0, 5), "nothing is worth nothing"),
        (Posting(1, DRAWER, "revalue", 0, 5), "neither makes nor loses any"),
        (Posting(1, DRAWER, "revalue", 1000, 0), "moves a value and nothing else"),
    ],
)
def test_a_posting_that_makes_no_sense_is_refused(store: Store, posting: Posting, words: str) -> None:
    with store.writing() as session:
        a_lot(session, a_ring(session), 100, "1")
        with pytest.raises(ValueError, match=words):
            post(session, TransactionHeader("scrap", DAY), [posting])


def test_a_metre_may_be_taken_in_parts(store: Store) -> None:
    with store.writing() as session:
        wire = a_finding(session, name="Wire")
        lot = a_lot(session, wire, 5, "10")
        row = session.get_one(Lot, lot)
        from models.tables import Item

        session.get_one(Item, row.item_id).unit = "m"
        posted = post(session, TransactionHeader("make_rings", DAY), [Posting(lot, DRAWER, "issue", -1250)])
        assert posted.cost_micros == 2_500_000


# --- reserving ---


def test_what_is_reserved_is_taken_by_nobody_else(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100)
        reserve(session, [kept(lot, DRAWER, 80_000)])
        with pytest.raises(NotEnoughStock, match=r"Only 20 rings .* 80 more are there but reserved for builds"):
            take_out(session, lot, 21)
        assert take_out(session, lot, 20).quantity_milli == -20_000
        balance = session.get_one(ItemBalance, ring)
        assert (balance.on_hand_milli, balance.reserved_milli) == (80_000, 80_000)


def test_the_build_that_reserved_it_takes_it(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100)
        reserve(session, [kept(lot, DRAWER, 80_000)])
        post(
            session,
            TransactionHeader("take_out", DAY),
            [Posting(lot, DRAWER, "issue", -80_000)],
            releases=[kept(lot, DRAWER, 80_000)],
        )
        balance = session.get_one(ItemBalance, ring)
        assert (balance.on_hand_milli, balance.reserved_milli) == (20_000, 0)


def test_no_more_is_reserved_than_is_free(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 10)
        reserve(session, [kept(lot, DRAWER, 6_000)])
        with pytest.raises(NotEnoughStock) as told:
            reserve(session, [kept(lot, DRAWER, 5_000)])
        assert (told.value.available_milli, told.value.reserved_milli) == (4_000, 6_000)
        with pytest.raises(NotEnoughStock, match="None of"):
            reserve(session, [kept(lot, "elsewhere", 1_000)])


def test_all_that_is_free_may_be_reserved(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 10)
        reserve(session, [kept(lot, DRAWER, 6_000), kept(lot, DRAWER, 4_000)])
        assert session.get_one(ItemBalance, ring).reserved_milli == 10_000
        with pytest.raises(ValueError, match="above zero"):
            reserve(session, [kept(lot, DRAWER, -1_000)])


def test_what_is_given_up_was_reserved(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 10)
        reserve(session, [kept(lot, DRAWER, 6_000)])
        release(session, [kept(lot, DRAWER, 2_000)])
        assert session.get_one(ItemBalance, ring).reserved_milli == 4_000
        assert session.exec(select(LotPlace.reserved_milli)).one() == 4_000
        with pytest.raises(ValueError, match="reserved"):
            release(session, [kept(lot, DRAWER, 5_000)])


def test_nobody_gives_up_what_is_kept_for_another(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 10)
        reserve(session, [kept(lot, DRAWER, 6_000, build_id=1), kept(lot, DRAWER, 3_000, build_id=2)])
        with pytest.raises(ValueError, match="reserved"):
            release(session, [kept(lot, DRAWER, 4_000, build_id=2)])
        release(session, [kept(lot, DRAWER, 3_000, build_id=2)])
        assert holds_of(session, for_build(1)) == (kept(lot, DRAWER, 6_000, build_id=1),)
        assert holds_of(session, for_build(2)) == ()


def test_reserving_twice_in_one_bag_adds_up(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 10)
        reserve(session, [kept(lot, DRAWER, 2_000)])
        reserve(session, [kept(lot, DRAWER, 3_000), kept(lot, DRAWER, 0)])
        assert holds_of(session, for_build(1)) == (kept(lot, DRAWER, 5_000),)


def test_what_is_refused_reserves_nothing(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 10)
        with pytest.raises(NotEnoughStock):
            reserve(session, [kept(lot, DRAWER, 6_000), kept(lot, DRAWER, 5_000)])
        assert holds_of(session, for_build(1)) == ()


# --- weighted average ---


def test_under_the_average_what_leaves_costs_the_average_of_all_lots(store: Store) -> None:
    with store.writing() as session:
        by_average(session)
        ring = a_ring(session)
        cheap = a_lot(session, ring, 100, "1.00")
        dear = a_lot(session, ring, 100, "3.00")
        assert (holds(session, cheap), holds(session, dear)) == ((100, 2_000_000), (100, 2_000_000))
        assert take_out(session, cheap, 50).cost_micros == 1_000_000
        assert on_hand(session, ring) == (150, 3_000_000)


def test_value_that_moves_between_lots_is_written_down(store: Store) -> None:
    with store.writing() as session:
        by_average(session)
        ring = a_ring(session)
        a_lot(session, ring, 100, "1.00")
        a_lot(session, ring, 100, "3.00")
        assert movements(session, 2) == [
            ("receipt", 100, 3_000_000),
            ("revalue", 0, 1_000_000),
            ("revalue", 0, -1_000_000),
        ]


def test_no_empty_lot_keeps_a_value(store: Store) -> None:
    with store.writing() as session:
        by_average(session)
        ring = a_ring(session)
        lots = [a_lot(session, ring, rings, cost) for rings, cost in ((7, "1.00"), (11, "2.00"), (13, "0.55"))]
        for lot, rings in zip(lots[:2], (7, 11), strict=True):
            take_out(session, lot, rings)
            assert holds(session, lot) == (0, 0)
        total = sum(row.value_micros for row in all_movements(session))
        assert on_hand(session, ring) == (13, total)
        assert holds(session, lots[2]) == (13, total)


# --- taking back ---


@pytest.mark.parametrize("average", [False, True])
def test_a_reversal_restores_every_lot_exactly(store: Store, average: bool) -> None:
    with store.writing() as session:
        if average:
            by_average(session)
        ring = a_ring(session)
        lots = [a_lot(session, ring, rings, cost) for rings, cost in ((7, "1.00"), (11, "2.00"), (13, "0.55"))]
        before = [holds(session, lot) for lot in lots]
        posted = post(session, TransactionHeader("scrap", DAY), [scrap(lots[0], 7), scrap(lots[1], 5)])
        assert [holds(session, lot) for lot in lots] != before
        reverse(session, posted.act_id, TransactionHeader("undo", DAY))
        assert [holds(session, lot) for lot in lots] == before
        pairs = [(row.reverses_id, row.quantity_milli, row.value_micros) for row in all_movements(session)]
        first = [row for row in all_movements(session) if row.act_id == posted.act_id]
        for row in first:
            assert (row.id, -row.quantity_milli, -row.value_micros) in pairs


@pytest.mark.parametrize("average", [False, True])
def test_a_receipt_whose_rings_were_used_is_not_taken_back(store: Store, average: bool) -> None:
    with store.writing() as session:
        if average:
            by_average(session)
        ring = a_ring(session)
        lot = a_lot(session, ring, 50, "1.00")
        a_lot(session, ring, 50, "9.00")
        take_out(session, lot, 10)
        with pytest.raises(NotEnoughStock) as told:
            reverse(session, 1, TransactionHeader("undo", DAY))
        assert (told.value.needed_milli, told.value.available_milli) == (50_000, 40_000)


def test_a_receipt_whose_rings_are_reserved_is_not_taken_back(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 50, "1.00")
        reserve(session, [kept(lot, DRAWER, 1_000)])
        with pytest.raises(NotEnoughStock) as told:
            reverse(session, 1, TransactionHeader("undo", DAY))
        assert told.value.reserved_milli == 1_000


def test_value_that_went_with_the_average_is_not_asked_back_from_an_empty_pool(store: Store) -> None:
    with store.writing() as session:
        by_average(session)
        ring = a_ring(session)
        a_lot(session, ring, 10, "1.00")
        dear = a_lot(session, ring, 10, "9.00")
        take_out(session, 1, 10)
        assert holds(session, dear) == (10, 5_000_000)
        with pytest.raises(CannotReverse):
            reverse(session, 2, TransactionHeader("undo", DAY))


def test_what_came_back_is_written_before_what_leaves_again(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 10, "1.00")
        act = post(
            session,
            TransactionHeader("finish", DAY),
            [Posting(lot, DRAWER, "issue", -10_000), Posting(lot, DRAWER, "return", 4_000, 400_000)],
        ).act_id
        take_out(session, lot, 4)
        reverse(session, act, TransactionHeader("undo", DAY))
        assert on_hand(session, ring) == (6, 600_000)
        assert [row.after_milli // 1000 for row in all_movements(session)][-2:] == [10, 6]


def test_moving_a_bag_changes_no_value(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 10, "1.00")
        act = post(
            session,
            TransactionHeader("move", DAY),
            [Posting(lot, DRAWER, "transfer", -4_000), Posting(lot, "tin", "transfer", 4_000)],
        ).act_id
        assert (in_bag(session, lot), in_bag(session, lot, "tin"), holds(session, lot)) == (6, 4, (10, 1_000_000))
        reverse(session, act, TransactionHeader("undo", DAY))
        assert (in_bag(session, lot), in_bag(session, lot, "tin"), holds(session, lot)) == (10, 0, (10, 1_000_000))


def test_moving_a_bag_is_not_using_it(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 10)
        post(
            session,
            TransactionHeader("move", DAY + timedelta(days=9)),
            [Posting(lot, DRAWER, "transfer", -4_000), Posting(lot, "tin", "transfer", 4_000)],
        )
        assert session.get_one(ItemBalance, ring).last_moved_on == DAY


def test_many_threads_that_take_from_one_lot_lose_nothing(store: Store) -> None:
    """Ten threads want three times ten each of eighty: what is taken and what is refused add up."""
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 80, "8.00")
    taken: list[int] = []
    refused: list[str] = []

    def take() -> None:
        for _ in range(3):
            try:
                with store.writing() as session:
                    taken.append(take_out(session, lot, 10).cost_micros)
            except NotEnoughStock as short:
                refused.append(str(short))

    threads = [threading.Thread(target=take) for _ in range(10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(taken), sum(taken), len(refused)) == (8, 8_000_000, 22)
    assert set(refused) == {
        "None of “Bronze ring 1.0 × 3.6 mm” is free in lot 1, drawer B4, and 10 are needed.",
    }
    with store.reading() as session:
        assert (holds(session, lot), check_ledger(session)) == ((0, 0), ())
