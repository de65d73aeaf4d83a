"""Outlets: kept as handed in, changed knowingly, retired and brought back; and what each takes of a price."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest
from sqlmodel import Session, select

from models.costing.lines import add_up, adds_up
from models.database import Store
from models.errors import Conflict, Missing, Stale, Unfit
from models.intake.costing.outlet import FeeDraft, OutletDraft
from models.operations.costing.outlet import add_outlet, bring_back_outlet, change_outlet, retire_outlet
from models.operations.figures import stale_figures
from models.queries.costing.outlet import (
    draft_example,
    export_outlets,
    outlet_inputs,
    outlet_view,
    outlets_page,
    usual_sample,
)
from models.tables import PriceFigure
from tests.shops import a_design, a_part, a_ring

WEB = OutletDraft(
    name="Own web shop",
    kind="online",
    tax_percent=Decimal(20),
    prices_include_tax=True,
    shipping_charged=Decimal("3.50"),
    postage_paid=Decimal("3.20"),
    fees=(
        FeeDraft("Commission", Decimal("6.5"), "price+shipping", Decimal(0)),
        FeeDraft("Payment", Decimal(3), "price+shipping+tax", Decimal("0.25")),
    ),
    period_fee=Decimal(0),
    period_sales=1,
    wanted_margin_percent=None,
    wanted_wage=None,
    retail_multiple=Decimal(2),
    ending="",
    note="",
)
FAIR = replace(
    WEB,
    name="Fair",
    kind="market",
    fees=(),
    period_fee=Decimal(60),
    period_sales=15,
    shipping_charged=Decimal(0),
    postage_paid=Decimal(0),
)


def test_an_outlet_is_kept_as_it_was_handed_in(store: Store) -> None:
    with store.writing() as session:
        first, second = add_outlet(session, WEB), add_outlet(session, FAIR)
    with store.reading() as session:
        assert outlet_view(session, first).draft == WEB
        assert outlet_view(session, second).draft == FAIR
        assert [view.draft.name for view in outlets_page(session).outlets] == ["Own web shop", "Fair"]


def test_a_name_is_taken_once_whatever_its_capitals(store: Store) -> None:
    with store.writing() as session:
        add_outlet(session, WEB)
    with pytest.raises(Unfit) as refused, store.writing() as session:
        add_outlet(session, replace(WEB, name="OWN web shop"))
    assert "name" in refused.value.faults.by_field()


def test_an_outlet_may_keep_its_own_name(store: Store) -> None:
    with store.writing() as session:
        number = add_outlet(session, WEB)
        change_outlet(session, number, replace(WEB, note="busy in December"), version=1)
        assert outlet_view(session, number).draft.note == "busy in December"


def test_a_change_from_a_stale_page_is_refused_with_both_values(store: Store) -> None:
    with store.writing() as session:
        number = add_outlet(session, WEB)
        change_outlet(session, number, replace(WEB, tax_percent=Decimal(19), fees=()), version=1)
    with pytest.raises(Stale) as refused, store.writing() as session:
        change_outlet(session, number, replace(WEB, tax_percent=Decimal(21)), version=1)
    changes = {label: (saved, typed) for label, saved, typed in refused.value.changes}
    assert changes["Tax"] == ("19", "21")
    assert "Commission" in changes["Fees"][1]


def test_a_retired_outlet_is_left_out_and_can_be_brought_back(store: Store) -> None:
    with store.writing() as session:
        number = add_outlet(session, WEB)
        assert retire_outlet(session, number) == "Own web shop"
        assert outlet_inputs(session) == ()
        assert export_outlets(session) == ()
        assert [view.id for view in outlets_page(session).retired] == [number]
        with pytest.raises(Conflict):
            retire_outlet(session, number)
        bring_back_outlet(session, number)
        assert len(outlet_inputs(session)) == 1


@pytest.mark.parametrize("act", [retire_outlet, bring_back_outlet, outlet_view])
def test_an_outlet_that_is_not_there_is_missing(store: Store, act: object) -> None:
    assert callable(act)
    with pytest.raises(Missing), store.writing() as session:
        act(session, 99)
    with pytest.raises(Missing), store.writing() as session:
        change_outlet(session, 99, WEB, version=1)


def test_of_a_price_tax_fees_and_postage_go_and_the_rest_is_left(store: Store) -> None:
    with store.writing() as session:
        number = add_outlet(session, WEB)
    with store.reading() as session:
        view = outlet_view(session, number, Decimal(40))
    # 43.50 is paid, of which 43.50/6 = 7.25 is tax; commission 6.5 % and payment 3 % are taken of all 43.50.
    assert view.sale.tax == Decimal("7.25")
    assert view.sale.fees_total == Decimal("2.8275") + Decimal("1.305") + Decimal("0.25")
    example = view.example
    assert example.takes == view.sale.fees_total + Decimal("3.20")
    assert example.leaves == Decimal("43.50") - view.sale.tax - example.takes
    assert [line.label for line in example.lines] == ["Left for you", "Commission", "Payment", "Postage you pay", "Tax"]
    assert add_up(line.amount for line in example.lines) == Decimal("43.50")
    assert all(adds_up(line) for line in example.lines)
    assert [part.amount for part in example.lines[2].lines] == [Decimal("1.305"), Decimal("0.25")]


def test_a_stall_is_shared_by_the_sales_that_are_expected(store: Store) -> None:
    with store.reading() as session:
        assert draft_example(session, FAIR, Decimal(40)).sale.period_share == 4


def test_the_outlet_that_leaves_most_is_named_once_there_are_two(store: Store) -> None:
    with store.writing() as session:
        add_outlet(session, WEB)
        assert outlets_page(session, Decimal(40)).best is None
        add_outlet(session, FAIR)
        best = outlets_page(session, Decimal(40)).best
    # 40 - 6.67 tax - 4 for the stall is 29.33; the web shop leaves 43.50 - 7.25 - 4.3825 - 3.20 = 28.6675.
    assert best is not None
    assert best.draft.name == "Fair"


def test_costing_takes_the_margin_and_ending_of_the_shop_where_the_outlet_names_none(store: Store) -> None:
    with store.writing() as session:
        add_outlet(session, WEB)
        add_outlet(session, replace(FAIR, wanted_margin_percent=Decimal(10), ending="5"))
        web, fair = outlet_inputs(session)
    assert (web.wanted_margin, web.ending) == (Decimal("0.30"), "x.00")
    assert (fair.wanted_margin, fair.ending) == (Decimal("0.10"), "5")
    assert web.fees[0].share == Decimal("0.065")


def test_the_first_sample_price_is_about_two_hours_of_wage(store: Store) -> None:
    with store.reading() as session:
        assert usual_sample(session) == 40


def test_every_change_of_an_outlet_leaves_every_price_fresh(store: Store) -> None:
    acts: tuple[Callable[[Session], object], ...] = (
        lambda session: add_outlet(session, WEB),
        lambda session: add_outlet(session, FAIR),
        lambda session: change_outlet(session, 1, replace(WEB, fees=(), tax_percent=Decimal(19)), version=1),
        lambda session: retire_outlet(session, 2),
        lambda session: bring_back_outlet(session, 2),
    )
    with store.writing() as session:
        a_design(session, [a_part(a_ring(session), 48)])
    for act in acts:
        with store.writing() as session:
            act(session)
        with store.reading() as session:
            assert stale_figures(session) == ()
            priced = {figure.outlet_id for figure in session.exec(select(PriceFigure))}
            assert priced == {view.id for view in outlets_page(session).outlets}


def test_fees_are_kept_in_the_order_of_the_page(store: Store) -> None:
    fees = tuple(FeeDraft(label, Decimal(1), "price", Decimal(0)) for label in ("b", "a", "c"))
    with store.writing() as session:
        number = add_outlet(session, replace(WEB, fees=fees))
    with store.reading() as session:
        assert outlet_view(session, number).draft.fees == fees
