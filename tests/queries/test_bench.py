"""What stands on the Bench: the latest designs with their answers, and what asks for attention."""

from __future__ import annotations

from decimal import Decimal

from sqlmodel import Session

from models.database import Store
from models.intake.costing.listed_price import ListedPriceDraft
from models.operations.costing.listed_price import list_price
from models.operations.figures import refresh_figures
from models.queries.bench import LATEST, bench_page
from models.tables import Design
from tests.shops import a_design, a_part, a_ring, an_outlet, counted


def listed(session: Session, design: int, outlet: int, price: str) -> None:
    list_price(session, design, ListedPriceDraft(outlet, Decimal(price)), None)


def test_an_empty_shop_has_nothing_to_show(store: Store) -> None:
    with store.reading() as session:
        page = bench_page(session)
    assert (page.designs, page.outlets, page.latest, page.not_sure, page.short) == (0, 0, (), (), ())


def test_a_listed_price_is_the_answer_and_else_the_suggested_one(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        an_outlet(session)
        market = an_outlet(session, name="Market", kind="market", position=1, fees=())
        plain = a_design(session, [a_part(ring, 48)], name="Plain")
        dear = a_design(session, [a_part(ring, 48)], name="Dear")
        refresh_figures(session)
        listed(session, dear, market, "500")
    with store.reading() as session:
        first, second = bench_page(session).latest
    assert (first.id, first.outlet, first.price_micros, first.listed) == (dear, "Market", 500_000_000, True)
    assert (second.id, second.outlet, second.listed) == (plain, "Web shop", False)
    assert second.price_micros is not None
    assert [thing.name for thing in first.rings] == ["Bronze ring 1.0 × 3.6 mm"]


def test_prices_that_lose_come_before_those_under_their_target(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        web = an_outlet(session)
        cheap = a_design(session, [a_part(ring, 48)], name="A thin one")
        losing = a_design(session, [a_part(ring, 48)], name="B gives it away")
        fine = a_design(session, [a_part(ring, 48)], name="C pays")
        refresh_figures(session)
        listed(session, losing, web, "1")
        listed(session, fine, web, "500")
        floor = next(one for one in bench_page(session).latest if one.id == cheap)
        assert floor.price_micros is not None
        listed(session, cheap, web, format(Decimal(floor.price_micros) / 1_000_000 - 2, ".2f"))
        page = bench_page(session)
    assert [(one.design_id, one.short_of) for one in page.short] == [(losing, "break-even"), (cheap, "target")]
    assert page.short_count == 2


def test_a_provisional_cost_names_what_has_no_price(store: Store) -> None:
    with store.writing() as session:
        unpriced = a_ring(session, name="Copper ring", price=None)
        first = a_design(session, [a_part(unpriced, 5), a_part(unpriced, 6)], name="Unpriced")
        second = a_design(session, [a_part(unpriced, 5, guess_micros=1)], name="Guessed")
        gone = a_design(session, [a_part(unpriced, 5)], name="Gone")
        refresh_figures(session)
        design = session.get(Design, gone)
        assert design is not None
        design.retired = True
        session.flush()
        page = bench_page(session)
    assert [(one.id, one.unpriced) for one in page.not_sure] == [(second, ()), (first, ("Copper ring",))]
    assert page.designs == 2


def test_the_bench_takes_no_more_queries_with_more_designs(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        web = an_outlet(session)
        a_design(session, [a_part(ring, 48)], name="First")
        refresh_figures(session)
    with store.reading() as session, counted(session) as few:
        bench_page(session)
    with store.writing() as session:
        for number in range(12):
            design = a_design(session, [a_part(ring, 48)], name=f"Design {number}")
            refresh_figures(session, design_ids=[design])
            listed(session, design, web, "5")
    with store.reading() as session, counted(session) as many:
        page = bench_page(session)
    assert len(page.latest) == LATEST
    assert len(many) == len(few)
