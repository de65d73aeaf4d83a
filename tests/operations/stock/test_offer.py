"""Taking down prices: which one counts, what one unit costs, and what may not be kept."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlmodel import select

from models.costing.inputs import UnitCost
from models.database import Store
from models.errors import Conflict, Missing, Unfit
from models.intake.faults import Faults
from models.intake.stock.offer import OfferDraft, read_offer
from models.operations.stock.offer import add_offer, make_current, stand_offer
from models.queries.buying.market import planning_offers
from models.queries.shop.shop import currency_lock
from models.queries.stock.item import item_view, unit_costs
from models.queries.stock.offer import item_offers
from models.tables import DesignFigure, Item, Offer, Supplier
from models.trade.metals import METALS
from models.trade.rings import RingSize
from tests.shops import NOON, a_design, a_finding, a_part, a_ring


def offer(**fields: object) -> OfferDraft:
    draft = read_offer({"pack": "100", "price": "4.50", **fields}, currency="EUR")
    assert not isinstance(draft, Faults), draft
    return draft


@pytest.fixture
def ring(store: Store) -> int:
    with store.writing() as session:
        return a_ring(session, price=None)


def cost_of(store: Store, item_id: int) -> Decimal:
    with store.reading() as session:
        cost = item_view(session, item_id).unit_cost
    assert isinstance(cost, UnitCost)
    return cost.amount


def test_a_changed_price_is_a_new_offer_and_the_old_one_stays_readable(store: Store, ring: int) -> None:
    with store.writing() as session:
        add_offer(session, ring, offer())
        add_offer(session, ring, offer(price="5.00"))
    with store.reading() as session:
        found = item_offers(session, ring)
    assert [(each.price, each.current) for each in found] == [(Decimal("5.00"), True), (Decimal("4.50"), False)]
    assert cost_of(store, ring) == Decimal("0.05")


def test_the_same_offer_again_is_not_written_again(store: Store, ring: int) -> None:
    with store.writing() as session:
        first = add_offer(session, ring, offer(supplier="Quill Rings"))
        assert add_offer(session, ring, offer(supplier="quill rings")) == first
        assert len(session.exec(select(Supplier)).all()) == 1


def test_an_offer_may_be_noted_without_counting_and_taken_later(store: Store, ring: int) -> None:
    with store.writing() as session:
        add_offer(session, ring, offer())
        other = add_offer(session, ring, offer(price="3.00", current="no"))
    assert cost_of(store, ring) == Decimal("0.045")
    with store.writing() as session:
        make_current(session, ring, other)
    assert cost_of(store, ring) == Decimal("0.03")
    with store.reading() as session:
        assert sum(each.current for each in session.exec(select(Offer)).all()) == 1


def test_only_an_offer_of_this_item_can_become_its_current_one(store: Store, ring: int) -> None:
    with store.writing() as session:
        other = a_ring(session, name="Another", inner_nm=5_000_000)
    with store.writing() as session, pytest.raises(Missing):
        make_current(session, ring, other)


def test_the_first_price_locks_the_currency(store: Store, ring: int) -> None:
    with store.writing() as session:
        add_offer(session, ring, offer())
        assert "the price of a stock item" in currency_lock(session)


@pytest.mark.parametrize(
    ("pack", "price", "grams"), [("50 g", "6.40", "50"), ("1 ozt", "62", "31.1034768"), ("1 lb", "20", "453.59237")]
)
def test_a_ring_bought_by_weight_costs_its_own_mass(store: Store, ring: int, pack: str, price: str, grams: str) -> None:
    with store.writing() as session:
        add_offer(session, ring, offer(pack=pack, price=price))
    mass_g = RingSize(1_000_000, 3_600_000).mass_g(METALS["bronze-c220"].density)
    assert abs(cost_of(store, ring) - Decimal(price) * mass_g / Decimal(grams)) < Decimal("1e-20")


def test_a_weighed_mass_decides_what_a_ring_bought_by_weight_costs(store: Store, ring: int) -> None:
    with store.writing() as session:
        item = session.get(Item, ring)
        assert item is not None
        item.mass_ug = 100_000
        add_offer(session, ring, offer(pack="50 g", price="5"))
    assert cost_of(store, ring) == Decimal("0.01")


def test_another_currency_counts_at_its_typed_rate_and_says_so(store: Store, ring: int) -> None:
    with store.writing() as session:
        add_offer(session, ring, offer(price="5.00", currency="usd", exchange_rate="0.92"))
    assert cost_of(store, ring) == Decimal("0.046")
    with store.reading() as session:
        cost = unit_costs(session)[ring]
    assert isinstance(cost, UnitCost)
    assert cost.lines[0].label == "One USD costs"
    assert cost.lines[0].amount == Decimal("0.92")


def test_a_rate_left_out_is_asked_for_before_anything_is_kept(store: Store, ring: int) -> None:
    draft = read_offer({"pack": "100", "price": "5", "currency": "USD", "supplier": "New one"})
    assert isinstance(draft, OfferDraft)
    with store.writing() as session, pytest.raises(Unfit, match="what does 1 USD cost in EUR"):
        add_offer(session, ring, draft)
    with store.reading() as session:
        assert session.exec(select(Supplier)).all() == []


def test_a_pack_that_says_nothing_about_one_is_refused(store: Store) -> None:
    with store.writing() as session:
        item = Item(kind="finding", name="Clasp", created_at=NOON)
        session.add(item)
        session.flush()
        with pytest.raises(Unfit) as refused:
            add_offer(session, item.id or 0, offer(pack="50 g"))
    assert [fault.field for fault in refused.value.faults] == ["pack_unit"]


def test_an_unknown_supplier_number_and_an_unknown_item_are_refused(store: Store, ring: int) -> None:
    with store.writing() as session, pytest.raises(Unfit, match="no supplier 9"):
        add_offer(session, ring, offer(supplier_id="9"))
    with store.writing() as session, pytest.raises(Missing):
        add_offer(session, 99, offer())


def test_a_new_price_moves_the_cost_of_the_designs_that_use_it(store: Store, ring: int) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(ring, 10), a_part(a_finding(session), 1)])
        add_offer(session, ring, offer(price="4.00"))
    with store.writing() as session:
        add_offer(session, ring, offer(price="8.00"))
    with store.reading() as session:
        figure = session.get(DesignFigure, design)
        assert figure is not None
        # Ten rings at 0.08, three in a hundred spoiled, and one finding at 0.24.
        assert figure.materials_micros == 824_000 + 240_000


def standing(store: Store, item_id: int) -> list[tuple[str, Decimal, bool, bool]]:
    """Supplier, price, current and standing of an item's offers, oldest first."""
    with store.reading() as session:
        offers = sorted(item_offers(session, item_id), key=lambda each: each.id)
        return [(each.supplier, each.price, each.current, each.standing) for each in offers]


