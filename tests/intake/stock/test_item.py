"""Reading a stock item: what each kind needs, how sizes and labels are kept, and what is said when something is wrong."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.intake.faults import Faults
from models.intake.stock.item import ITEM_COLUMNS, ItemDraft, find_metal, read_item, usual_name
from models.trade.metals import METALS
from models.trade.vocabulary.things import ITEM_KINDS, PART_KINDS

RING = {"kind": "ring", "metal": "bronze-c220", "wire": "1.0 mm", "inner": "3.6 mm"}


def read(**fields: object) -> ItemDraft:
    draft = read_item({**RING, **fields}, currency="EUR")
    assert isinstance(draft, ItemDraft), draft
    return draft


def faults(**fields: object) -> dict[str, str]:
    found = read_item({**RING, **fields}, currency="EUR")
    assert isinstance(found, Faults), found
    return found.by_field()


def test_a_ring_needs_only_its_metal_and_two_sizes() -> None:
    draft = read()
    assert (draft.wire_nm, draft.inner_nm, draft.metal, draft.unit) == (1_000_000, 3_600_000, "bronze-c220", "piece")
    assert (draft.can_open, draft.arrives, draft.offer, draft.mass_ug) == (True, "open", None, None)
    assert draft.name == "Commercial bronze C220 ring 1.0 × 3.6 mm"


@pytest.mark.parametrize(
    ("typed", "nm", "label"),
    [
        ("20 AWG", 811_821, "20 AWG"),
        ("16 swg", 1_625_600, "16 SWG"),
        ("1,2 mm", 1_200_000, ""),
        ("3/64 in", 1_190_625, ""),
        ((1.0).as_integer_ratio()[0], 1_000_000, ""),
        (Decimal("1.2"), 1_200_000, ""),
    ],
)
def test_a_wire_may_be_typed_in_any_unit_and_a_gauge_stays_as_its_label(typed: object, nm: int, label: str) -> None:
    draft = read(wire=typed, inner="8 mm")
    assert (draft.wire_nm, draft.wire_label) == (nm, label)


def test_a_bag_sold_as_16_swg_that_is_really_1_6_mm_keeps_both() -> None:
    draft = read(wire="1.6 mm", wire_label="swg 16", inner="6.4 mm")
    assert (draft.wire_nm, draft.wire_label) == (1_600_000, "16 SWG")


def test_a_label_may_be_a_size_but_not_a_gauge_without_its_system() -> None:
    assert read(wire_label="1/32 in").wire_label == "1/32 in"
    assert "Which gauge system" in faults(wire_label="16ga")["wire_label"]
    assert set(faults(wire_label="shiny")) == {"wire_label"}


def test_an_inch_fraction_stays_as_the_label_of_the_opening() -> None:
    draft = read(inner='5/32"')
    assert (draft.inner_nm, draft.inner_label) == (3_968_750, "5/32 in")
    assert read(inner="4.0 mm", inner_label="5/32").inner_label == "5/32 in"
    assert read(inner="0.16 in").inner_label == ""


@pytest.mark.parametrize("words", ["sterling-925", "sterling silver 925", "Sterling", "925 SILVER"])
def test_a_metal_may_be_named_by_its_code_its_name_or_another_word_for_it(words: str) -> None:
    assert read(metal=words).metal == "sterling-925"


def test_words_that_may_mean_several_metals_are_asked_about() -> None:
    assert "bronze-c220, bronze-c226" in faults(metal="bronze")["metal"]
    assert "not a metal here" in faults(metal="cheese")["metal"]
    assert find_metal("bronze", METALS) is None


def test_rubber_is_never_opened_and_arrives_closed() -> None:
    draft = read(metal="rubber-epdm", wire="1.6", inner="6.4", colour="black")
    assert (draft.can_open, draft.arrives) == (False, "closed")
    assert set(faults(metal="rubber-epdm", wire="1.6", inner="6.4", can_open="yes")) == {"can_open"}


def test_a_welded_ring_arrives_closed() -> None:
    draft = read(can_open="no")
    assert (draft.can_open, draft.arrives) == (False, "closed")
    assert set(faults(can_open="no", arrives="open")) == {"arrives"}
    assert read(arrives="closed").can_open


def test_the_mass_of_one_is_that_of_a_weighed_sample_shared_out() -> None:
    assert read(mass="4.86 g", mass_of="50").mass_ug == 97_200
    assert read(mass="0.1").mass_ug == 100_000
    assert read(mass="1", mass_of=3).mass_ug == 333_333
    assert set(faults(mass="1", mass_of="0")) == {"mass_of"}
    assert set(faults(mass="0.000001", mass_of="100")) == {"mass"}


def test_the_pack_may_carry_its_unit_in_its_number() -> None:
    offer = read(pack="50 g", price="6,40").offer
    assert offer is not None
    assert (offer.pack_milli, offer.pack_unit, offer.price, offer.currency) == (50_000, "g", Decimal("6.40"), "EUR")
    troy = read(pack="1 troy ounce", pack_unit="piece", price="61").offer
    assert troy is not None
    assert troy.pack_unit == "ozt"


WRONG_RINGS = [
    ({"kind": "nugget"}, {"kind"}),
    ({"kind": ""}, {"kind"}),
    ({"metal": ""}, {"metal"}),
    ({"wire": ""}, {"wire"}),
    ({"wire": "16ga"}, {"wire"}),
    ({"wire": "-1"}, {"wire"}),
    ({"wire": "0"}, {"wire"}),
    ({"wire": "21 mm"}, {"wire"}),
    ({"wire": "9**9**9 mm"}, {"wire"}),
    ({"wire": ["1"]}, {"wire"}),
    ({"inner": "0"}, {"inner"}),
    ({"inner": "20 AWG"}, {"inner"}),
    ({"inner": "501 mm"}, {"inner"}),
    ({"wire": "4 mm", "inner": "3 mm"}, {"inner"}),
    ({"wire": "0.1 mm", "inner": "20 mm"}, {"inner"}),
    ({"hole": "2 mm"}, {"hole"}),
    ({"unit": "m"}, {"unit"}),
    ({"unit": "stone"}, {"unit"}),
    ({"can_open": "perhaps"}, {"can_open"}),
    ({"arrives": "ajar"}, {"arrives"}),
    ({"tint": "green"}, {"tint"}),
    ({"name": "x" * 121}, {"name"}),
    ({"note": "x" * 2001}, {"note"}),
    ({"mass": "heavy"}, {"mass"}),
    ({"mass": "-1 g"}, {"mass"}),
    ({"pack": "0", "price": "3"}, {"pack"}),
    ({"pack": "-5", "price": "3"}, {"pack"}),
    ({"pack": "1.0001", "price": "3"}, {"pack"}),
    ({"pack": "5 boxes", "price": "3"}, {"pack"}),
    ({"pack": "5", "pack_unit": "box", "price": "3"}, {"pack_unit"}),
    ({"pack": "100", "price": "-3"}, {"price"}),
    ({"pack": "100", "price": "1e9"}, {"price"}),
    ({"pack": "100", "price": "1,234"}, {"price"}),
    ({"pack": "100"}, {"price"}),
    ({"price": "3"}, {"pack"}),
    ({"supplier": "Quill Rings"}, {"pack", "price"}),
    ({"pack": "100", "price": "3", "currency": "XAU"}, {"currency"}),
    ({"pack": "100", "price": "3", "currency": "US"}, {"currency"}),
    ({"pack": "100", "price": "3", "currency": "USD"}, {"exchange_rate"}),
    ({"pack": "100", "price": "3", "currency": "USD", "exchange_rate": "0"}, {"exchange_rate"}),
    ({"pack": "100", "price": "3", "exchange_rate": "1.1"}, {"exchange_rate"}),
    ({"pack": "100", "price": "3", "supplier_id": "x"}, {"supplier_id"}),
]


@pytest.mark.parametrize(("fields", "where"), WRONG_RINGS)
def test_what_is_wrong_is_said_beside_its_field(fields: dict[str, object], where: set[str]) -> None:
    found = faults(**fields)
    assert set(found) == where
    assert all(message.endswith((".", "?")) for message in found.values()), found


def test_everything_that_is_wrong_is_said_at_once() -> None:
    assert set(faults(metal="", wire="16ga", inner="x", tint="red", pack="0", price="-1")) == {
        "metal", "wire", "inner", "tint", "pack", "price",
    }  # fmt: skip


@pytest.mark.parametrize("kind", [kind for kind in PART_KINDS if kind not in {"ring", "wire"}])
def test_other_kinds_need_a_name_and_have_no_inner_diameter(kind: str) -> None:
    found = read_item({"kind": kind, "inner": "3 mm"})
    assert isinstance(found, Faults)
    assert set(found.by_field()) == {"name", "inner"}
    draft = read_item({"kind": kind, "name": "Thing"})
    assert isinstance(draft, ItemDraft)
    assert draft.unit == ITEM_KINDS.term(kind).units[0]


def test_packaging_has_neither_metal_nor_wire() -> None:
    found = read_item({"kind": "packaging", "name": "Box", "metal": "copper", "wire": "1 mm"})
    assert isinstance(found, Faults)
    assert set(found.by_field()) == {"metal", "wire"}


@pytest.mark.parametrize(
    ("fields", "where"),
    [
        ({"kind": "chain", "name": "Chain", "pack": "1 ozt", "price": "3"}, "pack_unit"),
        ({"kind": "finding", "name": "Clasp", "pack": "50 g", "price": "3"}, "pack_unit"),
        ({"kind": "consumable", "name": "Soap", "unit": "g", "pack": "3 piece", "price": "3"}, "pack_unit"),
        ({"kind": "consumable", "name": "Soap", "unit": "g", "mass": "3"}, "mass"),
    ],
)
def test_a_pack_from_which_no_cost_follows_is_refused(fields: dict[str, str], where: str) -> None:
    found = read_item(fields, currency="EUR")
    assert isinstance(found, Faults)
    assert list(found.by_field()) == [where]


@pytest.mark.parametrize(
    "fields",
    [
        {"kind": "chain", "name": "Chain", "mass": "7.8 g", "pack": "1 ozt", "price": "3"},
        {"kind": "finding", "name": "Clasp", "mass": "1.1 g", "pack": "50 g", "price": "3"},
        {"kind": "wire", "metal": "copper", "wire": "20 AWG", "pack": "500 g", "price": "3"},
        {"kind": "wire", "metal": "copper", "wire": "20 AWG", "unit": "g", "pack": "10 m", "price": "3"},
        {"kind": "consumable", "name": "Soap", "unit": "g", "pack": "1 kg", "price": "3"},
    ],
)
def test_a_pack_by_weight_is_taken_where_the_weight_of_one_is_known(fields: dict[str, str]) -> None:
    draft = read_item(fields, currency="EUR")
    assert isinstance(draft, ItemDraft), draft
    assert draft.offer is not None


def test_only_rings_and_wire_are_named_by_themselves() -> None:
    metal = METALS["niobium"]
    assert usual_name("ring", metal, "green", 800_000, 2_800_000) == "Green niobium ring 0.8 × 2.8 mm"
    assert usual_name("wire", METALS["copper"], "", 811_821, None) == "Copper wire 0.812 mm"
    assert usual_name("chain", metal, "", 800_000, None) == ""


def test_every_column_of_a_file_says_what_it_holds() -> None:
    names = [column.name for column in ITEM_COLUMNS]
    assert len(names) == len(set(names))
    assert [column.name for column in ITEM_COLUMNS if column.required] == ["kind"]
    assert all(column.says.endswith(".") and column.example for column in ITEM_COLUMNS)


@given(wire_nm=st.integers(100_000, 5_000_000), ratio=st.integers(101, 900), text=st.text(max_size=40))
def test_any_real_ring_is_read_and_any_text_is_answered_with_a_draft_or_with_faults(
    wire_nm: int, ratio: int, text: str
) -> None:
    draft = read(wire=f"{Decimal(wire_nm).scaleb(-6)} mm", inner=f"{Decimal(wire_nm * ratio // 100).scaleb(-6)} mm")
    assert (draft.wire_nm, draft.inner_nm) == (wire_nm, wire_nm * ratio // 100)
    for field in ("wire", "inner", "metal", "pack", "price", "mass", "name", "tint", "wire_label"):
        answer = read_item({**RING, field: text}, currency="EUR")
        assert isinstance(answer, ItemDraft | Faults)
