"""Builds: making n pieces of one revision. The rings they take stand in the ledger, in `lot`."""

from datetime import date, datetime

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from models.tables.columns import at_least, big, day, moment, one_of

BUILD_STATES = ("started", "making", "finished", "abandoned")


class Build(SQLModel, table=True):
    """Making `pieces` of a revision; costs in millionths are written when it is finished.

    Without a design yet, rings were taken out first; a design is made of them before it is finished.

    `choices` is JSON text: the chosen name per choice group, and which optional parts go in. `timer_started_at` is set
    while the stop-watch runs. `odd_minutes` marks a timing that the estimate must not learn from. `paid_minutes_milli`
    are the minutes that the labour stands for, at `wage_micros` an hour: those that were noted, else the likely ones.
    `estimate_micros` and `estimate_minutes_milli` are what all its pieces were expected to cost and to take.
    """

    __tablename__ = "build"
    __table_args__ = (
        one_of("state", BUILD_STATES),
        at_least("pieces", 1),
        at_least("good", 0, or_null=True),
        at_least("spoiled", 0, or_null=True),
        at_least("minutes_milli", 0, or_null=True),
        at_least("paid_minutes_milli", 0, or_null=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    design_id: int | None = Field(default=None, foreign_key="design.id", index=True)
    revision_id: int | None = Field(default=None, foreign_key="revision.id", index=True)
    state: str = Field(default="started", index=True)
    pieces: int
    choices: str = "{}"
    made_on: date = day()
    note: str = ""
    good: int | None = None
    spoiled: int | None = None
    minutes_milli: int | None = big(nullable=True, default=None)
    odd_minutes: bool = False
    materials_micros: int | None = big(nullable=True, default=None)
    labour_micros: int | None = big(nullable=True, default=None)
    overhead_micros: int | None = big(nullable=True, default=None)
    paid_minutes_milli: int | None = big(nullable=True, default=None)
    wage_micros: int | None = big(nullable=True, default=None)
    estimate_micros: int | None = big(nullable=True, default=None)
    estimate_minutes_milli: int | None = big(nullable=True, default=None)
    timer_started_at: datetime | None = moment(nullable=True, default=None)
    timed_milli: int = big(default=0)
    created_at: datetime = moment()
    version: int = 1


class BuildLine(SQLModel, table=True):
    """What one build takes from one lot in one place; thousandths of the item's unit.

    While a build is started, `planned_milli` is reserved. `taken_milli` left the bag at take-out, `extra_milli` later,
    `returned_milli` went back; what was used is taken + extra - returned.
    """

    __tablename__ = "build_line"
    __table_args__ = (
        UniqueConstraint("build_id", "position"),
        at_least("planned_milli", 0),
        at_least("taken_milli", 0),
        at_least("extra_milli", 0),
        at_least("returned_milli", 0),
    )

    id: int | None = Field(default=None, primary_key=True)
    build_id: int = Field(foreign_key="build.id", index=True)
    position: int
    item_id: int = Field(foreign_key="item.id", index=True)
    lot_id: int = Field(foreign_key="lot.id", index=True)
    place: str = ""
    purpose: str = ""
    planned_milli: int = big(default=0)
    taken_milli: int = big(default=0)
    extra_milli: int = big(default=0)
    returned_milli: int = big(default=0)


class BuildTime(SQLModel, table=True):
    """Minutes of one kind of work of a build, where the person wishes to say more than one total."""

    __tablename__ = "build_time"
    __table_args__ = (UniqueConstraint("build_id", "kind"), at_least("minutes_milli", 0))

    id: int | None = Field(default=None, primary_key=True)
    build_id: int = Field(foreign_key="build.id", index=True)
    kind: str
    minutes_milli: int = big()


class Job(SQLModel, table=True):
    """Rings made from wire, or a lot turned into another finish: what went in, what came out, how it went."""

    __tablename__ = "job"
    __table_args__ = (
        one_of("kind", ("coil", "process")),
        at_least("made_milli", 0),
        at_least("minutes_milli", 0),
        at_least("mandrel_nm", 1, or_null=True),
        at_least("measured_inner_nm", 1, or_null=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    kind: str
    process: str = ""
    from_item_id: int = Field(foreign_key="item.id", index=True)
    to_item_id: int = Field(foreign_key="item.id", index=True)
    act_id: int = Field(foreign_key="act.id", index=True)
    lot_id: int = Field(foreign_key="lot.id")
    used_milli: int = big()
    made_milli: int = big()
    mandrel_nm: int | None = big(nullable=True, default=None)
    measured_inner_nm: int | None = big(nullable=True, default=None)
    minutes_milli: int = big(default=0)
    cost_micros: int = big(default=0)
    note: str = ""
    done_on: date = day()
    created_at: datetime = moment()