def test_offers_of_other_sellers_stand_beside_the_one_that_costs_follow(store: Store, ring: int) -> None:
    with store.writing() as session:
        add_offer(session, ring, offer(supplier="Quill Rings"))
        add_offer(session, ring, offer(supplier="Tarn Barn", price="3.90", current="no"))
        add_offer(session, ring, offer(supplier="Quill Rings", pack="500", price="18", current="no"))
    assert standing(store, ring) == [
        ("Quill Rings", Decimal("4.50"), True, True),
        ("Tarn Barn", Decimal("3.90"), False, True),
        ("Quill Rings", Decimal(18), False, True),
    ]
    assert cost_of(store, ring) == Decimal("0.045")


def test_a_new_price_of_the_same_seller_and_pack_takes_the_place_of_the_old_one(store: Store, ring: int) -> None:
    with store.writing() as session:
        add_offer(session, ring, offer(supplier="Quill Rings"))
        barn = add_offer(session, ring, offer(supplier="Tarn Barn", price="3.90", current="no"))
        add_offer(session, ring, offer(supplier="Tarn Barn", price="4.10", current="no"))
        add_offer(session, ring, offer(supplier="Quill Rings", price="4.80"))
    assert [(row[1], row[2], row[3]) for row in standing(store, ring)] == [
        (Decimal("4.50"), False, False),
        (Decimal("3.90"), False, False),
        (Decimal("4.10"), False, True),
        (Decimal("4.80"), True, True),
    ]
    with store.writing() as session:
        make_current(session, ring, barn)
    assert [(row[2], row[3]) for row in standing(store, ring)] == [
        (False, False),
        (True, True),
        (False, False),
        (False, True),
    ]


def test_a_price_to_come_of_the_seller_that_costs_follow_is_only_noted(store: Store, ring: int) -> None:
    with store.writing() as session:
        add_offer(session, ring, offer(supplier="Quill Rings"))
        later = add_offer(session, ring, offer(supplier="Quill Rings", price="5.00", current="no"))
        with pytest.raises(Conflict, match="same pack"):
            stand_offer(session, ring, later, standing=True)
    assert standing(store, ring)[1][2:] == (False, False)


def test_an_offer_is_asked_no_more_and_again_but_never_the_one_that_costs_follow(store: Store, ring: int) -> None:
    with store.writing() as session:
        first = add_offer(session, ring, offer(supplier="Quill Rings"))
        barn = add_offer(session, ring, offer(supplier="Tarn Barn", current="no"))
        stand_offer(session, ring, barn, standing=False)
        with pytest.raises(Conflict, match="Costs follow"):
            stand_offer(session, ring, first, standing=False)
        with pytest.raises(Missing):
            stand_offer(session, ring + 1, barn, standing=True)
    assert standing(store, ring)[1][3] is False
    with store.writing() as session:
        stand_offer(session, ring, barn, standing=True)
    assert standing(store, ring)[1][3] is True


def test_the_same_offers_again_are_not_written_again(store: Store, ring: int) -> None:
    typed = [offer(supplier="Quill Rings", breaks="5 at 4"), offer(supplier="Tarn Barn", current="no", lead_days="3")]
    for _ in range(2):
        with store.writing() as session:
            for each in typed:
                add_offer(session, ring, each)
    assert len(standing(store, ring)) == 2


def test_a_new_seller_abroad_deals_in_its_money_and_the_newest_rate_counts(store: Store, ring: int) -> None:
    with store.writing() as session:
        add_offer(session, ring, offer(supplier="Harbour Metals", currency="USD", exchange_rate="0.9"))
        add_offer(
            session,
            ring,
            offer(supplier="Harbour Metals", pack="50", currency="USD", exchange_rate="0.8", current="no"),
        )
        supplier = session.exec(select(Supplier)).one()
        assert (supplier.currency, supplier.exchange_rate) == ("USD", Decimal("0.8"))
        # One rate for all that is asked there: 4.50 at 0.8.
        assert {each.price_micros for each in planning_offers(session)[0]} == {3_600_000}
