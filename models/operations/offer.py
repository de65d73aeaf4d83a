"""Taking down what suppliers ask: a changed price is a new offer, and the old one stays readable."""

from __future__ import annotations

from decimal import Decimal

from sqlmodel import Session, col, select

from models.costing.lines import Impossible
from models.costing.unit_cost import unit_cost_of_offer
from models.errors import Missing, Unfit
from models.intake.faults import Faults
from models.intake.item import body_of
from models.intake.offer import OfferDraft, from_milli, settle_currency
from models.operations.clock import now
from models.operations.figures import refresh_figures
from models.operations.supplier import settle_supplier
from models.queries.metal import all_metals
from models.tables import Item, Offer, Shop
from models.trade.money import to_micros


def add_offer(session: Session, item_id: int, draft: OfferDraft) -> int:
    """Write an offer of an item, by default as its current one; answer its id.

    The first amount that the shop keeps locks its currency. An offer that says exactly what the current one says is not
    written again. Raises: Missing, Unfit when no cost of one unit follows from the pack or the rate is missing.
    """
    item = session.get(Item, item_id)
    if item is None:
        raise Missing("item", item_id)
    shop = session.exec(select(Shop)).one()
    settled = settle_currency(draft, shop.currency)
    if isinstance(settled, Faults):
        raise Unfit(settled)
    _refuse_useless(session, item, settled)
    offer = Offer(
        item_id=item_id,
        supplier_id=settle_supplier(session, supplier_id=settled.supplier_id, name=settled.supplier),
        pack_milli=settled.pack_milli,
        pack_unit=settled.pack_unit,
        price_micros=to_micros(settled.price),
        currency=settled.currency,
        exchange_rate=settled.exchange_rate or Decimal(1),
        current=settled.current,
        note=settled.note,
        created_at=now(),
    )
    current = session.exec(select(Offer).where(Offer.item_id == item_id, col(Offer.current))).all()
    for known in current:
        if settled.current and _says(known) == _says(offer):
            return _id(known)
    if settled.current:
        for known in current:
            known.current = False
            known.version += 1
    session.add(offer)
    shop.currency_locked = True
    session.flush()
    refresh_figures(session, item_id=item_id)
    return _id(offer)


def make_current(session: Session, item_id: int, offer_id: int) -> None:
    """Take another offer of an item as the current one. Raises: Missing."""
    offers = session.exec(select(Offer).where(Offer.item_id == item_id)).all()
    if offer_id not in {offer.id for offer in offers}:
        raise Missing("offer of this item", offer_id)
    for offer in offers:
        wanted = offer.id == offer_id
        if offer.current != wanted:
            offer.current = wanted
            offer.version += 1
    session.flush()
    refresh_figures(session, item_id=item_id)


def _refuse_useless(session: Session, item: Item, draft: OfferDraft) -> None:
    body = body_of(
        kind=item.kind,
        unit=item.unit,
        metal=all_metals(session).get(item.metal) if item.metal else None,
        wire_nm=item.wire_nm,
        inner_nm=item.inner_nm,
        mass_ug=item.mass_ug,
    )
    cost = unit_cost_of_offer(
        draft.price, from_milli(draft.pack_milli), draft.pack_unit, item_unit=item.unit, body=body
    )
    if isinstance(cost, Impossible):
        raise Unfit(Faults.of("pack_unit", cost.reason))


def _says(offer: Offer) -> tuple[object, ...]:
    return (
        offer.supplier_id,
        offer.pack_milli,
        offer.pack_unit,
        offer.price_micros,
        offer.currency,
        offer.exchange_rate,
        offer.note,
    )


def _id(offer: Offer) -> int:
    if offer.id is None:
        raise RuntimeError("a flushed row has its id")
    return offer.id
