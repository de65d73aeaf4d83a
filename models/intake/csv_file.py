"""Comma-separated files: bytes in, rows with line numbers out, and rows in, text out (RFC 4180).

What the columns of one kind of file mean lives with that noun (`ITEM_COLUMNS` in `item`, and so on). With `,` between
cells numbers have a decimal point, with `;` a decimal comma, and between thousands may stand the other of the two. What
may be a thousand or a fraction to the shop that reads it is asked; its own files never hold such a number.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from models.intake.faults import Fault, Faults
from models.trade.number_shape import PLAIN, NumberShape, Typed, undoubted

DELIMITERS = (",", ";")
MOST_NAMED = 10
"""How many unknown columns a message names."""


@dataclass(frozen=True, slots=True)
class FileLimits:
    """How much one file may hold; everything that is handed out keeps to it, or comes in parts that do."""

    bytes: int
    lines: int
    columns: int = 200
    cell: int = 20_000
    empty: int = 100_000
    """How many empty lines are passed over: spreadsheets write them behind the last one."""
    revaluations: int = 4_500
    """How often lots may be valued anew: by the weighted average every line of an item touches all lots of it."""

    @property
    def says(self) -> str:
        """The limits in words."""
        return (
            f"up to {self.bytes // 1_000_000:,} MB, {self.lines:,} lines, {self.columns} columns and {self.cell:,} "
            "characters in a cell"
        )


ON_A_PAGE = FileLimits(bytes=1_000_000, lines=2_000)
"""What a page looks at and takes in at once: a second or two of work."""
AT_THE_COMMAND = FileLimits(bytes=200_000_000, lines=200_000, revaluations=20_000_000)
"""What the command takes in at once: more than a studio has, all that its own `export` writes."""
LARGEST_BYTES = ON_A_PAGE.bytes
MOST_ROWS = ON_A_PAGE.lines

Holds = Literal["text", "number", "size", "amount", "label", "choice", "yes or no"]
"""What a column holds; 'amount' is a number among words, 'label' a size as it was typed."""
NUMBERS = frozenset({"number", "size", "amount"})

# What a spreadsheet would run as a formula, with any apostrophes that stand before it: those are part of the text, and
# one more is put before them, so that taking one off gives the text back. Source: common practice against formula
# injection, no standard.
_DANGEROUS = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
_POINT = re.compile(r"(?<=[0-9])\.(?=[0-9])")
_DECIMAL_COMMA = re.compile(r"([+-]?\d*),(\d+)(\D.*)?", re.DOTALL)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a file: its name in the header, what it holds in words, and an example."""

    name: str
    says: str
    required: bool = False
    example: str = ""
    holds: Holds = "text"


def in_order(columns: Iterable[Column], *names: str) -> tuple[Column, ...]:
    """Columns with those of these names first, in this order."""
    place = {name: number for number, name in enumerate(names)}
    return tuple(sorted(columns, key=lambda column: place.get(column.name, len(place))))


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One line of a file: where it starts in the file (the header is line 1) and its cells by column name."""

    line: int
    cells: Mapping[str, str]
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A file that could be read: which columns it has, in its own order, and its rows without the blank ones."""

    columns: tuple[str, ...]
    delimiter: str
    rows: tuple[SheetRow, ...]


def read_csv(
    content: bytes, columns: Sequence[Column], shop: NumberShape = PLAIN, *, limits: FileLimits = ON_A_PAGE
) -> Sheet | Faults:
    """Read a file of these columns; a fault's field is 'file'. A row that is out of step carries its own fault.

    What is over a limit is refused before more of it is read, so that no file costs more than its length.
    UTF-8 with or without a byte-order mark; `,` or `;` between cells, and with `;` a decimal comma in number columns.
    `shop` is how the shop writes numbers.
    """
    text = _decoded(content, limits)
    if isinstance(text, Faults):
        return text
    delimiter = _delimiter(text)
    records = _records(text, delimiter, limits)
    if isinstance(records, Faults):
        return records
    if not records:
        return _wrong("This file is empty. Its first line must name the columns.")
    header = tuple(_tidy_name(name) for name in records[0][1])
    header = header[: _filled(header)]
    faults = _header_faults(header, columns)
    if faults:
        return faults
    holds = {column.name: column.holds for column in columns}
    shape = file_shape(delimiter, shop)
    rows = tuple(_row(line, record, header, (delimiter, shape), holds) for line, record in records[1:])
    if not rows:
        return _wrong("This file has a header and nothing under it.")
    return Sheet(header, delimiter, rows)


def file_shape(delimiter: str, shop: NumberShape = PLAIN) -> NumberShape:
    """How a file of a shop writes numbers: by what stands between its cells; the shop only says what must be asked."""
    if delimiter == ";":
        points = "." in shop.groups
        return NumberShape(",", frozenset({" ", "'", *("." if points else ())}), mark=",")
    return NumberShape(".", frozenset({" ", "'", ","}), wary="." in shop.groups)


