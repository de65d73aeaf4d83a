"""What the invented studio built lately: pieces made on past days, one build waiting for its rings, one under way.

Every figure is invented. They are booked among the other acts of the stock, day by day.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from typing import NamedTuple

from sqlmodel import Session, select

from models.intake.builds.build import BuildRequest, MadeDraft, StartDraft, TakeOutDraft, read_made
from models.operations.builds.made import book_made
from models.operations.builds.start import start_build, take_out
from models.tables import Build, Design

_EVENING = time(18, 0, tzinfo=UTC)


class Made(NamedTuple):
    """Pieces that were made so many days ago, and how long they took in all; `spoiled` of them went wrong."""

    days: int
    design: str
    pieces: int
    time: str
    spoiled: int = 0
    choice: str = ""
    note: str = ""


MADE: tuple[Made, ...] = (
    Made(17, "Ferry key ring", 4, "1:12", note="With the Thursday class."),
    Made(11, "Saltmarsh pendant", 2, "1:02"),
    Made(9, "Bracken bracelet", 1, "0:56"),
    Made(6, "Minnow earrings", 2, "0:31", spoiled=1, note="One scale would not sit."),
    Made(3, "Saltmarsh pendant", 1, "0:36"),
)
WAITING = (2, "Estuary necklace", "For the harbour gallery.")
UNDER_WAY = (1, "Thistle earrings", "colour=plum")


def made_acts(session: Session) -> list[tuple[int, Callable[[date], int]]]:
    """The pieces that were made, as acts to book on their days; each answers its entry's number."""
    return [(each.days, partial(_make, session, each)) for each in MADE]


def leave_under_way(session: Session, today: date) -> None:
    """Start the two builds that are not finished yet."""
    days, design, note = WAITING
    day = today - timedelta(days=days)
    waiting = start_build(session, StartDraft(BuildRequest(_design(session, design)), started_on=day, note=note))
    _date_back(session, waiting.build_id, day)
    days, design, choice = UNDER_WAY
    day = today - timedelta(days=days)
    started = start_build(
        session, StartDraft(BuildRequest(_design(session, design), choices=(choice,)), started_on=day)
    )
    take_out(session, started.build_id, TakeOutDraft(taken_on=day))
    _date_back(session, started.build_id, day)


def _make(session: Session, made: Made, day: date) -> int:
    raw = {
        "design_id": _design(session, made.design),
        "pieces": made.pieces,
        "spoiled": made.spoiled,
        "minutes": made.time,
        "choice": made.choice,
        "made_on": day.isoformat(),
        "note": made.note,
    }
    draft = read_made(raw)
    if not isinstance(draft, MadeDraft):
        raise ValueError(f"{raw}: {draft.by_field()}")
    done = book_made(session, draft)
    _date_back(session, done.build_id, day)
    return done.act_id or 0


def _design(session: Session, name: str) -> int:
    return session.exec(select(Design.id).where(Design.name == name)).one() or 0


def _date_back(session: Session, build_id: int, day: date) -> None:
    session.get_one(Build, build_id).created_at = datetime.combine(day, _EVENING)
    session.flush()
