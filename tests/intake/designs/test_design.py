"""Designs handed in by a form, a JSON body or a CSV row: the same words in, the same draft or the same messages out."""

from decimal import Decimal

import pytest

from models.intake.costing.part import PART_COLUMNS, PartDraft, PartRow, read_part_row
from models.intake.designs.design import (
    DESIGN_COLUMNS,
    MOST_PARTS,
    DesignDraft,
    WorkDraft,
    read_design,
    read_design_row,
    read_rough_design,
)
from models.intake.faults import Faults

RING = {"kind": "ring", "metal": "bronze-c220", "wire": "1.2", "inner": "4.0", "quantity": "48"}


def design(**raw: object) -> DesignDraft:
    found = read_design({"name": "Leaf", **raw})
    assert isinstance(found, DesignDraft), found
    return found


def faults(**raw: object) -> dict[str, str]:
    found = read_design({"name": "Leaf", **raw})
    assert isinstance(found, Faults), found
    return found.by_field()


def test_a_form_and_a_json_body_say_the_same_design() -> None:
    form = design(
        weave="byzantine", skill="3", width="18", measured_weight="6.4 g", once_pieces="20",
        parts=[{**RING, "allowance_percent": "5", "optional": "yes", "joined": ""}], tumble="yes", tumble_minutes="3,5",
        setup="", pack="", photograph="", listing="",
    )  # fmt: skip
    body = design(
        weave="byzantine", skill=3, width=Decimal("18.0"), measured_weight=Decimal("6.4"), once_pieces=20,
        parts=[{**RING, "wire": Decimal("1.2"), "inner": 4, "quantity": 48, "allowance_percent": 5, "optional": True, "joined": False}],
        work={"tumble": True, "tumble_minutes": Decimal("3.5"), "setup": False, "pack": False, "photograph": False, "listing": False},
    )  # fmt: skip
    assert form == body
    assert form.width_nm == 18_000_000
    assert form.measured_mass_ug == 6_400_000
    assert form.work == (WorkDraft("tumble", minutes_milli=3500),)
    assert form.parts[0].typed_wire_nm == 1_200_000
    assert not form.parts[0].joined


def test_a_new_design_starts_with_the_usual_work() -> None:
    assert [row.kind for row in design().work] == ["setup", "pack", "photograph", "listing"]


def test_a_count_replaces_the_one_from_the_parts_and_an_empty_one_does_not() -> None:
    work = design(open_count="40", close_count="", weave_count="0").work
    assert WorkDraft("open", count=40) in work
    assert WorkDraft("weave", count=0) in work
    assert not any(row.kind == "close" for row in work)


@pytest.mark.parametrize(
    "field",
    ["tumble_minutes", "polish_minutes", "seal_minutes", "pack_minutes", "photograph_minutes", "listing_minutes"],
)
def test_minutes_of_work_that_is_not_ticked_are_asked_about(field: str) -> None:
    kind = field.removesuffix("_minutes")
    assert "not ticked" in faults(**{kind: "", field: "4"})[field]


def test_a_weave_may_be_given_by_its_name() -> None:
    assert design(weave="european 4-IN-1").weave == "european-4-in-1"


def test_a_part_is_a_stock_item_or_a_typed_thing() -> None:
    parts = design(
        parts=[
            {"item_id": "7", "quantity": "2.5"},
            {"kind": "finding", "name": "ear wire", "quantity": "1", "guess": "0.35"},
        ]
    ).parts
    assert parts[0] == PartDraft(quantity_milli=2500, item_id=7)
    assert (parts[1].typed_name, parts[1].guess, parts[1].typed_unit) == ("ear wire", Decimal("0.35"), "piece")


def test_alternatives_without_a_name_are_lettered() -> None:
    parts = design(
        parts=[
            {**RING, "choice_group": "colour"},
            {**RING, "choice_group": "colour", "choice_name": "A"},
            {**RING, "choice_name": "x"},
        ]
    ).parts
    assert [(part.choice_group, part.choice_name) for part in parts] == [
        ("colour", "B"),
        ("colour", "A"),
        ("choice", "x"),
    ]


BAD_FIELDS = [
    ("name", ""), ("name", "x" * 201), ("name", "a\x00b"), ("piece", "x" * 61), ("note", "x" * 5001), ("weave", "knitting"),
    ("skill", "6"), ("skill", "-1"), ("width", "wide"), ("width", "0"), ("height", "-4"), ("length", "20 AWG"),
    ("measured_weight", "heavy"), ("measured_weight", "0"), ("allowance_percent", "-1"), ("allowance_percent", "101"),
    ("allowance_percent", "some"), ("once_pieces", "0"), ("once_pieces", "2.5"), ("once_pieces", "many"),
    ("change_note", "x" * 201), ("open_count", "-1"), ("close_count", "1.5"), ("weave_count", "all"),
    ("attach_count", "1e9"), ("tumble", "perhaps"), ("tumble_minutes", "-3"), ("pack_minutes", "99999"),
    ("photograph_minutes", "long"), ("setup", "soon"),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), BAD_FIELDS)
def test_every_field_of_a_design_says_what_is_wrong_with_it(field: str, value: str) -> None:
    found = faults(**{"tumble": "yes", field: value})
    assert list(found) == [field]
    assert found[field].endswith((".", "?"))


