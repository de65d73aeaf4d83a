"""The list of builds: under way, finished with what they really cost, and given up; and the builds of one design.

Columns are read, in a constant number of queries; what one build holds stands in `build`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import Select, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.queries.builds.parts import KEPT_PICKS, Picks
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.tables import Build, BuildLine, Design, Part, Revision
from models.trade.money import from_micros
from models.trade.vocabulary.bench import UNDER_WAY

PER_PAGE = 30
RINGS_DRAWN = 3
GIVEN_UP_SHOWN = 10


@dataclass(frozen=True, slots=True)
class BuildRow:
    """One build in a list; money in millionths for all its pieces, minutes in thousandths.

    Without a design (`design_id` None) rings were taken out first. `taken_back` tells that nothing of it holds any
    more. `rings` are its most used rings, for the drawing.
    """

    id: int
    design_id: int | None
    name: str
    piece: str
    number: int | None
    newest: int | None
    state: str
    pieces: int
    good: int | None
    spoiled: int | None
    started_on: date
    due_on: date | None
    finished_on: date | None
    created_at: datetime
    picks: Picks
    note: str
    minutes_milli: int | None
    timing: str
    paid_minutes_milli: int | None
    wage_micros: int | None
    materials_micros: int | None
    guessed_micros: int | None
    labour_micros: int | None
    overhead_micros: int | None
    estimate_micros: int | None
    estimate_minutes_milli: int | None
    timer_started_at: datetime | None
    timed_milli: int
    version: int
    taken_back: bool
    rings: tuple[Material, ...] = ()

    @property
    def design(self) -> str:
        """The design's name; empty without one."""
        return self.name if self.design_id is not None else ""

    @property
    def made_on(self) -> date:
        """The day on which it was finished; until then the day on which it was started."""
        return self.finished_on or self.started_on

    @property
    def left_out(self) -> bool:
        """Whether its time was left out of what the shop learns."""
        return self.timing == "odd"

    @property
    def made(self) -> int:
        """How many pieces were made, good or not."""
        return (self.good or 0) + (self.spoiled or 0)

    @property
    def total_micros(self) -> int | None:
        """What it really cost; None before it is finished."""
        parts = (self.materials_micros, self.guessed_micros, self.labour_micros, self.overhead_micros)
        return None if self.materials_micros is None else sum(part or 0 for part in parts)

    @property
    def guessed_each(self) -> Decimal:
        """How much of what one good piece cost is guessed, for parts that are no stock items."""
        return from_micros(self.guessed_micros or 0) / self.good if self.good else Decimal(0)

    @property
    def each(self) -> Decimal | None:
        """What one good piece really cost."""
        return from_micros(self.total_micros) / self.good if self.total_micros is not None and self.good else None

    @property
    def estimate_each(self) -> Decimal | None:
        """What one piece was expected to cost."""
        return from_micros(self.estimate_micros) / self.made if self.estimate_micros is not None and self.made else None

    @property
    def over(self) -> Decimal | None:
        """By which share a good piece cost more than expected; below zero for less."""
        if self.each is None or not self.estimate_each:
            return None
        return self.each / self.estimate_each - 1

    @property
    def minutes_each(self) -> Decimal | None:
        """The minutes noted for one piece."""
        return Decimal(self.minutes_milli).scaleb(-3) / self.made if self.minutes_milli and self.made else None

    @property
    def largest_nm(self) -> int:
        """The outer diameter of its largest ring, so that all are drawn to one scale."""
        return max((ring.size.outer_nm for ring in self.rings if ring.size), default=1)


