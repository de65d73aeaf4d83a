"""What people declare about stand-ins: which other ring may be used where one runs out."""

from __future__ import annotations

from dataclasses import dataclass

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader


@dataclass(frozen=True, slots=True)
class StandInDraft:
    """`stand_in_id` may be used in the place of the item; `both_ways` says that they are exchangeable."""

    stand_in_id: int
    both_ways: bool = False


def read_stand_in(raw: Raw) -> StandInDraft | Faults:
    """Read one stand-in of an item."""
    reader = Reader(raw)
    if not reader.has("stand_in_id"):
        reader.fault("stand_in_id", "Choose the ring that may stand in.")
    stand_in_id = reader.identity("stand_in_id", required=False)
    draft = StandInDraft(stand_in_id or 0, reader.flag("both_ways"))
    return reader.faults() or draft
