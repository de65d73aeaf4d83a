"""The coming of buying: an older shop's suppliers and prices survive, and go back again with purchases under way."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from models.database import Store, alembic_config, migrate
from models.tables import Need, Offer, OfferBreak, PriceChange, Purchase, PurchaseLine, PurchaseReceipt, Shop, Supplier
from tests.ledgers import a_lot
from tests.shops import NOON, a_ring

pytestmark = pytest.mark.long


@pytest.fixture
def shop(store: Store) -> Store:
    """A shop with a supplier, a ring, and an earlier price of it beside the current one."""
    with store.writing() as session:
        ring = a_ring(session)
        supplier = Supplier(name="Kestrel Wire", lead_days=4, created_at=NOON)
        session.add(supplier)
        session.flush()
        offer = session.exec(select(Offer)).one()
        offer.supplier_id = supplier.id
        session.add(
            Offer(item_id=ring, supplier_id=supplier.id, pack_milli=100_000, pack_unit="piece", price_micros=3_500_000,
                  currency="EUR", current=False, standing=False, created_at=NOON)
        )  # fmt: skip
    return store


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def before(store: Store) -> None:
    """Back to the tables of the program that knew no buying."""
    go(store, "-0003")


def bought(session: Session) -> None:
    """One row in every table of buying."""
    offer = session.exec(select(Offer).where(col(Offer.current))).one()
    earlier = session.exec(select(Offer).where(~col(Offer.current))).one()
    session.add(OfferBreak(offer_id=offer.id or 0, from_packs=5, price_micros=3_600_000))
    session.add(PriceChange(item_id=offer.item_id, before_id=earlier.id or 0, after_id=offer.id or 0, changed_at=NOON))
    session.add(Need(item_id=offer.item_id, quantity_milli=40_000, created_at=NOON))
    purchase = Purchase(supplier_id=offer.supplier_id, state="part", currency="EUR", created_at=NOON)
    session.add(purchase)
    session.flush()
    line = PurchaseLine(
        purchase_id=purchase.id or 0, position=0, item_id=offer.item_id, offer_id=offer.id, packs=3, received_packs=1,
        pack_milli=100_000, pack_unit="piece", unit_milli=100_000, price_micros=4_000_000,
    )  # fmt: skip
    session.add(line)
    session.flush()
    lot_id = a_lot(session, offer.item_id, 100, "4.00")
    session.add(PurchaseReceipt(line_id=line.id or 0, act_id=1, lot_id=lot_id, packs=1, quantity_milli=100_000))
    session.flush()


def test_an_older_shop_can_buy_and_its_prices_are_kept(shop: Store) -> None:
    before(shop)
    with shop.engine.connect() as connection, connection.begin():
        connection.execute(text("UPDATE supplier SET name = 'Older supplier'"))
    go(shop, "head")
    with shop.reading() as session:
        supplier = session.exec(select(Supplier)).one()
        assert (supplier.name, supplier.lead_days, supplier.postage) == ("Older supplier", 4, 0)
        assert (supplier.free_from, supplier.minimum, supplier.exchange_rate) == (None, 0, Decimal(1))
        offers = session.exec(select(Offer).order_by(col(Offer.id))).all()
        assert [(offer.current, offer.standing, offer.lead_days) for offer in offers] == [
            (True, True, None),
            (False, False, None),
        ]
        settings = session.get_one(Shop, 1)
        assert (settings.service_percent, settings.holding_percent) == (Decimal(95), Decimal(20))
        assert (settings.order_cost_micros, settings.reorder_days) == (2_000_000, 365)


def test_going_back_keeps_suppliers_prices_and_what_came_in(shop: Store) -> None:
    with shop.writing() as session:
        bought(session)
    before(shop)
    with shop.engine.connect() as connection:
        assert connection.execute(text("SELECT name, lead_days FROM supplier")).all() == [("Kestrel Wire", 4)]
        kept = connection.execute(text("SELECT current, price_micros FROM offer ORDER BY id")).all()
        assert [(bool(row.current), row.price_micros) for row in kept] == [(True, 4_000_000), (False, 3_500_000)]
        assert connection.execute(text("SELECT sum(quantity_milli) FROM lot")).scalar_one() == 100_000
    go(shop, "head")
    with shop.writing() as session:
        bought(session)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE supplier SET postage_micros = -1",
        "UPDATE supplier SET free_from_micros = -1",
        "UPDATE supplier SET minimum_micros = -1",
        "UPDATE offer SET lead_days = -1",
        "UPDATE offer SET standing = (1 = 0)",
        "UPDATE offer_break SET from_packs = 1",
        "UPDATE purchase SET state = 'lost'",
        "UPDATE purchase_line SET received_packs = packs + 1",
        "UPDATE purchase_line SET packs = 0",
        "UPDATE purchase_receipt SET packs = 0",
        "UPDATE need SET quantity_milli = 0",
        "UPDATE shop SET order_cost_micros = 0",
        "DELETE FROM purchase",
        "DELETE FROM lot",
    ],
)
def test_the_database_itself_refuses_purchases_that_can_never_be(shop: Store, statement: str) -> None:
    with shop.writing() as session:
        bought(session)
    with shop.engine.connect() as connection, pytest.raises(IntegrityError):
        connection.execute(text(statement))
