"""Offers: what a supplier asks for a pack, and what one unit then costs in the shop's own currency."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import select as columns
from sqlmodel import Session, col

from models.costing.exact import EXACT
from models.costing.inputs import UnitCost
from models.costing.lines import Impossible, Line
from models.costing.unit_cost import Body, unit_cost_of_offer
from models.intake.item import body_of
from models.intake.offer import from_milli
from models.queries.metal import all_metals
from models.tables import Item, Offer, Supplier
from models.trade.metals import Metal
from models.trade.money import from_micros


@dataclass(frozen=True, slots=True)
class OfferView:
    """One offer: `pack` of `pack_unit` for `price` in `currency`, at `exchange_rate` of the shop's own each."""

    id: int
    supplier_id: int | None
    supplier: str
    pack: Decimal
    pack_unit: str
    price: Decimal
    currency: str
    exchange_rate: Decimal
    current: bool
    note: str
    made_at: datetime
    version: int
    body: Body
    """What is known of one unit of the item."""
    item_unit: str

    @property
    def foreign(self) -> bool:
        """Whether the price was turned into the shop's currency by a rate."""
        return self.exchange_rate != 1

    @property
    def source(self) -> str:
        """Where the price comes from, for the lines of a cost."""
        whose = f"the offer of {self.supplier}" if self.supplier else "the offer"
        return f"{whose}, {self.made_at.date().isoformat()}"

    @property
    def unit_cost(self) -> UnitCost | Impossible:
        """The cost of one unit in the shop's own currency, with the facts behind it."""
        price = EXACT.multiply(self.price, self.exchange_rate)
        cost = unit_cost_of_offer(
            price,
            self.pack,
            _in_words(self.pack_unit, self.pack),
            item_unit=_in_words(self.item_unit),
            body=self.body,
            source=self.source,
        )
        if isinstance(cost, Impossible) or not self.foreign:
            return cost
        rate = Line(
            f"One {self.currency} costs",
            self.exchange_rate,
            reason=f"The pack is priced at {format(self.price, 'f')} {self.currency}; this rate was typed with it.",
            source=self.source,
        )
        return UnitCost(cost.amount, (rate, *cost.lines), cost.provisional)


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
)
BODY_COLUMNS: tuple[Any, ...] = (
    col(Item.kind),
    col(Item.unit),
    col(Item.metal),
    col(Item.wire_nm),
    col(Item.inner_nm),
    col(Item.mass_ug),
)


def _in_words(unit: str, many: Decimal | None = None) -> str:
    """The unit as the lines of a cost say it: pieces rather than piece."""
    return "pieces" if unit == "piece" and many != 1 else unit


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


def offer_in(row: Any, body: Body) -> OfferView | None:
    """The offer in a row with `OFFER_COLUMNS`, or None where the outer join found none."""
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
    )


def item_offers(session: Session, item_id: int) -> tuple[OfferView, ...]:
    """All offers of an item, the current one first, then the latest."""
    found = (
        columns(*OFFER_COLUMNS, *BODY_COLUMNS)
        .select_from(Offer)
        .join(Item, col(Item.id) == col(Offer.item_id))
        .outerjoin(Supplier, col(Supplier.id) == col(Offer.supplier_id))
        .where(col(Offer.item_id) == item_id)
        .order_by(col(Offer.current).desc(), col(Offer.id).desc())
    )
    metals = all_metals(session)
    return tuple(offer for row in session.execute(found) if (offer := offer_in(row, body_in(row, metals))))


def offers_of(session: Session, supplier_id: int) -> tuple[ItemOffer, ...]:
    """All offers of a supplier, current ones first, each with its item."""
    found = (
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
        .where(col(Offer.supplier_id) == supplier_id)
        .order_by(col(Offer.current).desc(), col(Item.name), col(Offer.id).desc())
    )
    metals = all_metals(session)
    return tuple(
        ItemOffer(row.item_id, row.item, row.item_retired, offer)
        for row in session.execute(found)
        if (offer := offer_in(row, body_in(row, metals)))
    )
