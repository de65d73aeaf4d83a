"""The mark that fixed the currency goes: rows with money say it from now on, and an older program finds the mark again."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from sqlalchemy import text
from sqlmodel import Session

from models.database import Store, alembic_config, migrate
from models.intake.stock.supplier import SupplierDraft
from models.operations.stock.supplier import add_supplier
from models.queries.shop.shop import currency_lock, shop_settings
from models.tables import Purchase, Shop
from tests.ledgers import a_lot
from tests.shops import NOON, a_ring

pytestmark = pytest.mark.long


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def receive(cost: str) -> Callable[[Session], object]:
    return lambda session: a_lot(session, a_ring(session, price=None), 5, cost)


def supplier(**terms: Decimal) -> Callable[[Session], object]:
    return lambda session: add_supplier(session, SupplierDraft("Quill Rings", "", None, **terms))


def wish(session: Session) -> None:
    session.get_one(Shop, 1).order_cost_micros = 3_000_000


def buy(session: Session) -> None:
    session.add(Purchase(currency="EUR", created_at=NOON))


@pytest.mark.parametrize(
    ("keep", "locked"),
    [
        (receive("0"), False),
        (receive("1.50"), True),
        (supplier(), False),
        (supplier(postage=Decimal(4)), True),
        (supplier(free_from=Decimal(40)), True),
        (wish, True),
        (buy, True),
    ],
)
def test_what_fixes_the_currency_does_so_both_ways(
    store: Store, keep: Callable[[Session], object], locked: bool
) -> None:
    with store.writing() as session:
        keep(session)
        settings = shop_settings(session)
    go(store, "-0013")
    with store.engine.connect() as connection:
        assert bool(connection.execute(text("SELECT currency_locked FROM shop")).scalar_one()) is locked
    go(store, "head")
    with store.reading() as session:
        assert bool(currency_lock(session)) is locked
        assert shop_settings(session) == settings
