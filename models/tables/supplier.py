"""Who sells stock items, and what they ask for a pack."""

from datetime import datetime
from decimal import Decimal

from sqlmodel import Field, SQLModel

from models.tables.columns import at_least, big, moment, one_of, rate

PACK_UNITS = ("piece", "m", "cm", "ft", "in", "g", "kg", "oz", "lb", "ozt", "dwt")


class Supplier(SQLModel, table=True):
    """Somebody whom the shop buys from."""

    __tablename__ = "supplier"
    __table_args__ = (at_least("lead_days", 0, or_null=True),)

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    note: str = ""
    lead_days: int | None = None
    created_at: datetime = moment()
    version: int = 1


class Offer(SQLModel, table=True):
    """What a supplier asks for one pack of an item.

    `pack_milli` is in thousandths of `pack_unit`; `price_micros` in millionths of `currency`; `exchange_rate` is what
    one unit of `currency` costs in the shop's own. Of an item's offers at most one is current; a changed price is a new
    offer, so that old prices stay readable.
    """

    __tablename__ = "offer"
    __table_args__ = (one_of("pack_unit", PACK_UNITS), at_least("pack_milli", 1), at_least("price_micros", 0))

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="item.id", index=True)
    supplier_id: int | None = Field(default=None, foreign_key="supplier.id", index=True)
    pack_milli: int = big()
    pack_unit: str
    price_micros: int = big()
    currency: str
    exchange_rate: Decimal = rate(default=Decimal(1))
    current: bool = True
    note: str = ""
    created_at: datetime = moment()
    version: int = 1
