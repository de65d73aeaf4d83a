"""The invented studio's drawers: filled by the operations of every day, and proved by the check."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import Session, col, func, select

from models.database import Store
from models.operations.stock.check_ledger import check_ledger
from models.queries.stock.balance import balances, low_items
from models.queries.stock.conservation import conservation
from models.queries.stock.item import load_materials
from models.queries.stock.lot import lots_of, places
from models.tables import Item, StockTransaction


@pytest.fixture(scope="module")
def demo(demo_folder: Path) -> Iterator[Store]:
    store = Store(demo_folder)
    yield store
    store.close()


@pytest.fixture
def session(demo: Store) -> Iterator[Session]:
    with demo.reading() as session:
        yield session


def test_every_item_of_the_demo_lies_somewhere(session: Session) -> None:
    held = balances(session)
    bought = [item for item in load_materials(session).values() if item.kind not in {"piece", "scrap"}]
    assert [item.name for item in bought if item.id not in held or not held[item.id].on_hand_milli] == []
    assert any(place.place == "drawer B4" for place in places(session))
    assert any(balance.rough == "about" for balance in held.values())


def test_the_demo_s_ledger_is_sound_to_the_last_millionth(session: Session) -> None:
    assert check_ledger(session) == ()
    assert conservation(session).holds


def test_an_anodised_colour_lies_in_two_batches(session: Session) -> None:
    green = session.exec(select(Item).where(Item.colour == "leaf green")).one()
    assert green.batch_colour
    assert len({lot.batch for lot in lots_of(session, (green.id or 0,))[green.id or 0]}) == 2


def test_the_demo_has_a_history_and_something_to_buy(session: Session) -> None:
    days = session.exec(select(func.count(col(StockTransaction.done_on).distinct()))).one()
    assert days >= 8
    assert all(
        act.at.date() == act.done_on
        for act in session.exec(select(StockTransaction).where(col(StockTransaction.build_id).is_(None)))
    )
    assert len(low_items(session)) >= 2
