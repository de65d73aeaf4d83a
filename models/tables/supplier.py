"""Who sells stock items, what they ask for a pack, and when that changed. What is bought stands in `purchase`."""

from datetime import datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from models.tables.columns import Row, at_least, big, moment, money, money_words, rate, word
from models.trade.vocabulary.things import PACK_UNITS


class Supplier(Row, table=True):
    """Somebody whom the shop buys from, and the terms of an order there.

    Its columns share the names of `SupplierDraft`. Sums are in `currency` (empty: the shop's own), of which one unit
    costs `exchange_rate` of the shop's own. Postage is free when the goods reach `free_from`; an order below `minimum`
    is refused there.
    """

    __tablename__ = "supplier"
    __table_args__ = (
        at_least("lead_days", 0, or_null=True),
        at_least("postage_micros", 0),
        at_least("free_from_micros", 0, or_null=True),
        at_least("minimum_micros", 0),
        money_words("the terms of a supplier"),
    )

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    note: str = ""
    lead_days: int | None = None
    postage: Decimal = money("postage_micros", default=Decimal(0))
    free_from: Decimal | None = money("free_from_micros", nullable=True, default=None)
    minimum: Decimal = money("minimum_micros", default=Decimal(0))
    currency: str = ""
    exchange_rate: Decimal = rate(default=Decimal(1))
    created_at: datetime = moment()
    version: int = 1


class Offer(Row, table=True):
    """What a supplier asks for one pack of an item.

    `pack_milli` is in thousandths of `pack_unit`; `price_micros` in millionths of `currency`; `exchange_rate` is what
    one unit of `currency` costs in the shop's own. Of an item's offers at most one is current: costs follow it. Those
    that are `standing` may be bought, side by side. A changed price is a new offer, so that old prices stay readable.
    `lead_days` None takes the supplier's.
    """

    __tablename__ = "offer"
    __table_args__ = (
        at_least("pack_milli", 1),
        at_least("price_micros", 0),
        at_least("lead_days", 0, or_null=True),
        CheckConstraint("standing OR NOT current", name="what_costs_follow_stands"),
        money_words("the price of a stock item", first=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="item.id", index=True)
    supplier_id: int | None = Field(default=None, foreign_key="supplier.id", index=True)
    pack_milli: int = big()
    pack_unit: str = word(PACK_UNITS)
    price_micros: int = big()
    currency: str
    exchange_rate: Decimal = rate(default=Decimal(1))
    current: bool = True
    standing: bool = True
    lead_days: int | None = None
    note: str = ""
    created_at: datetime = moment()
    version: int = 1


class OfferBreak(Row, table=True):
    """From so many packs on each pack of an order costs this, in millionths of the offer's currency."""

    __tablename__ = "offer_break"
    __table_args__ = (
        UniqueConstraint("offer_id", "from_packs"),
        at_least("from_packs", 2),
        at_least("price_micros", 0),
        money_words("the price of a stock item", first=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    offer_id: int = Field(foreign_key="offer.id")
    from_packs: int
    price_micros: int = big()


class PriceChange(Row, table=True):
    """From one moment on the costs of an item follow another offer."""

    __tablename__ = "price_change"

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="item.id", index=True)
    before_id: int = Field(foreign_key="offer.id")
    after_id: int = Field(foreign_key="offer.id")
    changed_at: datetime = moment(index=True)
