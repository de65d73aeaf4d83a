"""What the stock cost beside what it costs to buy again: both totals, either to reckon with."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pytest
from sqlmodel import Session

from models.database import Store
from models.operations.figures import refresh_figures, stale_figures
from models.queries.costing.costing import CostSettings, CostView, view_revision
from models.queries.costing.inputs import latest_revisions
from tests.ledgers import a_lot
from tests.shops import a_design, a_finding, a_part, a_ring, an_outlet, counted


@pytest.fixture
def session(store: Store) -> Iterator[Session]:
    with store.writing() as session:
        yield session


def view(session: Session, design_id: int, **asked: object) -> CostView:
    return view_revision(session, latest_revisions(session)[design_id], CostSettings(**asked))  # type: ignore[arg-type]


def test_both_totals_stand_beside_each_other_once_something_is_in_stock(session: Session) -> None:
    ring, clasp = a_ring(session), a_finding(session)
    design = a_design(session, [a_part(ring, 100, allowance_percent=Decimal(0)), a_part(clasp, 1)])
    assert view(session, design).basis is None
    a_lot(session, ring, 200, "5.00")
    found = view(session, design)
    assert found.basis is not None
    # 100 rings at 0.04 to buy again, at 0.025 in stock; the clasp is not in stock and costs 0.24 either way.
    assert (found.basis.again_materials, found.basis.stock_materials) == (Decimal("4.24"), Decimal("2.74"))
    assert found.basis.difference == Decimal("1.50")
    assert (found.basis.in_stock, found.basis.parts, found.basis.by) == (1, 2, "again")
    assert found.cost.per_piece == found.basis.again


def test_prices_may_rest_on_what_the_stock_cost(session: Session) -> None:
    ring = a_ring(session)
    design = a_design(session, [a_part(ring, 100)])
    an_outlet(session)
    a_lot(session, ring, 200, "2.00")
    again, stock = view(session, design), view(session, design, by="stock")
    assert stock.basis is not None
    assert stock.cost.per_piece == stock.basis.stock < again.cost.per_piece
    assert (stock.basis.again, stock.basis.stock) == (again.basis.again, again.basis.stock)  # type: ignore[union-attr]
    assert stock.outlets[0].break_even < again.outlets[0].break_even  # type: ignore[operator]
    line = stock.cost.materials.lines[0]
    assert any(because.source == "your stock" for because in (line.lines[0] if line.lines else line).because)


def test_a_part_without_an_offer_is_priced_by_its_stock(session: Session) -> None:
    ring = a_ring(session, price=None)
    design = a_design(session, [a_part(ring, 10)])
    a_lot(session, ring, 100, "3.00")
    assert [one.name for one in view(session, design).unpriced] == ["Bronze ring 1.0 × 3.6 mm"]
    assert view(session, design, by="stock").unpriced == ()


def test_the_lists_go_on_counting_what_it_costs_to_buy_again(session: Session) -> None:
    ring = a_ring(session)
    a_design(session, [a_part(ring, 100)])
    refresh_figures(session)
    a_lot(session, ring, 200, "2.00")
    assert stale_figures(session) == ()


def test_no_more_queries_are_asked_for_more_lots(session: Session) -> None:
    ring = a_ring(session)
    design = a_design(session, [a_part(ring, 100)])
    a_lot(session, ring, 10, "1")
    session.flush()
    with counted(session) as few:
        view(session, design)
    for _ in range(5):
        a_lot(session, ring, 10, "1")
    with counted(session) as many:
        view(session, design)
    assert len(many) == len(few)
