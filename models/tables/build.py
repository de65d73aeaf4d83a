"""Builds: making n pieces of one revision. The rings they take stand in the ledger, in `lot`."""

from datetime import date, datetime
from decimal import Decimal

from sqlalchemy import Index, UniqueConstraint
from sqlmodel import Field

from models.tables.columns import Row, at_least, big, day, kept_text, moment, money_words, one_of, rate, word
from models.trade.vocabulary.bench import BUILD_STATES, JOB_KINDS, PROCESSES, TIMINGS


class Build(Row, table=True):
    """Making `pieces` of a revision; costs in millionths are written when it is finished.

    Without a design yet, rings were taken out first; a design is made of them before it is finished.

    `due_on` is the day by which somebody wants it; `finished_on` is there only while it is finished.

    `choices` is a kept document: the chosen name per choice group, and which optional parts go in. `timer_started_at`
    is set while the stop-watch runs. `timing` is the person's word on an odd time: 'right' counts, 'odd' does not.
    `paid_minutes_milli` are the minutes that the labour stands for, at `wage_micros` an hour: those that were noted,
    else the likely ones. `estimate_micros` and `estimate_minutes_milli` are what all its pieces were expected to cost
    and to take. `guessed_micros` is what parts that are no stock items were guessed at; None for builds that
    were finished before their pieces bore it.
    """

    __tablename__ = "build"
    __table_args__ = (
        one_of("state", BUILD_STATES.codes),
        one_of("timing", ("", *TIMINGS)),
        at_least("pieces", 1),
        at_least("good", 0, or_null=True),
        at_least("spoiled", 0, or_null=True),
        at_least("minutes_milli", 0, or_null=True),
        at_least("paid_minutes_milli", 0, or_null=True),
        Index("ix_build_state_finished_on", "state", "finished_on"),
        money_words("what a build cost"),
    )

    id: int | None = Field(default=None, primary_key=True)
    design_id: int | None = Field(default=None, foreign_key="design.id", index=True)
    revision_id: int | None = Field(default=None, foreign_key="revision.id", index=True)
    state: str = "started"
    pieces: int
    choices: str = kept_text(default="{}")
    started_on: date = day()
    due_on: date | None = day(nullable=True, default=None)
    finished_on: date | None = day(nullable=True, default=None)
    note: str = ""
    good: int | None = None
    spoiled: int | None = None
    minutes_milli: int | None = big(nullable=True, default=None)
    timing: str = ""
    materials_micros: int | None = big(nullable=True, default=None)
    guessed_micros: int | None = big(nullable=True, default=None)
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


class BuildLine(Row, table=True):
    """What one build takes from one lot in one place; thousandths of the item's unit.

    While a build is started, `planned_milli` is reserved for it (`Reservation`). `taken_milli` left the bag at
    take-out, `extra_milli` later, `returned_milli` went back; what was used is taken + extra - returned.
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


class BuildTime(Row, table=True):
    """One kind of work of a finished build: `units` are how often it was done, weighted, in the units of its rate.

    `minutes_milli` are noted where the person wishes to say more than one total.
    """

    __tablename__ = "build_time"
    __table_args__ = (UniqueConstraint("build_id", "kind"), at_least("minutes_milli", 1, or_null=True))

    id: int | None = Field(default=None, primary_key=True)
    build_id: int = Field(foreign_key="build.id", index=True)
    kind: str
    units: Decimal = rate(default=Decimal(0))
    minutes_milli: int | None = big(nullable=True, default=None)


class LearnedRate(Row, table=True):
    """The time of one kind of work as the shop's own builds have moved it; written anew whenever they teach more."""

    __tablename__ = "learned_rate"

    kind: str = Field(primary_key=True)
    seconds: Decimal = rate()
    low_factor: Decimal = rate()
    high_factor: Decimal = rate()
    source: str


class DesignPace(Row, table=True):
    """How many times as long a design takes as its work says, as its own `builds` have taught."""

    __tablename__ = "design_pace"
    __table_args__ = (at_least("builds", 1),)

    design_id: int = Field(primary_key=True, foreign_key="design.id")
    factor: Decimal = rate()
    builds: int


class Job(Row, table=True):
    """Rings made from wire, or a lot turned into another finish: what went in, what came out, how it went."""

    __tablename__ = "job"
    __table_args__ = (
        one_of("kind", JOB_KINDS.codes),
        at_least("made_milli", 0),
        at_least("minutes_milli", 0),
        at_least("mandrel_nm", 1, or_null=True),
        at_least("measured_inner_nm", 1, or_null=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    kind: str
    process: str = word(PROCESSES, or_nothing=True, default="")
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
