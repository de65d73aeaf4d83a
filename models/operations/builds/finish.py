"""Finishing a build, or giving it up: what was used, spoiled and put back. How it is booked stands in `build_book`."""

from __future__ import annotations

from sqlmodel import Session

from models.errors import Conflict, Unfit
from models.intake.builds.build import AbandonDraft, FinishDraft, TakeOutDraft, WorkDone
from models.intake.faults import Faults
from models.operations.builds.bags import note_bags
from models.operations.builds.book import Ending, add_note, book_ending, put_back
from models.operations.builds.outcome import outcome_of, said_of_lines
from models.operations.builds.pieces import scrap_of
from models.operations.builds.rows import build_row, line_rows, many_pieces, name_of
from models.operations.builds.start import BuildAct, acted, halt_watch, take_out
from models.operations.shop.day import resolve_day
from models.operations.stock.ledger import Posting, TransactionHeader, post, release
from models.operations.stock.reservation import for_build, holds_of
from models.queries.builds.costs import line_costs
from models.queries.builds.parts import KEPT_PICKS, parts_of_revision
from models.queries.stock.lot import BagKey
from models.tables import Build
from models.trade.vocabulary.bench import UNDER_WAY


def finish_build(session: Session, build_id: int, draft: FinishDraft, *, version: int | None = None) -> BuildAct:
    """Finish a build: book what was used, and the good pieces as a lot at their real cost.

    One whose rings are not taken out yet takes them out first. Raises: Missing, Stale, Conflict, Unfit, NotEnoughStock.
    """
    build = build_row(session, build_id, version, UNDER_WAY, "finish it")
    if build.revision_id is None:
        raise Conflict("These rings have no design yet. Make a design of them first, or put them back.")
    good, spoiled = _pieces(build, draft)
    day = resolve_day(session, draft.finished_on, "finished_on")
    if build.state == "started":
        take_out(session, build_id, TakeOutDraft(taken_on=day))
    parts = parts_of_revision(session, build.revision_id, good + spoiled, KEPT_PICKS.read(build.choices))
    outcome = outcome_of(session, parts, line_rows(session, build_id), draft.lines)
    halt_watch(build)
    work = _with_watch(build, draft.work)
    words = _words(session, build, good, spoiled)
    ending = Ending(
        build, parts, outcome.lines, work, day, good, spoiled, words, place=draft.place, keep_scrap=draft.keep_scrap
    )
    act_id = book_ending(session, ending)
    add_note(build, draft.note)
    note_bags(session, outcome.said)
    return acted(build, act_id, words)


def abandon_build(session: Session, build_id: int, draft: AbandonDraft, *, version: int | None = None) -> BuildAct:
    """Give a build up: what was reserved is free again; what was taken out goes back, or is scrap as was said.

    Raises: Missing, Stale, Conflict, Unfit.
    """
    build = build_row(session, build_id, version, UNDER_WAY, "give it up")
    lines = line_rows(session, build_id)
    day = resolve_day(session, draft.abandoned_on, "abandoned_on")
    words = f"Gave up build {build_id}: {many_pieces(build.pieces)} of {name_of(session, build)}."
    halt_watch(build)
    add_note(build, draft.note)
    if build.state == "started":
        build.state = "abandoned"
        session.flush()
        release(session, holds_of(session, for_build(build_id)))
        return acted(build, None, words)
    said = said_of_lines(session, lines, draft.lines)
    back: dict[BagKey, int] = {}
    for line in lines:
        one = said.get((line.lot_id, line.place))
        returned = line.taken_milli
        if one is not None and one.left_milli is not None:
            returned = line.taken_milli - one.left_milli
        elif one is not None and one.returned_milli is not None:
            returned = one.returned_milli
        elif one is not None and one.spoiled_milli is not None:
            returned = line.taken_milli - one.spoiled_milli
        if one is not None and not 0 <= returned <= line.taken_milli:
            raise one.fault("returned", "More would go back than was taken out.")
        back[(line.lot_id, line.place)] = returned
    costs = line_costs(session, build_id, ("take_out",))
    lost = [(line, line.taken_milli - back[(line.lot_id, line.place)]) for line in lines]
    postings = [
        *put_back({(line.lot_id, line.place): line.taken_milli for line in lines}, costs),
        *(Posting(line.lot_id, line.place, "scrap", -milli, reason="spoiled") for line, milli in lost if milli),
    ]
    if draft.keep_scrap:
        postings += scrap_of(session, [(line.item_id, milli) for line, milli in lost], day)
    for line in lines:
        line.returned_milli = back[(line.lot_id, line.place)]
    build.state = "abandoned"
    session.flush()
    act_id = (
        post(session, TransactionHeader("abandon", day, words, build_id=build_id), postings).act_id
        if postings
        else None
    )
    note_bags(session, said.values())
    return acted(build, act_id, words)


def _pieces(build: Build, draft: FinishDraft) -> tuple[int, int]:
    """How many pieces are good and how many spoiled. Raises: Unfit."""
    spoiled = draft.spoiled or 0
    good = max(0, build.pieces - spoiled) if draft.good is None else draft.good
    if good + spoiled > build.pieces:
        words = f"{good} good and {spoiled} spoiled are {good + spoiled}, and this build is of {build.pieces}."
        raise Unfit(Faults.of("spoiled" if spoiled else "good", words))
    if not good + spoiled:
        raise Unfit(Faults.of("good", "No piece came out of this. Give the build up instead."))
    return good, spoiled


def _with_watch(build: Build, work: WorkDone) -> WorkDone:
    """The time that was typed, else what the stop-watch says, else none."""
    if work.minutes_milli is not None or not build.timed_milli:
        return work
    return WorkDone(build.timed_milli, work.kinds, work.timing)


def _words(session: Session, build: Build, good: int, spoiled: int) -> str:
    words = f"Finished {many_pieces(good)} of {name_of(session, build)}" if good else "Finished no good piece"
    if not good:
        words += f" of {name_of(session, build)}"
    return f"{words}, {spoiled} spoiled." if spoiled else f"{words}."
