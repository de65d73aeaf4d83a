"""Reading bands, records of fits, questions about rings, own metals and suppliers."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from models.intake.faults import Faults
from models.intake.stock.metal import MetalDraft, read_metal
from models.intake.stock.ring import RingRequest, read_ring
from models.intake.stock.supplier import SupplierDraft, read_supplier
from models.intake.stock.weave import BandDraft, FitDraft, read_band, read_fit

BAND = {"smallest": "3", "low": "3.4", "high": "4,6", "largest": "5.5"}
FIT = {"weave": "byzantine", "wire": "1.0", "inner": "3.5", "verdict": "tight"}
RING = {"wire": "20 AWG", "inner": "1/8 in", "metal": "copper"}
METAL = {"name": "Shibuichi", "density": "9.6", "source": "weighed myself"}


def where(found: object) -> list[str]:
    assert isinstance(found, Faults), found
    return list(found.by_field())


def test_a_band_rises_from_too_small_to_too_open() -> None:
    assert read_band(BAND) == BandDraft(Decimal(3), Decimal("3.4"), Decimal("4.6"), Decimal("5.5"))
    assert where(read_band({**BAND, "low": "2.9"})) == ["low"]
    assert where(read_band({**BAND, "largest": "4.5"})) == ["largest"]


@pytest.mark.parametrize("typed", ["", "0.5", "51", "wide", "3.4567"])
def test_a_band_takes_aspect_ratios_only(typed: str) -> None:
    assert where(read_band({**BAND, "smallest": typed}))[0] == "smallest"


def test_a_record_of_a_fit_is_read_with_its_day() -> None:
    draft = read_fit({**FIT, "noted_on": "2026-03-02", "note": "Fiddly.", "metal": "copper"})
    assert isinstance(draft, FitDraft)
    assert (draft.size.wire_nm, draft.size.inner_nm, draft.noted_on) == (1_000_000, 3_500_000, date(2026, 3, 2))
    assert (draft.metal, draft.verdict) == ("copper", "tight")


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("weave", ""),
        ("weave", "knitting"),
        ("wire", "16ga"),
        ("inner", "0.5"),
        ("verdict", "lovely"),
        ("noted_on", "soon"),
    ],
)
def test_a_record_that_cannot_be_is_said_beside_its_field(field: str, typed: str) -> None:
    assert where(read_fit({**FIT, field: typed})) == [field]


def test_a_ring_is_asked_about_in_any_unit_with_or_without_a_cut() -> None:
    question = read_ring(RING)
    assert isinstance(question, RingRequest)
    assert (question.size.wire_nm, question.wire_label, question.metal.code, question.kerf_mm) == (
        811_821, "20 AWG", "copper", None,
    )  # fmt: skip
    cut = read_ring({**RING, "kerf": "0"})
    assert isinstance(cut, RingRequest)
    assert cut.kerf_mm == 0


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("wire", ""),
        ("inner", "20 AWG"),
        ("inner", "0.5 mm"),
        ("metal", "bronze"),
        ("metal", ""),
        ("kerf", "13 mm"),
        ("kerf", "-1"),
    ],
)
def test_a_ring_that_cannot_be_is_said_beside_its_field(field: str, typed: str) -> None:
    assert where(read_ring({**RING, field: typed})) == [field]


def test_a_metal_of_ones_own_needs_a_name_a_density_and_where_that_comes_from() -> None:
    draft = read_metal({**METAL, "tint": "#B97B48"})
    assert draft == MetalDraft("Shibuichi", Decimal("9.6"), "weighed myself", "#b97b48", "")
    for field in METAL:
        assert where(read_metal({**METAL, field: ""})) == [field]


@pytest.mark.parametrize(
    ("field", "typed"),
    [("density", "0.4"), ("density", "26"), ("density", "heavy"), ("density", "NaN"), ("tint", "red")],
)
def test_a_metal_that_cannot_be_is_said_beside_its_field(field: str, typed: str) -> None:
    assert where(read_metal({**METAL, field: typed})) == [field]


def test_a_supplier_is_read_with_or_without_the_days_an_order_takes() -> None:
    assert read_supplier({"name": " Quill Rings "}) == SupplierDraft("Quill Rings", "", None)
    assert read_supplier({"name": "Quill Rings", "lead_days": 7}) == SupplierDraft("Quill Rings", "", 7)
    assert where(read_supplier({"name": "", "lead_days": "-1"})) == ["name", "lead_days"]
