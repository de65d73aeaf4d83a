"""What is bought: a list of what is needed, purchases with their lines, and which lots came in for them.

What came in stands in the ledger (`lot`); a line only keeps how many packs of it are here, in the same transaction.
"""

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field

from models.tables.columns import Row, at_least, big, day, moment, money_words, one_of, rate, word
from models.trade.vocabulary.plans import PURCHASE_STATES
from models.trade.vocabulary.things import PACK_UNITS


class Need(Row, table=True):
    """Something on the list of what is needed, in thousandths of the item's unit; `purpose` says what for.

    What is struck off stays, so that it can be put back.
    """

    __tablename__ = "need"
    __table_args__ = (at_least("quantity_milli", 1),)

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="item.id", index=True)
    quantity_milli: int = big()
    purpose: str = ""
    struck: bool = False
    created_at: datetime = moment()
    version: int = 1


class Purchase(Row, table=True):
    """One order to one supplier, or to nobody named; sums in millionths of `currency`.

    `exchange_rate` is what one unit of `currency` costs in the shop's own. 'part' has some of it here already; a
    purchase may be cancelled then too, for what has not come.
    """

    __tablename__ = "purchase"
    __table_args__ = (
        one_of("state", PURCHASE_STATES.codes),
        at_least("postage_micros", 0),
        money_words("a purchase"),
    )

    id: int | None = Field(default=None, primary_key=True)
    supplier_id: int | None = Field(default=None, foreign_key="supplier.id", index=True)
    state: str = Field(default="draft", index=True)
    currency: str
    exchange_rate: Decimal = rate(default=Decimal(1))
    postage_micros: int = big(default=0)
    reference: str = ""
    note: str = ""
    sent_on: date | None = day(nullable=True, default=None)
    due_on: date | None = day(nullable=True, default=None)
    closed_on: date | None = day(nullable=True, default=None)
    created_at: datetime = moment()
    version: int = 1


class PurchaseLine(Row, table=True):
    """Packs of one item: `packs` ordered, `received_packs` of them here, at `price_micros` each.

    A pack is `pack_milli` thousandths of `pack_unit` as it is sold, which is `unit_milli` thousandths of the item's
    own unit (whole rings of a weighed pack, rounded down).
    """

    __tablename__ = "purchase_line"
    __table_args__ = (
        UniqueConstraint("purchase_id", "position"),
        at_least("packs", 1),
        at_least("received_packs", 0),
        CheckConstraint("received_packs <= packs", name="no_more_comes_than_was_ordered"),
        at_least("pack_milli", 1),
        at_least("unit_milli", 1),
        at_least("price_micros", 0),
        money_words("a purchase"),
    )

    id: int | None = Field(default=None, primary_key=True)
    purchase_id: int = Field(foreign_key="purchase.id")
    position: int
    item_id: int = Field(foreign_key="item.id", index=True)
    offer_id: int | None = Field(default=None, foreign_key="offer.id")
    packs: int
    received_packs: int = 0
    pack_milli: int = big()
    pack_unit: str = word(PACK_UNITS)
    unit_milli: int = big()
    price_micros: int = big()


class PurchaseReceipt(Row, table=True):
    """One lot that came in for a line of a purchase, by one act of the ledger; no more once that act is taken back.

    `freight_micros` is the postage that it bears, in millionths of the purchase's currency.
    """

    __tablename__ = "purchase_receipt"
    __table_args__ = (
        at_least("packs", 1),
        at_least("quantity_milli", 1),
        at_least("freight_micros", 0),
        Index("ix_purchase_receipt_act_id", "act_id"),
    )

    id: int | None = Field(default=None, primary_key=True)
    line_id: int = Field(foreign_key="purchase_line.id", index=True)
    act_id: int = Field(foreign_key="act.id")
    lot_id: int = Field(foreign_key="lot.id", unique=True)
    packs: int
    quantity_milli: int = big()
    freight_micros: int = big(default=0)
