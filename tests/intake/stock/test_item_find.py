"""Reading what people look for."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.intake.faults import Faults
from models.intake.stock.item_find import ItemFilter, read_item_filter, read_terms


@pytest.mark.parametrize(
    ("typed", "terms"),
    [
        ("20 AWG", [("20 awg", 811_821)]),
        ("20awg", [("20awg", 811_821)]),
        ("1/8", [("1/8", 3_175_000)]),
        ("3.2", [("3.2", 3_200_000)]),
        ("3,2 mm", [("3,2 mm", 3_200_000)]),
        ("green niobium", [("green", None), ("niobium", None)]),
        ("1.2 x 4.0 bronze", [("1.2", 1_200_000), ("4.0", 4_000_000), ("bronze", None)]),
        ("1.2×4.0", [("1.2", 1_200_000), ("4.0", 4_000_000)]),
        ("5/32 in copper", [("5/32 in", 3_968_750), ("copper", None)]),
        ("16ga", [("16ga", None)]),
        ("c220", [("c220", None)]),
        ("", []),
    ],
)
def test_what_is_typed_is_taken_apart_into_sizes_and_words(typed: str, terms: list[tuple[str, int | None]]) -> None:
    assert [(term.word, term.size_nm) for term in read_terms(typed)] == terms


def test_a_bare_number_is_in_the_shop_s_own_unit() -> None:
    assert read_terms("0.125", length_unit="in")[0].size_nm == 3_175_000


def test_filters_are_read_in_any_unit() -> None:
    wanted = read_item_filter(
        {"wire": "16 SWG", "inner": "1/4", "ar_from": "3,5", "ar_to": "4", "kind": "ring", "page": "2"}
    )
    assert isinstance(wanted, ItemFilter)
    assert (wanted.wire_nm, wanted.inner_nm, wanted.ar_from, wanted.page) == (1_625_600, 6_350_000, Decimal("3.5"), 2)
    assert wanted.narrows
    nothing = read_item_filter({"page": "3"})
    assert isinstance(nothing, ItemFilter)
    assert not nothing.narrows


@pytest.mark.parametrize(
    ("raw", "where"),
    [
        ({"wire": "16ga"}, "wire"),
        ({"inner": "x"}, "inner"),
        ({"ar_from": "4", "ar_to": "3"}, "ar_to"),
        ({"kind": "nugget"}, "kind"),
        ({"page": "0"}, "page"),
        ({"find": "x" * 101}, "find"),
    ],
)
def test_a_filter_that_cannot_be_is_said_beside_its_field(raw: dict[str, str], where: str) -> None:
    found = read_item_filter(raw)
    assert isinstance(found, Faults)
    assert list(found.by_field()) == [where]


@given(st.text(max_size=100))
def test_anything_may_be_looked_for(text: str) -> None:
    assert isinstance(read_item_filter({"find": text}), ItemFilter | Faults)
