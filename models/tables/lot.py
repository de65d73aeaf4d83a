"""The stock ledger: lots, where they lie, what was done, and the movements that it made. Nothing here is ever deleted.

Quantities are thousandths of the item's unit (rings are whole: multiples of 1000); values are millionths of the shop's
currency. Balances (`Lot`, `LotPlace`, `ItemBalance`) are written in the transaction that appends the movements.
"""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field, SQLModel

from models.tables.columns import at_least, big, day, moment, one_of

ROUGH = ("", "about", "plenty")
MOVEMENT_KINDS = ("receipt", "issue", "return", "scrap", "count", "sale", "transfer", "reversal", "revalue")
ACT_KINDS = (
    "receive",
    "count",
    "scrap",
    "sell",
    "move",
    "take_out",
    "finish",
    "abandon",
    "make_rings",
    "process",
    "unpick",
    "give",
    "revalue",
    "undo",
)


class Lot(SQLModel, table=True):
    """One receipt of a stock item, with its quantity and its total value (never a rounded unit cost)."""

    __tablename__ = "lot"
    __table_args__ = (
        at_least("quantity_milli", 0),
        at_least("value_micros", 0),
        CheckConstraint("quantity_milli > 0 OR value_micros = 0", name="empty_lot_is_worth_nothing"),
        Index("ix_lot_item_id_received_on", "item_id", "received_on"),
    )

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="item.id")
    supplier_id: int | None = Field(default=None, foreign_key="supplier.id", index=True)
    batch: str = ""
    received_on: date = day()
    quantity_milli: int = big(default=0)
    value_micros: int = big(default=0)
    note: str = ""
    created_at: datetime = moment()
    version: int = 1


class LotPlace(SQLModel, table=True):
    """How much of a lot lies in one place ('drawer B4'), with the bag's remembered tare and how sure the count is."""

    __tablename__ = "lot_place"
    __table_args__ = (
        UniqueConstraint("lot_id", "place"),
        at_least("quantity_milli", 0),
        at_least("tare_ug", 0, or_null=True),
        one_of("rough", ROUGH),
    )

    id: int | None = Field(default=None, primary_key=True)
    lot_id: int = Field(foreign_key="lot.id")
    place: str = Field(default="", index=True)
    quantity_milli: int = big(default=0)
    tare_ug: int | None = big(nullable=True, default=None)
    rough: str = ""
    counted_on: date | None = day(nullable=True, default=None)


class ItemBalance(SQLModel, table=True):
    """On hand, value and reserved of one item over all its lots; free = on hand - reserved."""

    __tablename__ = "item_balance"
    __table_args__ = (
        at_least("on_hand_milli", 0),
        at_least("value_micros", 0),
        at_least("reserved_milli", 0),
        CheckConstraint("on_hand_milli > 0 OR value_micros = 0", name="nothing_is_worth_nothing"),
    )

    item_id: int = Field(primary_key=True, foreign_key="item.id")
    on_hand_milli: int = big(default=0)
    value_micros: int = big(default=0)
    reserved_milli: int = big(default=0)
    last_moved_on: date | None = day(nullable=True, default=None)


class Act(SQLModel, table=True):
    """One thing that a person did; its movements belong together and are undone together."""

    __tablename__ = "act"
    __table_args__ = (one_of("kind", ACT_KINDS),)

    id: int | None = Field(default=None, primary_key=True)
    kind: str
    at: datetime = moment()
    done_on: date = day(index=True)
    words: str = ""
    build_id: int | None = Field(default=None, foreign_key="build.id", index=True)
    undoes_id: int | None = Field(default=None, foreign_key="act.id", unique=True)


class Movement(SQLModel, table=True):
    """One change of a lot's quantity and value in one place, signed; appended, never changed.

    `reason` says why rings left without a build: spoiled, lost, gift, sample. `labour_micros` is the part of a made
    lot's value that is work and overhead put into it.
    """

    __tablename__ = "movement"
    __table_args__ = (
        one_of("kind", MOVEMENT_KINDS),
        Index("ix_movement_item_id_id", "item_id", "id"),
        Index("ix_movement_lot_id_id", "lot_id", "id"),
    )

    id: int | None = Field(default=None, primary_key=True)
    act_id: int = Field(foreign_key="act.id", index=True)
    item_id: int = Field(foreign_key="item.id")
    lot_id: int = Field(foreign_key="lot.id")
    place: str = ""
    kind: str
    quantity_milli: int = big()
    value_micros: int = big()
    labour_micros: int = big(default=0)
    reason: str = ""
    reverses_id: int | None = Field(default=None, foreign_key="movement.id", unique=True)


class Weighing(SQLModel, table=True):
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
