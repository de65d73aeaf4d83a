"""The migration that brings rows and swatches, on a shop with designs in it, both ways."""

from __future__ import annotations

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select

from models.database import Store, alembic_config, migrate
from models.queries.designs.design import draft_of
from models.tables import Design, Layout, Part, Swatch
from tests.shops import NOON, a_design, a_part, a_ring

pytestmark = pytest.mark.long


@pytest.fixture
def shop(store: Store) -> Store:
    """A shop with two designs, one a copy of the other."""
    with store.writing() as session:
        ring = a_ring(session)
        first = a_design(session, [a_part(ring, 48), a_part(ring, 4, purpose="bail")])
        second = a_design(session, [a_part(ring, 12)], name="Copy of it")
        session.get_one(Design, second).copied_from_id = first
    return store


def go(store: Store, target: str) -> None:
    """Migrate to a revision; '-0003' goes down."""
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def rows(store: Store, statement: str) -> list[tuple[object, ...]]:
    with store.engine.connect() as connection:
        return [tuple(row) for row in connection.execute(text(statement))]


def with_rows(session: Session) -> None:
    """The first design's parts become those of rows, the second a kit of the first, and a swatch is measured."""
    part = session.exec(select(Part).order_by(Part.id)).first()  # type: ignore[arg-type]
    assert part is not None
    part.layout_key, part.closed_milli = "i1", 20_000
    session.add(Layout(revision_id=part.revision_id, kind="sheet", plan="{}", palette="[]", route="{}"))
    second = session.get_one(Design, 2)
    second.kit_of_id, second.kit_of_revision = 1, 1
    session.add(
        Swatch(weave="european-4-in-1", kind="sheet", wire_nm=1_000_000, inner_nm=3_600_000, rows=5, rings=5,
               along_nm=20_000_000, across_nm=15_000_000, item_id=1, measured_on=NOON.date())
    )  # fmt: skip


def test_an_older_shop_keeps_its_designs_and_their_parts_stay_a_plain_list(shop: Store) -> None:
    go(shop, "-0003")
    assert not inspect(shop.engine).has_table("layout")
    before = rows(shop, "SELECT id, revision_id, position, item_id, quantity_milli, purpose FROM part ORDER BY id")
    assert len(before) == 3
    go(shop, "head")
    assert (
        rows(shop, "SELECT id, revision_id, position, item_id, quantity_milli, purpose FROM part ORDER BY id") == before
    )
    with shop.reading() as session:
        assert {(part.layout_key, part.closed_milli) for part in session.exec(select(Part))} == {("", None)}
        assert session.get_one(Design, 2).copied_from_id == 1
        assert [part.quantity_milli for part in draft_of(session, 1).parts] == [48_000, 4_000]


def test_going_back_leaves_the_counted_parts_as_a_plain_list(shop: Store) -> None:
    with shop.writing() as session:
        with_rows(session)
    go(shop, "-0003")
    assert rows(shop, "SELECT quantity_milli FROM part ORDER BY id") == [(48_000,), (4_000,), (12_000,)]
    assert rows(shop, "SELECT name FROM design ORDER BY id") == [("Copper leaf pendant",), ("Copy of it",)]
    assert not inspect(shop.engine).has_table("swatch")
    go(shop, "head")
    assert rows(shop, "SELECT count(*) FROM layout") == [(0,)]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE part SET closed_milli = quantity_milli + 1 WHERE id = 1",
        "UPDATE part SET closed_milli = -1 WHERE id = 1",
        "UPDATE part SET layout_key = NULL",
        "UPDATE design SET kit_of_revision = 0",
        "UPDATE design SET kit_of_id = 99",
        "UPDATE layout SET kind = 'cloud'",
        "UPDATE layout SET revision_id = 99",
        "INSERT INTO layout SELECT 9, revision_id, kind, plan, palette, route, closed FROM layout",
        "UPDATE swatch SET rings = 0",
        "UPDATE swatch SET along_nm = 0",
        "UPDATE swatch SET item_id = 99",
    ],
)
def test_the_database_itself_refuses_what_can_never_be(shop: Store, statement: str) -> None:
    with shop.writing() as session:
        with_rows(session)
    with shop.engine.connect() as connection, pytest.raises(IntegrityError):
        connection.execute(text(statement))
