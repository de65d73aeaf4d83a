"""What people hand in about stock that came in: one receipt with its lines, from a form, a JSON body or a CSV file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Final

from models.intake.csv_file import Column
from models.intake.faults import Faults
from models.intake.how_much import HowMuch, how_much, packs_of
from models.intake.raw import Raw, Reader
from models.intake.stock.place import read_goal
from models.trade.money import is_currency

LARGEST_RATE: Final = Decimal(1_000_000)
MOST_LINES: Final = 300
"""Of one receipt that is sent as a whole: each becomes a lot, and all are booked in one write."""
_LINE_FIELDS: Final = (
    "item", "item_id", "quantity", "packs", "pack", "unit_cost", "total_cost", "pack_price", "batch", "tare",
)  # fmt: skip
_COSTS: Final = ("unit_cost", "total_cost", "pack_price")

RECEIPT_COLUMNS: Final = (
    Column("receipt", "Lines with the same word here came together; their freight is spread over them.",
           example="March order"),
    Column("item", "The name of the stock item.", required=True, example="Bronze ring 1.0 × 3.6 mm"),
    Column("item_id", "Its number, where two items have one name.", example="12", holds="number"),
    Column("quantity", "How much came: a count, about so many, a weight or a length.", example="about 400",
           holds="amount"),
    Column("packs", "Instead of a quantity: how many packs.", example="3", holds="number"),
    Column("pack", "What one pack holds, where it is not the pack of the current offer.", example="100",
           holds="amount"),
    Column("unit_cost", "What one cost; one cost column is enough.", example="0.034", holds="number"),
    Column("total_cost", "What the whole line cost.", example="10.20", holds="number"),
    Column("pack_price", "What one pack cost.", example="3.40", holds="number"),
    Column("currency", "The currency of the costs; empty means the shop's own.", example="USD"),
    Column("exchange_rate", "What one unit of another currency costs in the shop's own.", example="0.92",
           holds="number"),
    Column("freight", "Freight, in the same currency; of several lines of one receipt the sum counts.",
           example="4.50", holds="number"),
    Column("supplier", "Who sold it; a new name makes a new supplier.", example="A supplier's name"),
    Column("received_on", "The day it came; empty means today.", example="2026-03-31"),
    Column("batch", "The supplier's batch or dye lot.", example="dye lot 7"),
    Column("place", "Where it lies.", example="drawer B4"),
    Column("note", "Anything else.", example="Order 118"),
    Column("opening", "Yes where it lies there already and did not just come: then 0 is an answer too.", example="no"),
)  # fmt: skip
"""The columns of a CSV file of receipts; their names are the fields that `read_receipt_row` reads."""


@dataclass(frozen=True, slots=True)
class ReceiptLine:
    """One line of a receipt: the item by its number or its name, how much of it, and what it cost.

    At most one of the costs is given, in the receipt's currency; without one the current offer's is taken. `tare_ug` is
    what the empty bag weighs.
    """

    how: HowMuch
    item_id: int | None = None
    item: str = ""
    unit_cost: Decimal | None = None
    total_cost: Decimal | None = None
    pack_price: Decimal | None = None
    batch: str = ""
    place: str = ""
    note: str = ""
    tare_ug: int | None = None


@dataclass(frozen=True, slots=True)
class ReceiptDraft:
    """Stock that came in together. `currency` empty means the shop's own; `received_on` None means today.

    `exchange_rate` is what one unit of `currency` costs in the shop's own. `freight` is in `currency` too. `flat` tells
    that its only line was handed in without `lines`, so that faults found later name its fields the same way.
    """

    lines: tuple[ReceiptLine, ...]
    supplier: str = ""
    supplier_id: int | None = None
    received_on: date | None = None
    currency: str = ""
    exchange_rate: Decimal | None = None
    freight: Decimal = Decimal(0)
    note: str = ""
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
    draft = replace(_head(reader, lines), flat="lines" not in raw)
    return reader.faults() or draft


def read_receipt_row(raw: Raw) -> ReceiptRow | Faults:
    """Read one row of a file of receipts."""
    reader = Reader(raw)
    receipt = reader.text("receipt", most=60)
    line = _line(reader, opening=reader.flag("opening"))
    draft = _head(reader, (line,) if line else ())
    return reader.faults() or ReceiptRow(receipt, replace(draft, flat=True))


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


def _head(reader: Reader, lines: tuple[ReceiptLine, ...]) -> ReceiptDraft:
    currency = reader.text("currency", most=3).upper()
    if currency and not is_currency(currency):
        words = f"'{currency}' is not a currency of ISO 4217; give three letters such as EUR, GBP or USD."
        reader.fault("currency", words)
    rate = reader.decimal("exchange_rate", required=False, least=Decimal("0.000001"), most=LARGEST_RATE, places=10)
    return ReceiptDraft(
        lines=lines,
        supplier=reader.text("supplier", most=120),
        supplier_id=reader.identity("supplier_id", required=False),
        received_on=reader.date("received_on", required=False),
        currency=currency,
        exchange_rate=rate,
        freight=reader.money("freight", default=Decimal(0)) or Decimal(0),
        note=reader.text("note", most=500, lines=True),
    )


def _line_or_nothing(reader: Reader, *, opening: bool) -> ReceiptLine | None:
    return _line(reader, opening=opening) if any(reader.has(field) for field in _LINE_FIELDS) else None


def _line(reader: Reader, *, opening: bool) -> ReceiptLine | None:
    """Read one line; None when it has a fault."""
    item_id, item = reader.identity("item_id", required=False), reader.text("item", most=120)
    if item_id is None and not item:
        reader.fault("item_id", "Say what came in.")
    if reader.has("packs"):
        how = packs_of(reader)
        if reader.has("quantity"):
            reader.fault("packs", "Give the quantity or the number of packs, not both.")
    else:
        how = how_much(
            reader, "quantity", missing="Say how much came, such as 500, about 400 or 250 g.", zero=opening, plenty=True
        )
    costs = {field: reader.money(field, required=False) for field in _COSTS}
    given = [field for field in _COSTS if reader.has(field)]
    if len(given) > 1:
        reader.fault(given[1], "Give one cost only: of one, of a pack, or of the whole line.")
    if given and how is not None and how.none:
        reader.fault(given[0], "There is none of it, so leave its cost empty.")
    if given == ["pack_price"] and not reader.has("packs"):
        reader.fault("packs", "Say how many packs came at this price.")
    batch = reader.text("batch", most=60)
    place = read_goal(reader, "place")
    tare_ug = reader.mass("tare", required=False)
    if how is None:
        return None
    return ReceiptLine(
        how=how,
        item_id=item_id,
        item="" if item_id is not None else item,
        **costs,
        batch=batch,
        place=place,
        note=reader.text("line_note", most=500),
        tare_ug=tare_ug,
    )
