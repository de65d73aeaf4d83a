"""A noun that is declared once: what follows from the declaration, tried on a noun of the tests' own and on outlets."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated

from hypothesis import given
from hypothesis import strategies as st

from models.intake.costing.outlet import FeeDraft, OutletDraft, read_outlet, read_outlet_row
from models.intake.csv_file import read_csv, write_csv
from models.intake.faults import Faults
from models.intake.fields import (
    Beside,
    Choice,
    Flag,
    Mass,
    Money,
    Rows,
    Size,
    Text,
    Whole,
    cells_of,
    columns_of,
    differences,
    fields_of,
    kept_places,
    needed_of,
    no_currency,
    properties_of,
    raw_of,
    raw_of_cells,
    read_fields,
    schema_of,
    starting,
    values_of,
)
from models.intake.raw import Reader
from models.trade.vocabulary.selling import FEE_BASES, OUTLET_KINDS, PRICE_ENDINGS


@dataclass(frozen=True, slots=True)
class Peg:
    """A row of the invented noun."""

    label: Annotated[str, Text(label="Label", says="What it is called.", required="Name the peg.")]
    load: Annotated[int, Whole(label="Load", default=0, most=9)]


@dataclass(frozen=True, slots=True)
class Rack:
    """An invented noun."""

    name: Annotated[str, Text(label="Name", says="What you call it.", example="By the door", required="Name the rack.")]
    wood: Annotated[str, Choice(label="Wood", among={"oak": "oak", "ash": "ash"}, default="")]
    painted: Annotated[bool, Flag(label="Painted", starts=True)]
    price: Annotated[Decimal | None, Money(label="Price", required=False)]
    pegs: Annotated[
        tuple[Peg, ...],
        Rows(label="Pegs", of=Peg, one="peg", most=3, asks=("label", "load"), too_many="Three pegs at most."),
    ]


def test_the_reader_of_a_declared_noun_collects_the_faults_of_all_its_fields() -> None:
    reader = Reader({"name": "", "wood": "elm", "price": "-1", "pegs": [{"label": "", "load": "12"}]})
    read_fields(Rack, reader)
    said = {fault.field: fault.message for fault in reader.faults() or ()}
    assert said["name"] == "Name the rack."
    assert "oak, ash" in said["wood"]
    assert "too small" in said["price"]
    assert said["pegs.0.label"] == "Name the peg."
    assert "too large" in said["pegs.0.load"]


def test_a_row_that_was_left_empty_is_none_and_the_others_keep_their_places() -> None:
    raw = {"name": "Rack", "pegs": [{"label": "", "load": ""}, {"label": "Coat", "load": "2"}]}
    rack = read_fields(Rack, Reader(raw))
    assert rack.pegs == (Peg("Coat", 2),)
    assert kept_places(Rack, "pegs", raw) == (1,)


def test_more_rows_than_are_taken_are_told_beside_the_first_that_is_too_many() -> None:
    reader = Reader({"name": "Rack", "pegs": [{"label": str(n), "load": "1"} for n in range(4)]})
    read_fields(Rack, reader)
    assert [(fault.field, fault.message) for fault in reader.faults() or ()] == [
        ("pegs.3.label", "Three pegs at most.")
    ]


def test_the_columns_of_a_file_number_the_rows_and_say_what_is_needed() -> None:
    columns = {column.name: column for column in columns_of(Rack)}
    assert list(columns) == [
        "name", "wood", "painted", "price",
        "peg_1_label", "peg_1_load", "peg_2_label", "peg_2_load", "peg_3_label", "peg_3_load",
    ]  # fmt: skip
    assert columns["name"].required
    assert not columns["peg_1_label"].required
    assert columns["price"].holds == "number"
    assert "One of: oak, ash." in columns["wood"].says


def test_a_field_that_a_file_leaves_out_means_what_the_declaration_starts_with() -> None:
    raw, _ = raw_of_cells(Rack, {"name": "Rack"})
    assert raw["painted"] is True
    assert starting(Rack) == {"painted": True}
    assert read_fields(Rack, Reader({"name": "Rack"})).painted is False, "a box that is not ticked is a no"


def test_the_schema_names_what_is_needed_and_the_words_that_are_taken() -> None:
    schema = schema_of(Rack)
    assert schema["required"] == ["name"]
    assert properties_of(Rack)["wood"] == {"type": "string", "enum": ["", "oak", "ash"]}
    pegs = properties_of(Rack)["pegs"]
    assert isinstance(pegs, dict)
    assert pegs["maxItems"] == 3
    assert pegs["items"]["required"] == ["label"]


def test_differences_are_told_by_the_labels_of_the_fields_in_their_order() -> None:
    before = Rack("A", "oak", painted=True, price=Decimal("2.50"), pegs=())
    after = Rack("B", "oak", painted=False, price=None, pegs=(Peg("Coat", 2),))
    assert differences(before, after) == (
        ("Name", "A", "B"),
        ("Painted", "yes", "no"),
        ("Price", "2.50", ""),
        ("Pegs", "", "Label Coat, Load 2"),
    )
    assert differences(before, before) == ()


def test_every_word_of_a_vocabulary_is_taken_by_the_field_that_offers_it() -> None:
    for name, words in (("kind", OUTLET_KINDS), ("ending", PRICE_ENDINGS)):
        for word in words:
            read = read_outlet({"name": "A stall", "kind": "market", name: word})
            assert isinstance(read, OutletDraft)
            assert getattr(read, name) == word
    assert list(fields_of(FeeDraft)["base"].schema()["enum"]) == list(FEE_BASES)  # type: ignore[call-overload]


cents = st.decimals(min_value=0, max_value=500, places=2)
percents = st.decimals(min_value=0, max_value=9, places=1)
names = st.text("abcdefgh ijk=+-@,;\"'", min_size=1, max_size=12).map(str.strip).filter(bool)
outlets = st.builds(
    OutletDraft,
    name=names,
    kind=st.sampled_from(OUTLET_KINDS.codes),
    tax_percent=percents,
    prices_include_tax=st.booleans(),
    shipping_charged=cents,
    postage_paid=cents,
    fees=st.lists(
        st.builds(FeeDraft, label=names, percent=percents, base=st.sampled_from(FEE_BASES.codes), fixed=cents),
        max_size=8,
    ).map(tuple),
    period_fee=cents,
    period_sales=st.integers(1, 1000),
    wanted_margin_percent=st.none() | percents,
    wanted_wage=st.none() | cents,
    retail_multiple=st.decimals(min_value=1, max_value=5, places=2),
    ending=st.sampled_from(("", *PRICE_ENDINGS)),
    note=names | st.just(""),
)


@given(outlets, st.sampled_from(",;"))
def test_an_outlet_that_is_written_to_a_file_reads_back_equal(outlet: OutletDraft, delimiter: str) -> None:
    columns = columns_of(OutletDraft)
    text = write_csv([column.name for column in columns], [cells_of(outlet)], delimiter=delimiter)
    sheet = read_csv(text.encode(), columns)
    assert not isinstance(sheet, Faults)
    assert read_outlet_row(sheet.rows[0].cells) == outlet


@given(outlets)
def test_values_of_a_draft_are_all_its_fields_but_the_nested_ones(outlet: OutletDraft) -> None:
    assert {*values_of(outlet), "fees"} == set(fields_of(OutletDraft))


# --- names with a unit, what stands beside, what no row keeps ---


@dataclass(frozen=True, slots=True)
class Hook:
    """What may come along with a board."""

    maker: Annotated[str, Text(label="Maker", required="Who made it?")]
    price: Annotated[Decimal, Money(label="Price")]
    stock: Annotated[int, Whole(label="In stock", default=0)] = 0


@dataclass(frozen=True, slots=True)
class Board:
    """An invented noun with sizes, and a smaller one beside it."""

    depth_nm: Annotated[int, Size(label="Depth", typed="depth", most_nm=50_000_000, too_large="Too deep.")]
    hole_nm: Annotated[int | None, Size(label="Hole", typed="hole", required=False, none="No hole is empty.")]
    weight_ug: Annotated[int | None, Mass(label="Weight", typed="weight", required=False)]
    sure: Annotated[bool, Flag(label="Sure", in_row=False)] = False
    hook: Annotated[
        Hook | None,
        Beside(label="Hook", of=Hook, only=("maker", "price"), otherwise={"price": Money(label="Price", typed="cost")}),
    ] = None


def test_sizes_and_masses_are_read_and_told_under_the_name_that_people_type() -> None:
    board = read_fields(Board, Reader({"depth": "12", "hole": "", "weight": "2 g"}), hook=None)
    assert (board.depth_nm, board.hole_nm, board.weight_ug) == (12_000_000, None, 2_000_000)
    assert needed_of(Board) == ("depth",)
    reader = Reader({"depth": "6 cm", "hole": "0"})
    read_fields(Board, reader, hook=None)
    assert [(fault.field, fault.message) for fault in reader.faults() or ()] == [
        ("depth", "Too deep."),
        ("hole", "No hole is empty."),
    ]


@given(st.integers(1, 50_000_000), st.none() | st.integers(1, 10**9), st.none() | st.integers(1, 10**9))
def test_what_is_kept_reads_back_equal_as_it_is_handed_in(depth: int, hole: int | None, weight: int | None) -> None:
    board = Board(depth, hole, weight)
    assert read_fields(Board, Reader(raw_of(Board, board)), hook=None) == board


def test_the_fields_beside_are_handed_in_with_the_others_and_none_of_them_is_needed() -> None:
    columns = {column.name: column for column in columns_of(Board)}
    assert list(columns) == ["depth", "hole", "weight", "sure", "maker", "cost"]
    assert [name for name, column in columns.items() if column.required] == ["depth"]
    assert set(properties_of(Board)) == set(columns)


def test_what_no_row_keeps_is_no_difference_and_stands_in_no_column_of_a_table() -> None:
    before = Board(1_000_000, None, None)
    after = Board(2_000_000, None, 5_000_000, sure=True, hook=Hook("Anna", Decimal(1)))
    assert values_of(after) == {"depth_nm": 2_000_000, "hole_nm": None, "weight_ug": 5_000_000}
    assert differences(before, after) == (("Depth", "1.0 mm", "2.0 mm"), ("Weight", "", "5 g"))


def test_a_text_is_tidied_before_it_is_judged() -> None:
    said = Text(label="Currency", tidy=str.upper, wrong=no_currency)
    assert said.read(Reader({"currency": "usd"}), "currency") == "USD"
    reader = Reader({"currency": "usx"})
    assert said.read(reader, "currency") == ""
    assert "'USX' is not a currency" in (reader.faults() or Faults.of("", "")).by_field()["currency"]
