"""Noting that a metal's price moved: every current offer of the metal becomes a new one, by so many per cent."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

from sqlmodel import Session, col, select

from models.errors import Conflict
from models.intake.stock.offer import OfferDraft
from models.operations.stock.offer import add_offer, make_current
from models.queries.stock.offer import offer_breaks
from models.tables import Item, Offer
from models.trade.money import from_micros, minor_digits


def move_metal(session: Session, metal: str, percent: Decimal) -> tuple[tuple[int, int], ...]:
    """Note new prices for everything of a metal; answer the items and the offers that costs followed before.

    Prices are rounded to the currency's minor unit, half away from zero. Offers of other sellers that stand beside stay
    what they are. Raises: Conflict when nothing of the metal has a price, or nothing would move.
    """
    offers = session.exec(
        select(Offer)
        .join(Item, col(Item.id) == col(Offer.item_id))
        .where(col(Item.metal) == metal, col(Item.retired).is_(False), col(Offer.current))
        .order_by(col(Offer.id))
    ).all()
    breaks = offer_breaks(session, [offer.id or 0 for offer in offers])
    before = []
    for offer in offers:
        price = _moved(offer.price_micros, percent, offer.currency)
        if price == from_micros(offer.price_micros):
            continue
        draft = OfferDraft(
            supplier="",
            supplier_id=offer.supplier_id,
            pack_milli=offer.pack_milli,
            pack_unit=offer.pack_unit,
            price=price,
            currency=offer.currency,
            exchange_rate=offer.exchange_rate,
            note=offer.note,
            lead_days=offer.lead_days,
            breaks=tuple(
                (packs, _moved(micros, percent, offer.currency)) for packs, micros in breaks.get(offer.id or 0, ())
            ),
        )
        before.append((offer.item_id, offer.id or 0))
        add_offer(session, offer.item_id, draft)
    if not before:
        raise Conflict("No price of this metal would move by that.")
    return tuple(before)


def move_back(session: Session, before: Sequence[tuple[int, int]]) -> None:
    """Let costs follow the former offers again. Raises: Missing."""
    for item_id, offer_id in before:
        make_current(session, item_id, offer_id)


def _moved(micros: int, percent: Decimal, currency: str) -> Decimal:
    """A price moved by so many per cent, to the minor unit; one below it stays as fine as it was."""
    price = from_micros(micros) * (1 + percent / 100)
    step = Decimal(1).scaleb(-minor_digits(currency))
    return price.quantize(step if price >= step else Decimal("0.000001"), rounding=ROUND_HALF_UP)
