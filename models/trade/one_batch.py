"""Which lots to take from when batches of a colour differ: one for all pieces, else one for each, else the fewest.

How the value of what leaves is found stands in `lots`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from models.trade.lots import Lot, Pick, oldest_first, pick_one_lot

Batches = Literal["one", "one a piece", "mixed"]


@dataclass(frozen=True, slots=True)
class PickedBatches:
    """What to take, oldest lot first, and whether one lot does for all pieces, or one for each, or neither."""

    picks: tuple[Pick, ...]
    batches: Batches


def pick_batches(lots: Sequence[Lot], piece_milli: int, pieces: int, spare_milli: int = 0) -> PickedBatches:
    """Return what to take for so many pieces, in thousandths; what is spare goes with the lot that gave most.

    Raises: NotEnough; ValueError for nothing.
    """
    whole = pick_one_lot(lots, piece_milli * pieces + spare_milli)
    if whole.one_lot:
        return PickedBatches(whole.picks, "one")
    taken: dict[int, int] = {}
    left = pieces
    for lot in oldest_first(lots):
        fits = min(left, lot.free_milli // piece_milli) if piece_milli else 0
        if fits:
            taken[lot.id] = fits * piece_milli
            left -= fits
    if left:
        return PickedBatches(whole.picks, "mixed")
    spare = spare_milli
    for lot in sorted(oldest_first(lots), key=lambda lot: -taken.get(lot.id, 0)):
        more = min(spare, lot.free_milli - taken.get(lot.id, 0))
        if more:
            taken[lot.id] = taken.get(lot.id, 0) + more
            spare -= more
    return PickedBatches(
        tuple(Pick(lot.id, taken[lot.id]) for lot in oldest_first(lots) if lot.id in taken), "one a piece"
    )
