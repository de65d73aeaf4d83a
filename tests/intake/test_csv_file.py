"""Files of comma-separated values: what is written reads back the same, and a bad file says what is wrong with it."""

from decimal import Decimal
from time import process_time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.intake.csv_file import (
    LARGEST_BYTES,
    ON_A_PAGE,
    Column,
    FileLimits,
    Sheet,
    file_shape,
    guard,
    read_csv,
    unguard,
    write_csv,
)
from models.intake.faults import Faults
from models.trade.number_shape import number_shape
from models.trade.typed import Unreadable, read_number

COLUMNS = (
    Column("name", "What it is called.", required=True),
    Column("wire", "Wire diameter.", holds="size"),
    Column("price", "What a pack costs.", holds="number"),
    Column("note", "Anything else."),
)


def sheet(text: str | bytes) -> Sheet:
    found = read_csv(text.encode() if isinstance(text, str) else text, COLUMNS)
    assert isinstance(found, Sheet), found
    return found


def message(text: str | bytes) -> str:
    found = read_csv(text.encode() if isinstance(text, str) else text, COLUMNS)
    assert isinstance(found, Faults), found
    return " ".join(fault.message for fault in found)


texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)
risky = st.builds(
    lambda sign, rest: sign + rest, st.sampled_from(["=", "+", "-", "@", "\t", "\r", "'=", "''@", "'", "; ,"]), texts
)
cells = st.one_of(texts, risky)


@given(st.lists(st.tuples(cells, cells), min_size=1, max_size=8), st.sampled_from([",", ";"]))
def test_any_text_written_to_a_file_reads_back_the_same(pairs: list[tuple[str, str]], delimiter: str) -> None:
    rows = [{"name": f"a{name}", "note": note} for name, note in pairs]
    found = sheet(write_csv(("name", "note"), rows, delimiter=delimiter))
    assert [dict(row.cells) for row in found.rows] == rows
    assert found.delimiter == delimiter
    assert not any(row.fault for row in found.rows)


@given(cells)
def test_a_guarded_cell_is_never_a_formula_and_gives_its_text_back(cell: str) -> None:
    assert unguard(guard(cell)) == cell
    assert not guard(cell).startswith(("=", "+", "-", "@", "\t", "\r"))


@given(st.decimals(min_value=0, max_value=10**6, places=6), st.sampled_from([",", ";"]))
def test_any_figure_written_to_a_file_reads_back_exactly(value: Decimal, delimiter: str) -> None:
    found = sheet(write_csv(("name", "price"), [{"name": "x", "price": value}], delimiter=delimiter))
    assert Decimal(found.rows[0].cells["price"]) == value


def test_semicolons_bring_the_decimal_comma() -> None:
    found = sheet("name;wire;price;note\nbronze;1,2 mm;1,234;1,2 is a number here\n")
    assert found.rows[0].cells == {"name": "bronze", "wire": "1.2 mm", "price": "1.234", "note": "1,2 is a number here"}


def test_with_commas_a_decimal_comma_stands_in_quotation_marks_and_is_left_as_typed() -> None:
    assert sheet('name,price\nbronze,"1,5"\n').rows[0].cells["price"] == "1,5"


def test_with_semicolons_a_point_parts_thousands_only_where_the_shop_writes_so() -> None:
    in_german, in_english = (file_shape(";", number_shape(name)) for name in ("de-DE", "en-US"))
    assert read_number("1.250", "12", in_german, "count") == 1250
    for shape in (in_english, file_shape(";")):
        with pytest.raises(Unreadable, match="Do you mean 1250 or 1,250"):
            read_number("1.250", "12", shape, "count")


def test_a_byte_order_mark_and_other_spellings_of_the_header_are_taken() -> None:
    found = sheet(b"\xef\xbb\xbfName , WIRE\r\nx,1\r\n")
    assert found.columns == ("name", "wire")


def test_blank_lines_are_passed_over_and_lines_keep_their_numbers() -> None:
    found = sheet('name,note\n\na,"two\nlines"\n,\nb,\n')
    assert [(row.line, row.cells["name"]) for row in found.rows] == [(3, "a"), (6, "b")]


