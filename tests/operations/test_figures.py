"""The kept figures follow their inputs, and a stale one is named."""

from __future__ import annotations

from decimal import Decimal

from sqlmodel import Session, select

from models.database import Store
from models.operations.figures import refresh_figures, stale_figures
from models.tables import DesignFigure, Offer, Outlet, PriceFigure, Shop
from tests.shops import a_design, a_finding, a_listed_price, a_part, a_revision, a_ring, an_outlet


def a_small_shop(session: Session) -> tuple[int, int, int]:
    ring = a_ring(session)
    wire = a_finding(session)
    pendant = a_design(session, [a_part(ring, 48), a_part(wire)])
    a_design(session, [a_part(wire, 2)], name="Plain ear wires", weave=None)
    an_outlet(session)
    return pendant, ring, wire


def total_of(session: Session, design_id: int) -> int:
    figure = session.get(DesignFigure, design_id)
    assert figure is not None
    return figure.total_micros


def test_a_design_gets_a_cost_and_a_price_per_outlet(store: Store) -> None:
    with store.writing() as session:
        pendant, _, _ = a_small_shop(session)
        assert refresh_figures(session) == 2
    with store.reading() as session:
        cost = session.get(DesignFigure, pendant)
        price = session.exec(select(PriceFigure).where(PriceFigure.design_id == pendant)).one()
        assert cost is not None
        # 48 rings at 0.04 with 3 % lost, and one ear wire at 0.24 that nothing is lost of.
        assert cost.materials_micros == 48 * 41_200 + 240_000
        assert cost.total_micros == cost.materials_micros + cost.labour_micros + cost.overhead_micros
        assert cost.low_minutes_milli < cost.minutes_milli < cost.high_minutes_milli
        assert not cost.provisional
        assert price.break_even_micros is not None
        assert price.suggested_micros is not None
        assert price.suggested_micros >= price.break_even_micros
        assert price.price_micros == price.suggested_micros
        assert price.profit_micros is not None
        assert price.profit_micros > 0


def test_refreshing_twice_changes_nothing(store: Store) -> None:
    with store.writing() as session:
        a_small_shop(session)
        refresh_figures(session)
        refresh_figures(session)
    with store.reading() as session:
        assert len(session.exec(select(DesignFigure)).all()) == 2
        assert len(session.exec(select(PriceFigure)).all()) == 2
        assert stale_figures(session) == ()


def test_an_items_price_refreshes_only_the_designs_that_use_it(store: Store) -> None:
    with store.writing() as session:
        pendant, ring, wire = a_small_shop(session)
        refresh_figures(session)
        before = total_of(session, pendant)
        offer = session.exec(select(Offer).where(Offer.item_id == ring)).one()
        offer.price_micros *= 2
        assert refresh_figures(session, item_id=ring) == 1
        assert total_of(session, pendant) == before + 48 * 41_200
        assert refresh_figures(session, item_id=wire) == 2
        assert stale_figures(session) == ()


def test_an_earlier_revision_no_longer_counts(store: Store) -> None:
    with store.writing() as session:
        pendant, ring, wire = a_small_shop(session)
        a_revision(session, pendant, [a_part(wire, 1)], number=2)
        refresh_figures(session)
        figure = session.get(DesignFigure, pendant)
        assert figure is not None
        assert figure.materials_micros == 240_000
        assert refresh_figures(session, item_id=ring) == 0


def test_a_stale_figure_is_named(store: Store) -> None:
    with store.writing() as session:
        pendant, ring, _ = a_small_shop(session)
        refresh_figures(session)
        offer = session.exec(select(Offer).where(Offer.item_id == ring)).one()
        offer.price_micros += 1_000_000
    with store.reading() as session:
        stale = stale_figures(session)
    assert {one.design_id for one in stale} == {pendant}
    assert any(one.what == "total_micros" for one in stale)
    assert any("Web shop" in one.what for one in stale)
    assert "Copper leaf pendant" in str(stale[0])


def test_a_missing_figure_is_named(store: Store) -> None:
    with store.writing() as session:
        a_small_shop(session)
    with store.reading() as session:
        assert {one.stored for one in stale_figures(session)} == {None}


def test_a_retired_outlet_loses_its_figures(store: Store) -> None:
    with store.writing() as session:
        a_small_shop(session)
        refresh_figures(session)
        session.exec(select(Outlet)).one().retired = True
        assert {one.due for one in stale_figures(session)} == {None}
        refresh_figures(session)
        assert session.exec(select(PriceFigure)).all() == []


def test_a_listed_price_is_what_profit_is_stated_at(store: Store) -> None:
    with store.writing() as session:
        pendant, _, _ = a_small_shop(session)
        outlet = session.exec(select(Outlet)).one()
        a_listed_price(session, pendant, outlet.id or 0, "99.00")
        refresh_figures(session, design_ids=[pendant])
        price = session.exec(select(PriceFigure).where(PriceFigure.design_id == pendant)).one()
        assert price.price_micros == 99_000_000
        assert price.suggested_micros is not None
        assert price.suggested_micros != 99_000_000


def test_a_design_with_an_unpriced_part_is_provisional_and_names_it(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, price=None)
        design = a_design(session, [a_part(ring, 10)])
        refresh_figures(session)
        figure = session.get(DesignFigure, design)
        assert figure is not None
        assert figure.provisional
        assert figure.unpriced == "Bronze ring 1.0 × 3.6 mm"


def test_one_price_everywhere_is_suggested_at_every_outlet(store: Store) -> None:
    with store.writing() as session:
        pendant, _, _ = a_small_shop(session)
        an_outlet(session, name="Gallery", kind="consignment", position=1, fees=(("Commission", "40", "price", "0"),))
        an_outlet(session, name="Shop", kind="wholesale", position=2, fees=(), retail_multiple=Decimal(2))
        shop = session.get(Shop, 1)
        assert shop is not None
        shop.one_price = True
        refresh_figures(session)
        web, gallery, wholesale = session.exec(
            select(PriceFigure).where(PriceFigure.design_id == pendant).order_by(PriceFigure.outlet_id)
        ).all()
        assert web.suggested_micros == gallery.suggested_micros
        assert wholesale.suggested_micros is not None
        assert wholesale.suggested_micros * 2 == web.suggested_micros
        assert stale_figures(session) == ()


def test_fees_that_eat_the_price_leave_no_price(store: Store) -> None:
    with store.writing() as session:
        pendant, _, _ = a_small_shop(session)
        greedy = an_outlet(session, name="Greedy", position=1, fees=(("All of it", "100", "price", "0"),))
        refresh_figures(session)
        price = session.exec(
            select(PriceFigure).where(PriceFigure.design_id == pendant, PriceFigure.outlet_id == greedy)
        ).one()
        assert price.break_even_micros is None
        assert price.suggested_micros is None
        assert price.profit_micros is None
