"""What people hand in about a bag on the scale."""

from __future__ import annotations

from decimal import Decimal

import pytest

from models.intake.faults import Faults
from models.intake.stock.weigh import CountedSample, WeighDraft, read_weigh


def read(**raw: object) -> WeighDraft:
    found = read_weigh(raw)
    assert isinstance(found, WeighDraft), found
    return found


def faults(**raw: object) -> dict[str, str]:
    found = read_weigh(raw)
    assert isinstance(found, Faults)
    return found.by_field()


def test_a_form_and_a_program_say_the_same_weighing() -> None:
    form = read(
        lot_id="3", place="drawer B4", gross_g="51.23 g", tare_g="2.51", scale_step_g="10 mg",
        sample=[{"rings": "50", "mass_g": "4,872"}, {"rings": "", "mass_g": ""}], sample_in_bag="yes",
    )  # fmt: skip
    program = read(
        lot_id=3, place="drawer B4", gross_g=Decimal("51.23"), tare_g=Decimal("2.51"), scale_step_g=Decimal("0.01"),
        sample={"rings": 50, "mass_g": Decimal("4.872")}, sample_in_bag=True,
    )  # fmt: skip
    assert form == program
    assert form.samples == (CountedSample(50, 4_872_000),)
    assert (form.gross_ug, form.tare_ug, form.step_ug) == (51_230_000, 2_510_000, 10_000)


def test_the_shop_s_own_scale_counts_where_no_step_is_said() -> None:
    found = read_weigh({"item_id": 1, "gross_g": 5}, step_ug=1_000)
    assert isinstance(found, WeighDraft)
    assert found.step_ug == 1_000
    assert found.tare_ug == 0


def test_a_ring_is_said_by_its_size_and_metal() -> None:
    found = read(wire="1.0 mm", inner="3.6 mm", metal="copper", gross_g=10)
    assert found.size is not None
    assert (found.size.wire_nm, found.size.inner_nm) == (1_000_000, 3_600_000)
    assert found.metal is not None
    assert found.metal.code == "copper"


@pytest.mark.parametrize(
    ("raw", "field", "words"),
    [
        ({}, "gross_g", "Give a weight."),
        ({"gross_g": 5}, "sample", "Say what is in the bag"),
        ({"item_id": 1, "gross_g": 5, "scale_step_g": 0}, "scale_step_g", "0.01 g"),
        ({"gross_g": 5, "sample": {"rings": 0, "mass_g": 1}}, "sample.0.rings", "1 or more"),
        ({"gross_g": 5, "sample": [{"rings": 3, "mass_g": 0}]}, "sample.0.mass_g", "shows nothing"),
        ({"gross_g": 5, "sample": [{"rings": 3}]}, "sample.0.mass_g", "Give a weight."),
        ({"gross_g": 5, "item_id": 1, "mass_from": "sample"}, "sample.0.rings", "Count some rings"),
        ({"gross_g": 5, "item_id": 1, "mass_from": "guess"}, "mass_from", "Choose one of"),
        ({"gross_g": 5, "wire": "16ga", "inner": "4", "metal": "copper"}, "wire", "Which gauge system?"),
        ({"gross_g": 5, "wire": "1", "inner": "4"}, "metal", "Choose what it is made of."),
        ({"gross_g": 5, "wire": "4", "inner": "3", "metal": "copper"}, "inner", "thicker than its opening"),
        ({"gross_g": 5, "sample": "fifty"}, "sample", "list"),
        ({"gross_g": 5, "sample": [{"rings": 1, "mass_g": 1}] * 31}, "sample", "at most 30"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(raw: dict[str, object], field: str, words: str) -> None:
    assert words in faults(**raw)[field]
