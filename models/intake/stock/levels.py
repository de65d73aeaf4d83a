"""What people hand in about how much of an item should be there: its reorder point, its target, and its batches."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from models.intake.faults import Faults
from models.intake.raw import LARGEST_COUNT, Raw, Reader


@dataclass(frozen=True, slots=True)
class LevelsDraft:
    """When to buy again and up to how much, in thousandths of the item's unit; None asks for nothing.

    `batch_colour` says that lots of this colour differ, so that one piece should come from one lot.
    """

    reorder_milli: int | None
    target_milli: int | None
    batch_colour: bool


def read_levels(raw: Raw) -> LevelsDraft | Faults:
    """Read an item's reorder point and target; empty asks for nothing."""
    reader = Reader(raw)
    most = Decimal(LARGEST_COUNT)
    reorder = reader.quantity("reorder", required=False, most=most)
    target = reader.quantity("target", required=False, most=most)
    if target is not None and reorder is None and not reader.faults():
        reader.fault("reorder", "Say from how few on to buy again, so that the target is of use.")
    if reorder is not None and target is not None and target < reorder:
        reader.fault("target", f"This is under the reorder point of {reorder}; give as much or more.")
    draft = LevelsDraft(
        reorder_milli=None if reorder is None else int(reorder * 1000),
        target_milli=None if target is None else int(target * 1000),
        batch_colour=reader.flag("batch_colour"),
    )
    return reader.faults() or draft
