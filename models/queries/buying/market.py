"""What can be bought, for the planning room: standing offers and suppliers in the shop's own currency and units.

What is needed is gathered in `needs`; purchases stand in `purchase`.
"""

from __future__ import annotations

from collections.abc import Collection
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Context, Decimal
from typing import Any

from sqlalchemy import select
from sqlmodel import Session, col

from models.costing.lines import Impossible
from models.costing.unit_cost import Body, pack_in_units
from models.intake.stock.offer import from_milli
from models.planning.offers import Break, Offer, Supplier
from models.queries.stock.metal import all_metals
from models.queries.stock.offer import BODY_COLUMNS, body_in, offer_breaks
from models.queries.stock.on_order import drafted_milli, on_order_milli
from models.tables import Item
from models.tables import Offer as OfferRow
from models.tables import Supplier as SupplierRow
from models.trade.money import to_micros

__all__ = ["NOBODY", "drafted_milli", "on_order_milli", "pack_milli_in_units", "planning_offers"]

NOBODY = "0"
"""The key of the supplier of offers of which nobody said who sells them."""
NOBODY_NAMED = "nobody named"
_EXACT = Context(prec=50, rounding=ROUND_HALF_EVEN)
_OFFERED: tuple[Any, ...] = (
    col(OfferRow.id).label("offer_id"),
    col(OfferRow.item_id),
    col(OfferRow.supplier_id),
    col(OfferRow.pack_milli),
    col(OfferRow.pack_unit),
    col(OfferRow.price_micros),
    col(OfferRow.currency),
    col(OfferRow.exchange_rate),
    col(OfferRow.lead_days),
    col(Item.name),
    *BODY_COLUMNS,
)


def planning_offers(
    session: Session, item_ids: Collection[int] | None = None
) -> tuple[tuple[Offer, ...], tuple[Supplier, ...]]:
    """The standing offers of items in use, and their suppliers: of these items, or of all.

    An offer's key is its id, a supplier's its id or `NOBODY`. Prices become whole millionths of the shop's currency,
    half to even, at the rate of the supplier where it deals in that currency, else at that of the offer. Offers whose
    pack cannot be turned into the item's unit, or holds less than one, are left out.
    """
    found = (
        select(*_OFFERED)
        .join(Item, col(Item.id) == col(OfferRow.item_id))
        .where(col(OfferRow.standing), col(Item.retired).is_(False))
        .order_by(col(OfferRow.id))
    )
    if item_ids is not None:
        found = found.where(col(OfferRow.item_id).in_(item_ids))
    rows = session.execute(found).all()
    breaks = offer_breaks(session, [row.offer_id for row in rows])
    suppliers = {row.id: row for row in session.scalars(select(SupplierRow).order_by(col(SupplierRow.id)))}
    metals = all_metals(session)
    offers = []
    for row in rows:
        units = pack_milli_in_units(row.pack_milli, row.pack_unit, row.unit, body_in(row, metals))
        if units is None:
            continue
        supplier = suppliers.get(row.supplier_id)
        rate = supplier.exchange_rate if supplier and supplier.currency == row.currency else row.exchange_rate
        offers.append(
            Offer(
                key=str(row.offer_id),
                item=row.item_id,
                supplier=str(row.supplier_id) if row.supplier_id else NOBODY,
                pack_milli=units,
                price_micros=at_rate(row.price_micros, rate),
                breaks=tuple(
                    Break(from_packs, at_rate(micros, rate)) for from_packs, micros in breaks.get(row.offer_id, ())
                ),
                lead_days=row.lead_days,
                name=row.name,
            )
        )
    asked = {offer.supplier for offer in offers}
    sellers = tuple(_supplier(row) for row in suppliers.values() if str(row.id) in asked)
    nobody = (Supplier(NOBODY, NOBODY_NAMED),) if NOBODY in asked else ()
    return tuple(offers), (*sellers, *nobody)


def pack_milli_in_units(pack_milli: int, pack_unit: str, unit: str, body: Body) -> int | None:
    """What a pack holds in thousandths of the item's unit, whole pieces rounded down; None when that can't be told."""
    units = pack_in_units(from_milli(pack_milli), _count(pack_unit), item_unit=_count(unit), body=body)
    if isinstance(units, Impossible):
        return None
    step = 1000 if unit == "piece" else 1
    milli = int(_EXACT.divide(units.scaleb(3), Decimal(step)).to_integral_value(ROUND_FLOOR)) * step
    return milli or None


def at_rate(micros: int, rate: Decimal) -> int:
    """A sum in another currency in whole millionths of the shop's own, half to even."""
    return int(_EXACT.multiply(Decimal(micros), rate).to_integral_value(ROUND_HALF_EVEN))


def _supplier(row: Any) -> Supplier:
    return Supplier(
        key=str(row.id),
        name=row.name,
        postage_micros=at_rate(to_micros(row.postage), row.exchange_rate),
        free_from_micros=None if row.free_from is None else at_rate(to_micros(row.free_from), row.exchange_rate),
        minimum_micros=at_rate(to_micros(row.minimum), row.exchange_rate),
        lead_days=row.lead_days,
    )


def _count(unit: str) -> str:
    return "pieces" if unit == "piece" else unit
