"""Price watch: what changed prices did to designs, what they take a month, and what a metal's price would do."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from models.database import Store
from models.operations.figures import refresh_figures
from models.operations.stock.offer import add_offer, make_current
from models.queries.buying.price_watch import metals_bought, price_watch, supposed_watch
from models.queries.costing.figures import compute_figures
from models.tables import Build
from models.trade.metals import METALS
from tests.operations.buying.test_purchase import a_supplier, an_offer
from tests.operations.stock.test_offer import offer
from tests.shops import NOON, a_design, a_finding, a_listed_price, a_part, a_ring, an_outlet, counted

LONG_AGO = datetime(2020, 1, 1, tzinfo=UTC)
TODAY = date(2026, 3, 2)
CENT = 10_000


@pytest.fixture
def pendant(store: Store) -> int:
    """A pendant of 100 bronze rings at 0.04 and an ear wire; 12 of them were finished in the last months."""
    with store.writing() as session:
        supplier = a_supplier(session)
        ring = a_ring(session, price=None)
        an_offer(session, ring, supplier)
        design = a_design(session, [a_part(ring, 100), a_part(a_finding(session), 2)])
        for number, (good, day) in enumerate(
            ((7, TODAY), (5, TODAY - timedelta(days=150)), (9, TODAY - timedelta(days=400)))
        ):
            session.add(
                Build(
                    design_id=design,
                    revision_id=1,
                    state="finished",
                    pieces=good,
                    good=good,
                    spoiled=0,
                    started_on=day,
                    finished_on=day,
                    note=str(number),
                    created_at=NOON,
                )
            )
        refresh_figures(session)
    return design


def test_without_a_changed_price_nothing_moved(store: Store, pendant: int) -> None:
    with store.reading() as session:
        view = price_watch(session, since=LONG_AGO, today=TODAY)
    assert (view.items, view.designs, view.lost_a_month) == ((), (), 0)


def test_a_dearer_bag_moves_the_cost_of_a_piece_and_takes_so_much_a_month(store: Store, pendant: int) -> None:
    with store.writing() as session:
        an_offer(session, 1, 1, price="5.00")
        an_offer(session, 1, 1, price="6.00")
        view = price_watch(session, since=LONG_AGO, today=TODAY)
        (item,), (design,) = view.items, view.designs
        # From the first price of the time looked at to the last: 0.04 to 0.06 for 100 rings and 3 % allowance.
        assert (item.before, item.after, item.share) == (Decimal("0.04"), Decimal("0.06"), Decimal("0.5"))
        assert (design.name, design.moved_micros) == ("Copper leaf pendant", 206 * CENT)
        assert design.items == ("Bronze ring 1.0 × 3.6 mm",)
        assert design.pieces_a_month == 2
        assert view.lost_a_month == 412 * CENT


def test_a_price_that_went_up_and_came_back_moved_nothing(store: Store, pendant: int) -> None:
    with store.writing() as session:
        an_offer(session, 1, 1, price="5.00")
        make_current(session, 1, 1)
        assert price_watch(session, since=LONG_AGO, today=TODAY).items == ()
        assert price_watch(session, since=datetime.now(UTC) + timedelta(hours=1), today=TODAY).items == ()


def test_a_listed_price_that_paid_before_and_does_not_now_is_named_with_what_it_should_be(
    store: Store, pendant: int
) -> None:
    with store.writing() as session:
        outlet = an_outlet(session, wanted_margin_percent=Decimal(0))
        refresh_figures(session)
        before = price_watch(session, since=LONG_AGO, today=TODAY)
        assert before.fallen == 0
    with store.reading() as session:
        floor = compute_figures(session).prices[0].break_even_micros or 0
    with store.writing() as session:
        a_listed_price(session, pendant, outlet, str(Decimal(floor + CENT) / 1_000_000))
        refresh_figures(session)
        an_offer(session, 1, 1, price="6.00")
        view = price_watch(session, since=LONG_AGO, today=TODAY)
    (fallen,) = view.designs[0].fallen
    assert (fallen.outlet, fallen.price_micros, fallen.short_of, view.fallen) == (
        "Web shop",
        floor + CENT,
        "break-even",
        1,
    )
    assert fallen.floor_micros > fallen.price_micros


def test_a_metal_that_would_cost_more_is_reckoned_without_keeping_anything(store: Store, pendant: int) -> None:
    with store.reading() as session:
        view = supposed_watch(session, "bronze-c220", Decimal("0.10"), today=TODAY)
        assert [(item.words.name, item.share) for item in view.items] == [("Bronze ring 1.0 × 3.6 mm", Decimal("0.1"))]
        (design,) = view.designs
        assert (design.moved_micros, view.supposed) == (412_000, True)
        cheaper = supposed_watch(session, "bronze-c220", Decimal("-0.10"), today=TODAY)
        assert cheaper.lost_a_month == -view.lost_a_month
        assert supposed_watch(session, "niobium", Decimal("0.10"), today=TODAY).items == ()
        assert metals_bought(session, METALS) == (
            ("bronze-c220", METALS["bronze-c220"].name),
            ("sterling-925", METALS["sterling-925"].name),
        )


def test_the_dearest_change_a_month_comes_first(store: Store, pendant: int) -> None:
    with store.writing() as session:
        a_design(session, [a_part(1, 300)], name="Rook earrings")
        refresh_figures(session)
        an_offer(session, 1, 1, price="5.00")
        view = price_watch(session, since=LONG_AGO, today=TODAY)
    # The earrings move more a piece, but none were made lately.
    assert [(design.name, design.pieces_a_month) for design in view.designs] == [
        ("Copper leaf pendant", 2),
        ("Rook earrings", 0),
    ]


def test_many_designs_are_read_in_as_many_queries_as_few(store: Store, pendant: int) -> None:
    seen = []
    for count in (1, 20):
        with store.writing() as session:
            for number in range(count):
                ring = a_ring(session, name=f"Ring {count}.{number}", inner_nm=6_000_000 + count * 100_000 + number)
                a_design(session, [a_part(ring, 10)], name=f"Design {count}.{number}")
                add_offer(session, ring, offer(price="9.00"))
        with store.reading() as session, counted(session) as statements:
            assert len(price_watch(session, since=LONG_AGO, today=TODAY).designs) >= count
        seen.append(len(statements))
    assert seen[0] == seen[1] <= 28
