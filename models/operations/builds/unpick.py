"""Unpicking finished pieces: their rings go back into their bags at the value they left with, and the work is lost."""

from __future__ import annotations

from collections.abc import Mapping

from sqlmodel import Session

from models.errors import Conflict, NotEnoughStock, Unfit
from models.intake.builds.build import UnpickDraft
from models.intake.faults import Faults
from models.operations.builds.bags import bags_said
from models.operations.builds.pieces import scrap_of
from models.operations.builds.rows import build_row, line_rows, many_pieces, name_of
from models.operations.builds.start import BuildAct, acted
from models.operations.shop.day import resolve_day
from models.operations.stock.ledger import Posting, TransactionHeader, costs_of, post
from models.queries.builds.unpick import UnpickLine, pieces_left, unpick_lines
from models.queries.stock.lot import BagKey
from models.trade.lots import next_share, spread


def unpick_pieces(session: Session, build_id: int, draft: UnpickDraft, *, version: int | None = None) -> BuildAct:
    """Take finished pieces of a build apart: what was not spoiled goes back into the bags that it came from.

    Rings come back at the value with which they left; where the pieces are worth less by now, at their share of that.
    Raises: Missing, Stale, Conflict; Unfit for more than went in; NotEnoughStock when a piece is no longer there.
    """
    build = build_row(session, build_id, version, ("finished",), "unpick it")
    lot = pieces_left(session, build_id)
    if lot is None or not build.good:
        raise Conflict("No good piece came out of this build, so there is nothing to unpick.")
    if draft.pieces * 1000 > lot.free_milli:
        raise NotEnoughStock(
            needed_milli=draft.pieces * 1000,
            available_milli=lot.free_milli,
            item=lot.name,
            item_id=lot.item_id,
            unit="pieces",
            lot_id=lot.lot_id,
            reserved_milli=lot.reserved_milli,
        )
    day = resolve_day(session, draft.unpicked_on, "unpicked_on")
    lines = unpick_lines(session, build_id, draft.pieces)
    back, lost = _split(session, build_id, lines, draft)
    issues = [Posting(lot.lot_id, place, "issue", -milli) for place, milli in lot.take(draft.pieces * 1000)]
    worth = sum(costs_of(session, issues))
    values = {
        line.bag: next_share(line.cost_micros, line.used_milli, line.gone_milli, back[line.bag])
        for line in lines
        if back[line.bag]
    }
    if sum(values.values()) > worth:
        values = dict(zip(values, spread(worth, list(values.values())), strict=True))
    postings = [*issues, *(Posting(*bag, "return", back[bag], micros) for bag, micros in values.items())]
    if draft.keep_scrap:
        postings += scrap_of(session, [(line.item_id, lost[line.bag]) for line in lines], day)
    words = f"Unpicked {many_pieces(draft.pieces)} of {name_of(session, build)}."
    posted = post(session, TransactionHeader("unpick", day, words, build_id=build_id), postings)
    return acted(build, posted.act_id, words)


def _split(
    session: Session, build_id: int, lines: tuple[UnpickLine, ...], draft: UnpickDraft
) -> tuple[Mapping[BagKey, int], Mapping[BagKey, int]]:
    """What goes back into each bag, and what is spoiled. Raises: Unfit."""
    of_build = {(line.lot_id, line.place) for line in line_rows(session, build_id)}
    by_bag = {line.bag: line for line in lines}
    back = {line.bag: line.in_pieces_milli for line in lines}
    lost = dict.fromkeys(back, 0)
    for one in bags_said(session, draft.lines, among=by_bag):
        line = by_bag.get(one.bag)
        if line is None or one.bag not in of_build:
            raise one.fault("bag", "This bag is not part of the build.")
        spoiled = one.spoiled_milli
        said = one.returned_milli
        returned = line.in_pieces_milli - (spoiled or 0) if said is None else said
        if not 0 <= returned <= line.left_milli:
            raise one.fault("returned" if spoiled is None else "spoiled", "That is more than went into these pieces.")
        back[one.bag] = returned
        lost[one.bag] = max(0, line.in_pieces_milli - returned) if spoiled is None else spoiled
    if not lines:
        raise Unfit(Faults.of("pieces", "Nothing of these pieces came from the stock, so nothing can go back."))
    return back, lost
