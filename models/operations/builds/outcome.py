"""What became of the rings of a build, bag by bag: used, spoiled, put back. Nothing is written here.

A build's lines say what is out of each bag. Without a word every piece took what the design says, and what was taken
beyond that goes back.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from sqlmodel import Session

from models.errors import Unfit
from models.intake.builds.build import LineDraft
from models.intake.faults import Faults
from models.operations.builds.bags import Said, bags_said
from models.queries.builds.parts import BuildParts
from models.queries.stock.bag_choice import bags_meant, pick
from models.queries.stock.lot import BagKey, lot_view
from models.tables import BuildLine


@dataclass(frozen=True, slots=True)
class LineOutcome:
    """One bag after a build, in thousandths: taken, taken beyond that, put back; `spoiled_milli` of what was used.

    `out_milli` is what is out of the bag before the build is finished. `line` is None for a bag that the build did not
    use before.
    """

    bag: BagKey
    item_id: int
    line: BuildLine | None
    taken_milli: int = 0
    extra_milli: int = 0
    returned_milli: int = 0
    spoiled_milli: int = 0
    out_milli: int = 0

    @property
    def leaves_milli(self) -> int:
        """What still has to leave the bag."""
        return self.taken_milli + self.extra_milli - self.out_milli

    @property
    def used_milli(self) -> int:
        """What is gone for good."""
        return self.taken_milli + self.extra_milli - self.returned_milli


@dataclass(frozen=True, slots=True)
class Outcome:
    """All bags after a build, and what was said of them."""

    lines: tuple[LineOutcome, ...]
    said: tuple[Said, ...]


def outcome_of(session: Session, parts: BuildParts, lines: Sequence[BuildLine], drafts: Sequence[LineDraft]) -> Outcome:
    """What becomes of every bag when these pieces are finished.

    Raises: Unfit beside what cannot be; NotEnoughStock where spoiled rings cannot be replaced.
    """
    said = said_of_lines(session, lines, drafts)
    needs = {need.item_id: need.need_milli for need in parts.needs}
    found: list[LineOutcome] = []
    # What is said to have left a bag comes from that bag; what replaces spoiled rings finds others beside it.
    spent = {
        (line.lot_id, line.place): max(0, gone - line.taken_milli)
        for line in lines
        if (gone := _gone(said.get((line.lot_id, line.place)))) is not None
    }
    for line in lines:
        share = min(line.taken_milli, needs.get(line.item_id, 0))
        needs[line.item_id] = needs.get(line.item_id, 0) - share
        found += _line_outcomes(session, line, share, said.get((line.lot_id, line.place)), spent)
    return Outcome(_merged(found), tuple(said.values()))


def said_of_lines(session: Session, lines: Sequence[BuildLine], drafts: Sequence[LineDraft]) -> dict[BagKey, Said]:
    """What was said of the bags of a build, by bag; an item alone means the last bag that it came from.

    Raises: Unfit.
    """
    taken = {(line.lot_id, line.place): line.taken_milli for line in lines}
    last = {line.item_id: (line.lot_id, line.place) for line in lines}
    named = []
    for row, draft in enumerate(drafts):
        if draft.lot_id is None:
            bag = last.get(draft.item_id or 0)
            if bag is None:
                raise Unfit(Faults.of(f"lines.{row}.item_id", "This item is not part of the build."))
            named.append(replace(draft, lot_id=bag[0], place=bag[1]))
        else:
            named.append(draft)
    found = {}
    for one in bags_said(session, named, out=taken, among=taken):
        if one.bag not in taken:
            raise one.fault("bag", "This bag is not part of the build.")
        found[one.bag] = one
    return found


def _gone(said: Said | None) -> int | None:
    """What is said to have left a bag in all, by the scale or by count; None where nothing is said of that."""
    if said is None:
        return None
    return said.left_milli if said.left_milli is not None else said.used_milli


def _line_outcomes(
    session: Session, line: BuildLine, share: int, said: Said | None, spent: dict[BagKey, int]
) -> list[LineOutcome]:
    bag, taken = (line.lot_id, line.place), line.taken_milli
    plain = LineOutcome(bag, line.item_id, line, taken, returned_milli=taken - share, out_milli=taken)
    if said is None:
        return [plain]
    used = _gone(said)
    if used is not None:
        return [
            replace(
                plain,
                extra_milli=max(0, used - taken),
                returned_milli=max(0, taken - used),
                spoiled_milli=said.spoiled_milli or max(0, used - share),
            )
        ]
    spoiled, spare = said.spoiled_milli or 0, taken - share
    extra = max(0, spoiled - spare)
    returned = said.returned_milli if said.returned_milli is not None else max(0, spare - spoiled)
    if returned > taken + extra - spoiled:
        raise said.fault("returned", "More would go back than was taken and not spoiled.")
    own = replace(plain, returned_milli=returned, spoiled_milli=spoiled)
    return _with_extra(session, own, extra, spent)


def _with_extra(session: Session, own: LineOutcome, extra_milli: int, spent: dict[BagKey, int]) -> list[LineOutcome]:
    """The bag with what more was taken of its item: from the same bag if it has enough, else the oldest lots first.

    `spent` is what other lines take beyond what is out, so that no two take the same rings; this one's is added.
    """
    (bag,) = bags_meant(lot_view(session, own.bag[0]), own.bag[1])
    if extra_milli <= bag.free_milli - spent.get(own.bag, 0):
        spent[own.bag] = spent.get(own.bag, 0) + extra_milli
        return [replace(own, extra_milli=extra_milli)]
    takings = pick(session, own.item_id, extra_milli, spent=spent).takings
    for taking in takings:
        spent[taking.bag] = spent.get(taking.bag, 0) + taking.quantity_milli
    return [
        own,
        *(
            LineOutcome((taking.lot_id, taking.place), own.item_id, None, extra_milli=taking.quantity_milli)
            for taking in takings
        ),
    ]


def _merged(lines: Sequence[LineOutcome]) -> tuple[LineOutcome, ...]:
    """The outcomes with one for each bag, those of the build's own lines first."""
    found: dict[BagKey, LineOutcome] = {}
    for one in sorted(lines, key=lambda each: each.line is None):
        had = found.get(one.bag)
        found[one.bag] = one if had is None else replace(had, extra_milli=had.extra_milli + one.extra_milli)
    return tuple(found.values())
