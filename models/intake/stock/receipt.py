"""What people hand in about stock that came in: one receipt with its lines, from a form, a JSON body or a CSV file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Annotated, Final

from models.intake.csv_file import in_order
from models.intake.faults import Faults
from models.intake.fields import RATE_OF_EXCHANGE, Day, Money, Number, Own, Text, columns_of, read_fields
from models.intake.how_much import HowMuch, how_much, packs_of
from models.intake.raw import Raw, Reader
from models.intake.stock.naming import (
    CURRENCY,
    ITEM,
    ITEM_ID,
    QUANTITY,
    SUPPLIER,
    SUPPLIER_ID,
    TARE,
    with_item_needed,
)
from models.intake.stock.place import read_goal

MOST_LINES: Final = 300
"""Of one receipt that is sent as a whole: each becomes a lot, and all are booked in one write."""
_LINE_FIELDS: Final = (
    "item", "item_id", "quantity", "packs", "pack", "unit_cost", "total_cost", "pack_price", "batch", "tare",
)  # fmt: skip
_COSTS: Final = ("unit_cost", "total_cost", "pack_price")

RECEIPT: Final = Text(
    label="Receipt",
    says="Lines with the same word here came together; their freight is spread over them.",
    example="March order",
    most=60,
)
PACKS: Final = Number(label="Packs", says="Instead of a quantity: how many packs.", example="3", required=False)
PACK: Final = Text(
    label="Pack",
    says="What one pack holds, where it is not the pack of the current offer.",
    example="100",
    held="amount",
)
OPENING: Final = Text(
    label="Opening",
    says="Yes where it lies there already and did not just come: then 0 is an answer too.",
    example="no",
)


@dataclass(frozen=True, slots=True)
class ReceiptLine:
    """One line of a receipt: the item by its number or its name, how much of it, and what it cost.

    At most one of the costs is given, in the receipt's currency; without one the current offer's is taken. `tare_ug` is
    what the empty bag weighs.
    """

    how: Annotated[
        HowMuch,
        replace(QUANTITY, says="How much came: a count, about so many, a weight or a length.", example="about 400"),
    ]
    item_id: Annotated[int | None, ITEM_ID] = None
    item: Annotated[str, ITEM] = ""
    unit_cost: Annotated[
        Decimal | None,
        Money(label="Cost of one", says="What one cost; one cost column is enough.", example="0.034", required=False),
    ] = None
    total_cost: Annotated[
        Decimal | None,
        Money(label="Cost of all", says="What the whole line cost.", example="10.20", required=False),
    ] = None
    pack_price: Annotated[
        Decimal | None, Money(label="Cost of a pack", says="What one pack cost.", example="3.40", required=False)
    ] = None
    batch: Annotated[
        str, Text(label="Batch", says="The supplier's batch or dye lot.", example="dye lot 7", most=60)
    ] = ""
    place: Annotated[str, Own(label="Place", says="Where it lies.", example="drawer B4", by=read_goal)] = ""
    note: Annotated[str, Text(label="Note", typed="line_note", most=500, in_file=False)] = ""
    tare_ug: Annotated[int | None, TARE] = None


@dataclass(frozen=True, slots=True)
class ReceiptDraft:
    """Stock that came in together. `currency` empty means the shop's own; `received_on` None means today.

    `exchange_rate` is what one unit of `currency` costs in the shop's own. `freight` is in `currency` too. `flat` tells
    that its only line was handed in without `lines`, so that faults found later name its fields the same way.
    """

    lines: tuple[ReceiptLine, ...]
    supplier: Annotated[str, replace(SUPPLIER, says="Who sold it; a new name makes a new supplier.")] = ""
    supplier_id: Annotated[int | None, SUPPLIER_ID] = None
    received_on: Annotated[
        date | None,
        Day(
            label="Day",
            says="The day it came; empty means today.",
            example="2026-03-31",
            required=False,
            json={"type": "string"},
        ),
    ] = None
    currency: Annotated[str, replace(CURRENCY, says="The currency of the costs; empty means the shop's own.")] = ""
    exchange_rate: Annotated[Decimal | None, RATE_OF_EXCHANGE] = None
    freight: Annotated[
        Decimal,
        Money(
            label="Freight",
            says="Freight, in the same currency; of several lines of one receipt the sum counts.",
            example="4.50",
            default=Decimal(0),
        ),
    ] = Decimal(0)
    note: Annotated[str, Text(label="Note", says="Anything else.", example="Order 118", most=500, lines=True)] = ""
    flat: bool = False


@dataclass(frozen=True, slots=True)
class ReceiptRow:
    """One row of a file of receipts: the word that holds its receipt together, and a receipt of one line."""

    receipt: str
    draft: ReceiptDraft


def read_receipt(raw: Raw) -> ReceiptDraft | Faults:
    """Read a receipt: with `lines`, of which empty ones are passed over, or with the fields of a single line.

    With `opening` it is what lies there already, and none of an item is an answer too.
    """
    reader = Reader(raw)
    opening = reader.flag("opening")
    if "lines" in raw:
        sent = raw["lines"]
        if isinstance(sent, Sequence) and not isinstance(sent, str) and len(sent) > MOST_LINES:
            return Faults.of("lines", f"Take in at most {MOST_LINES} lines at once; these are {len(sent)}.")
        rows = reader.each("lines", partial(_line_or_nothing, opening=opening))
        lines = tuple(line for line in rows if line is not None)
        if not lines and not reader.faults():
            reader.fault("lines.0.item_id", "Say what came in.")
    else:
        only = _line(reader, opening=opening)
        lines = (only,) if only else ()
    draft = read_fields(ReceiptDraft, reader, lines=lines, flat="lines" not in raw)
    return reader.faults() or draft


def read_receipt_row(raw: Raw) -> ReceiptRow | Faults:
    """Read one row of a file of receipts."""
    reader = Reader(raw)
    receipt = RECEIPT.read(reader, "receipt")
    line = _line(reader, opening=reader.flag("opening"))
    draft = read_fields(ReceiptDraft, reader, lines=(line,) if line else (), flat=True)
    return reader.faults() or ReceiptRow(receipt, draft)


def gather_receipts(rows: Sequence[ReceiptRow]) -> tuple[ReceiptDraft, ...] | Faults:
    """Put the rows of one receipt together, in the order of the file; a row without a word stands alone.

    Rows of one receipt must agree on supplier, day and currency; a fault's field is 'rows.N.receipt'.
    """
    found: list[ReceiptDraft] = []
    known: dict[str, int] = {}
    for number, row in enumerate(rows):
        word = row.receipt.casefold()
        if not word or word not in known:
            known[word] = len(found)
            found.append(row.draft)
            continue
        first = found[known[word]]
        if _head_of(first) != _head_of(row.draft):
            return Faults.of(
                f"rows.{number}.receipt",
                f"The lines of “{row.receipt}” must name the same supplier, day, currency and rate.",
            )
        found[known[word]] = replace(
            first, lines=first.lines + row.draft.lines, freight=first.freight + row.draft.freight, flat=False
        )
    return tuple(found)


def _head_of(draft: ReceiptDraft) -> tuple[object, ...]:
    return (draft.supplier.casefold(), draft.supplier_id, draft.received_on, draft.currency, draft.exchange_rate)


def _line_or_nothing(reader: Reader, *, opening: bool) -> ReceiptLine | None:
    return _line(reader, opening=opening) if any(reader.has(field) for field in _LINE_FIELDS) else None


def _line(reader: Reader, *, opening: bool) -> ReceiptLine | None:
    """Read one line; None when it has a fault."""
    if reader.has("packs"):
        how = packs_of(reader)
        if reader.has("quantity"):
            reader.fault("packs", "Give the quantity or the number of packs, not both.")
    else:
        how = how_much(
            reader, "quantity", missing="Say how much came, such as 500, about 400 or 250 g.", zero=opening, plenty=True
        )
    line = read_fields(ReceiptLine, reader, how=how)
    if line.item_id is None and not line.item:
        reader.fault("item_id", "Say what came in.")
    given = [field for field in _COSTS if reader.has(field)]
    if len(given) > 1:
        reader.fault(given[1], "Give one cost only: of one, of a pack, or of the whole line.")
    if given and how is not None and how.none:
        reader.fault(given[0], "There is none of it, so leave its cost empty.")
    if given == ["pack_price"] and not reader.has("packs"):
        reader.fault("packs", "Say how many packs came at this price.")
    if how is None:
        return None
    return replace(line, item="" if line.item_id is not None else line.item)


RECEIPT_COLUMNS: Final = in_order(
    with_item_needed(
        (
            RECEIPT.column("receipt"),
            *columns_of(ReceiptLine),
            PACKS.column("packs"),
            PACK.column("pack"),
            *columns_of(ReceiptDraft),
            OPENING.column("opening"),
        )
    ),
    "receipt", "item", "item_id", "quantity", "packs", "pack", "unit_cost", "total_cost", "pack_price", "currency",
    "exchange_rate", "freight", "supplier", "received_on", "batch", "place", "note", "opening",
)  # fmt: skip
"""The columns of a CSV file of receipts; their names are the fields that `read_receipt_row` reads."""
