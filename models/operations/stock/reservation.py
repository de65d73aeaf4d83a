"""What is reserved and for whom, and its rows as one act changes them.

Only the ledger writes them, together with the counters of the bags; nothing reaches the database before `settle`.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session, col, select

from models.queries.stock.lot import BagKey
from models.tables import Reservation


@dataclass(frozen=True, slots=True)
class Holder:
    """Who something is reserved for: a kind of HOLDER_KINDS, and its number among those."""

    kind: str
    id: int


@dataclass(frozen=True, slots=True)
class Hold:
    """What is reserved in one bag for one holder, in thousandths."""

    lot_id: int
    place: str
    quantity_milli: int
    holder: Holder


def for_build(build_id: int) -> Holder:
    """A build as the holder of what it will take."""
    return Holder("build", build_id)


def holds_of(session: Session, holder: Holder) -> tuple[Hold, ...]:
    """All that is reserved for a holder, in the order in which it was reserved."""
    return tuple(Hold(row.lot_id, row.place, row.quantity_milli, holder) for row in _rows_of(session, holder).values())


class Reservations:
    """The reservations of the holders that one act names, each holder's read at once when it is first named."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._rows: dict[Holder, dict[BagKey, Reservation]] = {}
        self._milli: dict[Holder, dict[BagKey, int]] = {}

    def add(self, hold: Hold) -> None:
        """Reserve more for a holder."""
        held, bag = self._held(hold.holder), (hold.lot_id, hold.place)
        held[bag] = held.get(bag, 0) + hold.quantity_milli

    def take_away(self, hold: Hold) -> None:
        """Reserve less for a holder. Raises: ValueError for more than is reserved for it."""
        held, bag = self._held(hold.holder), (hold.lot_id, hold.place)
        if not 0 <= hold.quantity_milli <= held.get(bag, 0):
            raise ValueError("no more can be given up than is reserved")
        held[bag] = held.get(bag, 0) - hold.quantity_milli

    def settle(self) -> None:
        """Write what is reserved now; of what is given up no row stays."""
        for holder, held in self._milli.items():
            for bag, milli in held.items():
                self._write(holder, bag, milli)

    def _write(self, holder: Holder, bag: BagKey, milli: int) -> None:
        row = self._rows[holder].get(bag)
        if milli:
            row = row or Reservation(holder_kind=holder.kind, holder_id=holder.id, lot_id=bag[0], place=bag[1])
            row.quantity_milli = milli
            self.session.add(row)
        elif row is not None:
            self.session.delete(row)

    def _held(self, holder: Holder) -> dict[BagKey, int]:
        """What is reserved for a holder so far, by bag."""
        if holder not in self._milli:
            self._rows[holder] = _rows_of(self.session, holder)
            self._milli[holder] = {bag: row.quantity_milli for bag, row in self._rows[holder].items()}
        return self._milli[holder]


def _rows_of(session: Session, holder: Holder) -> dict[BagKey, Reservation]:
    rows = session.exec(
        select(Reservation)
        .where(Reservation.holder_kind == holder.kind, Reservation.holder_id == holder.id)
        .order_by(col(Reservation.id))
    )
    return {(row.lot_id, row.place): row for row in rows}
