"""The coming of the ledger: an older shop's items and settings survive, and go back again with pieces and scrap in stock."""

from __future__ import annotations

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select

from models.database import Store, alembic_config, migrate
from models.operations.stock.check_ledger import check_ledger
from models.queries.stock.balance import balances
from models.tables import Item, Offer, Part, Shop
from tests.ledgers import a_lot, on_hand
from tests.shops import NOON, a_design, a_part, a_ring

pytestmark = pytest.mark.long


@pytest.fixture
def shop(store: Store) -> Store:
    """A shop with a ring that a design uses and that has an offer."""
    with store.writing() as session:
        a_design(session, [a_part(a_ring(session), 48)])
    return store


def go(store: Store, target: str) -> None:
    """Migrate to a revision; '-0001' goes down."""
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def scalars(store: Store, statement: str) -> list[object]:
    with store.engine.connect() as connection:
        return [row[0] for row in connection.execute(text(statement))]


def columns_of(store: Store, table: str) -> set[str]:
    found = inspect(store.engine)
    return {column["name"] for column in found.get_columns(table)} if found.has_table(table) else set()


def test_an_older_shop_gets_the_ledger_with_its_rows_kept(shop: Store) -> None:
    go(shop, "-0001")
    assert not {"valuation", "scale_step_ug"} & columns_of(shop, "shop")
    assert columns_of(shop, "movement") == set()
    with shop.engine.connect() as connection, connection.begin():
        connection.execute(text("UPDATE shop SET name = 'Older bench'"))
    go(shop, "head")
    with shop.writing() as session:
        settings = session.get_one(Shop, 1)
        assert (settings.name, settings.valuation, settings.scale_step_ug) == ("Older bench", "fifo", 10_000)
        item = session.exec(select(Item)).one()
        assert (item.batch_colour, item.reorder_milli, item.target_milli, item.design_id) == (False, None, None, None)
        assert session.exec(select(Part.item_id)).one() == item.id
        assert session.exec(select(Offer.item_id)).one() == item.id
        a_lot(session, item.id or 0, 100, "4.00")
        assert on_hand(session, item.id or 0) == (100, 4_000_000)
        assert check_ledger(session) == ()


def with_pieces_and_scrap(session: Session) -> None:
    design_id = session.exec(select(Part.revision_id)).one()
    piece = Item(kind="piece", name="Copper leaf pendant", design_id=design_id, created_at=NOON)
    session.add(piece)
    session.add(Item(kind="scrap", name="Scrap of silver", metal="sterling-925", unit="g", created_at=NOON))
    session.flush()
    a_lot(session, piece.id or 0, 3, "12.00")


def test_going_back_keeps_every_item_under_a_kind_that_the_older_program_knows(shop: Store) -> None:
    with shop.writing() as session:
        with_pieces_and_scrap(session)
    go(shop, "-0001")
    assert scalars(shop, "SELECT kind FROM item ORDER BY id") == ["ring", "finding", "consumable"]
    assert scalars(shop, "SELECT count(*) FROM part") == [1]
    with shop.engine.connect() as connection, connection.begin(), pytest.raises(IntegrityError, match="kind_known"):
        connection.execute(text("UPDATE item SET kind = 'piece'"))
    go(shop, "head")
    with shop.reading() as session:
        assert [item.name for item in session.exec(select(Item).order_by(Item.id))] == [  # type: ignore[arg-type]
            "Bronze ring 1.0 × 3.6 mm",
            "Copper leaf pendant",
            "Scrap of silver",
        ]
        assert balances(session) == {}


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE shop SET valuation = 'newest'",
        "UPDATE item SET kind = 'cake' WHERE id = 1",
        "UPDATE item SET reorder_milli = -1 WHERE id = 1",
        "UPDATE item SET design_id = 1 WHERE kind IN ('piece', 'ring')",
        "UPDATE lot SET quantity_milli = -1",
        "UPDATE lot SET quantity_milli = 0",
        "UPDATE lot_place SET reserved_milli = quantity_milli + 1",
        "UPDATE lot_place SET rough = 'some'",
        "UPDATE item_balance SET reserved_milli = on_hand_milli + 1",
        "UPDATE item_balance SET on_hand_milli = 0",
        "UPDATE movement SET after_milli = -1",
        "UPDATE movement SET kind = 'gone'",
        "UPDATE act SET kind = 'guess'",
        "INSERT INTO lot_place SELECT 99, lot_id, place, 0, 0, NULL, '', NULL FROM lot_place",
        "DELETE FROM act",
    ],
)
def test_the_database_itself_refuses_what_can_never_be(shop: Store, statement: str) -> None:
    with shop.writing() as session:
        with_pieces_and_scrap(session)
    with shop.engine.connect() as connection, pytest.raises(IntegrityError):
        connection.execute(text(statement))
