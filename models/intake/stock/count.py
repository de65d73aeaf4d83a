"""What people hand in about a counted bag: what was found, beside what the page said; from a form, JSON or CSV."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Annotated, Final

from models.intake.csv_file import in_order
from models.intake.faults import Faults
from models.intake.fields import ANY_NUMBER, Day, Own, Text, columns_of, read_fields
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
from models.intake.stock.naming import ITEM, ITEM_ID, LOT_ID, TARE, read_milli
from models.intake.stock.place import NO_PLACE, read_place


@dataclass(frozen=True, slots=True)
class CountDraft:
    """A counted bag: its lot by its number, or its item by its name or number where that has one bag only.

    `place` None takes the only bag in which anything of the lot lies, '' is the bag that has no place. `expected_milli`
    is what the page said was in it, in thousandths, so that a count from a stale page is noticed; None does not ask.
    `tare_ug` is remembered for the bag.
    """

    found: Annotated[
        HowMuch,
        Own(
            label="Found",
            says="What was found: 412, 'about 400', '23.5 g', 'plenty'; 0 for an empty bag.",
            example="412",
            required=True,
            held="amount",
            json=ANY_NUMBER,
        ),
    ]
    lot_id: Annotated[
        int | None,
        replace(LOT_ID, says="The lot's number, as its bag label says; empty where the item has one bag."),
    ] = None
    item_id: Annotated[
        int | None,
        replace(ITEM_ID, says="In the place of the lot, where the item has one bag only.", in_file=False),
    ] = None
    item: Annotated[str, replace(ITEM, says="The name of the stock item, where no lot is given.")] = ""
    place: Annotated[
        str | None,
        Own(
            label="Place",
            says=f"Where the bag lies, or “{NO_PLACE}”; empty where the lot lies in one bag.",
            example="drawer B4",
            by=read_place,
        ),
    ] = None
    expected_milli: Annotated[
        int | None,
        Own(
            label="Expected",
            says="What the count was held against; when the bag changed since, it is refused.",
            typed="expected",
            by=read_milli,
            json=ANY_NUMBER,
            in_file=False,
        ),
    ] = None
    counted_on: Annotated[
        date | None,
        Day(label="Day", says="The day of the count; empty means today.", example="2026-03-31", required=False),
    ] = None
    note: Annotated[
        str, Text(label="Note", says="Anything else.", example="One bag had split.", most=500, lines=True)
    ] = ""
    tare_ug: Annotated[int | None, TARE] = None


def read_count(raw: Raw) -> CountDraft | Faults:
    """Read the count of one bag."""
    reader = Reader(raw)
    found = how_much(
        reader, "found", missing="Say what was found, such as 412, about 400 or plenty.", zero=True, plenty=True
    )
    draft = read_fields(CountDraft, reader, found=found)
    numbered = draft.lot_id is not None or draft.item_id is not None
    if not numbered and not draft.item:
        reader.fault("lot_id", "Say which bag was counted: its lot, or its item.")
    return reader.faults() or replace(draft, item="" if numbered else draft.item)


COUNT_COLUMNS: Final = in_order(columns_of(CountDraft), "lot_id", "item", "place")
"""The columns of a CSV file of counts; their names are the fields that `read_count` reads."""
