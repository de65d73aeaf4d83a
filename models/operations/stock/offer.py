"""Taking down what suppliers ask: a changed price is a new offer, and the old one stays readable."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from functools import partial

from sqlmodel import Session, col, select

from models.costing.lines import Impossible
from models.costing.unit_cost import unit_cost_of_offer
from models.errors import Conflict, Missing, Unfit
from models.intake.faults import Faults
from models.intake.stock.offer import OfferDraft, from_milli, resolve_currency
from models.operations.figures import refresh_figures
from models.operations.shop.clock import now
from models.operations.stock.supplier import resolve_supplier
from models.queries.fetch import fetch
from models.queries.shop.gathering import Gathering, gathering_in
from models.queries.shop.shop import SHOP_ID
from models.queries.stock.metal import all_metals
from models.queries.stock.offer import body_in, offer_breaks
from models.tables import Item, Offer, OfferBreak, PriceChange, Shop
from models.trade.money import to_micros


def add_offer(session: Session, item_id: int, draft: OfferDraft) -> int:
    """Write an offer of an item, by default as its current one; answer its id.

    The first amount that the shop keeps locks its currency. An offer that says exactly what a standing one says is not
    written again. One of the same supplier and pack as the current one is only kept noted while that one is current;
    else it takes the place of what was asked for that pack there. Raises: Missing, Unfit when no cost of one unit
    follows from the pack or the rate is missing.
    """
    item = fetch(session, Item, item_id, "item")
    shop = session.get_one(Shop, SHOP_ID)
    settled = resolve_currency(draft, shop.currency)
    if isinstance(settled, Faults):
        raise Unfit(settled)
    _refuse_useless(session, item, settled)
    offer = _offer(session, item_id, settled, shop.currency)
    standing = _standing(session, item_id)
    current = next((each for each in standing if each.current), None)
    offer.current = current is None if settled.current is None else settled.current
    same = next((each for each in standing if _says(session, each) == (*_plain(offer), *_typed_breaks(settled))), None)
    if same is not None:
        if offer.current:
            make_current(session, item_id, _id(same))
        return _id(same)
    same_as_current = current is not None and _pack_there(current) == _pack_there(offer)
    offer.standing = offer.current or (settled.standing and not same_as_current)
    session.add(offer)
    session.flush()
    for packs, price in settled.breaks:
        session.add(OfferBreak(offer_id=_id(offer), from_packs=packs, price_micros=to_micros(price)))
    if offer.current and current is not None:
        _follow(session, current, offer)
    if offer.standing:
        _stand_alone(session, offer)
    session.flush()
    refresh_figures(session, item_id=item_id)
    return _id(offer)


def make_current(session: Session, item_id: int, offer_id: int) -> None:
    """Take another offer of an item as the current one. Raises: Missing."""
    offer = _offer_of(session, item_id, offer_id)
    current = next((each for each in _standing(session, item_id) if each.current), None)
    if current is not None and current.id == offer_id:
        return
    if current is not None:
        _follow(session, current, offer)
    offer.current = offer.standing = True
    offer.version += 1
    _stand_alone(session, offer)
    session.flush()
    refresh_figures(session, item_id=item_id)


def stand_offer(session: Session, item_id: int, offer_id: int, *, standing: bool) -> None:
    """Let an offer be bought beside the current one, or no more.

    Of one supplier and pack only one stands, so an earlier price takes the place of the one that stands. Raises:
    Missing; Conflict for the current offer, or one of the same supplier and pack.
    """
    offer = _offer_of(session, item_id, offer_id)
    current = session.exec(select(Offer).where(Offer.item_id == item_id, col(Offer.current))).first()
    if offer.current and not standing:
        raise Conflict("Costs follow this price. Let them follow another one first.")
    if standing and current is not None and current.id != offer.id and _pack_there(current) == _pack_there(offer):
        raise Conflict("Costs follow a price of the same pack there. Let them follow this one instead.")
    if offer.standing == standing:
        return
    offer.standing = standing
    offer.version += 1
    if standing:
        _stand_alone(session, offer)
    session.flush()


def _offer(session: Session, item_id: int, draft: OfferDraft, own: str) -> Offer:
    foreign = draft.currency != own
    supplier_id = resolve_supplier(
        session,
        supplier_id=draft.supplier_id,
        name=draft.supplier,
        currency=draft.currency if foreign else "",
        exchange_rate=draft.exchange_rate if foreign else None,
    )
    return Offer(
        item_id=item_id,
        supplier_id=supplier_id,
        pack_milli=draft.pack_milli,
        pack_unit=draft.pack_unit,
        price_micros=to_micros(draft.price),
        currency=draft.currency,
        exchange_rate=draft.exchange_rate or Decimal(1),
        lead_days=draft.lead_days,
        note=draft.note,
        created_at=now(),
    )


def _offer_of(session: Session, item_id: int, offer_id: int) -> Offer:
    offer = session.get(Offer, offer_id)
    if offer is None or offer.item_id != item_id:
        raise Missing("offer of this item", offer_id)
    return offer


def _standing(session: Session, item_id: int) -> Sequence[Offer]:
    """The standing offers of an item, the one that costs follow among them."""
    if (gathering := gathering_in(session)) is not None:
        gathering.once("standing offers", partial(_hold_standing, gathering))
        return [each for each in gathering.by(Offer, "item", lambda offer: offer.item_id)[item_id] if each.standing]
    return session.exec(select(Offer).where(Offer.item_id == item_id, col(Offer.standing))).all()


def _hold_standing(gathering: Gathering) -> None:
    standing = select(Offer.id).where(col(Offer.standing))
    gathering.hold(Offer, gathering.exec(select(Offer).where(col(Offer.standing))).all())
    gathering.hold(OfferBreak, gathering.exec(select(OfferBreak).where(col(OfferBreak.offer_id).in_(standing))).all())


def _follow(session: Session, before: Offer, after: Offer) -> None:
    """Let costs follow another offer, and remember that they do from now on."""
    before.current = False
    before.version += 1
    change = PriceChange(item_id=after.item_id, before_id=_id(before), after_id=_id(after), changed_at=now())
    session.add(change)
    session.flush()


def _stand_alone(session: Session, offer: Offer) -> None:
    """Let no other offer of the same supplier and pack stand: it is what was asked before."""
    for other in _standing(session, offer.item_id):
        if other.id != offer.id and _pack_there(other) == _pack_there(offer):
            other.standing = other.current = False
            other.version += 1


def _pack_there(offer: Offer) -> tuple[object, ...]:
    return (offer.supplier_id, offer.pack_milli, offer.pack_unit)


def _refuse_useless(session: Session, item: Item, draft: OfferDraft) -> None:
    body = body_in(item, all_metals(session) if item.metal else {})
    cost = unit_cost_of_offer(
        draft.price, from_milli(draft.pack_milli), draft.pack_unit, item_unit=item.unit, body=body
    )
    if isinstance(cost, Impossible):
        raise Unfit(Faults.of("pack_unit", cost.reason))


def _says(session: Session, offer: Offer) -> tuple[object, ...]:
    return (*_plain(offer), *offer_breaks(session, [_id(offer)]).get(_id(offer), ()))


def _plain(offer: Offer) -> tuple[object, ...]:
    return (
        offer.supplier_id,
        offer.pack_milli,
        offer.pack_unit,
        offer.price_micros,
        offer.currency,
        offer.exchange_rate,
        offer.lead_days,
        offer.note,
    )


def _typed_breaks(draft: OfferDraft) -> tuple[tuple[int, int], ...]:
    return tuple((packs, to_micros(price)) for packs, price in draft.breaks)


def _id(offer: Offer) -> int:
    if offer.id is None:
        raise RuntimeError("a flushed row has its id")
    return offer.id
