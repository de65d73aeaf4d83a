"""Listing a design at a price, changing that price, and taking the design off again."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.errors import Conflict, Missing, Stale
from models.intake.costing.listed_price import ListedPriceDraft, read_listed_price
from models.intake.faults import Faults
from models.operations.costing.listed_price import list_price
from models.operations.figures import refresh_figures, stale_figures
from models.tables import Design, ListedPrice, Outlet, PriceFigure
from tests.shops import a_design, a_part, a_ring, an_outlet


def a_shop(session: Session) -> tuple[int, int]:
    design = a_design(session, [a_part(a_ring(session), 48)])
    outlet = an_outlet(session)
    refresh_figures(session)
    return design, outlet


def test_listing_stores_the_price_and_the_figures_follow(store: Store) -> None:
    with store.writing() as session:
        design, outlet = a_shop(session)
        done = list_price(session, design, ListedPriceDraft(outlet, Decimal("38.00")), None)
        assert (done.outlet, done.before, done.after) == ("Web shop", None, Decimal("38.00"))
    with store.reading() as session:
        assert session.exec(select(ListedPrice)).one().price_micros == 38_000_000
        assert session.exec(select(PriceFigure)).one().price_micros == 38_000_000
        assert stale_figures(session) == ()


def test_a_price_is_changed_and_taken_off_by_the_version_that_was_seen(store: Store) -> None:
    with store.writing() as session:
        design, outlet = a_shop(session)
        first = list_price(session, design, ListedPriceDraft(outlet, Decimal(38)), 0)
        second = list_price(session, design, ListedPriceDraft(outlet, Decimal(40)), first.version)
        assert second.before == 38
        assert second.version == first.version + 1
        third = list_price(session, design, ListedPriceDraft(outlet, None), second.version)
        assert (third.before, third.after, third.version) == (Decimal(40), None, 0)
        assert session.exec(select(ListedPrice)).all() == []
        figure = session.exec(select(PriceFigure)).one()
        assert figure.price_micros == figure.suggested_micros


def test_a_stale_price_is_refused_with_both_prices(store: Store) -> None:
    with store.writing() as session:
        design, outlet = a_shop(session)
        list_price(session, design, ListedPriceDraft(outlet, Decimal(38)), None)
        with pytest.raises(Stale) as refused:
            list_price(session, design, ListedPriceDraft(outlet, Decimal(40)), None)
        assert refused.value.changes == (("Price at Web shop", "38.00", "40"),)


def test_a_price_listed_anew_is_not_taken_for_the_old_one(store: Store) -> None:
    with store.writing() as session:
        design, outlet = a_shop(session)
        seen = list_price(session, design, ListedPriceDraft(outlet, Decimal(38)), None).version
        list_price(session, design, ListedPriceDraft(outlet, None), seen)
        again = list_price(session, design, ListedPriceDraft(outlet, Decimal(50)), None).version
        assert again != seen


def test_what_is_retired_or_missing_is_not_listed(store: Store) -> None:
    with store.writing() as session:
        design, outlet = a_shop(session)
        price = ListedPriceDraft(outlet, Decimal(38))
        with pytest.raises(Missing):
            list_price(session, 99, price, None)
        with pytest.raises(Missing):
            list_price(session, design, ListedPriceDraft(99, Decimal(38)), None)
        with pytest.raises(Conflict, match="nothing to take off"):
            list_price(session, design, ListedPriceDraft(outlet, None), None)
        found = session.get(Design, design)
        assert found is not None
        found.retired = True
        with pytest.raises(Conflict, match="retired"):
            list_price(session, design, price, None)
        found.retired = False
        session.exec(select(Outlet)).one().retired = True
        with pytest.raises(Conflict, match="no longer sell"):
            list_price(session, design, price, None)


@pytest.mark.parametrize(
    ("price", "says"),
    [
        ("", "Give a number"),
        ("0", "above zero"),
        ("-3", "-3"),
        ("3.005", "smallest amount"),
        ("1e3", "number"),
        ("99999999", "too large"),
    ],
)
def test_a_price_that_cannot_be_asked_is_refused_in_words(price: str, says: str) -> None:
    read = read_listed_price({"outlet": "1", "price": price}, currency="EUR")
    assert isinstance(read, Faults)
    assert says in read.by_field()["price"]


def test_a_price_in_a_currency_without_cents_is_whole() -> None:
    assert read_listed_price({"outlet": "1", "price": "3800"}, currency="JPY") == ListedPriceDraft(1, Decimal(3800))
    assert isinstance(read_listed_price({"outlet": "1", "price": "38.50"}, currency="JPY"), Faults)
