"""What a buyer is told about keeping and wearing a piece."""

from __future__ import annotations

import pytest

from models.trade.care import GENERAL, NECKLACE, SMALL_PARTS, care_for, told_to_buyers
from models.trade.metals import METALS


def test_each_family_of_metals_is_told_once() -> None:
    lines = care_for([METALS["copper"], METALS["bronze-c220"], METALS["sterling-925"]])
    assert len(lines) == 2
    assert lines[0].startswith("Silver")


@pytest.mark.parametrize("code", METALS)
def test_every_metal_of_the_catalogue_has_a_line_of_care(code: str) -> None:
    assert care_for([METALS[code]])


@pytest.mark.parametrize("code", [code for code, metal in METALS.items() if "nickel" in " ".join(metal.notes).lower()])
def test_nickel_is_always_said(code: str) -> None:
    assert any("nickel" in line.lower() for line in told_to_buyers([METALS[code]], worn_round_the_neck=False))


def test_small_parts_are_always_said_and_a_chain_where_it_can_catch() -> None:
    assert told_to_buyers([METALS["niobium"]], worn_round_the_neck=False) == [SMALL_PARTS, GENERAL]
    assert NECKLACE in told_to_buyers([], worn_round_the_neck=True)


def test_nobody_is_told_that_a_piece_complies() -> None:
    for metal in METALS.values():
        for line in (*care_for([metal]), *told_to_buyers([metal], worn_round_the_neck=True)):
            assert "compl" not in line.lower()
            assert "safe" not in line.lower()
