"""Rings that are taken out before there is a design, and the design that is made of them."""

from __future__ import annotations

from sqlmodel import Session

from models.errors import Conflict, Unfit
from models.intake.builds.build import LineDraft, NewDesignDraft, RingsFirstDraft
from models.intake.costing.part import PartDraft
from models.intake.designs.design import USUAL_WORK, DesignDraft, WorkDraft
from models.intake.faults import Faults
from models.operations.builds.bags import bags_said, note_bags
from models.operations.builds.rows import build_row, line_rows
from models.operations.builds.start import BuildAct, acted, add_build
from models.operations.designs.design import add_design
from models.operations.shop.clock import now
from models.operations.shop.day import resolve_day
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.queries.builds.parts import KEPT_PICKS, Picks
from models.queries.costing.costing import revision_of
from models.queries.stock.item_words import item_words
from models.queries.stock.lot import BagKey
from models.tables import Build, BuildLine
from models.trade.weaves import WEAVES


def take_rings(session: Session, draft: RingsFirstDraft) -> BuildAct:
    """Take rings out for a piece that has no design yet; it is a build that is under way.

    Raises: Unfit, NotEnoughStock.
    """
    day = resolve_day(session, draft.taken_on, "taken_on")
    said = bags_said(session, draft.lines)
    taken: dict[BagKey, tuple[int, int]] = {}
    for one in said:
        milli = one.left_milli if one.left_milli is not None else one.used_milli
        if milli:
            taken[one.bag] = (one.item.id, taken.get(one.bag, (0, 0))[1] + milli)
    if not taken:
        raise Unfit(Faults.of("lines", "This comes to nothing. Say what you take, and how many."))
    build = Build(
        state="making", pieces=1, choices=KEPT_PICKS.text(Picks()), started_on=day, note=draft.note, created_at=now()
    )
    build_id = add_build(session, build)
    for position, ((lot_id, place), (item_id, milli)) in enumerate(taken.items()):
        session.add(
            BuildLine(
                build_id=build_id, position=position, item_id=item_id, lot_id=lot_id, place=place, taken_milli=milli
            )
        )
    session.flush()
    words = _words(session, taken)
    deed = TransactionHeader("take_out", day, words, build_id=build_id)
    posted = post(session, deed, [Posting(*bag, "issue", -milli) for bag, (_, milli) in taken.items()])
    note_bags(session, said)
    return acted(build, posted.act_id, words)


def design_of_rings(session: Session, build_id: int, draft: NewDesignDraft, *, version: int | None = None) -> int:
    """Make a design of what was taken out for a build, and let the build make it; answers the design's id.

    What is said to be in the piece is its quantity; without a word all that was taken. What is taken beyond that goes
    back when the build is finished. Raises: Missing, Stale, Conflict, Unfit.
    """
    build = build_row(session, build_id, version, ("making",), "make a design of it")
    if build.design_id is not None:
        raise Conflict("These rings are for a design already.")
    lines = line_rows(session, build_id)
    amounts: dict[int, int] = {}
    for line in lines:
        amounts[line.item_id] = amounts.get(line.item_id, 0) + line.taken_milli
    parts = _parts(session, amounts, draft)
    if draft.weave is not None and draft.weave not in WEAVES:
        raise Unfit(Faults.of("weave", "This weave is not in the catalogue. Choose one of the list."))
    design_id = add_design(
        session,
        DesignDraft(
            name=draft.name,
            piece=draft.piece,
            weave=draft.weave,
            parts=parts,
            work=tuple(WorkDraft(kind) for kind in USUAL_WORK),
        ),
    )
    build.design_id, build.revision_id = design_id, revision_of(session, design_id)
    session.flush()
    return design_id


def _parts(session: Session, amounts: dict[int, int], draft: NewDesignDraft) -> tuple[PartDraft, ...]:
    """The parts of the new design. Raises: Unfit for more than was taken, or for nothing at all."""
    rows: dict[int, tuple[int, LineDraft]] = {
        line.item_id: (row, line) for row, line in enumerate(draft.lines) if line.item_id is not None
    }
    units = item_words(session, amounts)
    parts = []
    for item_id, taken in amounts.items():
        row, line = rows.get(item_id, (0, LineDraft()))
        used = taken if line.used_milli is None else line.used_milli
        if used > taken or (units[item_id].unit == "piece" and used % 1000):
            words = f"{units[item_id].counted(taken)} were taken out. Give a whole number up to that."
            raise Unfit(Faults.of(f"lines.{row}.used", words))
        if used:
            parts.append(PartDraft(quantity_milli=used, item_id=item_id))
    if not parts:
        raise Unfit(Faults.of("lines", "A design needs at least one part. Say what is in the piece."))
    return tuple(parts)


def _words(session: Session, taken: dict[BagKey, tuple[int, int]]) -> str:
    amounts: dict[int, int] = {}
    for item_id, milli in taken.values():
        amounts[item_id] = amounts.get(item_id, 0) + milli
    words = item_words(session, amounts)
    said = ", ".join(
        f"{words[item_id].counted(milli)} of “{words[item_id].name}”" for item_id, milli in amounts.items()
    )
    return f"Took out {said}."
