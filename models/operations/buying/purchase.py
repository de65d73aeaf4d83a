"""Purchases up to their sending: drafting them, changing their lines, sending, taking back, cancelling.

What comes in for them is received in `purchase_receipt`; what is best bought is worked out in `models/planning`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_EVEN, Context, Decimal

from sqlmodel import Session, col, delete, select

from models.errors import Conflict, Stale, Unfit
from models.intake.buying.purchase import PurchaseDraft, PurchaseLineDraft
from models.intake.faults import Fault, Faults
from models.operations.shop.clock import now
from models.operations.shop.day import resolve_day
from models.operations.stock.supplier import resolve_supplier
from models.planning.offers import SupplierOrder
from models.queries.buying.market import NOBODY, pack_milli_in_units
from models.queries.fetch import fetch
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.queries.stock.measured import names_of_items
from models.queries.stock.offer import offer_breaks
from models.tables import Offer, Purchase, PurchaseLine, Shop, Supplier
from models.trade.days import day_words
from models.trade.money import to_micros
from models.trade.vocabulary.plans import OPEN_STATES

_EXACT = Context(prec=50, rounding=ROUND_HALF_EVEN)


@dataclass(frozen=True, slots=True)
class _Terms:
    """What an order to one supplier is priced in, and its terms in millionths of that currency."""

    supplier_id: int | None
    currency: str
    exchange_rate: Decimal
    postage_micros: int = 0
    free_from_micros: int | None = None

    def postage_of(self, goods_micros: int) -> int:
        """The postage of goods of this sum."""
        free = self.free_from_micros is not None and goods_micros >= self.free_from_micros
        return 0 if free else self.postage_micros

    def price(self, micros: int, currency: str, rate: Decimal) -> int:
        """A price of another currency in this one's millionths, half to even."""
        if currency == self.currency:
            return micros
        own = _EXACT.multiply(Decimal(micros), rate)
        return int(_EXACT.divide(own, self.exchange_rate).to_integral_value(ROUND_HALF_EVEN))


def draft_purchases(session: Session, orders: Sequence[SupplierOrder], note: str = "") -> tuple[int, ...]:
    """Write what a plan buys as drafts, one for each supplier in the order given; answer their ids.

    The packs are the plan's; prices are the offers' of today with their breaks, in the supplier's currency. Raises:
    Conflict when an offer of the plan is no longer asked, or an order is below the supplier's smallest.
    """
    keys = {int(line.offer.key) for order in orders for line in order.lines}
    offers = {offer.id: offer for offer in session.exec(select(Offer).where(col(Offer.id).in_(keys)))}
    for order in orders:
        for line in order.lines:
            offer = offers.get(int(line.offer.key))
            if offer is None or not offer.standing:
                raise Conflict(f"The price of “{line.offer.name or line.offer.item}” changed since. Work it out anew.")
    items = load_materials(session, {offer.item_id for offer in offers.values()})
    breaks = offer_breaks(session, keys)
    made = []
    for order in orders:
        if not order.lines:
            continue
        terms = _terms(session, None if order.supplier.key == NOBODY else int(order.supplier.key))
        lines = []
        for line in order.lines:
            offer = offers[int(line.offer.key)]
            lines.append(_line_of_offer(terms, offer, items[offer.item_id], line.packs, breaks.get(offer.id or 0, ())))
        goods = sum(each.packs * each.price_micros for each in lines)
        made.append(_write(session, terms, lines, postage_micros=terms.postage_of(goods), note=note))
    return tuple(made)


def draft_purchase(session: Session, draft: PurchaseDraft) -> int:
    """Write a purchase as it was typed; answer its id.

    A line without a pack or a price takes the standing offer of the item at that supplier, at the price of so many
    packs; postage that was left out follows from the supplier's terms. Raises: Unfit with faults by field.
    """
    supplier_id = resolve_supplier(session, supplier_id=draft.supplier_id, name=draft.supplier)
    terms = _terms(session, supplier_id)
    lines = _typed_lines(session, terms, draft.lines)
    purchase_id = _write(session, terms, lines, postage_micros=_postage(terms, lines, draft), note=draft.note)
    purchase = session.get_one(Purchase, purchase_id)
    purchase.reference, purchase.due_on = draft.reference, draft.due_on
    session.flush()
    return purchase_id


