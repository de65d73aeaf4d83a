"""The list of designs: what each costs, takes and earns, from the figures kept beside them, in a few queries.

Columns are read, never entities, and nothing is costed here: the figures are kept fresh by `models/operations/figures`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from sqlalchemy import select as columns
from sqlmodel import Session, col

from models.intake.stock.item import short_metal
from models.queries.costing.inputs import typed_material
from models.queries.newest_revision import newest_revisions
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.tables import Design, DesignFigure, Outlet, Part, PriceFigure, Revision
from models.trade.metals import Metal
from models.trade.vocabulary.plans import DESIGN_ORDERS, DesignOrder
from models.trade.weaves import WEAVES

MOST_RINGS = 4
"""How many different rings are drawn for a design without a photo."""

Order = DesignOrder
ORDERS: tuple[Order, ...] = DESIGN_ORDERS.codes


@dataclass(frozen=True, slots=True)
class DesignFilter:
    """What is asked of the list; empty asks nothing."""

    text: str = ""
    piece: str = ""
    weave: str = ""
    metal: str = ""
    retired: bool = False
    order: Order = "name"

    @property
    def asks(self) -> bool:
        """Whether anything narrows the list."""
        return bool(self.text or self.piece or self.weave or self.metal)


@dataclass(frozen=True, slots=True)
class DrawnRing:
    """One ring size in one tint, to be drawn; sizes in nanometres."""

    wire_nm: int
    inner_nm: int
    tint: str


@dataclass(frozen=True, slots=True)
class Best:
    """The outlet where a piece earns most an hour: its price as it stands there, and what is earned."""

    outlet: str
    price_micros: int
    hourly_micros: int


@dataclass(frozen=True, slots=True)
class DesignRow:
    """One design in the list; money in millionths, `minutes` likely for one piece. Without figures they are None."""

    id: int
    name: str
    piece: str
    photo: str | None
    retired: bool
    weave: str
    weave_name: str
    total_micros: int | None
    minutes: Decimal | None
    provisional: bool
    unpriced: tuple[str, ...]
    best: Best | None
    rings: tuple[DrawnRing, ...]
    metals: tuple[str, ...]
    drawn: tuple[int, ...] = ()
    """The places (from 1) of its rings among all that the list draws; none where a photo is shown."""


@dataclass(frozen=True, slots=True)
class DesignList:
    """The designs that were asked for, and what there is to ask for, as choices that say how many there are."""

    rows: tuple[DesignRow, ...]
    wanted: DesignFilter
    in_use: int
    retired: int
    pieces: tuple[tuple[str, str], ...]
    weaves: tuple[tuple[str, str], ...]
    metals: tuple[tuple[str, str], ...]
    drawn: tuple[DrawnRing, ...]
    """Every different ring that the rows draw."""
    scale_nm: int
    """The largest outer diameter among them, so that all are drawn in one proportion."""

    @property
    def best_row(self) -> DesignRow | None:
        """The design of the list that earns most an hour."""
        earning = [row for row in self.rows if row.best is not None]
        return max(earning, key=lambda row: row.best.hourly_micros if row.best else 0) if earning else None


def design_list(session: Session, wanted: DesignFilter) -> DesignList:
    """The list of designs, or of retired ones, narrowed as wanted."""
    metals = all_metals(session)
    heads = session.execute(_heads()).all()
    shown = [head for head in heads if head.retired == wanted.retired]
    rings, made_of, words = _parts(session, metals)
    best = _best(session)
    rows = [_row(head, best, rings, made_of) for head in shown]
    found = [row for row in rows if _matches(row, wanted, words)]
    drawn = tuple(dict.fromkeys(ring for row in found if not row.photo for ring in row.rings))
    place = {ring: number for number, ring in enumerate(drawn, 1)}
    found = [row if row.photo else replace(row, drawn=tuple(place[ring] for ring in row.rings)) for row in found]
    return DesignList(
        rows=tuple(_sorted(found, wanted.order)),
        wanted=wanted,
        in_use=sum(not head.retired for head in heads),
        retired=sum(head.retired for head in heads),
        pieces=counted_choices((row.piece, row.piece) for row in rows),
        weaves=counted_choices((row.weave, row.weave_name) for row in rows),
        metals=counted_choices((code, metal_name(code, metals)) for row in rows for code in row.metals),
        drawn=drawn,
        scale_nm=max((ring.inner_nm + 2 * ring.wire_nm for ring in drawn), default=0),
    )


def _heads() -> Any:
    newest = newest_revisions()
    return (
        columns(
            col(Design.id), col(Design.name), col(Design.piece), col(Design.photo), col(Design.retired),
            col(Revision.weave), col(DesignFigure.total_micros), col(DesignFigure.minutes_milli),
            col(DesignFigure.provisional), col(DesignFigure.unpriced),
        )
        .join(newest, newest.c.design_id == col(Design.id))
        .join(Revision, (col(Revision.design_id) == col(Design.id)) & (col(Revision.number) == newest.c.number))
        .join(DesignFigure, col(DesignFigure.design_id) == col(Design.id), isouter=True)
    )  # fmt: skip


def _parts(
    session: Session, metals: Mapping[str, Metal]
) -> tuple[dict[int, list[DrawnRing]], dict[int, list[str]], dict[int, list[str]]]:
    """By design: the rings to draw (the usual order, each once), the metals, and the words of its parts.

    A few dozen things make up thousands of parts, so each is looked at once.
    """
    newest = newest_revisions()
    rows = session.execute(
        columns(
            col(Revision.design_id), col(Part.item_id), col(Part.typed_kind), col(Part.typed_name),
            col(Part.typed_metal), col(Part.typed_colour), col(Part.typed_wire_nm), col(Part.typed_inner_nm),
        )
        .select_from(Part)
        .join(Revision, col(Revision.id) == col(Part.revision_id))
        .join(
            newest, (newest.c.design_id == col(Revision.design_id)) & (newest.c.number == col(Revision.number))
        )
        .order_by(col(Revision.design_id), col(Part.position))
    ).all()  # fmt: skip
    items = load_materials(session, {row.item_id for row in rows if row.item_id is not None}, metals, offers="none")
    typed: dict[tuple[Any, ...], Material] = {}
    rings: dict[int, list[DrawnRing]] = {}
    made_of: dict[int, list[str]] = {}
    words: dict[int, list[str]] = {}
    for row in rows:
        design_id, item_id, *spelled = row
        if item_id is not None:
            thing = items[item_id]
        else:
            key = tuple(spelled)
            thing = typed.get(key) or typed.setdefault(key, _typed(row, metals))
        if thing.metal and thing.metal not in made_of.setdefault(design_id, []):
            made_of[design_id].append(thing.metal)
        words.setdefault(design_id, []).append(f"{thing.name if thing.id else row.typed_name} {thing.colour}")
        if thing.size is not None:
            drawn = rings.setdefault(design_id, [])
            ring = DrawnRing(thing.size.wire_nm, thing.size.inner_nm, thing.tint)
            if len(drawn) < MOST_RINGS and ring not in drawn:
                drawn.append(ring)
    return rings, made_of, words


def _typed(part: Any, metals: Mapping[str, Metal]) -> Material:
    return typed_material(
        part.typed_kind,
        metals.get(part.typed_metal),
        name=part.typed_name,
        colour=part.typed_colour,
        wire_nm=part.typed_wire_nm,
        inner_nm=part.typed_inner_nm,
    )


def _best(session: Session) -> dict[int, Best]:
    """By design, the outlet in use where it earns most an hour; the first in their order of equal ones."""
    rows = session.execute(
        columns(
            col(PriceFigure.design_id), col(Outlet.name), col(PriceFigure.price_micros), col(PriceFigure.hourly_micros)
        )
        .join(Outlet, col(Outlet.id) == col(PriceFigure.outlet_id))
        .where(col(Outlet.retired).is_(False), col(PriceFigure.hourly_micros).is_not(None))
        .order_by(col(Outlet.position), col(Outlet.id))
    )
    found: dict[int, Best] = {}
    for design_id, outlet, price_micros, hourly_micros in rows:
        known = found.get(design_id)
        if known is None or hourly_micros > known.hourly_micros:
            found[design_id] = Best(outlet, price_micros, hourly_micros)
    return found


def _row(
    head: Any, best: Mapping[int, Best], rings: Mapping[int, list[DrawnRing]], made_of: Mapping[int, list[str]]
) -> DesignRow:
    weave = WEAVES.get(head.weave or "")
    return DesignRow(
        id=head.id,
        name=head.name,
        piece=head.piece,
        photo=head.photo,
        retired=head.retired,
        weave=head.weave or "",
        weave_name=weave.name if weave else "",
        total_micros=head.total_micros,
        minutes=None if head.minutes_milli is None else Decimal(head.minutes_milli).scaleb(-3),
        provisional=bool(head.provisional),
        unpriced=tuple((head.unpriced or "").split("\n")) if head.unpriced else (),
        best=best.get(head.id),
        rings=tuple(rings.get(head.id, ())),
        metals=tuple(made_of.get(head.id, ())),
    )


def _matches(row: DesignRow, wanted: DesignFilter, words: Mapping[int, list[str]]) -> bool:
    if wanted.piece and row.piece.casefold() != wanted.piece.casefold():
        return False
    if (wanted.weave and row.weave != wanted.weave) or (wanted.metal and wanted.metal not in row.metals):
        return False
    if not wanted.text:
        return True
    text = " ".join((row.name, row.piece, row.weave_name, *row.metals, *words.get(row.id, ()))).casefold()
    return all(word in text for word in wanted.text.casefold().split())


def _sorted(rows: Iterable[DesignRow], order: Order) -> list[DesignRow]:
    by_name = sorted(rows, key=lambda row: (row.name.casefold(), row.id))
    if order == "earns":
        return sorted(by_name, key=lambda row: -row.best.hourly_micros if row.best else float("inf"))
    if order == "cost":
        return sorted(by_name, key=lambda row: row.total_micros if row.total_micros is not None else float("inf"))
    if order == "newest":
        return sorted(by_name, key=lambda row: -row.id)
    return by_name


def counted_choices(values: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """What a list can be narrowed to, from (value, words) of each row: by words, with how many rows each has."""
    counts: dict[tuple[str, str], int] = {}
    for value in values:
        if value[0]:
            counts[value] = counts.get(value, 0) + 1
    by_words = sorted(counts.items(), key=lambda one: one[0][1].casefold())
    return tuple((value, f"{words} ({many})") for (value, words), many in by_words)


def metal_name(code: str, metals: Mapping[str, Metal]) -> str:
    """A metal's short name; the code of one that the shop does not have any more."""
    return short_metal(metals[code]) if code in metals else code
