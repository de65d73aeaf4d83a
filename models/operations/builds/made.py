"""Booking pieces that were made already, today or on a past day: start, take-out and finish in one act."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sqlmodel import Session

from models.errors import NotEnoughForBuild
from models.intake.builds.build import LineDraft, MadeDraft
from models.operations.builds.bags import Said, bags_said, note_bags
from models.operations.builds.book import Ending, book_ending
from models.operations.builds.outcome import LineOutcome
from models.operations.builds.rows import many_pieces
from models.operations.builds.start import BuildAct, acted, add_build, new_build, new_line
from models.operations.shop.day import resolve_day
from models.queries.builds.plan import BuildPlan, plan_build
from models.queries.stock.lot import BagKey


def book_made(session: Session, draft: MadeDraft) -> BuildAct:
    """Book so many good pieces as made, with what the design says as used where nothing else was said.

    Raises: Missing, Unfit; NotEnoughForBuild with everything that is short, NotEnoughStock for a bag that was named.
    """
    plan = plan_build(session, replace(draft.ask, pieces=draft.ask.pieces + draft.spoiled))
    day = resolve_day(session, draft.made_on, "made_on")
    lines, said = _lines(session, plan, draft.lines)
    build = new_build(plan, day, draft.note, state="making")
    build_id = add_build(session, build)
    lines = tuple(
        replace(one, line=new_line(plan, build_id, position, one.bag, one.item_id))
        for position, one in enumerate(lines)
    )
    good = draft.ask.pieces
    words = f"Made {many_pieces(good)} of “{plan.parts.inputs.name}”"
    words += f", {draft.spoiled} spoiled." if draft.spoiled else "."
    ending = Ending(
        build,
        plan.parts,
        lines,
        draft.work,
        day,
        good,
        draft.spoiled,
        words,
        place=draft.place,
        keep_scrap=draft.keep_scrap,
    )
    act_id = book_ending(session, ending)
    note_bags(session, said)
    return acted(build, act_id, words)


def _lines(
    session: Session, plan: BuildPlan, drafts: Sequence[LineDraft]
) -> tuple[tuple[LineOutcome, ...], Sequence[Said]]:
    """What left each bag: as was said, and as planned of the items of which nothing was said."""
    said = bags_said(session, drafts)
    needs = {one.item.id: one.need.need_milli for one in plan.items}
    found: dict[BagKey, LineOutcome] = {}
    for one in said:
        share = needs.get(one.item.id, 0)
        outcome = _outcome(one, share)
        needs[one.item.id] = max(0, share - outcome.taken_milli)
        had = found.get(one.bag)
        found[one.bag] = outcome if had is None else _together(had, outcome)
    spoken = {one.item.id for one in said} | {draft.item_id for draft in drafts if draft.lot_id is None}
    silent = [one for one in plan.items if one.item.id not in spoken]
    shorts = tuple(one.short for one in silent if one.short is not None)
    if shorts:
        raise NotEnoughForBuild(shorts, plan.possible)
    for item in silent:
        for line in item.lines:
            bag = (line.bag.lot_id, line.bag.place)
            found[bag] = LineOutcome(bag, item.item.id, None, line.quantity_milli)
    return tuple(one for one in found.values() if one.used_milli), said


def _outcome(said: Said, need_milli: int) -> LineOutcome:
    """What left one bag; of what the scale says, all beyond the design's need counts as spoiled."""
    plain = LineOutcome(said.bag, said.item.id, None)
    if said.left_milli is not None:
        used = min(said.left_milli, need_milli)
        spoiled = said.left_milli - used
        return replace(plain, taken_milli=used, extra_milli=spoiled, spoiled_milli=spoiled)
    used = need_milli if said.used_milli is None else said.used_milli
    spoiled = said.spoiled_milli or 0
    return replace(plain, taken_milli=used, extra_milli=spoiled, spoiled_milli=spoiled)


def _together(one: LineOutcome, other: LineOutcome) -> LineOutcome:
    return replace(
        one,
        taken_milli=one.taken_milli + other.taken_milli,
        extra_milli=one.extra_milli + other.extra_milli,
        spoiled_milli=one.spoiled_milli + other.spoiled_milli,
    )
