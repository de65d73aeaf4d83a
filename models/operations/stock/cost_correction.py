"""Correcting what a receipt cost: what is left is re-valued, and what left at the old cost stays and is named.

One act with movements of no quantity: 'correction', what the receipt cost more, and 'carried' with the opposite sign,
the part of it that left already. So all of it is accounted for: receipts with their corrections, capitalised labour,
count differences and returns equal what is on hand, consumed, scrapped and sold, and what corrections carried off.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal

from sqlmodel import Session

from models.errors import Conflict, Unfit
from models.intake.faults import Fault, Faults
from models.intake.raw import LARGEST_MONEY
from models.intake.stock.cost_correction import CostCorrectionDraft, RealCost
from models.intake.stock.offer import from_milli
from models.operations.shop.day import resolve_day
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.queries.stock.cost_correction import LineChange, ReceiptLineView, ReceiptView, changes_of, receipt_view
from models.tables import CostCorrection, Lot
from models.trade.lots import spread_by_value
from models.trade.money import to_micros
from models.trade.otherwise import SLACK_MICROS

_EXACT = Context(prec=50, rounding=ROUND_HALF_EVEN)


@dataclass(frozen=True, slots=True)
class CostLook:
    """What a correction would change, lot by lot, before it is booked.

    `said` are the lots whose cost was a guess so far, and is one that somebody said now.
    """

    receipt: ReceiptView
    changes: tuple[LineChange, ...]
    said: tuple[int, ...] = ()

    @property
    def more_micros(self) -> int:
        """What the receipt cost more in all; below zero: less."""
        return sum(change.more_micros for change in self.changes)

    @property
    def here_micros(self) -> int:
        """How much more what is left is worth."""
        return sum(change.here_micros for change in self.changes)

    @property
    def carried_micros(self) -> int:
        """What of it had left already."""
        return sum(change.carried_micros for change in self.changes)

    @property
    def changes_nothing(self) -> bool:
        """Whether the receipt costs what it did, to the last millionth, and nothing that is left is off."""
        return not self.said and not any(one.more_micros or abs(one.here_micros) > SLACK_MICROS for one in self.changes)


@dataclass(frozen=True, slots=True)
class CostCorrected:
    """A correction as it was booked."""

    act_id: int
    words: str
    look: CostLook


@dataclass(frozen=True, slots=True)
class _Cost:
    """What a lot really cost: its goods in whole millionths, and what was asked in the receipt's own currency."""

    goods: int
    paid: int | None
    provisional: bool


def look_at_cost(session: Session, act_id: int, draft: CostCorrectionDraft) -> CostLook:
    """What a receipt's real cost would change; nothing is written.

    The freight is spread over the lines by what they really cost, as when it was received, so that its shares are what
    they would have been. Raises: Missing; Conflict for a receipt that was taken back; Unfit with faults by field.
    """
    receipt = receipt_view(session, act_id)
    costs = _costs(receipt, draft)
    after = _with_freight(receipt, costs, draft.freight)
    said = tuple(line.lot_id for line in receipt.lines if line.provisional and not costs[line.lot_id].provisional)
    return CostLook(receipt, changes_of(session, receipt, after), said)


def correct_cost(session: Session, act_id: int, draft: CostCorrectionDraft) -> CostCorrected:
    """Book what a receipt really cost. Raises: as `look_at_cost`; Conflict when it costs what it did already."""
    look = look_at_cost(session, act_id, draft)
    if look.changes_nothing:
        raise Conflict("That is what this receipt costs already, so nothing changes.")
    costs = _costs(look.receipt, draft)
    changed = [one for one in look.changes if one.more_micros or one.here_micros or one.line.lot_id in look.said]
    postings = []
    for one in changed:
        postings.append(Posting(one.line.lot_id, "", "correction", 0, one.more_micros))
        if one.carried_micros:
            postings.append(Posting(one.line.lot_id, "", "carried", 0, -one.carried_micros))
    words = f"Corrected what it cost: {look.receipt.words}" + (f" {draft.note}" if draft.note else "")
    posted = post(session, TransactionHeader("correct_cost", resolve_day(session, None, "done_on"), words), postings)
    for one in changed:
        _keep(session, posted.act_id, one, costs[one.line.lot_id])
    session.flush()
    return CostCorrected(posted.act_id, words, look)


