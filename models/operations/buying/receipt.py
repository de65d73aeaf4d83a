"""Taking in what came of a purchase: a receipt of lots through the ledger, with their share of the postage.

What postage its receipts noted is kept with them, so that what still comes bears the rest and no more. Taking a receipt
back, from wherever it is asked, puts the packs back on order and its postage back among what is left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from models.errors import Conflict, Unfit
from models.intake.buying.purchase import CameLine, GoodsReceiptDraft
from models.intake.faults import Fault, Faults
from models.intake.how_much import HowMuch
from models.intake.stock.receipt import ReceiptDraft, ReceiptLine
from models.operations.buying.purchase import find_purchase, follow_receipts
from models.operations.stock.receipt import Received, receive_lots
from models.queries.buying.market import at_rate
from models.queries.buying.purchase import NotedPostage, noted_postage
from models.tables import Purchase, PurchaseLine, PurchaseReceipt, Shop
from models.trade.lots import share, spread_by_value
from models.trade.money import from_micros, to_micros
from models.trade.vocabulary.plans import ON_ORDER_STATES


@dataclass(frozen=True, slots=True)
class GoodsReceipt:
    """What came, as it was booked; `state` is the purchase's after it."""

    act_id: int
    words: str
    state: str


def receive_purchase(session: Session, purchase_id: int, draft: GoodsReceiptDraft) -> GoodsReceipt:
    """Take in packs of a sent purchase: one lot for each line that came, one act for all.

    A line costs its packs at the price of the purchase, however many were counted in them. Without a typed freight the
    packs bear their share by value of the postage that no receipt has noted yet, so that all receipts together bear all
    of it to the last millionth, in the purchase's currency and, at its rate, in the shop's own.
    Raises: Missing; Conflict when it is not sent or nothing is still to come; Unfit with faults by field.
    """
    purchase = find_purchase(session, purchase_id)
    if purchase.state not in ON_ORDER_STATES:
        raise Conflict("Nothing of it is on its way. Send it first, or look at what came already.")
    lines = {line.id or 0: line for line in _lines(session, purchase_id)}
    _refuse_wrong(draft.lines, lines)
    noted = noted_postage(session, purchase_id)
    freight_micros = _share(purchase, noted, draft.lines, lines) if draft.freight is None else to_micros(draft.freight)
    own = session.get_one(Shop, 1).currency
    receipt = ReceiptDraft(
        lines=tuple(_receipt_line(came, lines[came.line_id]) for came in draft.lines),
        supplier_id=purchase.supplier_id,
        received_on=draft.received_on,
        currency=purchase.currency,
        exchange_rate=None if purchase.currency == own else purchase.exchange_rate,
        freight=from_micros(freight_micros),
        note=draft.note or f"Purchase {purchase_id}",
    )
    try:
        received = receive_lots(session, receipt, freight_micros=_in_own(purchase, noted, freight_micros))
    except Unfit as unfit:
        raise Unfit(_where_typed(unfit.faults, draft.lines)) from unfit
    _note_packs(session, draft.lines, lines, received, freight_micros)
    if purchase.state == "sent":
        purchase.state = "part"
    purchase.version += 1
    follow_receipts(session, purchase)
    return GoodsReceipt(received.act_id, received.words, purchase.state)


def put_back_on_order(session: Session, act_id: int) -> None:
    """Let packs that an act brought be on order again: that act is taken back. Acts of no purchase are passed over."""
    receipts = session.exec(select(PurchaseReceipt).where(PurchaseReceipt.act_id == act_id)).all()
    purchases = set()
    for receipt in receipts:
        line = session.get_one(PurchaseLine, receipt.line_id)
        line.received_packs -= receipt.packs
        purchases.add(line.purchase_id)
    for purchase_id in purchases:
        purchase = session.get_one(Purchase, purchase_id)
        purchase.version += 1
        follow_receipts(session, purchase)


