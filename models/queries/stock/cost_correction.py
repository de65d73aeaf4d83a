"""Receipts whose cost is corrected: what they cost by today's word, and what another cost changes.

What is left is re-valued; what left at the old cost is named, with how much it is off, and stays as it was booked.
How that is worked out stands in `models/trade/otherwise.py`; what a person hands in, in
`models/intake/stock/cost_correction.py`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Context, Decimal
from typing import Any, cast

from sqlalchemy import select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.errors import Conflict, Missing
from models.queries.stock.balance import balance_of
from models.queries.stock.followed import (
    corrected_lots,
    follow_corrected,
    follow_receipt,
    receipt_of_lot,
)
from models.queries.stock.item_words import item_words
from models.queries.stock.material import ItemWords
from models.tables import Build, BuildLine, CostCorrection, Lot, Movement, Shop, StockTransaction, Supplier
from models.trade.days import day_words
from models.trade.lots import Method, half_even
from models.trade.otherwise import FINE, Otherwise, Whose, whole_micros

_EXACT = Context(prec=50)


@dataclass(frozen=True, slots=True)
class ReceiptLineView:
    """One lot of a receipt: thousandths that came in, and what they cost in millionths of the shop's currency.

    `received_micros` holds the freight; `paid_micros` is without it, in the receipt's currency, None where nobody said.
    """

    lot_id: int
    item: ItemWords
    batch: str
    received_milli: int
    left_milli: int
    received_micros: int
    freight_micros: int
    paid_micros: int | None
    provisional: bool

    @property
    def cost_micros(self) -> int:
        """What the goods cost, without freight."""
        return self.received_micros - self.freight_micros


@dataclass(frozen=True, slots=True)
class ReceiptView:
    """A receipt as it stands: `currency` is that of its costs ('' the shop's own), at `exchange_rate`.

    `corrections` are the acts that corrected its cost and stand, the latest first.
    """

    act_id: int
    words: str
    received_on: date
    supplier: str
    currency: str
    exchange_rate: Decimal
    lines: tuple[ReceiptLineView, ...]
    corrections: tuple[int, ...]

    @property
    def freight_micros(self) -> int:
        """The freight of all lines, in the shop's currency."""
        return sum(line.freight_micros for line in self.lines)


@dataclass(frozen=True, slots=True)
class LeftWrong:
    """Something that left at the old cost: by which build, act or lot, and how much more it would have cost.

    `micros` is below zero for what was booked too dear. `pieces` are the good pieces of a build, 0 for anything else.
    """

    kind: str
    number: int
    words: str
    micros: int
    pieces: int = 0

    @property
    def each(self) -> Decimal | None:
        """The same for one good piece of a build, in the currency, unrounded."""
        return _each(self.micros, 1000 * self.pieces) if self.pieces else None


@dataclass(frozen=True, slots=True)
class LineChange:
    """What a lot's receipt cost before and costs after, in millionths, and what follows from it.

    `here_micros` is how much more the stock that is left is worth: of the lot, or of the pool of its item under
    'average' (`pooled`), which holds `there_milli` worth `worth_micros` before. `carried_micros` is what of the
    difference belongs to what left already; `left_wrong` names all that left at another cost than this one.
    """

    line: ReceiptLineView
    after_micros: int
    freight_after_micros: int
    pooled: bool
    there_milli: int
    worth_micros: int
    here_micros: int
    left_wrong: tuple[LeftWrong, ...]

    @property
    def more_micros(self) -> int:
        """What the receipt cost more; below zero: less."""
        return self.after_micros - self.line.received_micros

    @property
    def carried_micros(self) -> int:
        """The part of it that left at the old cost."""
        return self.more_micros - self.here_micros

    @property
    def worth_after_micros(self) -> int:
        """What is there is worth once it is corrected."""
        return self.worth_micros + self.here_micros

    @property
    def valued_by(self) -> str:
        """Whether the lot is valued by itself, or by the average of the item."""
        return "average" if self.pooled else "lot"

    @property
    def each_before(self) -> Decimal:
        """What one unit cost by what was booked, in the currency, unrounded."""
        return _each(self.line.received_micros, self.line.received_milli)

    @property
    def each_after(self) -> Decimal:
        """What one unit really cost, in the currency, unrounded."""
        return _each(self.after_micros, self.line.received_milli)


@dataclass(frozen=True, slots=True)
class BuildOff:
    """By how much more a build's rings would have cost, as the receipt of an item was corrected since."""

    receipt_act_id: int
    item: ItemWords
    micros: int


@dataclass(frozen=True, slots=True)
class CorrectedSince:
    """The latest correction of a receipt's cost that stands, and what each of its lots cost since, in millionths."""

    act_id: int
    done_on: date
    now_micros: Mapping[int, int]


def corrected_since(session: Session, act_id: int) -> CorrectedSince | None:
    """How the cost of a receipt was corrected since; None where it costs what was booked."""
    lots = {
        row.id: row.received_micros
        for row in session.execute(
            select(col(Lot.id), col(Lot.received_micros))
            .join(Movement, col(Movement.lot_id) == col(Lot.id))
            .where(col(Movement.act_id) == act_id, col(Movement.kind) == "receipt")
        )
    }
    standing = _corrections(session, tuple(lots))
    if not standing:
        return None
    return CorrectedSince(standing[0], session.get_one(StockTransaction, standing[0]).done_on, lots)


def receipt_view(session: Session, act_id: int) -> ReceiptView:
    """A receipt with its lines. Raises: Missing; Conflict when it was taken back."""
    act = session.get(StockTransaction, act_id)
    if act is None or act.kind != "receive":
        raise Missing("receipt", act_id)
    undo = session.scalar(select(col(StockTransaction.done_on)).where(col(StockTransaction.undoes_id) == act_id))
    if undo is not None:
        raise Conflict(f"This receipt was taken back on {day_words(undo)}, so it costs nothing any more.")
    rows = session.execute(
        select(
            col(Lot.id), col(Lot.item_id), col(Lot.batch), col(Lot.received_milli), col(Lot.quantity_milli),
            col(Lot.received_micros), col(Lot.freight_micros), col(Lot.paid_micros), col(Lot.provisional),
            col(Lot.currency), col(Lot.exchange_rate), col(Supplier.name).label("supplier"),
        )
        .join(Movement, col(Movement.lot_id) == col(Lot.id))
        .outerjoin(Supplier, col(Supplier.id) == col(Lot.supplier_id))
        .where(col(Movement.act_id) == act_id, col(Movement.kind) == "receipt")
        .order_by(col(Movement.id))
    ).all()  # fmt: skip
    words = item_words(session, {row.item_id for row in rows})
    first: Any = rows[0]
    return ReceiptView(
        act_id=act_id,
        words=act.words,
        received_on=act.done_on,
        supplier=first.supplier or "",
        currency=first.currency,
        exchange_rate=first.exchange_rate,
        lines=tuple(_line(row, words[row.item_id]) for row in rows),
        corrections=_corrections(session, [row.id for row in rows]),
    )


def receipt_to_correct(session: Session, lot_id: int) -> int | None:
    """The receipt whose cost may be corrected for a lot; None for one that was made here, or was taken back."""
    undo = aliased(StockTransaction)
    return session.scalar(
        select(col(StockTransaction.id))
        .join(Movement, col(Movement.act_id) == col(StockTransaction.id))
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(
            col(Movement.lot_id) == lot_id,
            col(Movement.kind) == "receipt",
            col(StockTransaction.kind) == "receive",
            col(undo.id).is_(None),
        )
        .limit(1)
    )


def changes_of(session: Session, receipt: ReceiptView, after: Mapping[int, tuple[int, int]]) -> tuple[LineChange, ...]:
    """What changes when the lots of a receipt cost this, by lot: whole millionths with freight, and the freight in it.

    Nothing is written.
    """
    method = _method(session)
    room: dict[tuple[str, int], int] = {}
    found = []
    for line in receipt.lines:
        cost, freight = after[line.lot_id]
        one = _followed(session, line.lot_id, cost)
        pooled = method == "average"
        there, worth = _there(session, line, pooled=pooled)
        scope = ("item", line.item.id) if pooled else ("lot", line.lot_id)
        room.setdefault(scope, worth)
        # Several lots of one pool share what there is to take from. Of a lot that is used up the pool is parted too.
        belongs = one.here_micros(method)
        here = max(belongs, -room[scope]) if there else 0
        room[scope] += here
        wrong = _left_wrong(session, one, cost, here)
        found.append(LineChange(line, cost, freight, pooled, there, worth, here, wrong))
    return tuple(found)


def correction_changes(session: Session, act_id: int) -> tuple[LineChange, ...]:
    """What a correction changed when it was booked, worked out again from what stood before it."""
    act = session.get_one(StockTransaction, act_id)
    rows = session.scalars(
        select(CostCorrection).where(col(CostCorrection.act_id) == act_id).order_by(col(CostCorrection.id))
    ).all()
    booked = _booked(session, act_id)
    found = []
    for row in rows:
        lot = session.get_one(Lot, row.lot_id)
        one = _followed(session, row.lot_id, row.received_after, before_act=act_id)
        method = cast(Method, act.valued_by)
        one.here_micros(method)
        here = booked.get(row.lot_id, 0)
        line = ReceiptLineView(
            lot_id=row.lot_id,
            item=item_words(session, (lot.item_id,))[lot.item_id],
            batch=lot.batch,
            received_milli=lot.received_milli,
            left_milli=lot.quantity_milli,
            received_micros=row.received_before,
            freight_micros=row.freight_before,
            paid_micros=row.paid_before,
            provisional=row.provisional_before,
        )
        there, worth = one.there(row.lot_id)
        wrong = _left_wrong(session, one, row.received_after, here)
        change = LineChange(line, row.received_after, row.freight_after, method == "average", there, worth, here, wrong)
        found.append(change)
    return tuple(found)


def build_off(session: Session, build_id: int) -> tuple[BuildOff, ...]:
    """By how much a build's rings are off, for each receipt that was corrected since they left."""
    items = set(session.scalars(select(col(BuildLine.item_id)).where(col(BuildLine.build_id) == build_id)))
    lots = corrected_lots(session, item_ids=items) if items else []
    found = []
    for lot_id, one in zip(lots, follow_corrected(session, lots), strict=True):
        lot, receipt = session.get_one(Lot, lot_id), receipt_of_lot(session, lot_id)
        micros = half_even(one.gone_parts().get(("build", build_id), 0), FINE)
        if micros and receipt is not None:
            found.append(BuildOff(receipt.act_id, item_words(session, (lot.item_id,))[lot.item_id], micros))
    return tuple(found)


def _each(micros: int, milli: int) -> Decimal:
    """What one unit costs in the currency when so many thousandths cost so many millionths, unrounded."""
    return _EXACT.divide(Decimal(micros), Decimal(1000 * milli)) if milli else Decimal(0)


def _method(session: Session) -> Method:
    return cast(Method, session.scalar(select(col(Shop.valuation))) or "fifo")


def _line(row: Any, words: ItemWords) -> ReceiptLineView:
    return ReceiptLineView(
        lot_id=row.id,
        item=words,
        batch=row.batch,
        received_milli=row.received_milli,
        left_milli=row.quantity_milli,
        received_micros=row.received_micros,
        freight_micros=row.freight_micros,
        paid_micros=row.paid_micros,
        provisional=row.provisional,
    )


def _corrections(session: Session, lot_ids: Sequence[int]) -> tuple[int, ...]:
    undo = aliased(StockTransaction)
    rows = (
        select(col(CostCorrection.act_id))
        .outerjoin(undo, col(undo.undoes_id) == col(CostCorrection.act_id))
        .where(col(CostCorrection.lot_id).in_(lot_ids), col(undo.id).is_(None))
        .distinct()
        .order_by(col(CostCorrection.act_id).desc())
    )
    return tuple(session.scalars(rows))


def _followed(session: Session, lot_id: int, real_micros: int, *, before_act: int | None = None) -> Otherwise:
    receipt = receipt_of_lot(session, lot_id)
    if receipt is None:
        raise Missing("receipt of lot", lot_id)
    return follow_receipt(session, receipt, real_micros, before_act=before_act)


def _there(session: Session, line: ReceiptLineView, *, pooled: bool) -> tuple[int, int]:
    """What is there to re-value, in thousandths and millionths: the pool of the item, or the lot."""
    if pooled:
        balance = balance_of(session, line.item.id)
        return balance.on_hand_milli, balance.value_micros
    lot = session.get_one(Lot, line.lot_id)
    return lot.quantity_milli, lot.value_micros


def _booked(session: Session, act_id: int) -> dict[int, int]:
    """What each corrected lot's receipt put right in what was left, by an act: what it cost more without what left."""
    rows = session.execute(
        select(col(Movement.lot_id), col(Movement.value_micros)).where(
            col(Movement.act_id) == act_id, col(Movement.kind).in_(("correction", "carried"))
        )
    )
    found: dict[int, int] = {}
    for lot_id, micros in rows:
        found[lot_id] = found.get(lot_id, 0) + micros
    return found


def _left_wrong(session: Session, one: Otherwise, real_micros: int, here_micros: int) -> tuple[LeftWrong, ...]:
    """What left at another cost than this, in whole millionths that add up with what is here to the difference."""
    if one.corrected is None:
        return ()
    parts = one.gone_parts()
    total = real_micros - one.corrected.booked_micros - one.put_right_micros - here_micros
    whole = dict(zip(parts, whole_micros(tuple(parts.values()), total), strict=True))
    words = _words_of(session, whole)
    found = [
        LeftWrong(whose[0], whose[1], words[whose][0], micros, words[whose][1])
        for whose, micros in whole.items()
        if micros
    ]
    if total and not parts:
        found.append(LeftWrong("rounding", 0, "Roundings of what left", total))
    return tuple(found)


def _words_of(session: Session, doings: Iterable[Whose]) -> dict[Whose, tuple[str, int]]:
    """What each doing was, in a sentence, and the good pieces of a build."""
    doings = tuple(doings)
    acts = [number for kind, number in doings if kind == "act"]
    builds = [number for kind, number in doings if kind == "build"]
    found: dict[Whose, tuple[str, int]] = {
        ("lot", number): (f"Mixed into lot {number} by the average that the shop used before", 0)
        for kind, number in doings
        if kind == "lot"
    }
    for act_id, said in session.execute(
        select(col(StockTransaction.id), col(StockTransaction.words)).where(col(StockTransaction.id).in_(acts))
    ):
        found[("act", act_id)] = (said or f"Entry {act_id}", 0)
    for build_id, good in session.execute(select(col(Build.id), col(Build.good)).where(col(Build.id).in_(builds))):
        found[("build", build_id)] = (f"Build {build_id}", good or 0)
    # The latest word of a build says best what became of its rings.
    undo = aliased(StockTransaction)
    for build_id, said in session.execute(
        select(col(StockTransaction.build_id), col(StockTransaction.words))
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(col(StockTransaction.build_id).in_(builds), col(StockTransaction.kind) != "undo", col(undo.id).is_(None))
        .order_by(col(StockTransaction.id))
    ):
        found[("build", build_id)] = (f"Build {build_id}: {said}", found[("build", build_id)][1])
    return {doing: found.get(doing, (f"{doing[0]} {doing[1]}", 0)) for doing in doings}