def edit_purchase(session: Session, purchase_id: int, draft: PurchaseDraft, version: int) -> None:
    """Change a draft: its supplier, its lines, its words. Raises: Missing, Stale, Unfit, Conflict once it is sent."""
    purchase = find_purchase(session, purchase_id)
    if purchase.version != version:
        raise Stale("purchase", _changes(session, purchase, draft))
    if purchase.state != "draft":
        raise Conflict("It is sent already. Take the sending back first, or draft another one.")
    terms = _terms(session, resolve_supplier(session, supplier_id=draft.supplier_id, name=draft.supplier))
    lines = _typed_lines(session, terms, draft.lines)
    session.execute(delete(PurchaseLine).where(col(PurchaseLine.purchase_id) == purchase_id))
    purchase.supplier_id, purchase.currency = terms.supplier_id, terms.currency
    purchase.exchange_rate, purchase.postage_micros = terms.exchange_rate, _postage(terms, lines, draft)
    purchase.note, purchase.reference, purchase.due_on = draft.note, draft.reference, draft.due_on
    purchase.version += 1
    _add_lines(session, purchase_id, lines)


def send_purchase(
    session: Session, purchase_id: int, *, sent_on: date | None = None, due_on: date | None = None
) -> str:
    """Note that a draft was sent: from now on it is on order; answer who it went to.

    Without a day it should come by, the supplier's usual time (or its slowest offer's) counts from the sending.
    Raises: Missing, Unfit, Conflict when it is no draft.
    """
    purchase = find_purchase(session, purchase_id)
    if purchase.state != "draft":
        raise Conflict("Only a draft is sent, and this is none.")
    day = resolve_day(session, sent_on, "sent_on")
    due = due_on or purchase.due_on
    if due is not None and due < day:
        raise Unfit(Faults.of("due_on", f"It can't come before it is sent, on {day_words(day)}."))
    days = _lead_days(session, purchase)
    purchase.state, purchase.sent_on = "sent", day
    purchase.due_on = due or (day + timedelta(days=days) if days is not None else None)
    purchase.version += 1
    session.flush()
    return supplier_called(session, purchase)


def unsend_purchase(session: Session, purchase_id: int) -> None:
    """Make a sent purchase a draft again. Raises: Missing, Conflict once any of it came."""
    purchase = find_purchase(session, purchase_id)
    if purchase.state != "sent":
        raise Conflict("Only a purchase of which nothing came can be a draft again.")
    purchase.state, purchase.sent_on = "draft", None
    purchase.version += 1
    session.flush()


def cancel_purchase(session: Session, purchase_id: int) -> None:
    """Cancel what has not come; what is here stays. Raises: Missing, Conflict when nothing is left to cancel."""
    purchase = find_purchase(session, purchase_id)
    if purchase.state not in OPEN_STATES:
        raise Conflict("Nothing of it is still to come, so there is nothing to cancel.")
    purchase.state = "cancelled"
    purchase.closed_on = resolve_day(session, None, "closed_on")
    purchase.version += 1
    session.flush()


def uncancel_purchase(session: Session, purchase_id: int) -> None:
    """Take a cancelling back. Raises: Missing, Conflict when it is not cancelled."""
    purchase = find_purchase(session, purchase_id)
    if purchase.state != "cancelled":
        raise Conflict("It is not cancelled.")
    purchase.state = "draft" if purchase.sent_on is None else "sent"
    purchase.closed_on = None
    purchase.version += 1
    follow_receipts(session, purchase)


