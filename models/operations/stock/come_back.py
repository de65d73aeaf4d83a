"""What comes back into stock at a cost that was corrected since it left, and what brings it to the corrected one.

Rings that a build took out, or that were given away by mistake, come back at the value with which they left. Where the
receipt that they were part of was corrected in between, that value is the old one, and would be false in the bag for
good: a movement without a quantity takes the difference back out of what left at the old cost. Only the ledger uses it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from sqlmodel import Session

from models.queries.stock.followed import corrected_lots, follow_corrected, whose_doing
from models.tables import Movement
from models.trade.lots import Method, half_even
from models.trade.otherwise import FINE, Otherwise

_NEVER = frozenset({"correction"})


class Returned(Protocol):
    """What comes back: so many thousandths, into a lot."""

    @property
    def lot_id(self) -> int:
        """The lot."""

    @property
    def quantity_milli(self) -> int:
        """How much."""


class ComeBack:
    """The corrected receipts of the items that an act touches, followed when something first comes back to them.

    Under 'fifo' only what comes back into the corrected lot itself is put right; an average that the shop used before
    may have mixed its cost into other lots, and those keep what they have.
    """

    def __init__(self, session: Session, build_id: int | None, method: Method) -> None:
        self._session = session
        self._build_id = build_id
        self._method = method
        self._followed: dict[int, list[Otherwise]] = {}
        self._came: dict[tuple[int, int], int] = {}

    def with_return(self, item_id: int, posting: Returned) -> dict[int, int]:
        """What each corrected lot is worth more when this comes back from the act's build, in millionths."""
        if self._build_id is None:
            return {}
        found: dict[int, int] = {}
        whose = whose_doing(0, self._build_id)
        for place, one in enumerate(self._of(item_id)):
            if not self._concerns(one, posting.lot_id):
                continue
            key = (place, posting.lot_id)
            before = self._came.get(key, 0)
            after = before + posting.quantity_milli
            self._came[key] = after
            # What came back by this act before counts along, so that parts add up to the whole.
            parts = one.brings_back(whose, posting.lot_id, after) - one.brings_back(whose, posting.lot_id, before)
            _add(found, one, parts)
        return found

    def with_reversal(self, rows: Sequence[Movement]) -> dict[int, int]:
        """What each corrected lot is worth more when these movements are taken back, in millionths.

        Taking back a correction itself brings nothing back.
        """
        found: dict[int, int] = {}
        if any(row.kind in _NEVER for row in rows):
            return found
        for item_id in dict.fromkeys(row.item_id for row in rows):
            for one in self._of(item_id):
                back = [row.id or 0 for row in rows if self._concerns(one, row.lot_id)]
                _add(found, one, -sum(one.took(movement_id) for movement_id in back))
        return found

    def _concerns(self, one: Otherwise, lot_id: int) -> bool:
        return self._method == "average" or (one.corrected is not None and one.corrected.lot_id == lot_id)

    def _of(self, item_id: int) -> list[Otherwise]:
        if item_id not in self._followed:
            lots = corrected_lots(self._session, item_ids=(item_id,))
            self._followed[item_id] = follow_corrected(self._session, lots)
        return self._followed[item_id]


def _add(found: dict[int, int], one: Otherwise, parts: int) -> None:
    micros = half_even(parts, FINE)
    if micros and one.corrected is not None:
        lot_id = one.corrected.lot_id
        found[lot_id] = found.get(lot_id, 0) + micros
