"""The stock ledger: lots, where they lie, what was done, and the movements that it made. Nothing here is ever deleted.

Quantities are thousandths of the item's unit (rings are whole: multiples of 1000); values are millionths of the shop's
currency. Balances (`Lot`, `LotPlace`, `ItemBalance`) are written in the transaction that appends the movements.
"""

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field

from models.tables.columns import Row, at_least, big, day, moment, money_words, one_of, rate, word
from models.tables.sign_in import person_id
from models.trade.vocabulary.ledger import (
    ACT_KINDS,
    HOLDER_KINDS,
    LEAVING_REASONS,
    MOVEMENT_KINDS,
    SURENESS,
    VALUATIONS,
)


class Lot(Row, table=True):
    """One receipt of a stock item, with its quantity and its total value (never a rounded unit cost).

    `received_milli` and `received_micros` say what came in at first, `paid_micros` what was asked for it in `currency`
    (empty: the shop's own) at `exchange_rate`, and `freight_micros` its share of the freight, which the value holds.
    `provisional` marks a value that nobody paid: no cost was known, so the current offer's was taken, or nothing.
    """

    __tablename__ = "lot"
    __table_args__ = (
        at_least("quantity_milli", 0),
        at_least("value_micros", 0),
        at_least("received_milli", 0),
        at_least("received_micros", 0),
        at_least("paid_micros", 0, or_null=True),
        at_least("freight_micros", 0),
        CheckConstraint("quantity_milli > 0 OR value_micros = 0", name="empty_lot_is_worth_nothing"),
        Index("ix_lot_item_id_received_on", "item_id", "received_on"),
        money_words("what a lot cost"),
    )

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="item.id")
    supplier_id: int | None = Field(default=None, foreign_key="supplier.id", index=True)
    batch: str = ""
    received_on: date = day()
    quantity_milli: int = big(default=0)
    value_micros: int = big(default=0)
    received_milli: int = big(default=0)
    received_micros: int = big(default=0)
    paid_micros: int | None = big(nullable=True, default=None)
    currency: str = ""
    exchange_rate: Decimal = rate(default=Decimal(1))
    freight_micros: int = big(default=0)
    provisional: bool = False
    note: str = ""
    created_at: datetime = moment()
    version: int = 1


class LotPlace(Row, table=True):
    """A bag: how much of a lot lies in one place ('drawer B4'), its remembered tare, and how sure its count is.

    `reserved_milli` is the sum of its reservations; nobody else may take it.
    """

    __tablename__ = "lot_place"
    __table_args__ = (
        UniqueConstraint("lot_id", "place"),
        at_least("quantity_milli", 0),
        at_least("reserved_milli", 0),
        at_least("tare_ug", 0, or_null=True),
        CheckConstraint("reserved_milli <= quantity_milli", name="no_more_is_reserved_than_lies_here"),
        one_of("rough", SURENESS),
    )

    id: int | None = Field(default=None, primary_key=True)
    lot_id: int = Field(foreign_key="lot.id")
    place: str = Field(default="", index=True)
    quantity_milli: int = big(default=0)
    reserved_milli: int = big(default=0)
    tare_ug: int | None = big(nullable=True, default=None)
    rough: str = ""
    counted_on: date | None = day(nullable=True, default=None)


class Reservation(Row, table=True):
    """What one holder (a build that is started) will take of one bag. What is given up or taken is a row no more.

    `holder_id` is the number of what `holder_kind` names. The counters of bags and of items are the sums of these.
    """

    __tablename__ = "reservation"
    __table_args__ = (
        UniqueConstraint("holder_kind", "holder_id", "lot_id", "place"),
        one_of("holder_kind", HOLDER_KINDS.codes),
        at_least("quantity_milli", 1),
        Index("ix_reservation_lot_id_place", "lot_id", "place"),
    )

    id: int | None = Field(default=None, primary_key=True)
    holder_kind: str
    holder_id: int
    lot_id: int = Field(foreign_key="lot.id")
    place: str = ""
    quantity_milli: int = big()


class ItemBalance(Row, table=True):
    """On hand, value and reserved of one item over all its lots; free = on hand - reserved.

    `last_moved_on` is the last day on which any of it came in or was used; counting and moving bags leave it alone.
    """

    __tablename__ = "item_balance"
    __table_args__ = (
        at_least("on_hand_milli", 0),
        at_least("value_micros", 0),
        at_least("reserved_milli", 0),
        CheckConstraint("on_hand_milli > 0 OR value_micros = 0", name="nothing_is_worth_nothing"),
        CheckConstraint("reserved_milli <= on_hand_milli", name="no_more_is_reserved_than_is_there"),
    )

    item_id: int = Field(primary_key=True, foreign_key="item.id")
    on_hand_milli: int = big(default=0)
    value_micros: int = big(default=0)
    reserved_milli: int = big(default=0)
    last_moved_on: date | None = day(nullable=True, default=None)


