"""The shop's own bands and records, its own metals, and its suppliers."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from models.database import Store
from models.errors import Conflict, Missing, Stale, Unfit
from models.intake.stock.metal import MetalDraft
from models.intake.stock.supplier import SupplierDraft
from models.intake.stock.weave import BandDraft, FitDraft
from models.operations.designs.layout import add_laid_out_design
from models.operations.stock.metal import add_metal, edit_metal, remove_metal
from models.operations.stock.supplier import add_supplier, edit_supplier
from models.operations.stock.weave import forget_fit, record_fit, reset_band, set_band
from models.queries.stock.metal import all_metals, metals_page, own_metal
from models.queries.stock.supplier import list_suppliers, supplier_names, supplier_page
from models.queries.stock.weave import fit_records, list_weaves, shop_weaves, weave_page
from models.tables import DesignFigure
from models.trade.metals import METALS
from models.trade.rings import RingSize
from tests.laid import a_laid_design, lozenge_raw, read, stock_two
from tests.shops import a_design, a_part, a_ring

BAND = BandDraft(Decimal("2.9"), Decimal("3.2"), Decimal("3.4"), Decimal("5"))
SIZE = RingSize(1_000_000, 3_600_000)
FIT = FitDraft("byzantine", SIZE, "copper", "too small", "The fourth ring would not go in.", None)
METAL = MetalDraft("Shibuichi", Decimal("9.6"), "weighed myself", "#8f8a80", "")


def test_the_shop_s_own_band_decides_in_the_place_of_the_catalogue_s(store: Store) -> None:
    with store.reading() as session:
        before = shop_weaves(session).fit("european-4-in-1", SIZE)
    with store.writing() as session:
        set_band(session, "european-4-in-1", BAND, version=0)
    with store.reading() as session:
        after = shop_weaves(session).fit("european-4-in-1", SIZE)
        page = weave_page(session, "european-4-in-1")
        row = next(row for row in list_weaves(session) if row.weave.code == "european-4-in-1")
    assert (before.verdict, after.verdict, after.deciding) == ("comfortable", "loose", Decimal("3.4"))
    assert (page.own_band, page.version, row.own_band) == (True, 1, True)


def test_a_band_goes_back_to_the_catalogue_s(store: Store) -> None:
    with store.writing() as session:
        set_band(session, "byzantine", BAND, version=0)
        reset_band(session, "byzantine", version=1)
        page = weave_page(session, "byzantine")
    assert (page.own_band, page.version, page.band) == (False, 0, page.weave.band)


def test_a_stale_band_is_refused_with_both_values(store: Store) -> None:
    with store.writing() as session:
        set_band(session, "byzantine", BAND, version=0)
        with pytest.raises(Stale) as stale:
            set_band(session, "byzantine", replace(BAND, high=Decimal("3.8")), version=0)
        with pytest.raises(Stale):
            reset_band(session, "byzantine", version=0)
    assert stale.value.changes == (("Comfortable to", "3.4", "3.8"),)


def test_a_record_of_what_fitted_wins_over_every_band_and_can_be_taken_out(store: Store) -> None:
    with store.writing() as session:
        record = record_fit(session, FIT)
        found = shop_weaves(session).fit("byzantine", RingSize(1_020_000, 3_620_000))
        rows = fit_records(session, near=SIZE)
    assert (found.verdict, found.own_record) == ("too small", True)
    assert "The fourth ring" in found.reason
    assert [(row.id, row.weave_name, row.metal) for row in rows] == [(record, "Byzantine", "copper")]
    with store.writing() as session:
        assert forget_fit(session, record) == "byzantine"
        assert not shop_weaves(session).fit("byzantine", SIZE).own_record
        with pytest.raises(Missing):
            forget_fit(session, record)


def test_a_record_of_an_unknown_metal_or_an_unknown_weave_is_refused(store: Store) -> None:
    with store.writing() as session, pytest.raises(Unfit):
        record_fit(session, replace(FIT, metal="cheese"))
    with store.writing() as session, pytest.raises(Missing):
        set_band(session, "knitting", BAND, version=0)


def test_a_metal_of_ones_own_stands_beside_the_catalogue(store: Store) -> None:
    with store.writing() as session:
        assert add_metal(session, METAL) == "shibuichi"
        assert add_metal(session, replace(METAL, name="Shibuichi!")) == "shibuichi-2"
        metals = all_metals(session)
    assert list(metals)[:2] == ["shibuichi", "shibuichi-2"]
    assert metals["shibuichi"].density == Decimal("9.6")
    assert len(metals) == len(METALS) + 2


def test_a_metal_s_name_is_given_once_and_never_takes_the_code_of_another(store: Store) -> None:
    with store.writing() as session:
        assert add_metal(session, replace(METAL, name="Copper ")) == "copper-2"
    with store.writing() as session, pytest.raises(Unfit):
        add_metal(session, replace(METAL, name="sterling silver 925"))


def test_a_corrected_density_moves_the_costs_of_what_is_made_of_it(store: Store) -> None:
    with store.writing() as session:
        code = add_metal(session, METAL)
        ring = a_ring(session, metal=code, price="10", pack=50, pack_unit="g")
        design = a_design(session, [a_part(ring, 100)])
        edit_metal(session, code, replace(METAL, density=Decimal("4.8")), version=1)
        light = session.get(DesignFigure, design)
        assert light is not None
        light_micros = light.materials_micros
        edit_metal(session, code, METAL, version=2)
        heavy = session.get(DesignFigure, design)
        assert heavy is not None
        assert abs(heavy.materials_micros - 2 * light_micros) <= 2


def test_a_stale_metal_is_refused_and_one_in_use_cannot_be_taken_out(store: Store) -> None:
    with store.writing() as session:
        code = add_metal(session, METAL)
        edit_metal(session, code, replace(METAL, note="Takes a fine patina."), version=1)
        with pytest.raises(Stale) as stale:
            edit_metal(session, code, replace(METAL, density=Decimal(9)), version=1)
        a_ring(session, metal=code)
        assert own_metal(session, code).used
        assert metals_page(session).own[0].items == 1
        with pytest.raises(Conflict, match="made of Shibuichi"):
            remove_metal(session, code)
    assert {label for label, _, _ in stale.value.changes} == {"Density", "Note"}


def test_a_metal_of_a_ring_that_no_row_uses_yet_stays_too(store: Store) -> None:
    with store.writing() as session:
        code = add_metal(session, METAL)
        other = add_metal(session, replace(METAL, name="Shibuichi dark"))
        stock_two(session)
        raw = lozenge_raw()
        raw["palette"].append({"key": "t9", "kind": "ring", "metal": code, "wire": "1.0 mm", "inner": "4.0 mm"})
        add_laid_out_design(session, replace(a_laid_design(), layout=read(raw)))
        assert own_metal(session, code).used
        with pytest.raises(Conflict, match="made of Shibuichi"):
            remove_metal(session, code)
        remove_metal(session, other)


def test_a_metal_that_nothing_is_made_of_can_be_taken_out(store: Store) -> None:
    with store.writing() as session:
        code = add_metal(session, METAL)
        remove_metal(session, code)
        assert code not in all_metals(session)
        with pytest.raises(Missing):
            own_metal(session, code)
        with pytest.raises(Missing):
            remove_metal(session, "copper")


def test_suppliers_are_kept_once_each_and_changed_by_version(store: Store) -> None:
    quill = SupplierDraft("Quill Rings", "Rings in bags of 100.", 5)
    with store.writing() as session:
        number = add_supplier(session, quill)
        with pytest.raises(Unfit):
            add_supplier(session, replace(quill, name="QUILL rings"))
        edit_supplier(session, number, replace(quill, lead_days=9), version=1)
        with pytest.raises(Stale) as stale:
            edit_supplier(session, number, replace(quill, lead_days=None), version=1)
        other = add_supplier(session, replace(quill, name="Ärger & Söhne"))
        with pytest.raises(Unfit):
            edit_supplier(session, other, replace(quill, name="quill rings"), version=1)
        with pytest.raises(Missing):
            edit_supplier(session, 99, quill, version=1)
        assert supplier_names(session) == ("Quill Rings", "Ärger & Söhne")
        assert supplier_page(session, number).offers == ()
        assert [supplier.items for supplier in list_suppliers(session)] == [0, 0]
    assert stale.value.changes == (("Days until it is here", "9", ""),)
