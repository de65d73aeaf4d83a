"""What people hand in about a bag that moves to another place, whole or in part."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Final

from models.intake.faults import Faults
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
from models.intake.stock.place import read_goal, read_place

LIES_THERE: Final = "It lies there already. Give another place."


@dataclass(frozen=True, slots=True)
class TransferDraft:
    """A bag that moves; `how` None means all of it. `moved_on` None means today.

    `from_place` None is the bag that has no place where it holds something, else the lot's only one.
    """

    lot_id: int
    from_place: str | None
    to_place: str
    how: HowMuch | None = None
    moved_on: date | None = None
    note: str = ""


def read_transfer(raw: Raw) -> TransferDraft | Faults:
    """Read a move from one place to another; without a quantity the whole bag goes."""
    reader = Reader(raw)
    lot_id = reader.identity("lot_id")
    from_place = read_place(reader, "from_place")
    to_place = read_goal(reader, "to_place", required="Say where it goes, such as drawer B4.")
    if reader.has("to_place") and to_place == from_place:
        reader.fault("to_place", LIES_THERE)
    how = how_much(reader, "quantity", missing="") if reader.has("quantity") else None
    draft = TransferDraft(
        lot_id=lot_id or 0,
        from_place=from_place,
        to_place=to_place,
        how=how,
        moved_on=reader.date("moved_on", required=False),
        note=reader.text("note", most=500, lines=True),
    )
    return reader.faults() or draft