def follow_receipts(session: Session, purchase: Purchase) -> None:
    """Let the state of a sent purchase follow what of it is here; a draft or a cancelled one stays what it is."""
    session.flush()
    if purchase.state in ("draft", "cancelled"):
        return
    lines = session.exec(select(PurchaseLine).where(PurchaseLine.purchase_id == purchase.id)).all()
    came = sum(line.received_packs for line in lines)
    all_here = all(line.received_packs == line.packs for line in lines)
    purchase.state = "received" if all_here else "part" if came else "sent"
    purchase.closed_on = resolve_day(session, None, "closed_on") if all_here else None
    session.flush()


def find_purchase(session: Session, purchase_id: int) -> Purchase:
    """The purchase. Raises: Missing."""
    return fetch(session, Purchase, purchase_id, "purchase")


def supplier_called(session: Session, purchase: Purchase) -> str:
    """Who the purchase goes to, in words."""
    supplier = session.get(Supplier, purchase.supplier_id) if purchase.supplier_id is not None else None
    return supplier.name if supplier else "nobody named"


def _terms(session: Session, supplier_id: int | None) -> _Terms:
    own = session.get_one(Shop, 1).currency
    supplier = session.get(Supplier, supplier_id) if supplier_id is not None else None
    if supplier is None:
        return _Terms(None, own, Decimal(1))
    return _Terms(
        supplier_id,
        supplier.currency or own,
        supplier.exchange_rate if supplier.currency else Decimal(1),
        to_micros(supplier.postage),
        None if supplier.free_from is None else to_micros(supplier.free_from),
    )


def _line_of_offer(
    terms: _Terms, offer: Offer, item: Material, packs: int, breaks: Sequence[tuple[int, int]]
) -> PurchaseLine:
    micros = next((price for start, price in reversed(breaks) if packs >= start), offer.price_micros)
    units = pack_milli_in_units(offer.pack_milli, offer.pack_unit, item.unit, item.body)
    if units is None:
        raise Conflict(f"What a pack of “{item.name}” holds can't be told any more. Look at its offer.")
    return PurchaseLine(
        purchase_id=0,
        position=0,
        item_id=offer.item_id,
        offer_id=offer.id,
        packs=packs,
        pack_milli=offer.pack_milli,
        pack_unit=offer.pack_unit,
        unit_milli=units,
        price_micros=terms.price(micros, offer.currency, offer.exchange_rate),
    )


def _write(session: Session, terms: _Terms, lines: Sequence[PurchaseLine], *, postage_micros: int, note: str) -> int:
    purchase = Purchase(
        supplier_id=terms.supplier_id,
        currency=terms.currency,
        exchange_rate=terms.exchange_rate,
        postage_micros=postage_micros,
        note=note,
        created_at=now(),
    )
    session.add(purchase)
    session.flush()
    if purchase.id is None:
        raise RuntimeError("a flushed row has its id")
    _add_lines(session, purchase.id, lines)
    session.flush()
    return purchase.id


def _add_lines(session: Session, purchase_id: int, lines: Sequence[PurchaseLine]) -> None:
    for position, line in enumerate(lines):
        line.purchase_id, line.position = purchase_id, position
        session.add(line)
    session.flush()


def _postage(terms: _Terms, lines: Sequence[PurchaseLine], draft: PurchaseDraft) -> int:
    if draft.postage is not None:
        return to_micros(draft.postage)
    return terms.postage_of(sum(line.packs * line.price_micros for line in lines))


