"""The act that ends a build: rings that left and came back, and the good pieces as a lot at their real cost.

What a piece costs: the rings of all pieces by lot, spoiled ones too, parts that are no stock items at their guessed
price, the work and the overhead. When no piece is good, what was used is scrap.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session

from models.intake.builds.build import WorkDone
from models.operations.builds.outcome import LineOutcome
from models.operations.builds.pieces import count_made, made_lot, scrap_of
from models.operations.builds.work import keep_work, pay
from models.operations.costing.timings import learn_timings
from models.operations.stock.ledger import Posting, TransactionHeader, costs_of, post
from models.queries.builds.costs import line_costs
from models.queries.builds.parts import BuildParts
from models.queries.stock.lot import BagKey
from models.tables import Build, BuildLine
from models.trade.lots import share


@dataclass(frozen=True, slots=True)
class Ending:
    """How a build ended: its bags, its work, and how many pieces are good and spoiled; `words` say it."""

    build: Build
    parts: BuildParts
    lines: tuple[LineOutcome, ...]
    work: WorkDone
    day: date
    good: int
    spoiled: int
    words: str
    place: str = ""
    keep_scrap: bool = True

    @property
    def made(self) -> int:
        """How many pieces were made, good or not."""
        return self.good + self.spoiled


def book_ending(session: Session, ending: Ending) -> int | None:
    """Write the act that ends a build; answers its number, None where nothing moved.

    Raises: NotEnoughStock; Unfit for a timing that looks odd.
    """
    build = ending.build
    build_id = build.id or 0
    before = line_costs(session, build_id, ("take_out",))
    issues = [Posting(*one.bag, "issue", -one.leaves_milli) for one in ending.lines if one.leaves_milli]
    costs = dict(before)
    for issue, cost in zip(issues, costs_of(session, issues), strict=True):
        bag = (issue.lot_id, issue.place)
        costs[bag] = costs.get(bag, 0) + cost
    returns = put_back(
        {one.bag: one.returned_milli for one in ending.lines},
        costs,
        {one.bag: one.taken_milli + one.extra_milli for one in ending.lines},
    )
    materials = sum(costs.values()) - sum(posting.value_micros or 0 for posting in returns)
    guessed = ending.parts.guessed_micros(ending.made)
    paid = pay(session, ending.parts, ending.work, made=ending.made, materials_micros=materials + guessed)
    made = None
    if ending.good:
        made = made_lot(
            session,
            ending.parts,
            build_id,
            good=ending.good,
            day=ending.day,
            place=ending.place,
            materials_micros=materials,
            work_micros=guessed + paid.labour_micros + paid.overhead_micros,
            lot_ids=[one.bag[0] for one in ending.lines],
        )
        postings = [*issues, *returns, made.posting]
    else:
        postings = _all_scrap(ending.lines, before)
    if ending.keep_scrap:
        spoiled = [(one.item_id, _spoiled_of(one, ending.good, ending.spoiled)) for one in ending.lines]
        postings += scrap_of(session, spoiled, ending.day)
    _keep_lines(session, build_id, ending.lines)
    build.state, build.good, build.spoiled, build.finished_on = "finished", ending.good, ending.spoiled, ending.day
    build.materials_micros, build.guessed_micros = materials, guessed
    keep_work(session, build, ending.parts, paid, ending.work, made=ending.made)
    act_id = None
    if postings:
        deed = TransactionHeader("finish", ending.day, ending.words, build_id=build_id)
        act_id = post(session, deed, postings).act_id
    if made is not None:
        count_made(session, made, ending.day)
    learn_timings(session)
    return act_id


def put_back(
    milli: Mapping[BagKey, int], costs: Mapping[BagKey, int], out: Mapping[BagKey, int] | None = None
) -> list[Posting]:
    """What goes back into its bags at the very value with which it left; `out` is what left (default: just that)."""
    return [
        Posting(*bag, "return", back, share(costs.get(bag, 0), back, (out or milli)[bag]))
        for bag, back in milli.items()
        if back
    ]


def add_note(build: Build, note: str) -> None:
    """Add a note to those that the build has."""
    if note:
        build.note = "\n".join(one for one in (build.note, note) if one)


def _all_scrap(lines: Sequence[LineOutcome], costs: Mapping[BagKey, int]) -> list[Posting]:
    """No piece carries the cost, so what is out comes back at its value, and what was used leaves again as scrap."""
    return [
        *put_back({one.bag: one.out_milli for one in lines}, costs),
        *(Posting(*one.bag, "scrap", -one.used_milli, reason="spoiled") for one in lines if one.used_milli),
    ]


def _keep_lines(session: Session, build_id: int, lines: Sequence[LineOutcome]) -> None:
    """Write what became of every bag; one that was not used before becomes a line of the build."""
    position = 1 + max((one.line.position for one in lines if one.line is not None), default=-1)
    for one in lines:
        line = one.line
        if line is None:
            line = BuildLine(
                build_id=build_id, position=position, item_id=one.item_id, lot_id=one.bag[0], place=one.bag[1]
            )
            position += 1
        line.taken_milli, line.extra_milli, line.returned_milli = one.taken_milli, one.extra_milli, one.returned_milli
        session.add(line)
    session.flush()


def _spoiled_of(one: LineOutcome, good: int, spoiled: int) -> int:
    """How much of what was used of a bag is spoiled: rings that were replaced, and those in spoiled pieces."""
    if not good:
        return one.used_milli
    in_pieces = max(0, one.used_milli - one.spoiled_milli)
    part = in_pieces * spoiled // (good + spoiled)
    return min(one.used_milli, one.spoiled_milli) + part - part % 1000
