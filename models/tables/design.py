"""Designs, their revisions, and the parts and work of each revision. Their rows stand in `layout`."""

from datetime import datetime
from decimal import Decimal

from sqlalchemy import CheckConstraint, UniqueConstraint, false
from sqlmodel import Field

from models.tables.columns import Row, at_least, big, moment, money_words, one_of, photo_name, rate
from models.trade.vocabulary.things import PART_KINDS


class Design(Row, table=True):
    """A thing that can be made. Name, photo, notes and listed prices stand outside the revisions.

    A kit is a design of its own: `kit_of_id` is the design whose pieces it lets others make, in that revision's number,
    with `kit_spare_percent` of its rings to spare, and its rings opened and closed where `kit_prepared`.
    """

    __tablename__ = "design"
    __table_args__ = (at_least("kit_of_revision", 1, or_null=True),)

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(index=True)
    piece: str = ""
    note: str = ""
    photo: str | None = photo_name(default=None)
    retired: bool = False
    copied_from_id: int | None = Field(default=None, foreign_key="design.id")
    kit_of_id: int | None = Field(default=None, foreign_key="design.id", index=True)
    kit_of_revision: int | None = None
    kit_spare_percent: Decimal | None = rate(nullable=True, default=None)
    kit_prepared: bool = Field(default=False, sa_column_kwargs={"server_default": false()})
    created_at: datetime = moment()
    version: int = 1


class Revision(Row, table=True):
    """One saved state of a design: sizes in nanometres, a measured mass in micrograms. Never changed once written."""

    __tablename__ = "revision"
    __table_args__ = (
        UniqueConstraint("design_id", "number"),
        at_least("number", 1),
        at_least("skill", 1),
        at_least("once_pieces", 1),
        at_least("width_nm", 1, or_null=True),
        at_least("height_nm", 1, or_null=True),
        at_least("length_nm", 1, or_null=True),
        at_least("measured_mass_ug", 1, or_null=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    design_id: int = Field(foreign_key="design.id", index=True)
    number: int
    weave: str | None = None
    skill: int = 1
    width_nm: int | None = big(nullable=True, default=None)
    height_nm: int | None = big(nullable=True, default=None)
    length_nm: int | None = big(nullable=True, default=None)
    measured_mass_ug: int | None = big(nullable=True, default=None)
    allowance_percent: Decimal | None = rate(nullable=True, default=None)
    once_pieces: int = 10
    change_note: str = ""
    made_at: datetime = moment()


class Part(Row, table=True):
    """One line of a revision: a stock item, or a typed size and metal that is not in stock yet.

    `quantity_milli` is in thousandths of the item's unit (rings are whole, so a multiple of 1000). Parts that share a
    `choice_group` are alternatives; the lowest position is the usual one. `guess_micros` is a guessed price per unit.
    `layout_key` is the part's key in the rows that it is counted from, empty for a part of the plain list;
    `closed_milli` is how many of its rings are closed beforehand, where the rows say so.
    """

    __tablename__ = "part"
    __table_args__ = (
        UniqueConstraint("revision_id", "position"),
        one_of("typed_kind", ("", *PART_KINDS)),
        at_least("quantity_milli", 1),
        at_least("guess_micros", 0, or_null=True),
        at_least("typed_wire_nm", 1, or_null=True),
        at_least("typed_inner_nm", 1, or_null=True),
        CheckConstraint(
            "closed_milli IS NULL OR (closed_milli >= 0 AND closed_milli <= quantity_milli)", name="closed_within"
        ),
        money_words("a guessed price in a design"),
    )

    id: int | None = Field(default=None, primary_key=True)
    revision_id: int = Field(foreign_key="revision.id", index=True)
    position: int
    item_id: int | None = Field(default=None, foreign_key="item.id", index=True)
    typed_kind: str = ""
    typed_name: str = ""
    typed_metal: str | None = None
    typed_colour: str = ""
    typed_wire_nm: int | None = big(nullable=True, default=None)
    typed_inner_nm: int | None = big(nullable=True, default=None)
    typed_unit: str = "piece"
    guess_micros: int | None = big(nullable=True, default=None)
    quantity_milli: int = big()
    purpose: str = ""
    optional: bool = False
    choice_group: str = ""
    choice_name: str = ""
    allowance_percent: Decimal | None = rate(nullable=True, default=None)
    joined: bool = True
    layout_key: str = Field(default="", sa_column_kwargs={"server_default": ""})
    closed_milli: int | None = big(nullable=True, default=None)


class Work(Row, table=True):
    """One kind of work of a revision: a count that replaces the one from the parts, or minutes, or both left open."""

    __tablename__ = "work"
    __table_args__ = (
        UniqueConstraint("revision_id", "kind"),
        at_least("count", 0, or_null=True),
        at_least("minutes_milli", 0, or_null=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    revision_id: int = Field(foreign_key="revision.id", index=True)
    kind: str
    count: int | None = None
    minutes_milli: int | None = big(nullable=True, default=None)
