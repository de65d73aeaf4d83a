"""The cost of a saved design and of a draft, from rows to lines."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlmodel import select

from models.costing.lines import Line, adds_up
from models.costing.prices import OnePrice
from models.database import Store
from models.errors import Missing
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft, WorkDraft
from models.queries.costing.costing import (
    CostSettings,
    cost_of_design,
    cost_of_draft,
    cost_of_revision,
    revision_of,
    view_revision,
)
from models.queries.costing.inputs import latest_revisions, load_cost_inputs, load_shop_facts
from models.tables import FitRecord, Item, Offer, Shop
from tests.shops import (
    NOON,
    USUAL_WORK,
    a_design,
    a_finding,
    a_listed_price,
    a_part,
    a_revision,
    a_ring,
    an_outlet,
    counted,
)


def materials(store: Store, design_id: int) -> tuple[Line, ...]:
    with store.reading() as session:
        return cost_of_design(session, design_id).cost.materials.lines


def test_a_saved_design_and_the_same_draft_cost_the_same(store: Store) -> None:
    with store.writing() as session:
        ring, wire = a_ring(session), a_finding(session)
        design = a_design(session, [a_part(ring, 48, purpose="the leaf"), a_part(wire)])
        an_outlet(session)
    draft = DesignDraft(
        name="Copper leaf pendant",
        piece="pendant",
        weave="byzantine",
        parts=(PartDraft(48_000, item_id=ring, purpose="the leaf"), PartDraft(1000, item_id=wire)),
        work=tuple(WorkDraft(kind) for kind in USUAL_WORK),
    )
    with store.reading() as session:
        saved, unsaved = cost_of_design(session, design), cost_of_draft(session, draft)
        assert saved.cost == unsaved.cost
        assert [view.prices.suggested for view in saved.outlets] == [view.prices.suggested for view in unsaved.outlets]
        assert saved.design_id == design
        assert unsaved.design_id is None
        assert adds_up(saved.cost.line)


def test_every_material_tells_its_pack_its_price_and_its_supplier_date(store: Store) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session), 48)])
    (line,) = materials(store, design)
    in_piece, spoiled = line.lines
    assert in_piece.unit_amount == Decimal("0.04")
    assert in_piece.quantity == 48
    assert spoiled.label == "Spoiled or dropped"
    price, pack = in_piece.because[:2]
    assert price.amount == 4
    assert pack.amount == 100
    assert "2026-03-02" in price.source


def test_rings_bought_by_weight_are_counted_by_their_own_mass(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, price="30.00", pack=50, pack_unit="g")
        design = a_design(session, [a_part(ring, 10, allowance_percent=Decimal(0))])
    with store.reading() as session:
        view = cost_of_design(session, design)
        thing = view.parts[0].thing
        assert thing.mass_g is not None
        assert thing.unit_cost is not None
        assert abs(thing.unit_cost.amount - 30 * thing.mass_g / 50) < Decimal("1e-20")
        labels = [line.label for line in thing.unit_cost.lines]
        assert "Mass of one ring" in labels
        mass = next(line for line in thing.unit_cost.lines if line.label == "Mass of one ring")
        assert any(fact.label.startswith("Density") and fact.source for fact in mass.because)


def test_a_measured_mass_wins_over_the_computed_one(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, price="30.00", pack=50, pack_unit="g")
        item = session.get(Item, ring)
        assert item is not None
        item.mass_ug = 100_000
        design = a_design(session, [a_part(ring, 10, allowance_percent=Decimal(0))])
    with store.reading() as session:
        view = cost_of_design(session, design)
        assert view.cost.materials.amount == Decimal("0.6")
        assert view.mass_g == 1


def test_an_offer_in_another_currency_is_exchanged_and_says_so(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, price="10.00", currency="USD", rate="0.9")
        design = a_design(session, [a_part(ring, 10, allowance_percent=Decimal(0))])
    (line,) = materials(store, design)
    assert line.amount == Decimal("0.9")
    assert [fact.label for fact in line.because[:2]] == ["Price asked", "One USD"]
    assert line.because[0].amount_unit == "USD"


def test_without_a_current_offer_the_last_price_is_provisional(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        session.exec(select(Offer)).one().current = False
        design = a_design(session, [a_part(ring, 10)])
    with store.reading() as session:
        view = cost_of_design(session, design)
        assert view.provisional
        assert view.guessed == ("Bronze ring 1.0 × 3.6 mm",)
        assert view.unpriced == ()


def test_the_current_offer_wins_over_a_later_one(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        later = Offer(
            item_id=ring, pack_milli=1000, pack_unit="piece", price_micros=9_000_000, currency="EUR", current=False,
            created_at=NOON,
        )  # fmt: skip
        session.add(later)
        design = a_design(session, [a_part(ring, 10)])
    with store.reading() as session:
        view = cost_of_design(session, design)
        assert view.parts[0].thing.unit_cost is not None
        assert view.parts[0].thing.unit_cost.amount == Decimal("0.04")
        assert not view.provisional


def test_an_unpriced_item_is_named_with_the_item_to_price(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, price=None)
        design = a_design(session, [a_part(ring, 10), a_part(ring, 2)])
    with store.reading() as session:
        view = cost_of_design(session, design)
        (unpriced,) = view.unpriced
        assert unpriced.item_id == ring
        assert "price" in unpriced.why
        assert view.provisional
        assert view.cost.materials.amount == 0


def test_a_guess_stands_in_for_the_price_of_an_item_or_a_typed_ring(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, price=None)
        typed = {
            "typed_kind": "ring",
            "typed_metal": "copper",
            "typed_wire_nm": 1_200_000,
            "typed_inner_nm": 4_000_000,
            "typed_colour": "green",
        }
        design = a_design(
            session,
            [
                a_part(ring, 10, guess_micros=50_000, allowance_percent=Decimal(0)),
                a_part(None, 5, guess_micros=20_000, allowance_percent=Decimal(0), **typed),
            ],
        )
    with store.reading() as session:
        view = cost_of_design(session, design)
        assert view.cost.materials.amount == Decimal("0.6")
        assert view.unpriced == ()
        assert view.guessed == ("Bronze ring 1.0 × 3.6 mm", "Green copper ring 1.2 × 4.0 mm")
        typed_ring = view.parts[1].thing
        assert typed_ring.mass_g == typed_ring.size.mass_g(Decimal("8.96"))  # type: ignore[union-attr]


def test_the_usual_choice_is_the_first_and_another_can_be_picked(store: Store) -> None:
    with store.writing() as session:
        bronze = a_ring(session)
        silver = a_ring(session, name="Silver ring", metal="sterling-925", price="40.00")
        design = a_design(
            session,
            [
                a_part(bronze, 48, choice_group="colour", choice_name="bronze"),
                a_part(silver, 48, choice_group="colour", choice_name="silver"),
            ],
        )
    with store.reading() as session:
        usual = cost_of_design(session, design)
        picked = cost_of_design(session, design, choices={"colour": "silver"})
        assert [part.thing.name for part in usual.parts] == ["Bronze ring 1.0 × 3.6 mm"]
        assert [part.thing.name for part in picked.parts] == ["Silver ring"]
        (choice,) = picked.choices
        assert [(option.value, option.picked) for option in choice.options] == [
            ("colour=bronze", False),
            ("colour=silver", True),
        ]
        with pytest.raises(ValueError, match="gold"):
            cost_of_design(session, design, choices={"colour": "gold"})


def test_an_optional_part_counts_only_when_it_is_asked_for(store: Store) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session), 48), a_part(a_finding(session), 1, optional=True)])
    with store.reading() as session:
        without = cost_of_design(session, design)
        within = cost_of_design(session, design, with_optional=[1])
        assert within.cost.materials.amount - without.cost.materials.amount == Decimal("0.24")
        assert [one.counted for one in within.optional] == [True]


def test_pieces_made_together_share_the_setting_up(store: Store) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session), 48)])
    with store.reading() as session:
        one, ten = cost_of_design(session, design), cost_of_design(session, design, pieces=10)
        assert ten.cost.per_piece < one.cost.per_piece
        assert ten.cost.total == ten.cost.per_piece * 10


def test_earlier_revisions_can_be_costed(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        design = a_design(session, [a_part(ring, 48)])
        a_revision(session, design, [a_part(ring, 24)], number=2)
    with store.reading() as session:
        first = cost_of_design(session, design, number=1)
        latest = cost_of_design(session, design)
        assert first.parts[0].quantity == 48
        assert latest.parts[0].quantity == 24
        assert cost_of_revision(session, revision_of(session, design, 1)).cost == first.cost
        with pytest.raises(Missing):
            cost_of_design(session, design, number=3)
        with pytest.raises(Missing):
            cost_of_design(session, 999)


def test_the_headline_is_the_first_outlet_with_a_listed_price(store: Store) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session), 48)])
        an_outlet(session)
        market = an_outlet(session, name="Market", kind="market", position=1, fees=())
    with store.reading() as session:
        view = cost_of_design(session, design)
        assert view.headline is not None
        assert view.headline.name == "Web shop"
        assert view.headline.standing == "not listed"
    with store.writing() as session:
        a_listed_price(session, design, market, "1.00")
    with store.reading() as session:
        view = cost_of_design(session, design)
        assert view.headline is not None
        assert view.headline.name == "Market"
        assert view.headline.standing == "below break-even"


def test_a_typed_price_shows_its_sale_and_is_not_kept(store: Store) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session), 48)])
        outlet = an_outlet(session)
    with store.reading() as session:
        view = view_revision(
            session, revision_of(session, design), CostSettings(prices={outlet: Decimal("55.00")}), moves=True
        )
        (web,) = view.outlets
        assert web.typed_sale is not None
        assert web.typed_sale.price_shown == 55
        assert web.listed is None
        assert web.sale is web.typed_sale
        assert "Wage" in {move.label for move in view.moves}
        assert view.everywhere is None


def test_the_buyers_money_is_told_in_six_lines_that_add_up(store: Store) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session), 48)])
        fees = (("Selling", "6.5", "price", "0.20"), ("Payment", "3", "price+shipping+tax", "0.30"))
        taxed = {"tax_percent": Decimal(20), "postage_paid": Decimal(3), "period_fee": Decimal(10)}
        an_outlet(session, fees=fees, **taxed)
        an_outlet(session, name="Plain", position=1, fees=())
    with store.reading() as session:
        web, plain = cost_of_design(session, design).outlets
        assert web.sale is not None
        assert plain.sale is not None
        lines = web.where_it_goes(web.sale)
        labels = ["Materials", "Labour", "Overhead", "Fees and postage", "Tax", "Profit"]
        assert [line.label for line in lines] == labels
        assert sum(line.amount for line in lines) == web.sale.buyer_pays
        assert [line.label for line in lines[3].lines] == [
            "Selling", "Payment", "Share of the stall or month", "Postage you pay"
        ]  # fmt: skip
        assert [line.label for line in plain.where_it_goes(plain.sale)] == [*labels[:3], "Profit"]


def test_one_price_everywhere_names_where_it_earns_least(store: Store) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session), 48)])
        an_outlet(session)
        an_outlet(session, name="Gallery", kind="consignment", position=1, fees=(("Commission", "40", "price", "0"),))
        shop = session.get(Shop, 1)
        assert shop is not None
        shop.one_price = True
    with store.reading() as session:
        view = cost_of_design(session, design)
        assert isinstance(view.everywhere, OnePrice)
        assert view.everywhere.earns_least_at == "Gallery"
        assert {one.suggested for one in view.outlets} == {view.everywhere.retail}


def test_rings_are_judged_by_the_weave_and_the_shops_own_record_wins(store: Store) -> None:
    with store.writing() as session:
        tight = a_ring(session, name="Tight", wire_nm=1_200_000, inner_nm=3_600_000)
        bail = a_ring(session, name="Bail", inner_nm=8_000_000)
        design = a_design(session, [a_part(tight, 48), a_part(bail, 1)], weave="byzantine")
    with store.reading() as session:
        view = cost_of_design(session, design)
        assert [one.fit.verdict for one in view.fits] == ["tight", "loose"]
        assert [one.part.thing.name for one in view.short_fits] == ["Tight"]
    with store.writing() as session:
        session.add(
            FitRecord(
                weave="byzantine", wire_nm=1_200_000, inner_nm=3_600_000, verdict="comfortable",
                noted_on=NOON.date(), created_at=NOON,
            )
        )  # fmt: skip
    with store.reading() as session:
        view = cost_of_design(session, design)
        assert view.short_fits == ()
        assert view.fits[0].fit.own_record


def test_a_hub_weave_is_judged_by_hub_and_connector_together(store: Store) -> None:
    with store.writing() as session:
        hub = a_ring(session, name="Hub", wire_nm=1_200_000, inner_nm=6_000_000)
        small = a_ring(session, name="Connector", wire_nm=1_000_000, inner_nm=2_600_000)
        design = a_design(session, [a_part(hub, 20), a_part(small, 60)], weave="japanese-6-in-1")
    with store.reading() as session:
        (one,) = cost_of_design(session, design).fits
        assert one.fit.aspect_ratio == 6
        assert one.part.thing.name == "Hub"


def test_reading_many_designs_takes_no_more_queries_than_one(store: Store) -> None:
    with store.writing() as session:
        rings = [a_ring(session, name=f"Ring {n}", wire_nm=800_000 + n * 50_000) for n in range(6)]
        an_outlet(session)
        for n in range(12):
            a_design(session, [a_part(ring, 5 + n) for ring in rings], name=f"Design {n}")
    with store.reading() as session:
        metals = load_shop_facts(session).metals
        every = tuple(latest_revisions(session).values())
        with counted(session) as for_one:
            assert len(load_cost_inputs(session, every[:1], metals)) == 1
        with counted(session) as for_all:
            assert len(load_cost_inputs(session, every, metals)) == 12
        assert len(for_all) == len(for_one)