def _typed_lines(session: Session, terms: _Terms, typed: Sequence[PurchaseLineDraft]) -> list[PurchaseLine]:
    """The lines as they were typed, each with its item and its pack. Raises: Unfit beside every line that is wrong."""
    named = names_of_items(session, {line.item for line in typed if line.item_id is None})
    ids = [line.item_id or _only(named[line.item.casefold()]) for line in typed]
    items = load_materials(session, {item_id for item_id in ids if item_id})
    offers = _standing(session, terms.supplier_id, items)
    breaks = offer_breaks(session, [offer.id or 0 for found in offers.values() for offer in found])
    faults: list[Fault] = []
    lines = []
    for line, item_id in zip(typed, ids, strict=True):
        item = items.get(item_id or 0)
        if item is None:
            words = (
                f"stock item {line.item_id}" if line.item_id is not None else f"single stock item called “{line.item}”"
            )
            faults.append(Fault(f"{line.at}item_id", f"There is no {words}."))
            continue
        made = _typed_line(terms, line, item, offers.get(item.id, ()), breaks)
        if isinstance(made, PurchaseLine):
            lines.append(made)
        else:
            faults.append(Fault(f"{line.at}{made[0]}", made[1]))
    if faults:
        raise Unfit(Faults(tuple(faults)))
    return lines


def _typed_line(
    terms: _Terms,
    line: PurchaseLineDraft,
    item: Material,
    offers: Sequence[Offer],
    breaks: Mapping[int, Sequence[tuple[int, int]]],
) -> PurchaseLine | tuple[str, str]:
    """One line with its pack and price, or what is wrong with it: its field and the words."""
    packed = [
        offer
        for offer in offers
        if line.pack_milli in (None, offer.pack_milli) and line.pack_unit in ("", offer.pack_unit)
    ]
    offer = next((each for each in packed if each.id == line.offer_id), packed[0] if packed else None)
    if offer is None and line.pack_milli is None:
        return "pack", f"No price of “{item.name}” there is known. Say what one pack holds and costs."
    if offer is None and line.price is None:
        return "price", f"No price of such a pack of “{item.name}” there is known. Give it."
    if offer is not None:
        made = _line_of_offer(terms, offer, item, line.packs, breaks.get(offer.id or 0, ()))
    else:
        units = pack_milli_in_units(line.pack_milli or 0, line.pack_unit, item.unit, item.body)
        if units is None:
            return "pack", "How many are in such a pack can't be told. Give it in the unit that the item is counted in."
        made = PurchaseLine(
            purchase_id=0, position=0, item_id=item.id, packs=line.packs, pack_milli=line.pack_milli or 0,
            pack_unit=line.pack_unit, unit_milli=units, price_micros=0,
        )  # fmt: skip
    if line.price is not None:
        made.price_micros = to_micros(line.price)
    return made


def _standing(session: Session, supplier_id: int | None, item_ids: Collection[int]) -> dict[int, list[Offer]]:
    """The offers that may be bought there by item, the one that costs follow first, then the latest."""
    found: dict[int, list[Offer]] = {}
    rows = session.exec(
        select(Offer)
        .where(col(Offer.item_id).in_(item_ids), col(Offer.standing), col(Offer.supplier_id) == supplier_id)
        .order_by(col(Offer.current).desc(), col(Offer.id).desc())
    )
    for offer in rows:
        found.setdefault(offer.item_id, []).append(offer)
    return found


def _lead_days(session: Session, purchase: Purchase) -> int | None:
    """How long it usually takes: the slowest of its offers, each by its own word, else by the supplier's."""
    supplier = session.get(Supplier, purchase.supplier_id) if purchase.supplier_id is not None else None
    usual = supplier.lead_days if supplier else None
    own = session.exec(
        select(Offer.lead_days)
        .join(PurchaseLine, col(PurchaseLine.offer_id) == col(Offer.id))
        .where(PurchaseLine.purchase_id == purchase.id)
    ).all()
    known = [days for each in own or [None] if (days := usual if each is None else each) is not None]
    return max(known, default=usual)


def _changes(session: Session, purchase: Purchase, draft: PurchaseDraft) -> tuple[tuple[str, str, str], ...]:
    saved = {"To": supplier_called(session, purchase), "Note": purchase.note, "Their number": purchase.reference}
    typed = {"To": draft.supplier, "Note": draft.note, "Their number": draft.reference}
    return tuple((label, saved[label], typed[label]) for label in saved if saved[label] != typed[label])


def _only(ids: Sequence[int]) -> int | None:
    return ids[0] if len(ids) == 1 else None
