"""What planning keeps: which items may stand in for others, and questions of what to make next with their answers."""

from datetime import datetime

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field

from models.tables.columns import Row, at_least, big, kept_text, moment, one_of
from models.trade.vocabulary.plans import PLAN_STATES


class StandIn(Row, table=True):
    """The person's word that one item may stand in for another where that runs out, or each for the other."""

    __tablename__ = "stand_in"
    __table_args__ = (
        UniqueConstraint("item_id", "stand_in_id"),
        CheckConstraint("item_id <> stand_in_id", name="nothing_stands_in_for_itself"),
    )

    id: int | None = Field(default=None, primary_key=True)
    item_id: int = Field(foreign_key="item.id")
    stand_in_id: int = Field(foreign_key="item.id", index=True)
    both_ways: bool = False
    created_at: datetime = moment()


class MakePlan(Row, table=True):
    """A question of the best mix, how far its search is, and its answer, as kept documents.

    `runner` names the process that searches and `beat_at` when it was last heard of; a search that fell silent is
    broken off. `value` and `bound` are the best so far and what no mix exceeds, in millionths or pieces, `searched_ms`
    the milliseconds so far. `stop_asked` asks the search to end with the best it has. `limits` says what one unit more
    of each thing would bring, and `limits_state` how far that is. `booked` names the builds and purchases that were
    made of the answer, empty while there are none.
    """

    __tablename__ = "make_plan"
    __table_args__ = (
        one_of("state", PLAN_STATES.codes),
        one_of("limits_state", ("", *PLAN_STATES)),
        at_least("searched_ms", 0),
    )

    id: int | None = Field(default=None, primary_key=True)
    question: str = kept_text()
    state: str = "waiting"
    stop_asked: bool = False
    runner: str = ""
    beat_at: datetime | None = moment(nullable=True, default=None)
    searched_ms: int = big(default=0)
    value: int | None = big(nullable=True, default=None)
    bound: int | None = big(nullable=True, default=None)
    result: str = kept_text(default="")
    limits: str = kept_text(default="")
    limits_state: str = ""
    booked: str = kept_text(default="")
    booked_at: datetime | None = moment(nullable=True, default=None)
    created_at: datetime = moment()
    ended_at: datetime | None = moment(nullable=True, default=None)
    version: int = 1
