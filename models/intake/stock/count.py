"""What people hand in about a counted bag: what was found, beside what the page said; from a form, JSON or CSV."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from models.intake.csv_file import Column
from models.intake.faults import Faults
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
from models.intake.stock.place import NO_PLACE, read_place

COUNT_COLUMNS: Final = (
    Column("lot_id", "The lot's number, as its bag label says; empty where the item has one bag.", example="12",
           holds="number"),
    Column("item", "The name of the stock item, where no lot is given.", example="Bronze ring 1.0 × 3.6 mm"),
    Column("place", f"Where the bag lies, or “{NO_PLACE}”; empty where the lot lies in one bag.", example="drawer B4"),
    Column("found", "What was found: a count, about so many, a weight, or plenty.", required=True, example="412",
           holds="amount"),
    Column("counted_on", "The day of the count; empty means today.", example="2026-03-31"),
    Column("note", "Anything else.", example="One bag had split."),
)  # fmt: skip
"""The columns of a CSV file of counts; their names are the fields that `read_count` reads."""


@dataclass(frozen=True, slots=True)
class CountDraft:
    """A counted bag: its lot by its number, or its item by its name or number where that has one bag only.

    `place` None takes the only bag in which anything of the lot lies, '' is the bag that has no place. `expected_milli`
    is what the page said was in it, in thousandths, so that a count from a stale page is noticed; None does not ask.
    `tare_ug` is remembered for the bag.
    """

    found: HowMuch
    lot_id: int | None = None
    item_id: int | None = None
    item: str = ""
    place: str | None = None
    expected_milli: int | None = None
    counted_on: date | None = None
    note: str = ""
    tare_ug: int | None = None


def read_count(raw: Raw) -> CountDraft | Faults:
    """Read the count of one bag."""
    reader = Reader(raw)
    lot_id = reader.identity("lot_id", required=False)
    item_id = reader.identity("item_id", required=False)
    item = reader.text("item", most=120)
    if lot_id is None and item_id is None and not item:
        reader.fault("lot_id", "Say which bag was counted: its lot, or its item.")
    found = how_much(
        reader, "found", missing="Say what was found, such as 412, about 400 or plenty.", zero=True, plenty=True
    )
    expected = reader.quantity("expected", required=False)
    place = read_place(reader, "place")
    counted_on = reader.date("counted_on", required=False)
    note = reader.text("note", most=500, lines=True)
    tare_ug = reader.mass("tare", required=False)
    faults = reader.faults()
    if faults is not None or found is None:
        return faults or Faults.of("found", "Say what was found.")
    return CountDraft(
        found=found,
        lot_id=lot_id,
        item_id=item_id,
        item="" if lot_id is not None or item_id is not None else item,
        place=place,
        expected_milli=None if expected is None else int(expected * 1000),
        counted_on=counted_on,
        note=note,
        tare_ug=tare_ug,
    )
