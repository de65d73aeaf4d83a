"""Choosing how stock is valued: it says what it means first, and no millionth is made or lost by it."""

from __future__ import annotations

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.errors import Conflict, Stale
from models.operations.stock.valuation import choose_valuation, valuation_change
from models.queries.stock.conservation import conservation
from models.tables import Movement, Shop
from tests.ledgers import a_lot, holds, movements, on_hand, take_out
from tests.shops import a_ring


def three_lots(session: Session) -> list[int]:
    ring = a_ring(session)
    return [a_lot(session, ring, rings, cost) for rings, cost in ((7, "1.00"), (11, "2.00"), (13, "0.55"))]


def test_changing_says_what_it_means_and_changes_nothing_yet(store: Store) -> None:
    with store.writing() as session:
        lots = three_lots(session)
        before = [holds(session, lot) for lot in lots]
        change = valuation_change(session, "average")
        assert (change.before, change.after, change.items) == ("fifo", "average", 1)
        assert "all of it stays" in " ".join(change.says)
        assert [holds(session, lot) for lot in lots] == before


def test_every_lot_comes_to_the_average_and_the_whole_stays(store: Store) -> None:
    with store.writing() as session:
        lots = three_lots(session)
        change = valuation_change(session, "average")
        chosen = choose_valuation(session, "average")
        # 3.55 over 31 rings, spread to the last millionth
        assert [holds(session, lot)[1] for lot in lots] == [801_613, 1_259_677, 1_488_710]
        assert chosen.shifted_micros == change.shifted_micros == 1_488_710 - 550_000
        assert sum(value for _, _, value in movements(session, chosen.act_id or 0)) == 0
        assert conservation(session).holds
        assert session.get_one(Shop, 1).valuation == "average"


def test_back_to_first_in_first_out_moves_nothing(store: Store) -> None:
    with store.writing() as session:
        lots = three_lots(session)
        choose_valuation(session, "average")
        before = [holds(session, lot) for lot in lots]
        assert "keep the average as their cost" in " ".join(valuation_change(session, "fifo").says)
        assert choose_valuation(session, "fifo").act_id is None
        assert [holds(session, lot) for lot in lots] == before


def test_what_left_before_stays_as_it_was_booked(store: Store) -> None:
    with store.writing() as session:
        lots = three_lots(session)
        out = take_out(session, lots[1], 5)
        choose_valuation(session, "average")
        assert session.exec(select(Movement.value_micros).where(Movement.act_id == out.act_id)).one() == -909_091


def test_one_lot_is_its_own_average(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        a_lot(session, ring, 7, "1.00")
        assert choose_valuation(session, "average").act_id is None
        assert on_hand(session, ring) == (7, 1_000_000)


def test_choosing_the_same_again_does_nothing(store: Store) -> None:
    with store.writing() as session:
        three_lots(session)
        version = session.get_one(Shop, 1).version
        assert choose_valuation(session, "fifo").act_id is None
        assert session.get_one(Shop, 1).version == version
        assert valuation_change(session, "fifo").says == ("The shop values by first in, first out already.",)


def test_a_stale_choice_is_refused_with_both_values(store: Store) -> None:
    with store.writing() as session:
        with pytest.raises(Stale) as told:
            choose_valuation(session, "average", version=99)
        assert told.value.changes == (("Stock is valued by", "first in, first out", "weighted average"),)
        choose_valuation(session, "average", version=session.get_one(Shop, 1).version)


def test_a_shop_that_is_not_founded_has_no_valuation_to_choose(store: Store) -> None:
    with store.writing() as session:
        session.delete(session.get_one(Shop, 1))
        session.flush()
        with pytest.raises(Conflict, match="not set up yet"):
            choose_valuation(session, "average")
