"""Files of items, designs, outlets and stock: looked at line by line, then taken in as a whole or not at all.

What a file looks like stands in `models/intake/csv_file`; what its columns mean stands with each noun.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby

from sqlmodel import Session

from models.errors import Unfit
from models.intake.costing.outlet import OUTLET_COLUMNS, read_outlet_row
from models.intake.costing.part import PART_COLUMNS
from models.intake.csv_file import ON_A_PAGE, Column, FileLimits, Sheet, SheetRow, read_csv, write_csv
from models.intake.designs.design import DESIGN_COLUMNS, read_design_row
from models.intake.faults import Fault, Faults
from models.intake.stock.count import COUNT_COLUMNS
from models.intake.stock.item import ITEM_COLUMNS, read_item
from models.intake.stock.offer import OFFER_COLUMNS
from models.intake.stock.receipt import RECEIPT_COLUMNS
from models.intake.stock.stock_out import LEAVING_COLUMNS
from models.operations.costing.outlet import add_outlet
from models.operations.designs.design import add_design, set_parts
from models.operations.figures import refresh_figures, refresh_gathered
from models.operations.shop.import_rows import Cells, Wrong, each_row, within
from models.operations.stock.item import add_item
from models.operations.stock.ledger_files import (
    revaluations_of_bags,
    revaluations_of_receipts,
    take_counts,
    take_receipts,
    take_stock_outs,
)
from models.operations.stock.offer_files import take_offers
from models.queries.costing.outlet import export_outlets
from models.queries.designs.design import design_named, hold_drafts
from models.queries.designs.export import export_designs, export_parts
from models.queries.shop.gathering import gathered, gathering_in
from models.queries.shop.shop import currency_of, display_prefs
from models.queries.stock.export import STOCK_COLUMNS, export_stock
from models.queries.stock.item import export_items
from models.queries.stock.ledger_export import (
    MOVEMENT_COLUMNS,
    export_counts,
    export_movements,
    export_receipts,
    export_stock_outs,
)
from models.queries.stock.metal import all_metals
from models.queries.stock.offer import export_offers
from models.trade.metals import Metal
from models.trade.number_shape import number_shape


@dataclass(frozen=True, slots=True)
class Context:
    """What every line of one file is read with."""

    metals: Mapping[str, Metal]
    currency: str


@dataclass(frozen=True, slots=True)
class FileKind:
    """One kind of file: its word in addresses, what it holds, its columns, how it is taken in and handed out."""

    code: str
    one: str
    many: str
    says: str
    columns: tuple[Column, ...]
    take: Callable[[Session, Sequence[Cells], Context], tuple[int, Wrong]]
    export: Callable[[Session], Iterable[Mapping[str, object]]]
    seen_at: str = "/settings/files"
    """The page that shows what it brings."""
    revaluations: Callable[[Session, Sequence[Cells]], int] | None = None
    """How often lots would be valued anew; None where no line values any."""
    together: str = ""
    """The column whose lines of one value belong together: they stand in one part of a file, one behind the other."""


@dataclass(frozen=True, slots=True)
class FileOut:
    """A kind of file that is only handed out: what happened is not taken in again from a file."""

    code: str
    many: str
    says: str
    columns: tuple[Column, ...]
    export: Callable[[Session], Iterable[Mapping[str, object]]]


@dataclass(frozen=True, slots=True)
class LookedAt:
    """One line of a file with what is wrong with it; nothing when it can be taken in."""

    line: int
    cells: Cells
    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """A file that was looked at: its lines, and how many things it would bring."""

    kind: FileKind
    columns: tuple[str, ...]
    lines: tuple[LookedAt, ...]
    count: int

    @property
    def bad(self) -> tuple[LookedAt, ...]:
        """The lines that cannot be taken in."""
        return tuple(line for line in self.lines if line.faults)

    @property
    def good(self) -> int:
        """How many lines can be taken in."""
        return len(self.lines) - len(self.bad)


def look_at_file(session: Session, kind: FileKind, content: bytes, limits: FileLimits = ON_A_PAGE) -> Look | Faults:
    """Try a file and take everything back, so that what is seen is exactly what taking it in would do.

    Nothing is written, so any session will do. Faults are of the file as a whole (field 'file').
    """
    with gathered(session) as gathering:
        return _try(gathering, kind, content, limits)


def take_file(session: Session, kind: FileKind, content: bytes, limits: FileLimits = ON_A_PAGE) -> int:
    """Take a whole file in; answer how many things it brought.

    Raises `Unfit` when any line is wrong: the fields are 'line 7, wire', or 'file'.
    """
    with gathered(session) as gathering:
        found = _try(gathering, kind, content, limits)
        if isinstance(found, Look) and not found.bad:
            gathering.write()
    if isinstance(found, Faults):
        raise Unfit(found)
    if found.bad:
        raise Unfit(
            Faults(
                tuple(
                    replace(fault, field=f"line {line.line}, {fault.field}" if fault.field else f"line {line.line}")
                    for line in found.bad
                    for fault in line.faults
                )
            )
        )
    refresh_gathered(session, gathering)
    return found.count


def file_of(session: Session, kind: FileKind | FileOut, *, delimiter: str = ",") -> str:
    """Everything of one kind as the text of a file that can be taken in again; fees that nobody has get no columns."""
    rows = [dict(row) for row in kind.export(session)]
    return write_csv(_names_out(kind, rows), rows, delimiter=delimiter, columns=kind.columns)


def parts_of(session: Session, kind: FileKind, *, delimiter: str = ",", limits: FileLimits = ON_A_PAGE) -> list[str]:
    """Everything of one kind in as many files as it takes for each to be taken in again within the limits."""
    rows = [dict(row) for row in kind.export(session)]
    names = _names_out(kind, rows)
    head = write_csv(names, (), delimiter=delimiter)
    parts: list[list[str]] = [[]]
    lines = size = 0
    for group in _groups(rows, kind.together):
        texts = [
            write_csv(names, (row,), delimiter=delimiter, columns=kind.columns).removeprefix(head) for row in group
        ]
        # Of the bytes some are left for the mark at the start.
        group_size = sum(len(text.encode()) for text in texts)
        if parts[-1] and (
            lines + len(texts) > limits.lines or len(head.encode()) + size + group_size + 3 > limits.bytes
        ):
            parts.append([])
            lines = size = 0
        parts[-1] += texts
        lines, size = lines + len(texts), size + group_size
    return [head + "".join(part) for part in parts]


def _groups(rows: Sequence[dict[str, object]], together: str) -> Iterable[list[dict[str, object]]]:
    for word, group in groupby(rows, key=lambda row: row.get(together)):
        if word:
            yield list(group)
        else:
            yield from ([row] for row in group)


def _names_out(kind: FileKind | FileOut, rows: Iterable[Mapping[str, object]]) -> list[str]:
    """The columns of a file that is handed out: fees that nobody has get none."""
    names = [column.name for column in kind.columns]
    if not any(name.startswith("fee_") for name in names):
        return names
    used = {name for row in rows for name, value in row.items() if value not in {None, ""}}
    return [name for name in names if name in used or not name.startswith("fee_")]


def _try(session: Session, kind: FileKind, content: bytes, limits: FileLimits) -> Look | Faults:
    sheet = read_csv(content, kind.columns, number_shape(display_prefs(session).locale), limits=limits)
    if isinstance(sheet, Faults):
        return sheet
    fit = [row for row in sheet.rows if not row.fault]
    context = Context(metals=all_metals(session), currency=currency_of(session))
    cells = [row.cells for row in fit]
    if kind.revaluations is not None:
        often = kind.revaluations(session, cells)
        if often > limits.revaluations:
            return Faults.of("file", _too_often(often, limits.revaluations))
    count, wrong = kind.take(session, cells, context)
    return _look(kind, sheet, fit, count, wrong)


def _too_often(often: int, most: int) -> str:
    return (
        "The stock is valued by the weighted average, by which each line of an item values all lots of that item anew. "
        f"This file would do so about {often:,} times, and up to {most:,} are taken in at once. Split it so that each "
        "part has fewer lines of one item, or take it in at the command line."
    )


def _look(kind: FileKind, sheet: Sheet, fit: Sequence[SheetRow], count: int, wrong: Wrong) -> Look:
    by_line = {row.line: wrong.get(place, ()) for place, row in enumerate(fit)}
    lines = tuple(
        LookedAt(row.line, row.cells, (Fault("", row.fault),) if row.fault else by_line[row.line]) for row in sheet.rows
    )
    return Look(kind, sheet.columns, lines, count)


def _take_items(session: Session, rows: Sequence[Cells], context: Context) -> tuple[int, Wrong]:
    def add(cells: Cells) -> Faults | None:
        draft = read_item(cells, metals=context.metals, currency=context.currency)
        if isinstance(draft, Faults):
            return draft
        add_item(session, draft)
        return None

    return each_row(session, rows, add)


def _take_designs(session: Session, rows: Sequence[Cells], _context: Context) -> tuple[int, Wrong]:
    def add(cells: Cells) -> Faults | None:
        draft = read_design_row(cells)
        if isinstance(draft, Faults):
            return draft
        add_design(session, draft)
        return None

    return each_row(session, rows, add)


def _take_outlets(session: Session, rows: Sequence[Cells], _context: Context) -> tuple[int, Wrong]:
    def add(cells: Cells) -> Faults | None:
        draft = read_outlet_row(cells)
        if isinstance(draft, Faults):
            return draft
        add_outlet(session, draft, refresh=False)
        return None

    found = each_row(session, rows, add)
    refresh_figures(session)
    return found


def _take_parts(session: Session, rows: Sequence[Cells], _context: Context) -> tuple[int, Wrong]:
    """The rows of one design are its parts, together; a wrong one leaves the design as it was."""
    groups: dict[str, list[int]] = {}
    for place, cells in enumerate(rows):
        groups.setdefault(cells.get("design", "").strip().casefold(), []).append(place)
    if (gathering := gathering_in(session)) is not None:
        named = (design_named(session, name) for name in groups)
        hold_drafts(gathering, {design_id for design_id in named if design_id is not None})
    wrong: Wrong = {}
    good = 0
    for places in groups.values():
        name = rows[places[0]].get("design", "").strip()
        if not name:
            wrong |= {place: (Fault("design", "Name the design that this part belongs to."),) for place in places}
            continue
        own = [rows[place] for place in places]
        faults = within(session, partial(set_parts, session, name, own))
        good += 0 if faults else 1
        for fault in faults or ():
            place, field = _place_of(fault.field, places)
            wrong[place] = (*wrong.get(place, ()), replace(fault, field=field))
    return good, wrong


def _place_of(field: str, places: Sequence[int]) -> tuple[int, str]:
    """The row that a fault belongs to: 'parts.2.wire' is the third of its design; anything else the first."""
    group, _, rest = field.partition(".")
    number, _, column = rest.partition(".")
    if group == "parts" and number.isdigit() and int(number) < len(places):
        return places[int(number)], column
    return places[0], field


KINDS: dict[str, FileKind] = {
    kind.code: kind
    for kind in (
        FileKind(
            "items",
            "stock item",
            "stock items",
            "Rings, findings, chain, wire, packaging and what is used up, each with its current offer. "
            "A line adds one item; what is in stock already is refused.",
            ITEM_COLUMNS,
            _take_items,
            export_items,
            seen_at="/stock",
        ),
        FileKind(
            "offers",
            "offer",
            "offers",
            "What suppliers ask for a pack, with price breaks; several for one item stand side by side. "
            "A line takes the place of what the same supplier asked for the same pack before.",
            OFFER_COLUMNS,
            lambda session, rows, context: take_offers(session, rows, context.currency),
            export_offers,
            seen_at="/stock/suppliers",
        ),
        FileKind(
            "designs",
            "design",
            "designs",
            "Designs with their sizes and their work, without parts and without rows: how a piece is laid out is kept "
            "in a backup. A line adds one design; a name that is taken is refused.",
            DESIGN_COLUMNS,
            _take_designs,
            export_designs,
            seen_at="/designs",
        ),
        FileKind(
            "parts",
            "design's parts",
            "designs' parts",
            "What designs are made of. The lines of one design are its parts, in the order of the file; "
            "they replace the plain parts it has, as a new revision. Parts that a design's rows make stay as they are, "
            "and a file does not hold the rows.",
            PART_COLUMNS,
            _take_parts,
            export_parts,
            seen_at="/designs",
            together="design",
        ),
        FileKind(
            "outlets",
            "outlet",
            "outlets",
            "Where you sell, with fees, tax and postage. A line adds one outlet; a name that is taken is refused.",
            OUTLET_COLUMNS,
            _take_outlets,
            export_outlets,
            seen_at="/outlets",
        ),
        FileKind(
            "receipts",
            "receipt",
            "receipts",
            "Stock that came in, also what is there when you start. Each line becomes a lot; lines of one receipt "
            "share its freight. A line without a cost takes the price of the current offer.",
            RECEIPT_COLUMNS,
            take_receipts,
            export_receipts,
            seen_at="/stock",
            revaluations=revaluations_of_receipts,
            together="receipt",
        ),
        FileKind(
            "counts",
            "count",
            "counts",
            "What was found in bags. Each line books the difference to what the bag should hold.",
            COUNT_COLUMNS,
            take_counts,
            export_counts,
            seen_at="/stock",
            revaluations=revaluations_of_bags,
        ),
        FileKind(
            "leavings",
            "leaving",
            "leavings",
            "Stock that left without a build: spoiled, lost, given away or sold loose.",
            LEAVING_COLUMNS,
            take_stock_outs,
            export_stock_outs,
            seen_at="/stock",
            revaluations=revaluations_of_bags,
        ),
    )
}

ONLY_OUT: dict[str, FileOut] = {
    kind.code: kind
    for kind in (
        FileOut(
            "movements",
            "movements",
            "Everything that ever moved in the ledger, with what was taken back, for a spreadsheet of your own.",
            MOVEMENT_COLUMNS,
            export_movements,
        ),
        FileOut(
            "stock",
            "stock",
            "What is on hand, reserved, free and on order of each item, and what it is worth.",
            STOCK_COLUMNS,
            export_stock,
        ),
    )
}
"""What is handed out only."""