def _records(text: str, delimiter: str, limits: FileLimits) -> list[tuple[int, list[str]]] | Faults:
    """The lines that hold anything, each with where it starts and without the empty cells at its end."""
    # The reader's own limit is one of the whole process, so ours is kept below it.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    records: list[tuple[int, list[str]]] = []
    start, empty = 1, 0
    try:
        for record in reader:
            filled = _filled(record)
            if filled > limits.columns:
                return _wrong(f"Line {start} has {filled:,} cells, and a file has at most {limits.columns} columns.")
            if any(len(cell) > limits.cell for cell in record[:filled]):
                return _wrong(f"Line {start} cannot be read: a cell in it has more than {limits.cell:,} characters.")
            if filled:
                records.append((start, record[: limits.columns]))
            empty += not filled
            start = reader.line_num + 1
            if len(records) > limits.lines + 1:
                return _wrong(
                    f"This file has more than {limits.lines:,} lines. Split it and import the parts one by one."
                )
            if empty > limits.empty:
                return _wrong(f"This file has more than {limits.empty:,} empty lines. Take them out of it.")
    except csv.Error as broken:
        if "field larger" in str(broken):
            return _wrong(f"Line {start} cannot be read: a cell in it has more than {limits.cell:,} characters.")
        return _wrong(
            f"Line {start} cannot be read: a quotation mark is opened and not closed, or text follows a closing one."
        )
    return records


def _filled(cells: Sequence[str]) -> int:
    """How many cells a line has without the empty ones at its end, which a spreadsheet may add to every line."""
    filled = len(cells)
    while filled and not cells[filled - 1].strip():
        filled -= 1
    return filled


def write_csv(
    header: Sequence[str],
    rows: Iterable[Mapping[str, object]],
    *,
    delimiter: str = ",",
    columns: Sequence[Column] = (),
) -> str:
    """Write rows as a file that `read_csv` gives back; None is an empty cell, and with `;` decimals get a comma.

    `columns` tell which texts hold numbers, so that these too are written without a doubt.
    """
    numbers = {column.name for column in columns if column.holds in NUMBERS}
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        cells = [guard(_shown(row.get(name), delimiter, number=name in numbers)) for name in header]
        # A line of nothing but empty cells would be taken for a blank line.
        writer.writerow(cells)
    return out.getvalue()


def guard(cell: str) -> str:
    """Put an apostrophe before a cell that a spreadsheet would run as a formula."""
    return f"'{cell}" if _DANGEROUS.match(cell) else cell


def unguard(cell: str) -> str:
    """Take the apostrophe of `guard` off again."""
    return cell[1:] if _GUARDED.match(cell) else cell


def _decoded(content: bytes, limits: FileLimits) -> str | Faults:
    if len(content) > limits.bytes:
        return _wrong(
            f"This file is larger than {limits.bytes // 1_000_000} MB. Split it and import the parts one by one."
        )
    if not content.strip():
        return _wrong("This file is empty. Its first line must name the columns.")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return _wrong("This file is not UTF-8 text. In the spreadsheet choose 'CSV UTF-8' when saving.")
    if "\0" in text:
        return _wrong("This is not a text file. In the spreadsheet choose 'CSV UTF-8' when saving.")
    return text


def _delimiter(text: str) -> str:
    # Names of columns hold neither sign, so the header alone decides.
    first = next((line for line in io.StringIO(text, newline=None) if line.strip()), "")
    return ";" if first.count(";") > first.count(",") else ","


def _tidy_name(name: str) -> str:
    return "_".join(unguard(name.strip()).lower().replace("-", " ").split())


def _header_faults(header: tuple[str, ...], columns: Sequence[Column]) -> Faults | None:
    known = {column.name: column.required for column in columns}
    found: list[str] = []
    times = Counter(header)
    missing = [name for name, required in known.items() if required and name not in times]
    unknown = list(dict.fromkeys(name for name in header if name not in known))
    twice = sorted(name for name, often in times.items() if name and often > 1)
    if missing:
        found.append(f"The first line lacks {_listed(missing)}.")
    if unknown:
        named = [f"“{name[:60]}”" if name else "a column without a name" for name in unknown[:MOST_NAMED]]
        if len(unknown) > MOST_NAMED:
            named.append(f"{len(unknown) - MOST_NAMED} more")
        found.append(f"The first line has {_listed(named)}, which this kind of file does not know.")
    if twice:
        found.append(f"The first line names {_listed([name[:60] for name in twice[:MOST_NAMED]])} more than once.")
    if not found:
        return None
    found.append(f"The columns are: {', '.join(known)}.")
    return Faults(tuple(Fault("file", message) for message in found))


def _row(
    line: int, record: list[str], header: tuple[str, ...], file: tuple[str, NumberShape], holds: Mapping[str, str]
) -> SheetRow:
    delimiter, shape = file
    cells = list(record)
    while len(cells) > len(header) and not cells[-1].strip():
        cells.pop()
    fault = ""
    if len(cells) != len(header):
        fault = (
            f"This line has {len(cells)} cells and the first line names {len(header)} columns. "
            f"A cell with a “{delimiter}” in it must stand in quotation marks."
        )
    named: dict[str, str] = {}
    for name, cell in zip(header, cells, strict=False):
        plain = unguard(cell)
        sized = delimiter == ";" and holds[name] in {"number", "size", "label"}
        # What has a decimal comma is written plainly here; any other text is read as the file writes.
        pointed = _with_point(plain) if sized else plain
        named[name] = pointed if pointed != plain else Typed(plain, shape)
    return SheetRow(line, named, fault)


def _with_point(cell: str) -> str:
    # In a file with semicolons a comma in a number can only be the decimal comma, so '1,234' needs no question here.
    found = _DECIMAL_COMMA.fullmatch(cell.strip())
    return f"{found[1] or '0'}.{found[2]}{found[3] or ''}" if found else cell


def _shown(value: object, delimiter: str, *, number: bool) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        raise TypeError("a figure in a file is a Decimal, never a float")
    if isinstance(value, Decimal):
        value, number = format(value, "f"), True
    if not number:
        return str(value)
    if delimiter == ";":
        return _POINT.sub(",", str(value))
    return undoubted(str(value))


def _wrong(message: str) -> Faults:
    return Faults.of("file", message)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