class StockTransaction(Row, table=True):
    """One thing that a person (`person_id`) did; its movements belong together and are undone together.

    `valued_by` is how the shop valued what left when it was done.
    """

    __tablename__ = "act"
    __table_args__ = (one_of("kind", ACT_KINDS.codes), one_of("valued_by", VALUATIONS.codes))

    id: int | None = Field(default=None, primary_key=True)
    kind: str
    at: datetime = moment(index=True)
    done_on: date = day(index=True)
    words: str = ""
    build_id: int | None = Field(default=None, foreign_key="build.id", index=True)
    undoes_id: int | None = Field(default=None, foreign_key="act.id", unique=True)
    person_id: int = person_id()
    valued_by: str = Field(default="fifo", sa_column_kwargs={"server_default": "fifo"})


class Movement(Row, table=True):
    """One change of a lot's quantity and value in one place, signed; appended, never changed.

    `after_milli` is what the item had on hand after it, over all lots. `reason` says why rings left without a build:
    spoiled, lost, gift, sample. `labour_micros` is the part of a made lot's value that is work and overhead put into
    it. `price_micros` is what the buyer paid for what a sale took out. Without a quantity, 'correction' is what a
    receipt cost more than was booked, and 'carried' (with the opposite sign) the part of it that left at the old cost.
    """

    __tablename__ = "movement"
    __table_args__ = (
        one_of("kind", MOVEMENT_KINDS.codes),
        at_least("after_milli", 0),
        at_least("price_micros", 0, or_null=True),
        Index("ix_movement_item_id_id", "item_id", "id"),
        Index("ix_movement_lot_id_id", "lot_id", "id"),
        money_words("what a lot cost"),
    )

    id: int | None = Field(default=None, primary_key=True)
    act_id: int = Field(foreign_key="act.id", index=True)
    item_id: int = Field(foreign_key="item.id")
    lot_id: int = Field(foreign_key="lot.id")
    place: str = ""
    kind: str
    quantity_milli: int = big()
    value_micros: int = big()
    after_milli: int = big()
    labour_micros: int = big(default=0)
    price_micros: int | None = big(nullable=True, default=None)
    reason: str = word(LEAVING_REASONS, or_nothing=True, default="")
    reverses_id: int | None = Field(default=None, foreign_key="movement.id", unique=True)


class CostCorrection(Row, table=True):
    """What a receipt of a lot really cost, beside what was booked; its value is a movement of the same act.

    Sums in millionths as the lot keeps them: what came in is worth `received`, freight included; `paid` is what was
    asked in the receipt's own currency. What stood before lets an undo put it back.
    """

    __tablename__ = "cost_correction"
    __table_args__ = (
        UniqueConstraint("act_id", "lot_id"),
        at_least("received_before", 0),
        at_least("received_after", 0),
        at_least("freight_before", 0),
        at_least("freight_after", 0),
        at_least("paid_before", 0, or_null=True),
        at_least("paid_after", 0, or_null=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    act_id: int = Field(foreign_key="act.id")
    lot_id: int = Field(foreign_key="lot.id", index=True)
    received_before: int = big()
    received_after: int = big()
    freight_before: int = big()
    freight_after: int = big()
    paid_before: int | None = big(nullable=True, default=None)
    paid_after: int | None = big(nullable=True, default=None)
    provisional_before: bool = False
    provisional_after: bool = False


class BagCount(Row, table=True):
    """What somebody found in a bag beside what the ledger said; the difference is a movement of the same act.

    `rough_before` and `counted_before` are the bag's marks until then, so that an undo can put them back.
    """

    __tablename__ = "bag_count"
    __table_args__ = (
        at_least("expected_milli", 0),
        at_least("found_milli", 0),
        one_of("rough", SURENESS),
        one_of("rough_before", SURENESS),
    )

    id: int | None = Field(default=None, primary_key=True)
    act_id: int = Field(foreign_key="act.id", index=True)
    lot_id: int = Field(foreign_key="lot.id", index=True)
    place: str = ""
    expected_milli: int = big()
    found_milli: int = big()
    rough: str = ""
    rough_before: str = ""
    counted_before: date | None = day(nullable=True, default=None)


class Weighing(Row, table=True):
    """One weighing at the scale: a counted sample (`rings` known) or a whole bag; micrograms."""

    __tablename__ = "weighing"
    __table_args__ = (
        at_least("gross_ug", 1),
        at_least("tare_ug", 0),
        at_least("step_ug", 1),
        at_least("rings", 1, or_null=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="item.id", index=True)
    lot_id: int | None = Field(default=None, foreign_key="lot.id", index=True)
    place: str = ""
    rings: int | None = None
    gross_ug: int = big()
    tare_ug: int = big(default=0)
    step_ug: int = big()
    weighed_at: datetime = moment()
