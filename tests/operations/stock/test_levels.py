"""Reorder points and targets: what can be said of an item, and what is refused."""

from __future__ import annotations

import pytest

from models.database import Store
from models.errors import Missing, Stale, Unfit
from models.intake.faults import Faults
from models.intake.stock.levels import LevelsDraft, read_levels
from models.operations.stock.levels import set_levels
from models.queries.stock.balance import low_items
from models.tables import Item
from tests.ledgers import a_lot
from tests.shops import a_ring


def levels(**raw: object) -> LevelsDraft:
    found = read_levels(raw)
    assert isinstance(found, LevelsDraft), found
    return found


def test_an_item_under_its_reorder_point_is_wanted_up_to_its_target(store: Store) -> None:
    with store.writing() as session:
        item_id = a_ring(session)
        a_lot(session, item_id, 90)
        set_levels(session, item_id, levels(reorder="100", target=500, batch_colour="yes"), version=1)
        low = low_items(session)
        assert [(one.item.id, one.wanted_milli) for one in low] == [(item_id, 410_000)]
        assert session.get_one(Item, item_id).batch_colour
        set_levels(session, item_id, levels(reorder="", target=""), version=2)
        assert low_items(session) == ()


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"reorder": "-1"}, "reorder"),
        ({"reorder": 5, "target": 4}, "target"),
        ({"target": 4}, "reorder"),
        ({"reorder": "few"}, "reorder"),
    ],
)
def test_levels_that_cannot_be_are_said_beside_their_field(raw: dict[str, object], field: str) -> None:
    found = read_levels(raw)
    assert isinstance(found, Faults)
    assert list(found.by_field()) == [field]


def test_a_stale_page_is_told_both_values(store: Store) -> None:
    with store.writing() as session:
        item_id = a_ring(session)
        set_levels(session, item_id, levels(reorder=100), version=1)
        with pytest.raises(Stale) as stale:
            set_levels(session, item_id, levels(reorder=50), version=1)
        assert stale.value.changes == (("Buy again at", "100", "50"),)


def test_a_fraction_of_a_ring_is_refused_and_of_a_metre_is_not(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        wire = Item(kind="wire", name="Wire", unit="m", created_at=session.get_one(Item, ring).created_at)
        session.add(wire)
        session.flush()
        with pytest.raises(Unfit, match="whole number"):
            set_levels(session, ring, levels(reorder="2.5"))
        set_levels(session, wire.id or 0, levels(reorder="2.5"))
        with pytest.raises(Missing):
            set_levels(session, 99, levels(reorder="2"))