def _keep(session: Session, act_id: int, change: LineChange, cost: _Cost) -> None:
    lot = session.get_one(Lot, change.line.lot_id)
    session.add(
        CostCorrection(
            act_id=act_id,
            lot_id=change.line.lot_id,
            received_before=lot.received_micros,
            received_after=change.after_micros,
            freight_before=lot.freight_micros,
            freight_after=change.freight_after_micros,
            paid_before=lot.paid_micros,
            paid_after=cost.paid,
            provisional_before=lot.provisional,
            provisional_after=cost.provisional,
        )
    )
    lot.received_micros, lot.freight_micros = change.after_micros, change.freight_after_micros
    lot.paid_micros, lot.provisional = cost.paid, cost.provisional


def _costs(receipt: ReceiptView, draft: CostCorrectionDraft) -> dict[int, _Cost]:
    """What every lot really cost without freight; those of which nothing was said, what they did. Raises: Unfit."""
    lines = {line.lot_id: line for line in receipt.lines}
    costs = {line.lot_id: _Cost(line.cost_micros, line.paid_micros, line.provisional) for line in receipt.lines}
    faults, seen = [], set()
    for said in draft.lines:
        lot_id = said.lot_id if said.lot_id is not None else _only(receipt)
        line = lines.get(lot_id or 0)
        if line is None:
            words = "Say which lot of this receipt." if lot_id is None else f"This receipt has no lot {lot_id}."
            faults.append(Fault(f"{said.at}lot_id", f"{words} It has: {', '.join(str(one) for one in lines)}."))
        elif line.lot_id in seen:
            faults.append(Fault(f"{said.at}lot_id", "This lot is there twice."))
        else:
            seen.add(line.lot_id)
            cost = _real(receipt, line, said)
            if cost is None:
                faults.append(Fault(said.field, f"A line costs at most {LARGEST_MONEY:,}."))
            else:
                costs[line.lot_id] = cost
    if draft.freight is not None and draft.freight * receipt.exchange_rate > LARGEST_MONEY:
        faults.append(Fault("freight", f"Freight is at most {LARGEST_MONEY:,}."))
    if faults:
        raise Unfit(Faults(tuple(faults)))
    return costs


def _only(receipt: ReceiptView) -> int | None:
    return receipt.lines[0].lot_id if len(receipt.lines) == 1 else None


def _real(receipt: ReceiptView, line: ReceiptLineView, said: RealCost) -> _Cost | None:
    """What a line really cost; None when it is more than the shop can keep."""
    paid = said.total_cost
    if paid is None:
        paid = _EXACT.multiply(said.unit_cost or Decimal(0), from_milli(line.received_milli))
    amount = _EXACT.multiply(paid, receipt.exchange_rate)
    if max(paid, amount) > LARGEST_MONEY:
        return None
    if to_micros(paid) == line.paid_micros:
        # The same again: what was booked may have been rounded from a finer amount.
        return _Cost(line.cost_micros, line.paid_micros, line.provisional)
    return _Cost(to_micros(amount), to_micros(paid), provisional=False)


def _with_freight(
    receipt: ReceiptView, costs: Mapping[int, _Cost], freight: Decimal | None
) -> dict[int, tuple[int, int]]:
    """What every lot cost with its share of the freight, and that share, to the last millionth."""
    whole = receipt.freight_micros
    if freight is not None:
        whole = to_micros(_EXACT.multiply(freight, receipt.exchange_rate))
    shares = spread_by_value(whole, [costs[line.lot_id].goods for line in receipt.lines])
    return {
        line.lot_id: (costs[line.lot_id].goods + share, share)
        for line, share in zip(receipt.lines, shares, strict=True)
    }
