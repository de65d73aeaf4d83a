"""One build with everything that its page shows: its bags, its work, what it cost beside what was expected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.costing.lines import Line, total_line
from models.costing.rates import kind_words
from models.errors import Missing
from models.intake.builds.build import bag_value
from models.queries.builds.costs import line_costs
from models.queries.builds.list import BuildRow, build_row_of
from models.queries.builds.parts import BuildParts, Estimate, parts_of_revision
from models.queries.builds.timings import WorkTiming, load_timings, timing_of
from models.queries.builds.unpick import PieceLot, pieces_left
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.tables import Build, BuildLine, BuildTime, Lot, LotPlace, StockTransaction
from models.trade.money import from_micros


@dataclass(frozen=True, slots=True)
class BuildLineView:
    """What a build takes from one bag: thousandths; `cost_micros` is what is out or used. `in_bag_milli` lies there."""

    lot_id: int
    place: str
    batch: str
    received_on: date
    item: Material
    purpose: str
    planned_milli: int
    taken_milli: int
    extra_milli: int
    returned_milli: int
    cost_micros: int
    in_bag_milli: int
    tare_ug: int | None
    rough: str

    @property
    def used_milli(self) -> int:
        """What is gone, or out of its bag."""
        return self.taken_milli + self.extra_milli - self.returned_milli

    @property
    def value(self) -> str:
        """How a page names the bag in one field."""
        return bag_value(self.lot_id, self.place)


@dataclass(frozen=True, slots=True)
class BuildActView:
    """One thing that was done with a build, in words; `undone` when it was taken back."""

    id: int
    kind: str
    done_on: date
    words: str
    undone: bool


@dataclass(frozen=True, slots=True)
class KindTime:
    """Minutes of one kind of work."""

    kind: str
    words: str
    minutes: Decimal


@dataclass(frozen=True, slots=True)
class BuildView:
    """One build. `parts` is what is made, None while rings that were taken first have no design.

    `estimate` is what all its pieces should cost and take today, `timing` how long they take by what the shop has
    learned; `waits` tells that its own time looks odd and waits for a word. `lot` are its good pieces as they are now.
    `undo` is what would be taken back, in words; empty when nothing is left to.
    """

    row: BuildRow
    parts: BuildParts | None
    lines: tuple[BuildLineView, ...]
    times: tuple[KindTime, ...]
    acts: tuple[BuildActView, ...]
    lot: PieceLot | None
    undo: str
    timing: WorkTiming | None = None
    waits: bool = False

    @property
    def id(self) -> int:
        """The build's number."""
        return self.row.id

    @property
    def estimate(self) -> Estimate | None:
        """What its pieces should cost and take today."""
        return None if self.parts is None or not self.parts.parts else self.parts.estimate()

    @property
    def rings(self) -> int:
        """How many rings it takes, or has taken."""
        whole = sum((line.used_milli or line.planned_milli) for line in self.lines if line.item.kind == "ring")
        return whole // 1000

    @property
    def bags(self) -> int:
        """From how many bags it takes."""
        return len(self.lines)

    @property
    def scale_nm(self) -> int:
        """The outer diameter of the largest of its rings, so that all are drawn to one scale."""
        return max((line.item.size.outer_nm for line in self.lines if line.item.size), default=1)

    @property
    def any_extra(self) -> bool:
        """Whether anything was taken beyond what was planned."""
        return any(line.extra_milli for line in self.lines)

    @property
    def any_returned(self) -> bool:
        """Whether anything was put back."""
        return any(line.returned_milli for line in self.lines)

    @property
    def rough(self) -> tuple[BuildLineView, ...]:
        """The bags whose count is rough."""
        return tuple(line for line in self.lines if line.rough)

    @property
    def real_cost(self) -> tuple[Line, ...]:
        """What it really cost, as lines that unfold; empty before it is finished."""
        return _cost_lines(self.row, self.lines, self.parts) if self.row.materials_micros is not None else ()

    @property
    def not_borne_micros(self) -> int:
        """What parts that are no stock items are guessed at, where its pieces were booked without; else nothing."""
        if self.row.state != "finished" or self.row.guessed_micros is not None or self.parts is None:
            return 0
        return self.parts.guessed_micros(self.row.made)