@dataclass(frozen=True, slots=True)
class BuildList:
    """All builds: under way (the oldest first), a page of the finished ones (the latest first), the last given up."""

    under_way: tuple[BuildRow, ...]
    finished: tuple[BuildRow, ...]
    given_up: tuple[BuildRow, ...]
    finished_count: int
    pieces_count: int
    page: int
    designs: tuple[tuple[int, str], ...]

    @property
    def pages(self) -> int:
        """How many pages of finished builds there are."""
        return max(1, -(-self.finished_count // PER_PAGE))

    @property
    def any(self) -> bool:
        """Whether anything was ever built."""
        return bool(self.under_way or self.finished_count or self.given_up)


def build_list(session: Session, page: int = 1) -> BuildList:
    """The builds of the shop, with one page of the finished ones."""
    count, pieces = session.execute(
        select(func.count(), func.coalesce(func.sum(Build.good), 0)).where(col(Build.state) == "finished")
    ).one()
    latest = _rows().where(col(Build.state) == "finished").order_by(col(Build.finished_on).desc(), col(Build.id).desc())
    given_up = _rows().where(col(Build.state) == "abandoned").order_by(col(Build.id).desc()).limit(GIVEN_UP_SHOWN)
    under_way = builds_under_way(session)
    finished = session.execute(latest.limit(PER_PAGE).offset(max(0, page - 1) * PER_PAGE)).all()
    return BuildList(
        under_way=under_way,
        finished=_read(session, finished),
        given_up=_read(session, session.execute(given_up).all()),
        finished_count=int(count),
        pieces_count=int(pieces),
        page=page,
        designs=designs_to_make(session),
    )


def builds_under_way(session: Session) -> tuple[BuildRow, ...]:
    """The builds that are started or being made, the oldest first."""
    wanted = _rows().where(col(Build.state).in_(UNDER_WAY)).order_by(col(Build.id))
    return _read(session, session.execute(wanted).all())


def open_builds(session: Session, design_id: int) -> tuple[BuildRow, ...]:
    """The builds of one design whose rings are kept for it or out of their bags already, the oldest first."""
    wanted = _rows().where(col(Build.design_id) == design_id, col(Build.state).in_(UNDER_WAY)).order_by(col(Build.id))
    return _read(session, session.execute(wanted).all())


def builds_of_design(session: Session, design_id: int, limit: int = PER_PAGE) -> tuple[BuildRow, ...]:
    """The builds of one design that are under way or finished, the latest first."""
    wanted = (
        _rows()
        .where(col(Build.design_id) == design_id, col(Build.state) != "abandoned")
        .order_by(func.coalesce(Build.finished_on, Build.started_on).desc(), col(Build.id).desc())
        .limit(limit)
    )
    return _read(session, session.execute(wanted).all())


def build_rows(
    session: Session,
    *,
    state: str | None = None,
    design_id: int | None = None,
    taken_back: bool = False,
    limit: int,
    before: int | None = None,
) -> tuple[BuildRow, ...]:
    """Builds, the latest first, before a build's number; of one state or one design where that is asked.

    Those that were taken back hold nothing any more, and are left out unless they are asked for.
    """
    wanted = _rows().order_by(col(Build.id).desc()).limit(limit)
    if not taken_back:
        holds = select(col(BuildLine.id)).where(
            col(BuildLine.build_id) == col(Build.id), col(BuildLine.planned_milli) + col(BuildLine.taken_milli) > 0
        )
        wanted = wanted.where(or_(col(Build.state) != "abandoned", holds.exists()))
    if state is not None:
        wanted = wanted.where(col(Build.state) == state)
    if design_id is not None:
        wanted = wanted.where(col(Build.design_id) == design_id)
    if before is not None:
        wanted = wanted.where(col(Build.id) < before)
    return _read(session, session.execute(wanted).all())


def build_row_of(session: Session, build_id: int) -> BuildRow | None:
    """One build as lists show it; None when there is none."""
    found = _read(session, session.execute(_rows().where(col(Build.id) == build_id)).all())
    return found[0] if found else None


def designs_to_make(session: Session) -> tuple[tuple[int, str], ...]:
    """The designs in use that have parts, by name, for a choice."""
    rows = session.execute(
        select(col(Design.id), col(Design.name))
        .where(
            ~col(Design.retired),
            select(col(Part.id))
            .join(Revision, col(Revision.id) == col(Part.revision_id))
            .where(col(Revision.design_id) == col(Design.id))
            .exists(),
        )
        .order_by(func.lower(Design.name), col(Design.id))
    )
    return tuple((design_id, name) for design_id, name in rows)


NO_DESIGN = "Rings without a design"
_KEPT: tuple[Any, ...] = tuple(
    getattr(Build, name)
    for name in (
        "id", "design_id", "state", "pieces", "good", "spoiled", "started_on", "due_on", "finished_on", "created_at",
        "choices", "note", "minutes_milli", "timing", "paid_minutes_milli", "wage_micros", "materials_micros",
        "guessed_micros", "labour_micros", "overhead_micros", "estimate_micros", "estimate_minutes_milli",
        "timer_started_at", "timed_milli", "version",
    )
)  # fmt: skip


def _rows() -> Select[Any]:
    other = aliased(Revision)
    newest = select(func.max(other.number)).where(col(other.design_id) == col(Build.design_id)).scalar_subquery()
    return (
        select(*_KEPT, col(Design.name), col(Design.piece), col(Revision.number), newest.label("newest"))
        .outerjoin(Design, col(Design.id) == col(Build.design_id))
        .outerjoin(Revision, col(Revision.id) == col(Build.revision_id))
    )


def _read(session: Session, rows: Sequence[Any]) -> tuple[BuildRow, ...]:
    ids = [row.id for row in rows]
    lines = session.execute(
        select(
            col(BuildLine.build_id),
            col(BuildLine.item_id),
            func.sum(BuildLine.planned_milli + BuildLine.taken_milli).label("held"),
        )
        .where(col(BuildLine.build_id).in_(ids))
        .group_by(col(BuildLine.build_id), col(BuildLine.item_id))
    ).all()
    items = load_materials(session, {line.item_id for line in lines}) if lines else {}
    rings: dict[int, list[tuple[int, Material]]] = {}
    held: dict[int, int] = {}
    for line in lines:
        held[line.build_id] = held.get(line.build_id, 0) + line.held
        if items[line.item_id].kind == "ring":
            rings.setdefault(line.build_id, []).append((-line.held, items[line.item_id]))
    return tuple(
        BuildRow(
            **{name: value for name, value in row._asdict().items() if name not in {"choices", "name", "piece"}},
            name=row.name or NO_DESIGN,
            piece=row.piece or "",
            picks=KEPT_PICKS.read(row.choices),
            taken_back=row.state == "abandoned" and not held.get(row.id),
            rings=tuple(
                item for _, item in sorted(rings.get(row.id, ()), key=lambda each: (each[0], each[1].id))[:RINGS_DRAWN]
            ),
        )
        for row in rows
    )
