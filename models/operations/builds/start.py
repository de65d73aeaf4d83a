"""Starting a build and taking its rings out: reserve what it needs, take it from the bags, and time the work.

Finishing and giving up stand in `build_finish`, pieces that were made already in `build_made`, rings that were taken
before there was a design in `rings_first`, taking back in `build_undo`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Decimal

from sqlmodel import Session

from models.errors import NotEnoughForBuild
from models.intake.builds.build import LineDraft, StartDraft, TakeOutDraft
from models.operations.builds.bags import bags_said, note_bags
from models.operations.builds.rows import build_row, line_rows, many_pieces, name_of
from models.operations.shop.clock import now
from models.operations.shop.day import resolve_day
from models.operations.stock.ledger import Posting, TransactionHeader, post, release, reserve
from models.operations.stock.reservation import Hold, for_build, holds_of
from models.queries.builds.parts import KEPT_PICKS
from models.queries.builds.plan import BuildPlan, plan_build
from models.queries.stock.lot import BagKey
from models.tables import Build, BuildLine
from models.trade.vocabulary.bench import UNDER_WAY


@dataclass(frozen=True, slots=True)
class BuildAct:
    """What was done with a build, in words; `act_id` is its entry in the ledger, None where nothing moved.

    `version` is the build's after it; `gone` tells that the build itself was taken back without a trace.
    """

    build_id: int
    act_id: int | None
    words: str
    version: int = 1
    gone: bool = False


def acted(build: Build, act_id: int | None, words: str) -> BuildAct:
    """What was just done with a build."""
    return BuildAct(build.id or 0, act_id, words, build.version)


def start_build(session: Session, draft: StartDraft) -> BuildAct:
    """Start a build: reserve what it will take, from the bags that were named or else the oldest lots.

    Raises: Missing, Unfit; NotEnoughForBuild with everything that is short, NotEnoughStock for a bag that was named.
    """
    plan = plan_build(session, draft.ask, spare=draft.spare)
    day = resolve_day(session, draft.started_on, "started_on")
    taking = taking_of(session, plan, draft.lines)
    build = new_build(plan, day, draft.note, state="started")
    build.due_on = draft.due_on
    build_id = add_build(session, build)
    for position, (bag, (item_id, milli)) in enumerate(taking.items()):
        line = new_line(plan, build_id, position, bag, item_id)
        line.planned_milli = milli
        session.add(line)
    session.flush()
    reserve(session, [Hold(*bag, milli, for_build(build_id)) for bag, (_, milli) in taking.items()])
    return acted(build, None, f"Started {many_pieces(build.pieces)} of “{plan.parts.inputs.name}”.")


def take_out(session: Session, build_id: int, draft: TakeOutDraft, *, version: int | None = None) -> BuildAct:
    """Take the rings of a started build out of their bags: as planned, or as was said of a bag.

    Raises: Missing, Stale, Conflict, Unfit, NotEnoughStock.
    """
    build = build_row(session, build_id, version, ("started",), "take out")
    lines = line_rows(session, build_id)
    taken = {(line.lot_id, line.place): line.planned_milli for line in lines}
    said = bags_said(session, draft.lines, among=taken)
    for one in said:
        if one.bag not in taken:
            raise one.fault("bag", "This bag is not part of the build.")
        milli = one.left_milli if one.left_milli is not None else one.used_milli
        taken[one.bag] = taken[one.bag] if milli is None else milli
    day = resolve_day(session, draft.taken_on, "taken_on")
    words = f"Took out for build {build_id}: {many_pieces(build.pieces)} of {name_of(session, build)}."
    build.state = "making"
    for line in lines:
        line.taken_milli = taken[(line.lot_id, line.place)]
    session.flush()
    holds = holds_of(session, for_build(build_id))
    postings = [Posting(*bag, "issue", -milli) for bag, milli in taken.items() if milli]
    if not postings:
        release(session, holds)
        return acted(build, None, words)
    posted = post(session, TransactionHeader("take_out", day, words, build_id=build_id), postings, releases=holds)
    note_bags(session, said)
    return acted(build, posted.act_id, words)


def start_watch(session: Session, build_id: int) -> None:
    """Let the stop-watch of a build run; one that runs already goes on. Raises: Missing, Conflict."""
    build = build_row(session, build_id, None, UNDER_WAY, "time the work")
    build.timer_started_at = build.timer_started_at or now()
    session.flush()


def stop_watch(session: Session, build_id: int) -> int:
    """Stop the stop-watch; answers the thousandths of minutes timed in all. Raises: Missing, Conflict."""
    build = build_row(session, build_id, None, UNDER_WAY, "time the work")
    halt_watch(build)
    session.flush()
    return build.timed_milli


def clear_watch(session: Session, build_id: int) -> None:
    """Set the stop-watch back to nothing. Raises: Missing, Conflict."""
    build = build_row(session, build_id, None, UNDER_WAY, "time the work")
    build.timer_started_at, build.timed_milli = None, 0
    session.flush()


def halt_watch(build: Build) -> None:
    """Add what a running stop-watch shows to what was timed before, and let it stand still."""
    if build.timer_started_at is not None:
        seconds = Decimal(str((now() - build.timer_started_at).total_seconds()))
        build.timed_milli += max(0, int((seconds * 1000 / 60).to_integral_value(ROUND_HALF_EVEN)))
        build.timer_started_at = None


def new_build(plan: BuildPlan, day: date, note: str, *, state: str) -> Build:
    """The row of a new build that starts on `day`, not written yet."""
    return Build(
        design_id=plan.parts.inputs.design_id,
        revision_id=plan.parts.revision_id,
        state=state,
        pieces=plan.parts.pieces,
        choices=KEPT_PICKS.text(plan.parts.picks),
        started_on=day,
        note=note,
        created_at=now(),
    )


def new_line(plan: BuildPlan, build_id: int, position: int, bag: BagKey, item_id: int) -> BuildLine:
    """The row of what a build takes from one bag, not written yet."""
    purposes = next((one.need.purposes for one in plan.items if one.item.id == item_id), ())
    return BuildLine(
        build_id=build_id,
        position=position,
        item_id=item_id,
        lot_id=bag[0],
        place=bag[1],
        purpose=", ".join(purposes),
    )


def add_build(session: Session, build: Build) -> int:
    """Write the row of a build; answer its id."""
    session.add(build)
    session.flush()
    if build.id is None:
        raise RuntimeError("a flushed row has its id")
    return build.id


def taking_of(session: Session, plan: BuildPlan, lines: Sequence[LineDraft]) -> dict[BagKey, tuple[int, int]]:
    """What to take from which bag, as (item, thousandths): as was said, and as planned of what nothing was said.

    Raises: Unfit, NotEnoughStock; NotEnoughForBuild where the plan is short.
    """
    found: dict[BagKey, tuple[int, int]] = {}
    spoken = {line.item_id for line in lines if line.lot_id is None}
    for one in bags_said(session, lines):
        spoken.add(one.item.id)
        milli = one.left_milli if one.left_milli is not None else one.used_milli
        if milli:
            found[one.bag] = (one.item.id, found.get(one.bag, (0, 0))[1] + milli)
    silent = [one for one in plan.items if one.item.id not in spoken]
    shorts = tuple(one.short for one in silent if one.short is not None)
    if shorts:
        raise NotEnoughForBuild(shorts, plan.possible)
    for item in silent:
        for line in item.lines:
            found[(line.bag.lot_id, line.bag.place)] = (item.item.id, line.quantity_milli)
    return found
