"""What people hand in about a bag that moves to another place, whole or in part."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from models.intake.faults import Faults
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
from models.intake.receipt import MOST_PLACE


@dataclass(frozen=True, slots=True)
class TransferDraft:
    """A bag that moves; `how` None means all of it. `moved_on` None means today."""

    lot_id: int
    from_place: str
    to_place: str
    how: HowMuch | None = None
    moved_on: date | None = None
    note: str = ""


def read_transfer(raw: Raw) -> TransferDraft | Faults:
    """Read a move from one place to another; without a quantity the whole bag goes."""
    reader = Reader(raw)
    lot_id = reader.identity("lot_id")
    from_place = reader.text("from_place", most=MOST_PLACE)
    to_place = reader.text("to_place", required="Say where it goes, such as drawer B4.", most=MOST_PLACE)
    if to_place and to_place == from_place:
        reader.fault("to_place", "It lies there already. Give another place.")
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
