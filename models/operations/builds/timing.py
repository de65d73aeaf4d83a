"""Saying whether a timing counts for what the shop learns; what was booked at its cost stays as it is."""

from __future__ import annotations

from sqlmodel import Session

from models.errors import Conflict
from models.operations.builds.rows import build_row
from models.operations.costing.timings import learn_timings


def judge_timing(session: Session, build_id: int, *, use: bool, version: int | None = None) -> str:
    """Learn from a build's timing, or leave it out; answers in words what was done.

    Raises: Missing, Stale, Conflict.
    """
    build = build_row(session, build_id, version, ("finished",), "judge its timing")
    if build.minutes_milli is None:
        raise Conflict("No time was noted for this build, so there is nothing to learn from.")
    build.timing = "right" if use else "odd"
    learn_timings(session)
    return "The timing counts from now on." if use else "The timing is left out from now on."