def build_view(session: Session, build_id: int) -> BuildView:
    """One build. Raises: Missing."""
    row = build_row_of(session, build_id)
    if row is None:
        raise Missing("build", build_id)
    revision_id = session.scalar(select(col(Build.revision_id)).where(col(Build.id) == build_id))
    parts = None
    if revision_id is not None:
        parts = parts_of_revision(session, revision_id, row.pieces, row.picks)
    acts = _acts(session, build_id)
    lines = build_lines(session, build_id)
    timings = load_timings(session)
    return BuildView(
        row=row,
        parts=parts,
        lines=lines,
        times=_times(session, build_id),
        acts=acts,
        lot=pieces_left(session, build_id) if row.state == "finished" else None,
        undo=_undo(row, acts, lines),
        timing=timing_of(session, parts, row.pieces, timings) if parts is not None and parts.parts else None,
        waits=build_id in timings.odd,
    )


def build_lines(session: Session, build_id: int) -> tuple[BuildLineView, ...]:
    """What a build takes from which bags, in its order."""
    rows = session.execute(
        select(
            col(BuildLine.lot_id), col(BuildLine.place), col(BuildLine.item_id), col(BuildLine.purpose),
            col(BuildLine.planned_milli), col(BuildLine.taken_milli), col(BuildLine.extra_milli),
            col(BuildLine.returned_milli), col(Lot.batch), col(Lot.received_on), col(LotPlace.quantity_milli),
            col(LotPlace.tare_ug), col(LotPlace.rough),
        )
        .join(Lot, col(Lot.id) == col(BuildLine.lot_id))
        .outerjoin(
            LotPlace, (col(LotPlace.lot_id) == col(BuildLine.lot_id)) & (col(LotPlace.place) == col(BuildLine.place))
        )
        .where(col(BuildLine.build_id) == build_id)
        .order_by(col(BuildLine.position))
    ).all()  # fmt: skip
    items = load_materials(session, {row.item_id for row in rows}) if rows else {}
    costs = line_costs(session, build_id) if rows else {}
    found = []
    for row in rows:
        item = items[row.item_id]
        found.append(
            BuildLineView(
                lot_id=row.lot_id,
                place=row.place,
                batch=row.batch,
                received_on=row.received_on,
                item=item,
                purpose=row.purpose,
                planned_milli=row.planned_milli,
                taken_milli=row.taken_milli,
                extra_milli=row.extra_milli,
                returned_milli=row.returned_milli,
                cost_micros=costs.get((row.lot_id, row.place), 0),
                in_bag_milli=row.quantity_milli or 0,
                tare_ug=row.tare_ug,
                rough=row.rough or "",
            )
        )
    return tuple(found)


def _times(session: Session, build_id: int) -> tuple[KindTime, ...]:
    rows = session.execute(
        select(col(BuildTime.kind), col(BuildTime.minutes_milli))
        .where(col(BuildTime.build_id) == build_id, col(BuildTime.minutes_milli).is_not(None))
        .order_by(col(BuildTime.id))
    )
    return tuple(KindTime(kind, kind_words(kind), Decimal(milli).scaleb(-3)) for kind, milli in rows)


def _acts(session: Session, build_id: int) -> tuple[BuildActView, ...]:
    undo = aliased(StockTransaction)
    rows = session.execute(
        select(
            col(StockTransaction.id),
            col(StockTransaction.kind),
            col(StockTransaction.done_on),
            col(StockTransaction.words),
            col(undo.id).label("undone"),
        )
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(col(StockTransaction.build_id) == build_id)
        .order_by(col(StockTransaction.id).desc())
    )
    return tuple(BuildActView(row.id, row.kind, row.done_on, row.words, row.undone is not None) for row in rows)


