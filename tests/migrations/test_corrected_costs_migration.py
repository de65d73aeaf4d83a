"""The coming of corrected costs: an older shop's ledger survives, and goes back again with a correction booked."""

from __future__ import annotations

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import select

from models.database import Store, alembic_config, migrate
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.valuation import choose_valuation
from models.tables import StockTransaction
from tests.ledgers import a_lot, by_average, holds, undone
from tests.operations.stock.test_cost_correction import correct
from tests.operations.stock.test_cost_undo import give
from tests.shops import a_ring

pytestmark = pytest.mark.long


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def ways(store: Store) -> list[tuple[str, str]]:
    with store.reading() as session:
        return [
            (act.kind, act.valued_by) for act in session.exec(select(StockTransaction).order_by(StockTransaction.id))
        ]  # type: ignore[arg-type]


def test_a_correction_goes_and_its_value_stays(store: Store) -> None:
    with store.writing() as session:
        lot = a_lot(session, a_ring(session), 100, "100.00")
        give(session, lot, 15)
        correct(session, lot, "10.00")
    go(store, "-0006")
    assert "cost_correction" not in inspect(store.engine).get_table_names()
    with store.engine.connect() as connection:
        kinds = list(connection.execute(text("SELECT kind, value_micros FROM movement ORDER BY id")))
        assert kinds[2:] == [("issue", -90_000_000), ("return", 13_500_000)]
        acts = list(connection.scalars(text("SELECT kind FROM act ORDER BY id")))
        assert acts == ["receive", "give", "take_out"]
    go(store, "head")
    with store.writing() as session:
        assert check_ledger(session) == ()
        assert holds(session, lot) == (85, 8_500_000)


def test_how_older_acts_were_valued_is_told_by_what_they_did(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "10.00")
        a_lot(session, ring, 100, "100.00")
        choose_valuation(session, "average")
        a_lot(session, ring, 100, "50.00")
        choose_valuation(session, "fifo")
        give(session, lot, 15)
    before = ways(store)
    assert before == [
        ("receive", "fifo"), ("receive", "fifo"), ("revalue", "average"), ("receive", "average"), ("give", "fifo"),
    ]  # fmt: skip
    go(store, "-0006")
    go(store, "head")
    assert ways(store) == before


def test_acts_of_a_shop_by_average_are_by_average(store: Store) -> None:
    with store.writing() as session:
        by_average(session)
        a_lot(session, a_ring(session), 100, "10.00")
    go(store, "-0006")
    go(store, "head")
    assert ways(store) == [("receive", "average")]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE act SET valued_by = 'guess'",
        "UPDATE cost_correction SET received_after = -1",
        "UPDATE cost_correction SET lot_id = 99",
        "INSERT INTO cost_correction SELECT 99, act_id, lot_id, 0, 0, 0, 0, NULL, NULL, 0, 0 FROM cost_correction",
        "DELETE FROM act WHERE kind = 'correct_cost'",
    ],
)
def test_the_new_table_refuses_what_makes_no_sense(store: Store, statement: str) -> None:
    with undone(store) as session:
        correct(session, a_lot(session, a_ring(session), 100, "100.00"), "10.00")
        with pytest.raises(IntegrityError):
            session.connection().execute(text(statement))
