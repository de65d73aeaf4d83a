"""Offers: what a supplier asks for a pack, and what one unit then costs in the shop's own currency."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Select
from sqlalchemy import select as columns
from sqlmodel import Session, col

from models.costing.unit_cost import Body
from models.intake.stock.item import body_of
from models.intake.stock.offer import from_milli
from models.queries.shop.gathering import gathering_in
from models.queries.stock.material import OfferView
from models.queries.stock.metal import all_metals
from models.tables import Item, Offer, OfferBreak, Supplier
from models.trade.metals import Metal
from models.trade.money import from_micros


@dataclass(frozen=True, slots=True)
class ItemOffer:
    """An offer with the item that it is for."""

    item_id: int
    item: str
    item_retired: bool
    offer: OfferView


OFFER_COLUMNS: tuple[Any, ...] = (
    col(Offer.id).label("offer_id"),
    col(Offer.supplier_id),
    col(Supplier.name).label("supplier"),
    col(Offer.pack_milli),
    col(Offer.pack_unit),
    col(Offer.price_micros),
    col(Offer.currency),
    col(Offer.exchange_rate),
    col(Offer.current),
    col(Offer.note).label("offer_note"),
    col(Offer.created_at).label("offer_made_at"),
    col(Offer.version).label("offer_version"),
    col(Offer.standing).label("offer_standing"),
    col(Offer.lead_days).label("offer_lead_days"),
)
BODY_COLUMNS: tuple[Any, ...] = (
    col(Item.kind),
    col(Item.unit),
    col(Item.metal),
    col(Item.wire_nm),
    col(Item.inner_nm),
    col(Item.mass_ug),
)


def body_in(row: Any, metals: Mapping[str, Metal]) -> Body:
    """What is known of one unit of the item in a row with `BODY_COLUMNS`."""
    return body_of(
        kind=row.kind,
        unit=row.unit,
        metal=metals.get(row.metal) if row.metal else None,
        wire_nm=row.wire_nm,
        inner_nm=row.inner_nm,
        mass_ug=row.mass_ug,
    )


def offer_in(
    row: Any, body: Body, breaks: tuple[tuple[int, int], ...] = (), *, in_design: bool = False
) -> OfferView | None:
    """The offer in a row with `OFFER_COLUMNS`, or None where the outer join found none; `breaks` in millionths."""
    if row.offer_id is None:
        return None
    return OfferView(
        id=row.offer_id,
        supplier_id=row.supplier_id,
        supplier=row.supplier or "",
        pack=from_milli(row.pack_milli),
        pack_unit=row.pack_unit,
        price=from_micros(row.price_micros),
        currency=row.currency,
        exchange_rate=row.exchange_rate,
        current=row.current,
        note=row.offer_note,
        made_at=row.offer_made_at,
        version=row.offer_version,
        body=body,
        item_unit=row.unit,
        standing=row.offer_standing,
        lead_days=row.offer_lead_days,
        breaks=tuple((packs, from_micros(micros)) for packs, micros in breaks),
        in_design=in_design,
    )


def item_offers(session: Session, item_id: int) -> tuple[OfferView, ...]:
    """All offers of an item: the current one first, then those that may be bought too, then the latest."""
    found = (
        columns(*OFFER_COLUMNS, *BODY_COLUMNS)
        .select_from(Offer)
        .join(Item, col(Item.id) == col(Offer.item_id))
        .outerjoin(Supplier, col(Supplier.id) == col(Offer.supplier_id))
        .where(col(Offer.item_id) == item_id)
        .order_by(col(Offer.current).desc(), col(Offer.standing).desc(), col(Offer.id).desc())
    )
    metals = all_metals(session)
    rows = session.execute(found).all()
    breaks = offer_breaks(session, [row.offer_id for row in rows])
    return tuple(offer for row in rows if (offer := offer_in(row, body_in(row, metals), breaks.get(row.offer_id, ()))))


def offers_of(session: Session, supplier_id: int) -> tuple[ItemOffer, ...]:
    """All offers of a supplier, those that may be bought first, each with its item."""
    found = (
        _offers_and_items()
        .where(col(Offer.supplier_id) == supplier_id)
        .order_by(col(Offer.standing).desc(), col(Item.name), col(Offer.id).desc())
    )
    return _with_items(session, session.execute(found).all())


def export_offers(session: Session) -> Iterable[dict[str, object]]:
    """Every standing offer of an item in use as rows of `OFFER_COLUMNS`, by item, the one that costs follow first."""
    found = (
        _offers_and_items()
        .where(col(Offer.standing), col(Item.retired).is_(False))
        .order_by(col(Item.name), col(Item.id), col(Offer.current).desc(), col(Offer.id))
    )
    rows = _with_items(session, session.execute(found).all())
    names = Counter(item for item in session.scalars(columns(col(Item.name))))
    for row in rows:
        offer = row.offer
        yield {
            "item": row.item,
            "item_id": row.item_id if names[row.item] > 1 else None,
            "supplier": offer.supplier,
            "pack": offer.pack,
            "pack_unit": offer.pack_unit,
            "price": offer.price,
            "currency": offer.currency,
            "exchange_rate": offer.exchange_rate if offer.foreign else None,
            "breaks": offer.breaks_typed,
            "lead_days": offer.lead_days,
            "current": offer.current,
            "offer_note": offer.note,
        }


def offer_breaks(session: Session, offer_ids: Collection[int]) -> dict[int, tuple[tuple[int, int], ...]]:
    """Price breaks by offer: from so many packs on, each costs so many millionths of the offer's currency."""
    if (gathering := gathering_in(session)) is not None:
        held = gathering.by(OfferBreak, "offer", lambda each: each.offer_id)
        return {
            offer_id: tuple(sorted((each.from_packs, each.price_micros) for each in held[offer_id]))
            for offer_id in offer_ids
            if held[offer_id]
        }
    found = (
        columns(col(OfferBreak.offer_id), col(OfferBreak.from_packs), col(OfferBreak.price_micros))
        .where(col(OfferBreak.offer_id).in_(offer_ids))
        .order_by(col(OfferBreak.offer_id), col(OfferBreak.from_packs))
    )
    breaks: dict[int, list[tuple[int, int]]] = {}
    for offer_id, from_packs, micros in session.execute(found):
        breaks.setdefault(offer_id, []).append((from_packs, micros))
    return {offer_id: tuple(each) for offer_id, each in breaks.items()}


def _offers_and_items() -> Select[Any]:
    """The rows that `_with_items` reads, before it is said which of them and in what order."""
    return (
        columns(
            *OFFER_COLUMNS,
            *BODY_COLUMNS,
            col(Item.id).label("item_id"),
            col(Item.name).label("item"),
            col(Item.retired).label("item_retired"),
        )
        .select_from(Offer)
        .join(Item, col(Item.id) == col(Offer.item_id))
        .outerjoin(Supplier, col(Supplier.id) == col(Offer.supplier_id))
    )


def _with_items(session: Session, rows: Sequence[Any]) -> tuple[ItemOffer, ...]:
    metals = all_metals(session)
    breaks = offer_breaks(session, [row.offer_id for row in rows])
    return tuple(
        ItemOffer(row.item_id, row.item, row.item_retired, offer)
        for row in rows
        if (offer := offer_in(row, body_in(row, metals), breaks.get(row.offer_id, ())))
    )