def _undo(row: BuildRow, acts: Sequence[BuildActView], lines: Sequence[BuildLineView]) -> str:
    """What the latest thing is that can be taken back, as a button says it."""
    live = next((act for act in acts if act.kind != "undo" and not act.undone), None)
    if row.state == "abandoned":
        going = live is not None and live.kind == "abandon"
        return "Take it up again" if going or (live is None and any(line.planned_milli for line in lines)) else ""
    if row.state == "started":
        return "Undo the start"
    if row.state == "making":
        return "Put the rings back as they were"
    return "Undo the unpicking" if live is not None and live.kind == "unpick" else "Undo the finish"


def _cost_lines(row: BuildRow, lines: Sequence[BuildLineView], parts: BuildParts | None) -> tuple[Line, ...]:
    materials = [
        Line(
            line.item.name,
            from_micros(line.cost_micros),
            Decimal(line.used_milli).scaleb(-3),
            line.item.unit_words,
            from_micros(line.cost_micros) / (Decimal(line.used_milli).scaleb(-3)),
            reason=", ".join(word for word in (f"lot {line.lot_id}", line.batch, line.place, _extra(line)) if word)
            + ".",
            source="what this lot cost you",
        )
        for line in lines
        if line.used_milli > 0
    ]
    booked = from_micros(row.materials_micros or 0)
    total = sum((line.amount for line in materials), Decimal(0))
    if total != booked:
        # When no piece is good what was used is scrapped at its value of that day.
        materials = [Line("Rings and parts", booked, reason="As booked when it was finished.", source="the ledger")]
    paid = Decimal(row.paid_minutes_milli or 0).scaleb(-3)
    labour, wage = from_micros(row.labour_micros or 0), from_micros(row.wage_micros or 0)
    if row.minutes_milli is None:
        why = "No time was noted, so the likely one stands in."
    elif row.left_out:
        why = "The time that was noted looked odd and was left out, so the likely one stands in."
    else:
        why = "The time that was noted for all its pieces."
    return (
        total_line(
            "Materials",
            [*materials, *_guessed_lines(row, parts)],
            reason="Every ring at what its own lot cost, spoiled ones too; what is no stock item at its guessed price.",
            source="the ledger",
        ),
        Line("Labour", labour, paid, "min", wage / 60, reason=why, source="your settings when it was finished"),
        Line(
            "Overhead",
            from_micros(row.overhead_micros or 0),
            reason="Rent, tools, insurance and the like.",
            source="your settings when it was finished",
        ),
    )


def _guessed_lines(row: BuildRow, parts: BuildParts | None) -> list[Line]:
    """The parts that are no stock items, each named as guessed; nothing where the pieces were booked without them."""
    if row.guessed_micros is None or parts is None:
        return []
    lines = [
        Line(
            part.thing.name,
            amount,
            part.quantity * row.made,
            part.unit_words,
            None if part.thing.unit_cost is None else part.thing.unit_cost.amount,
            reason=(
                "It is not in your stock, and nobody guessed its price, so nothing of it is in this cost."
                if part.thing.unit_cost is None
                else "Guessed: it is not in your stock, so nothing says what it really cost."
            ),
            source="typed in the design",
            provisional=True,
        )
        for part, amount in parts.guessed(row.made)
    ]
    booked = from_micros(row.guessed_micros)
    if sum((line.amount for line in lines), Decimal(0)) != booked:
        why = "Guessed, as booked when it was finished."
        return [Line("Parts not from your stock", booked, reason=why, source="the build", provisional=True)]
    return lines


def _extra(line: BuildLineView) -> str:
    if not line.extra_milli:
        return ""
    return f"{line.item.counted(line.extra_milli)} more than planned"
