"""Conservation of value: what came into stock equals what is there plus what left it, to the last millionth.

This adds up the whole ledger, so it is for `check` and for tests, never for a page.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.tables import ItemBalance, Movement


@dataclass(frozen=True, slots=True)
class Conservation:
    """Where all value came from and where it is, in millionths; what was taken back counts against what it undid.

    `received` is what came in without what was put into it from outside the stock, which is `labour`: work, overhead,
    parts at a guessed price. `counted` is what counts found over what was expected, below zero for what was missing.
    `shifted` moved between lots and comes to nothing. `corrected` is what receipts cost more than was booked (below
    zero: less), as corrections of their cost said; `carried` is the part of it that belongs to what had left already,
    at the old cost, so that only the rest is on hand.
    """

    received: int
    labour: int
    counted: int
    returned: int
    on_hand: int
    consumed: int
    scrapped: int
    sold: int
    shifted: int
    corrected: int = 0
    carried: int = 0

    @property
    def came(self) -> int:
        """Receipts with the corrections of their cost + capitalised labour + count differences + returns."""
        return self.received + self.corrected + self.labour + self.counted + self.returned

    @property
    def is_or_left(self) -> int:
        """On hand + consumed + scrapped + sold + what of corrected costs had left already."""
        return self.on_hand + self.consumed + self.scrapped + self.sold + self.carried

    @property
    def holds(self) -> bool:
        """Whether nothing was made or lost."""
        return self.came == self.is_or_left and self.shifted == 0

    def lines(self) -> Iterator[tuple[str, int]]:
        """Every part with its words, for a page or a message."""
        yield "received", self.received
        yield "corrected costs of receipts", self.corrected
        yield "work and guessed parts put in", self.labour
        yield "count differences", self.counted
        yield "returned", self.returned
        yield "on hand", self.on_hand
        yield "consumed", self.consumed
        yield "scrapped or given away", self.scrapped
        yield "sold", self.sold
        yield "corrected, but left at the old cost", self.carried


def conservation(session: Session, *, item_id: int | None = None) -> Conservation:
    """Where the value of the whole stock, or of one item, came from and where it is."""
    undone = aliased(Movement)
    kind = func.coalesce(undone.kind, Movement.kind)
    sums = (
        select(kind, func.sum(Movement.value_micros), func.sum(Movement.labour_micros))
        .outerjoin(undone, col(undone.id) == col(Movement.reverses_id))
        .group_by(kind)
    )
    there = select(func.coalesce(func.sum(ItemBalance.value_micros), 0))
    if item_id is not None:
        sums = sums.where(col(Movement.item_id) == item_id)
        there = there.where(col(ItemBalance.item_id) == item_id)
    values: dict[str, int] = {}
    labour = 0
    for name, micros, work in session.execute(sums):
        values[name] = int(micros)
        labour += int(work)
    return Conservation(
        received=values.get("receipt", 0) - labour,
        labour=labour,
        counted=values.get("count", 0),
        returned=values.get("return", 0),
        on_hand=int(session.scalar(there) or 0),
        consumed=-values.get("issue", 0),
        scrapped=-values.get("scrap", 0),
        sold=-values.get("sale", 0),
        shifted=values.get("revalue", 0) + values.get("transfer", 0),
        corrected=values.get("correction", 0),
        carried=-values.get("carried", 0),
    )