def test_empty_cells_at_the_end_of_every_line_are_no_columns() -> None:
    found = sheet("name,note,,\na,b,,\n")
    assert found.columns == ("name", "note")
    assert not found.rows[0].fault


def test_a_line_out_of_step_says_so() -> None:
    assert "5 cells" in sheet("name,wire,price,note\na,b,c,d,e\n").rows[0].fault
    assert "2 cells" in sheet("name,wire,price\na,b\n").rows[0].fault


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("\n \n", "empty"),
        ("wire,price\n1,2\n", "lacks name"),
        ("name,colour\na,b\n", "“colour”"),
        ("name,,wire\na,b,c\n", "without a name"),
        ("name,name\na,b\n", "more than once"),
        ("name,wire\n", "nothing under it"),
        ('name,wire\n"a,b\n', "Line 2"),
        ('name,wire\n"a"b,c\n', "Line 2"),
        (b"\xff\xfen\0a\0", "UTF-8"),
        (b"name\nM\xfcller\n", "UTF-8"),
        (b"name\na\0b\n", "not a text file"),
        (b"name\n" + b"x" * LARGEST_BYTES, "larger than 1 MB"),
        ("name\n" + "x\n" * 2001, "more than 2,000 lines"),
        ("name\n" + "x" * 200_000, "cannot be read"),
    ],
)
def test_a_file_that_cannot_be_used_says_why(text: str | bytes, says: str) -> None:
    assert says in message(text)


def test_a_wrong_header_lists_the_columns_that_are_known() -> None:
    assert "The columns are: name, wire, price, note." in message("nmae\nx\n")


def test_a_float_never_gets_into_a_file() -> None:
    with pytest.raises(TypeError):
        write_csv(("price",), [{"price": 0.1}])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("name" + "," * 499_000 + "x\nb\n", "499,001 cells, and a file has at most 200 columns"),
        ("name," + ",".join(f"c{number}" for number in range(120_000)) + "\nb\n", "at most 200 columns"),
        ("name\n" + ",".join(["x"] * 300) + "\n", "Line 2 has 300 cells"),
        ("name\n" + "x" * 20_001 + "\n", "Line 2 cannot be read: a cell in it has more than 20,000 characters"),
        ("name\n" + '"' + "\n" * 990_000 + '"\n', "Line 2 cannot be read"),
        ("name\n" + "\n" * 990_000, "more than 100,000 empty lines"),
        ("name\n" + ",,\n" * 300_000, "more than 100,000 empty lines"),
        ("name" + "," * 999_000, "nothing under it"),
        (
            ",".join(f"c{number}" for number in range(150)) + "\nb\n",
            "and 140 more, which this kind of file does not know",
        ),
        ("name," + ",".join(["price"] * 190) + "\nb\n", "names price more than once"),
        ("name\n" + '"x' * 300_000, "cannot be read"),
        ("name\n" + "'" * 990_000, "cannot be read"),
    ],
)
def test_no_file_costs_more_than_its_length(text: str, says: str) -> None:
    began = process_time()
    found = message(text)
    assert process_time() - began < 2
    assert says in found
    assert len(found) < 1_000


def test_what_is_just_within_the_limits_is_read() -> None:
    wide = "name" + "," * 500 + "\n" + "x" * ON_A_PAGE.cell + "," * 500 + "\n"
    assert sheet(wide + "\n" * ON_A_PAGE.empty).rows[0].cells == {"name": "x" * ON_A_PAGE.cell}
    assert len(sheet("name\n" + "x\n" * ON_A_PAGE.lines).rows) == ON_A_PAGE.lines


def test_limits_say_themselves() -> None:
    assert ON_A_PAGE.says == "up to 1 MB, 2,000 lines, 200 columns and 20,000 characters in a cell"
    for limits, says in (
        (FileLimits(bytes=5, lines=9), "larger than"),
        (FileLimits(bytes=500, lines=1), "more than 1 lines"),
    ):
        found = read_csv(b"name\na\nb\nc\n", COLUMNS, limits=limits)
        assert isinstance(found, Faults)
        assert says in found.items[0].message
