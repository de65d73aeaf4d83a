"""The settings of the shop: founded once, changed knowingly, with a currency that stays once an amount is kept in it."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import Decimal

import pytest
from sqlmodel import Session

from models.costing.rates import GUESS, STARTING_RATES
from models.database import Store
from models.errors import Conflict, Stale, Unfit
from models.intake.costing.outlet import OutletDraft, read_outlet
from models.intake.shop.shop import SettingsDraft
from models.operations.costing.outlet import add_outlet
from models.operations.shop.clock import now
from models.operations.shop.shop import change_settings, found_shop
from models.queries.shop.shop import (
    UNFOUNDED,
    currency_lock,
    display_prefs,
    is_founded,
    shop_rates,
    shop_settings,
    work_rates,
)
from models.tables import Design, Item, ListedPrice, Offer, Part, Revision, Shop


def draft(session: Session, **changes: object) -> SettingsDraft:
    """The settings as they are, as a person would hand them in."""
    saved = shop_settings(session)
    same = {field.name: getattr(saved, field.name) for field in fields(SettingsDraft)}
    return replace(SettingsDraft(**same), **changes)


def test_a_shop_is_founded_once(store: Store) -> None:
    with pytest.raises(Conflict), store.writing() as session:
        found_shop(session, name="Another", currency="USD")
    with store.reading() as session:
        assert shop_settings(session).name == "Test bench"


def test_a_new_shop_has_every_kind_of_work_as_a_guess(store: Store) -> None:
    with store.reading() as session:
        rates = work_rates(session)
    assert {rate.kind for rate in rates} == set(STARTING_RATES)
    assert all(rate.guessed and rate.source == GUESS for rate in rates)


def test_before_it_is_founded_figures_are_shown_plainly(store: Store) -> None:
    with store.writing() as session:
        session.delete(session.get_one(Shop, 1))
    with store.reading() as session:
        assert not is_founded(session)
        assert display_prefs(session) == UNFOUNDED
        assert shop_settings(session).version == 0


def test_what_is_changed_is_what_is_read(store: Store) -> None:
    changes: dict[str, object] = {
        "name": "Bench two",
        "currency": "JPY",
        "locale": "ja",
        "time_zone": "Asia/Tokyo",
        "length_unit": "in",
        "gauge_system": "SWG",
        "wage_per_hour": Decimal("1500.123456"),
        "overhead_mode": "percent",
        "overhead_per_hour": Decimal("2.5"),
        "overhead_percent": Decimal("12.5"),
        "allowance_percent": Decimal("4.25"),
        "learning_percent": Decimal(90),
        "wanted_margin_percent": Decimal("33.3"),
        "ending": "5",
        "one_price": True,
        "once_pieces": 7,
        "kerf_nm": 300_000,
        "near_nm": 20_000,
    }
    assert set(changes) == {field.name for field in fields(SettingsDraft)}
    with store.writing() as session:
        wanted = draft(session, **changes)
        change_settings(session, wanted, version=1)
    with store.reading() as session:
        assert draft(session) == wanted
        assert shop_settings(session).version == 2
        assert display_prefs(session).currency == "JPY"
        rates = shop_rates(session)
    assert rates.learning == Decimal("0.9")
    assert rates.allowance == Decimal("0.0425")
    assert rates.overhead_mode == "percent"


def test_settings_changed_from_a_stale_page_are_refused_with_both_values(store: Store) -> None:
    with store.writing() as session:
        change_settings(session, draft(session, wage_per_hour=Decimal(25)), version=1)
    with pytest.raises(Stale) as refused, store.writing() as session:
        change_settings(session, draft(session, wage_per_hour=Decimal(18)), version=1)
    assert refused.value.changes == (("Wage per hour", "25.00", "18"),)
    with store.reading() as session:
        assert shop_settings(session).wage_per_hour == 25


def _with_offer(session: Session) -> None:
    item = Item(kind="finding", name="Ear wire", created_at=now())
    session.add(item)
    session.flush()
    session.add(
        Offer(
            item_id=item.id or 0, pack_milli=1000, pack_unit="piece", price_micros=1, currency="EUR", created_at=now()
        )
    )


def _with_design(session: Session) -> int:
    design = Design(name="Pendant", created_at=now())
    session.add(design)
    session.flush()
    return design.id or 0


def _with_guess(session: Session) -> None:
    revision = Revision(design_id=_with_design(session), number=1, made_at=now())
    session.add(revision)
    session.flush()
    session.add(Part(revision_id=revision.id or 0, position=1, quantity_milli=1000, guess_micros=5))


def outlet(**changes: object) -> OutletDraft:
    found = read_outlet({"name": "Fair", "kind": "market", "prices_include_tax": "yes"} | changes)
    assert isinstance(found, OutletDraft)
    return found


def _with_listed_price(session: Session) -> None:
    number = add_outlet(session, outlet())
    session.add(ListedPrice(design_id=_with_design(session), outlet_id=number, price_micros=1, changed_at=now()))


AMOUNTS = {
    "an offer": (_with_offer, "stock item"),
    "a guess": (_with_guess, "guessed price"),
    "a listed price": (_with_listed_price, "listed price"),
    "postage": (lambda session: add_outlet(session, outlet(postage_paid="3")), "outlet"),
    "a fixed fee": (lambda session: add_outlet(session, outlet(fees=[{"label": "Card", "fixed": "0.2"}])), "outlet"),
    "a wanted wage": (lambda session: add_outlet(session, outlet(wanted_wage="30")), "outlet"),
}


@pytest.mark.parametrize("kind", AMOUNTS)
def test_the_currency_is_fixed_at_the_first_amount_and_says_why(store: Store, kind: str) -> None:
    keep, says = AMOUNTS[kind]
    with store.writing() as session:
        assert currency_lock(session) == ""
        keep(session)
    with pytest.raises(Unfit) as refused, store.writing() as session:
        change_settings(session, draft(session, currency="USD", name="Changed too"), version=1)
    assert says in refused.value.faults.by_field()["currency"]
    with store.writing() as session:
        assert shop_settings(session).name == "Test bench"
        change_settings(session, draft(session, name="Changed"), version=1)


def test_an_outlet_with_percentages_only_leaves_the_currency_open(store: Store) -> None:
    with store.writing() as session:
        add_outlet(session, outlet(fees=[{"label": "Commission", "percent": "6.5"}]))
        change_settings(session, draft(session, currency="USD"), version=1)
    with store.reading() as session:
        assert shop_settings(session).currency == "USD"
