"""Costs that were noted: older purchases learn what their lots bore, older builds bear no guess; and back again."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from models.database import Store, alembic_config, migrate
from models.intake.buying.purchase import CameLine, GoodsReceiptDraft
from models.operations.builds.check import check_builds
from models.operations.buying.check import check_purchases
from models.operations.buying.receipt import postage_left_micros, receive_purchase
from models.queries.buying.purchase import purchase_page
from models.tables import Build
from tests.builds import made
from tests.operations.builds.test_guessed import a_clasped, clasp
from tests.operations.buying.test_purchase_postage import EURO, a_purchase

pytestmark = pytest.mark.long


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def received(session: Session, rate: str) -> int:
    """A purchase of four packs of which one came, with a typed postage."""
    number = a_purchase(session, [4], [4 * EURO], 3 * EURO, rate)
    (line,) = purchase_page(session, number).lines
    receive_purchase(session, number, GoodsReceiptDraft((CameLine(line.id, 1),), freight=Decimal("2.00")))
    return number


def columns(store: Store) -> set[str]:
    return {column["name"] for column in inspect(store.engine).get_columns("purchase_receipt")}


@pytest.mark.parametrize("rate", ["1", "0.5"])
def test_what_lots_bore_is_what_their_receipts_noted(store: Store, rate: str) -> None:
    with store.writing() as session:
        number = received(session, rate)
    go(store, "-0006")
    assert "freight_micros" not in columns(store)
    go(store, "head")
    assert "freight_micros" in columns(store)
    with store.writing() as session:
        assert purchase_page(session, number).row.noted_postage_micros == 2 * EURO
        assert postage_left_micros(session, number) == EURO
        assert check_purchases(session) == ()


def test_a_postage_below_nothing_is_refused(store: Store) -> None:
    with store.writing() as session:
        received(session, "1")
    with pytest.raises(IntegrityError), store.writing() as session:
        session.connection().execute(text("UPDATE purchase_receipt SET freight_micros = -1"))


def test_what_builds_cost_stays_and_their_sums_hold_both_ways(store: Store) -> None:
    with store.writing() as session:
        bench = a_clasped(session, clasp(750_000))
        build = session.get_one(Build, made(session, bench, 2))
        cost = (build.materials_micros, build.labour_micros, (build.overhead_micros or 0) + 1_500_000)
        assert build.guessed_micros == 1_500_000
    go(store, "-0006")
    go(store, "head")
    with store.reading() as session:
        build = session.get_one(Build, 1)
        assert (build.materials_micros, build.labour_micros, build.overhead_micros) == cost
        assert build.guessed_micros is None
        assert check_builds(session) == ()