BAD_PART_FIELDS = [
    ("quantity", ""), ("quantity", "0"), ("quantity", "-2"), ("quantity", "some"), ("quantity", "1.5"), ("quantity", "100001"),
    ("item_id", "x"), ("kind", "gem"), ("wire", ""), ("wire", "16ga"), ("wire", "0"), ("inner", "16 SWG"), ("inner", "0.5"),
    ("inner", ""), ("unit", "m"), ("unit", "kilo"), ("metal", "x" * 101), ("colour", "x" * 61), ("guess", "-1"),
    ("guess", "cheap"), ("purpose", "x" * 201), ("optional", "maybe"), ("choice_group", "x" * 61), ("choice_name", "x" * 61),
    ("allowance_percent", "200"), ("joined", "perhaps"), ("name", "x" * 201),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), BAD_PART_FIELDS)
def test_every_field_of_a_part_says_what_is_wrong_with_it(field: str, value: str) -> None:
    found = faults(parts=[RING, {**RING, field: value}])
    assert list(found) == [f"parts.1.{field}"]
    assert found[f"parts.1.{field}"].endswith((".", "?"))


def test_a_part_that_cannot_be_read_is_left_out_of_a_rough_draft() -> None:
    draft, found = read_rough_design({"name": "", "parts": [RING, {**RING, "quantity": "x"}]})
    assert found is not None
    assert set(found.by_field()) == {"name", "parts.1.quantity"}
    assert len(draft.parts) == 1


def test_a_design_has_up_to_two_hundred_parts() -> None:
    assert len(design(parts=[RING] * MOST_PARTS).parts) == MOST_PARTS
    assert "200 parts" in faults(parts=[RING] * (MOST_PARTS + 1))["parts"]


@pytest.mark.parametrize("parts", ["48 bronze", {"a": 1}, [1], None, [["x"]]])
def test_parts_that_are_no_list_of_rows_are_refused_or_none(parts: object) -> None:
    found = read_design({"name": "Leaf", "parts": parts if parts is not None else 5})
    assert isinstance(found, Faults)


@pytest.mark.parametrize("work", ["all of it", [1], 4])
def test_work_that_is_no_object_is_refused(work: object) -> None:
    assert "object" in faults(work=work)["work"]


def test_a_fault_of_nested_work_names_its_place() -> None:
    assert list(faults(work={"tumble_minutes": "x", "tumble": True})) == ["work.tumble_minutes"]


def test_a_csv_row_of_a_design_reads_every_column() -> None:
    cells = {
        "name": "Leaf", "piece": "pendant", "weave": "Byzantine", "skill": "2", "width": "18 mm", "height": "42 mm", "length": "",
        "measured_weight": "6.4 g", "allowance_percent": "4", "once_pieces": "12", "note": "a\nb", "retired": "yes", "setup": "no",
        "open_count": "", "close_count": "", "weave_count": "", "attach_count": "2", "tumble": "yes", "tumble_minutes": "3",
        "polish": "no", "polish_minutes": "", "seal": "", "seal_minutes": "", "pack": "yes", "pack_minutes": "",
        "photograph": "yes", "photograph_minutes": "30", "listing": "no", "listing_minutes": "",
    }  # fmt: skip
    assert set(cells) == {column.name for column in DESIGN_COLUMNS}
    draft = read_design_row(cells)
    assert isinstance(draft, DesignDraft)
    assert (draft.retired, draft.weave, draft.once_pieces, draft.note) == (True, "byzantine", 12, "a\nb")
    assert draft.work == (
        WorkDraft("attach", count=2), WorkDraft("tumble", minutes_milli=3000), WorkDraft("pack"),
        WorkDraft("photograph", minutes_milli=30_000),
    )  # fmt: skip


def test_a_csv_row_of_a_part_reads_every_column() -> None:
    cells = {
        "design": "Leaf", "item": "", "kind": "ring", "name": "", "metal": "niobium", "colour": "blue", "wire": "20 AWG", "inner": "1/8 in",
        "unit": "piece", "guess": "0.05", "quantity": "24", "purpose": "petals", "optional": "no", "choice_group": "colour",
        "choice_name": "A", "allowance_percent": "5", "joined": "yes",
        "from_rows": "no", "closed_beforehand": "",
    }  # fmt: skip
    assert set(cells) == {column.name for column in PART_COLUMNS}
    row = read_part_row(cells)
    assert isinstance(row, PartRow)
    assert (row.design, row.item, row.part.typed_metal, row.part.quantity_milli) == ("Leaf", "", "niobium", 24_000)


def test_a_csv_part_names_its_stock_item_and_a_bad_cell_names_its_column() -> None:
    row = read_part_row({"design": "Leaf", "item": "Ear wire", "quantity": "2"})
    assert isinstance(row, PartRow)
    assert (row.item, row.part.typed_kind) == ("Ear wire", "")
    bad = read_part_row({"design": "", "item": "Ear wire", "quantity": "none", "wire": "16ga"})
    assert isinstance(bad, Faults)
    assert set(bad.by_field()) == {"design", "quantity", "wire"}
