"""The invented studio: it is founded by the ordinary operations, and it is large and varied enough to click through."""

from sqlmodel import Session, col, func, select

from models.database import Store
from models.tables import Design, DesignFigure, Item, Outlet, PriceFigure, Revision, Shop


def _count(session: Session, table: type) -> int:
    return session.exec(select(func.count()).select_from(table)).one()


def test_the_demo_shows_a_studio_of_some_size(demo_folder):
    store = Store(demo_folder)
    with store.reading() as session:
        assert _count(session, Item) >= 40
        assert _count(session, Design) >= 8
        assert _count(session, Outlet) == 4
        assert len(set(session.exec(select(Revision.weave)).all())) >= 5
        assert "invented" in session.exec(select(Shop.name)).one()
    store.close()


def test_every_demo_design_is_priced_without_a_guess(demo_folder):
    store = Store(demo_folder)
    with store.reading() as session:
        assert session.exec(select(DesignFigure.design_id).where(col(DesignFigure.provisional))).all() == []
        assert session.exec(select(PriceFigure.id).where(col(PriceFigure.suggested_micros).is_(None))).all() == []
    store.close()
