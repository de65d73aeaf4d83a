"""A design beside a variant of it: quantities stay; fit, mass and cost follow; nothing is stored."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.errors import Missing
from models.intake.designs.variant import PartSwap, VariantDraft, read_variant
from models.intake.faults import Faults
from models.operations.designs.design import add_design
from models.operations.designs.layout import add_laid_out_design
from models.queries.costing.costing import cost_of_design, cost_of_draft
from models.queries.designs.design import draft_of
from models.queries.designs.variants import VariantsPage, variants_page, varied_draft
from models.tables import Design, Revision
from models.trade.metals import METALS
from tests.laid import a_laid_design, stock_two
from tests.shops import a_design, a_finding, a_part, a_ring, an_outlet

SWAP = VariantDraft("bronze-c220", "sterling-925")


def a_shop(session: Session) -> int:
    bronze = a_ring(session)
    a_ring(session, name="Silver ring", metal="sterling-925", price="62.00", pack=1, pack_unit="ozt")
    bail = a_ring(session, name="Bronze bail", wire_nm=1_200_000, inner_nm=6_000_000, price="11.00", pack_unit="g")
    an_outlet(session)
    parts = [a_part(bronze, 48, purpose="the leaf"), a_part(bail, 1, purpose="bail"), a_part(a_finding(session), 2)]
    return a_design(session, parts)


def page_of(session: Session, design: int, draft: VariantDraft) -> VariantsPage:
    page, faults = variants_page(session, design, draft)
    assert faults is None
    return page


def test_nothing_different_yet_shows_one_side(store: Store) -> None:
    with store.writing() as session:
        page = page_of(session, a_shop(session), VariantDraft())
    assert page.other is None
    assert [place for place, _ in page.rings] == [0, 1]
    assert page.metals_here == (("bronze-c220", "commercial bronze C220"),)


def test_another_metal_keeps_quantities_and_sizes_and_moves_mass_and_cost(store: Store) -> None:
    with store.writing() as session:
        page = page_of(session, a_shop(session), SWAP)
    assert page.other is not None
    assert page.comparison is not None
    for before, after in zip(page.this.parts, page.other.parts, strict=True):
        assert after.quantity == before.quantity
        assert after.thing.size == before.thing.size
    bronze, silver = METALS["bronze-c220"].density, METALS["sterling-925"].density
    rings = sum(part.quantity * (part.thing.mass_g or 0) for part in page.this.parts if part.thing.size)
    gained = page.other.mass_g - page.this.mass_g
    assert abs(gained - rings * (silver / bronze - 1)) < Decimal("1e-20")
    assert page.other.cost.labour.amount == page.this.cost.labour.amount
    assert page.other.cost.materials.amount > page.this.cost.materials.amount
    row = next(row for row in page.telling_rows if row.label == "Cost of one piece")
    assert row.difference == page.other.cost.per_piece - page.this.cost.per_piece
    assert page.name == "Copper leaf pendant, sterling silver 925"


def test_a_ring_in_stock_is_taken_at_its_price_and_another_is_estimated_by_weight(store: Store) -> None:
    with store.writing() as session:
        page = page_of(session, a_shop(session), SWAP)
    leaf, bail = page.swapped
    assert leaf.after.thing.name == "Silver ring"
    assert leaf.price_words == "from your stock"
    assert bail.after.thing.item_id is None
    silver, estimate = leaf.after.thing, bail.after.thing
    assert silver.unit_cost is not None
    assert estimate.unit_cost is not None
    assert estimate.unit_cost.provisional
    assert silver.mass_g is not None
    assert estimate.mass_g is not None
    a_gram = silver.unit_cost.amount / silver.mass_g
    assert abs(estimate.unit_cost.amount - a_gram * estimate.mass_g) < Decimal("1e-20")
    assert page.other is not None
    assert page.other.provisional


def test_a_metal_that_is_not_in_stock_is_left_unpriced_and_says_so(store: Store) -> None:
    with store.writing() as session:
        page = page_of(session, a_shop(session), VariantDraft("bronze-c220", "titanium"))
    assert page.other is not None
    assert len(page.other.unpriced) == 2
    assert "none of your rings is of this metal" in page.swapped[0].price_words


def test_findings_of_the_metal_stay_and_are_named(store: Store) -> None:
    with store.writing() as session:
        silver = a_ring(session, name="Silver ring", metal="sterling-925")
        design = a_design(session, [a_part(silver, 10), a_part(a_finding(session), 2)])
        page = page_of(session, design, VariantDraft("sterling-925", "copper"))
    assert page.kept == ("Ear wire",)


def test_another_size_changes_the_fit_with_its_reason(store: Store) -> None:
    with store.writing() as session:
        page = page_of(session, a_shop(session), VariantDraft(parts={0: PartSwap(inner_nm=2_800_000)}))
    assert page.other is not None
    assert page.this.short_fits == ()
    (short,) = page.other.short_fits
    assert short.fit.verdict == "too small"
    assert "2.80" in short.fit.reason
    assert page.resized
    fit = next(row for row in page.telling_rows if row.label == "Fit of the weave")
    assert (fit.left_words, fit.right_words) == ("comfortable", "too small")
    assert page.name == "Copper leaf pendant, rings of 1 × 2.8 mm"


def test_an_item_can_be_picked_and_a_price_guessed(store: Store) -> None:
    with store.writing() as session:
        design = a_shop(session)
        silver = next(item_id for item_id, name in page_of(session, design, VariantDraft()).stock if "Silver" in name)
        picked = page_of(session, design, VariantDraft(parts={0: PartSwap(item_id=silver)}))
        guessed = page_of(session, design, VariantDraft(parts={0: PartSwap(colour="red", guess=Decimal("0.5"))}))
    assert picked.swapped[0].after.thing.item_id == silver
    assert not picked.other.provisional  # type: ignore[union-attr]
    assert guessed.swapped[0].after.thing.name == "Red commercial bronze C220 ring 1.0 × 3.6 mm"
    assert guessed.swapped[0].after.thing.unit_cost.amount == Decimal("0.5")  # type: ignore[union-attr]


def test_a_near_size_in_stock_is_taken_for_the_one_that_was_typed(store: Store) -> None:
    with store.writing() as session:
        design = a_shop(session)
        draft = VariantDraft(parts={1: PartSwap(metal="sterling-925", wire_nm=1_020_000, inner_nm=3_590_000)})
        page = page_of(session, design, draft)
    assert page.swapped[0].after.thing.name == "Silver ring"


def test_what_cannot_be_is_named_beside_its_field(store: Store) -> None:
    with store.writing() as session:
        design = a_shop(session)
        draft = VariantDraft(parts={0: PartSwap(item_id=999), 1: PartSwap(inner_nm=500_000)})
        page, faults = variants_page(session, design, draft)
        assert isinstance(faults, Faults)
        assert set(faults.by_field()) == {"part.0.item", "part.1.inner"}
        assert page.other is None
        with pytest.raises(Missing):
            variants_page(session, 99, SWAP)


def test_the_fields_are_read_by_part() -> None:
    raw = {
        "from_metal": "copper",
        "to_metal": "gold",
        "part": [{"item": "", "wire": ""}, {"wire": "16 SWG", "metal": "niobium", "guess": "0,05"}, {"inner": "x"}],
    }
    draft, faults = read_variant(raw, metals=METALS)
    assert draft.parts == {1: PartSwap(wire_nm=1_625_600, metal="niobium", guess=Decimal("0.05"))}
    assert faults is not None
    assert set(faults.by_field()) == {"to_metal", "part.2.inner"}


def test_a_copy_costs_what_the_variant_costs_and_keeps_no_measurements(store: Store) -> None:
    with store.writing() as session:
        design = a_shop(session)
        revision = session.exec(select(Revision)).one()
        revision.measured_mass_ug, revision.width_nm = 5_000_000, 20_000_000
        session.flush()
        page = page_of(session, design, SWAP)
        assert page.other is not None
        draft = varied_draft(session, design, page, page.name)
        assert draft.measured_mass_ug is None
        assert draft.width_nm == 20_000_000
        copied = add_design(session, draft, copied_from_id=design)
        assert cost_of_draft(session, draft).cost == cost_of_design(session, copied).cost
        difference = cost_of_design(session, copied).cost.per_piece - page.other.cost.per_piece
        # A guess is kept to a millionth for each ring.
        assert abs(difference) < Decimal("0.0001")
        smaller = page_of(session, design, VariantDraft(parts={0: PartSwap(inner_nm=3_400_000)}))
        assert varied_draft(session, design, smaller, "x").width_nm is None
        assert len(session.exec(select(Design)).all()) == 2


def test_a_laid_out_design_is_varied_in_its_rows(store: Store) -> None:
    with store.writing() as session:
        stock_two(session)
        design = add_laid_out_design(session, a_laid_design())
        page = page_of(session, design, VariantDraft("niobium", "titanium"))
        draft = varied_draft(session, design, page, page.name)
        copy_id = add_design(session, draft)
        kept = draft_of(session, copy_id)
        assert kept.layout is not None
        assert [entry.key for entry in kept.layout.palette] == ["i1", "t2", "i2"]
        assert kept.layout.net().counts == {"t2": 8, "i1": 2, "i2": 1}
        titanium = next(part for part in kept.parts if part.layout_key == "t2")
        assert (titanium.typed_metal, titanium.quantity_milli) == ("titanium", 8000)
        # Every ring becomes the bronze one: the two keys of the rows become one.
        page = page_of(session, design, VariantDraft(parts={1: PartSwap(item_id=1)}))
        same = add_design(session, varied_draft(session, design, page, "All bronze"))
        assert [(part.layout_key, part.quantity_milli) for part in draft_of(session, same).parts][:2] == [
            ("i1", 10_000),
            ("i2", 1000),
        ]
