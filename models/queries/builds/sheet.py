"""The work sheet of a build: what to take from which bag, what to open and to close beforehand, the steps, the notes.

Its kit label says the same in short. Both are for paper, so nothing here can be changed.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session, col, select

from models.costing.inputs import WorkInput
from models.costing.labour import WorkCounts
from models.errors import Conflict
from models.queries.builds.build import BuildLineView, BuildView, build_view
from models.queries.builds.parts import BuildParts
from models.queries.costing.part_facts import PartFacts
from models.tables import Design
from models.trade.vocabulary.bench import HAND_WORK
from models.trade.weaves import WEAVES


@dataclass(frozen=True, slots=True)
class SheetPart:
    """One part of the design for all pieces: how many in all, and of these how many are opened and closed beforehand.

    A ring that is joined open is opened first unless it arrives open; one that others pass through is closed first
    unless it arrives closed. `open_first` and `close_first` are None for what is no ring that can be opened.
    """

    part: PartFacts
    each: Decimal
    total: Decimal
    open_first: Decimal | None
    close_first: Decimal | None


@dataclass(frozen=True, slots=True)
class SheetBag:
    """One bag to take from, and how many of its rings are opened and closed before the weaving."""

    line: BuildLineView
    open_first: int
    close_first: int


@dataclass(frozen=True, slots=True)
class SheetStep:
    """One step of the work in the order of the bench; `count` in `unit` for all pieces where it is counted."""

    kind: str
    words: str
    count: Decimal | None
    unit: str
    minutes: Decimal


@dataclass(frozen=True, slots=True)
class BuildSheet:
    """Everything that the sheet of one build shows."""

    view: BuildView
    parts: tuple[SheetPart, ...]
    steps: tuple[SheetStep, ...]
    weave: str
    note: str
    photo: str | None

    @property
    def lines(self) -> tuple[BuildLineView, ...]:
        """What to take from which bag; what was taken, once it is out."""
        return self.view.lines

    @property
    def bags(self) -> tuple[SheetBag, ...]:
        """The same with what is opened and closed of each bag beforehand."""
        return _bags(self.view.lines, self.parts)

    @property
    def open_first(self) -> Decimal:
        """How many rings are opened before the weaving starts."""
        return sum((part.open_first or Decimal(0) for part in self.parts), Decimal(0))

    @property
    def close_first(self) -> Decimal:
        """How many rings are closed before the weaving starts."""
        return sum((part.close_first or Decimal(0) for part in self.parts), Decimal(0))

    @property
    def scale_nm(self) -> int:
        """The outer diameter of the largest ring on the sheet."""
        return max((part.part.thing.size.outer_nm for part in self.parts if part.part.thing.size), default=1)


def build_sheet(session: Session, build_id: int) -> BuildSheet:
    """The work sheet of a build. Raises: Missing; Conflict for rings that have no design yet."""
    view = build_view(session, build_id)
    parts = view.parts
    if parts is None:
        raise Conflict("These rings have no design yet, so there is nothing to work from.")
    photo = session.exec(select(Design.photo).where(col(Design.id) == view.row.design_id)).first()
    weave = WEAVES.get(parts.inputs.weave or "")
    return BuildSheet(
        view=view,
        parts=tuple(_part(part, parts.pieces, parts.inputs.work) for part in parts.parts),
        steps=_steps(parts),
        weave=weave.name if weave else "",
        note=parts.inputs.note,
        photo=photo,
    )


def _part(part: PartFacts, pieces: int, work: WorkInput) -> SheetPart:
    """One part; a design that says that none are opened or closed, such as a kit, has nothing to prepare."""
    thing, total = part.thing, part.quantity * pieces
    if thing.kind != "ring" or not thing.can_open:
        return SheetPart(part, part.quantity, total, None, None)
    return SheetPart(
        part,
        part.quantity,
        total,
        Decimal(0) if work.open == 0 else part.opened_first * pieces,
        Decimal(0) if work.close == 0 else part.closed_first * pieces,
    )


def _bags(lines: tuple[BuildLineView, ...], parts: tuple[SheetPart, ...]) -> tuple[SheetBag, ...]:
    """The bags with how many of each are closed and opened beforehand: item by item, the closed ones of its first bags.

    What a bag holds beyond that is spare, or arrives as it is needed.
    """
    close: dict[int | None, int] = {}
    opens: dict[int | None, int] = {}
    for one in parts:
        item_id = one.part.thing.item_id
        close[item_id] = close.get(item_id, 0) + int(one.close_first or 0)
        opens[item_id] = opens.get(item_id, 0) + int(one.open_first or 0)
    found = []
    for line in lines:
        left = (line.taken_milli or line.planned_milli) // 1000
        shut = min(left, close.get(line.item.id, 0))
        opened = min(left - shut, opens.get(line.item.id, 0))
        close[line.item.id] = close.get(line.item.id, 0) - shut
        opens[line.item.id] = opens.get(line.item.id, 0) - opened
        found.append(SheetBag(line, opened, shut))
    return tuple(found)


def _steps(parts: BuildParts) -> tuple[SheetStep, ...]:
    """The steps with their counts and likely minutes, for all pieces."""
    cost = parts.estimate().cost
    return tuple(
        SheetStep(
            one.kind,
            one.label,
            *_count(one.kind, cost.counts, parts.pieces),
            one.likely * parts.pieces,
        )
        for one in cost.minutes.kinds
    )


def _count(kind: str, counts: WorkCounts, pieces: int) -> tuple[Decimal | None, str]:
    if kind not in HAND_WORK:
        return None, ""
    many: Decimal = getattr(counts, kind) * pieces
    return many, "findings" if kind == "attach" else "rings"