def postage_left_micros(session: Session, purchase_id: int) -> int:
    """The part of the postage that what is still to come bears, in millionths of the purchase's currency.

    Raises: Missing.
    """
    purchase = find_purchase(session, purchase_id)
    lines = {line.id or 0: line for line in _lines(session, purchase_id)}
    rest = [CameLine(key, line.packs - line.received_packs) for key, line in lines.items()]
    return _share(purchase, noted_postage(session, purchase_id), [each for each in rest if each.packs], lines)


def _lines(session: Session, purchase_id: int) -> Sequence[PurchaseLine]:
    found = select(PurchaseLine).where(PurchaseLine.purchase_id == purchase_id).order_by(col(PurchaseLine.position))
    return session.exec(found).all()


def _refuse_wrong(came: Sequence[CameLine], lines: Mapping[int, PurchaseLine]) -> None:
    faults = []
    seen: set[int] = set()
    for each in came:
        line = lines.get(each.line_id)
        if line is None or each.line_id in seen:
            words = "This line is there twice." if line else f"The purchase has no line {each.line_id}."
            faults.append(Fault(f"{each.at}line_id", words))
            continue
        seen.add(each.line_id)
        left = line.packs - line.received_packs
        if each.packs > left:
            more = f"Only {left} of {line.packs} packs are" if left else "None of its packs is"
            words = f"{more} still to come. If a pack held more, say how much there was in all beside it."
            faults.append(Fault(f"{each.at}packs", words))
    if faults:
        raise Unfit(Faults(tuple(faults)))


def _share(purchase: Purchase, noted: NotedPostage, came: Sequence[CameLine], lines: Mapping[int, PurchaseLine]) -> int:
    """The postage that these packs bear: of what is left of it their share by value, and the last packs all."""
    left = purchase.postage_micros - noted.micros
    if not came or left <= 0:
        return 0
    still = {key: line.packs - line.received_packs for key, line in lines.items()}
    worth = sum(packs * lines[key].price_micros for key, packs in still.items())
    part = sum(each.packs * lines[each.line_id].price_micros for each in came)
    if not worth:  # Goods that cost nothing: by packs instead.
        worth = sum(still.values())
        part = sum(each.packs for each in came)
    return share(left, part, worth)


def _in_own(purchase: Purchase, noted: NotedPostage, freight_micros: int) -> int:
    """The same in the shop's currency: all receipts together bear what all their postage comes to, rounded once."""
    whole = at_rate(noted.micros + freight_micros, purchase.exchange_rate)
    return max(0, whole - noted.own_micros)


def _receipt_line(came: CameLine, line: PurchaseLine) -> ReceiptLine:
    return ReceiptLine(
        how=came.how or HowMuch(milli=came.packs * line.unit_milli),
        item_id=line.item_id,
        total_cost=from_micros(came.packs * line.price_micros),
        batch=came.batch,
        place=came.place,
    )


def _where_typed(faults: Faults, came: Sequence[CameLine]) -> Faults:
    """The faults of the receipt beside the fields of what came."""
    found = []
    for fault in faults:
        group, _, rest = fault.field.partition(".")
        number, _, name = rest.partition(".")
        if group == "lines" and number.isdigit():
            found.append(Fault(came[int(number)].at + ("quantity" if name == "quantity" else "packs"), fault.message))
        else:
            found.append(fault)
    return Faults(tuple(found))


def _note_packs(
    session: Session,
    came: Sequence[CameLine],
    lines: Mapping[int, PurchaseLine],
    received: Received,
    freight_micros: int,
) -> None:
    freight = spread_by_value(freight_micros, [each.packs * lines[each.line_id].price_micros for each in came])
    for each, lot, bears in zip(came, received.lots, freight, strict=True):
        lines[each.line_id].received_packs += each.packs
        session.add(
            PurchaseReceipt(
                line_id=each.line_id,
                act_id=received.act_id,
                lot_id=lot.lot_id,
                packs=each.packs,
                quantity_milli=lot.quantity_milli,
                freight_micros=bears,
            )
        )
    session.flush()
