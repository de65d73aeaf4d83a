"""What an item's own page answers: ring facts, fits, what the bag says, designs that use it."""

from __future__ import annotations

from decimal import Decimal

import pytest

from models.database import Store
from models.intake.faults import Faults
from models.operations.shop.shop import SHOP_ID
from models.operations.stock.item import add_item
from models.queries.stock.item import item_reader
from models.queries.stock.item_page import ItemPage, item_form, item_page, metal_options, ring_sheet
from models.tables import Item, Shop
from models.trade.metals import METALS
from models.trade.rings import RingSize
from tests.shops import a_design, a_part, a_revision, a_ring

RING = {"kind": "ring", "metal": "bronze-c220", "wire": "1.0 mm", "inner": "3.6 mm"}


def put(store: Store, **fields: object) -> int:
    with store.writing() as session:
        draft = item_reader(session)({**RING, **fields})
        assert not isinstance(draft, Faults), draft
        return add_item(session, draft)


def page_of(store: Store, number: int) -> ItemPage:
    with store.reading() as session:
        return item_page(session, number)


def test_a_ring_s_page_has_its_facts_and_its_fit_with_every_weave(store: Store) -> None:
    page = page_of(store, put(store))
    assert page.sheet is not None
    assert page.sheet.facts.aspect_ratio == Decimal("3.6")
    assert "European 4-in-1" in page.sheet.comfortable
    assert len(page.sheet.working) + len(page.sheet.others) == len(page.sheet.fits)
    assert page.sheet.density.source == METALS["bronze-c220"].source


def test_a_weighed_mass_stands_in_for_the_computed_one_in_every_figure(store: Store) -> None:
    page = page_of(store, put(store, mass="5 g", mass_of="50"))
    assert page.sheet is not None
    facts = page.sheet.facts
    assert page.sheet.weighed
    assert abs(facts.mass_g - Decimal("0.1")) < Decimal("1e-30")
    assert abs(facts.rings_per_100g - 1000) < Decimal("1e-20")
    assert page.sheet.density.label == "Density of your rings"
    assert page.sheet.density.because[0].amount == METALS["bronze-c220"].density


def test_the_usual_cut_is_the_shop_s_and_says_nothing_about_a_ring_smaller_than_it(store: Store) -> None:
    copper = METALS["copper"]
    with store.writing() as session:
        shop = session.get(Shop, SHOP_ID)
        assert shop is not None
        shop.kerf_nm = 5_000_000
        assert ring_sheet(session, RingSize(1_000_000, 3_600_000), copper).facts.kerf_mm == 5
        assert ring_sheet(session, RingSize(300_000, 600_000), copper).facts.kerf_mm == 0
        with pytest.raises(ValueError, match="the cut"):
            ring_sheet(session, RingSize(300_000, 600_000), copper, kerf_mm=Decimal(5))


def test_the_page_says_how_the_real_wire_differs_from_what_the_bag_says(store: Store) -> None:
    page = page_of(store, put(store, wire="1.6 mm", wire_label="16 SWG", inner="6.4 mm"))
    assert page.label_note == (
        "Sold as 16 SWG, which is 1.626 mm by the table. The real wire is 1.6 mm, 0.026 mm thinner, "
        "and counts in every figure here."
    )
    assert page_of(store, put(store, wire="20 AWG")).label_note == ""
    assert page_of(store, put(store, wire="1.5 mm", wire_label="1/32 in")).label_note.startswith("Sold as 1/32 in")


def test_designs_that_use_an_item_are_named_with_how_much_of_it(store: Store) -> None:
    with store.writing() as session:
        ring, other = a_ring(session), a_ring(session, name="Other", inner_nm=5_000_000)
        a_design(session, [a_part(ring, 10, purpose="body"), a_part(ring, 2), a_part(other)], name="Reed")
        left = a_design(session, [a_part(ring, 7)], name="Alder")
        a_revision(session, left, [a_part(other, 7)], number=2)
    page = page_of(store, ring)
    assert [(use.name, use.quantity, use.now, use.purpose) for use in page.uses] == [
        ("Reed", 12, True, "body"),
        ("Alder", 7, False, ""),
    ]
    assert page.frozen.startswith("Reed, Alder use this ring, so its metal and sizes stay")
    assert page_of(store, other).frozen.startswith("Alder, Reed use this ring")


def test_an_unused_item_is_not_frozen_and_near_rings_are_shown(store: Store) -> None:
    with store.writing() as session:
        first, second = a_ring(session), a_ring(session, name="Nearly", wire_nm=1_020_000)
    page = page_of(store, first)
    assert page.frozen == ""
    assert [(ring.id, ring.wire_off_nm) for ring in page.near] == [(second, 20_000)]


def test_an_item_without_a_price_or_of_an_unknown_metal_still_has_a_page(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, metal="gone", price=None)
    page = page_of(store, ring)
    assert (page.sheet, page.cost, page.no_cost) == (None, None, "")
    assert page.item.metal_name == "gone"


def test_an_offer_that_no_longer_says_what_one_costs_says_why(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, pack=50, pack_unit="g")
        item = session.get(Item, ring)
        assert item is not None
        item.metal = "gone"
    page = page_of(store, ring)
    assert page.cost is None
    assert "weight of one is not known" in page.no_cost


def test_the_metals_that_the_stock_has_most_of_are_offered_first(store: Store) -> None:
    put(store, metal="niobium")
    put(store, metal="niobium", inner="5 mm")
    put(store, metal="copper")
    with store.reading() as session:
        options = metal_options(session)
        form = item_form(session, "chain")
    assert [code for code, _ in options[:2]] == ["niobium", "copper"]
    assert len(options) == len(METALS)
    assert form.units == (("m", "metres"), ("g", "grams"))
