"""The shop's measured swatches as their page lists them. Which one sizes a piece is chosen in `layout`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select as columns
from sqlmodel import Session, col

from models.layouts.places import sizes
from models.layouts.places.chain_sizes import NoLength, per_ring
from models.queries.stock.metal import all_metals
from models.tables import Item, Swatch
from models.trade.colours import tint_of
from models.trade.rings import RingSize
from models.trade.weaves import WEAVES

NM_PER_MM = 1_000_000
_BARE = "#9a8f80"


@dataclass(frozen=True, slots=True)
class SwatchView:
    """One measured swatch; sizes in nanometres.

    `longer` is what it measures beyond the ideal, as a share: 0.03 along the rows for 3 % longer; None where nothing is
    computed for this weave and ring. Of a chain only `longer_along` is told.
    """

    id: int
    weave: str
    weave_name: str
    kind: str
    size: RingSize
    item_id: int | None
    item_name: str
    tint: str
    rows: int | None
    rings: int
    along_nm: int | None
    across_nm: int | None
    length_nm: int | None
    measured_on: date
    note: str
    version: int
    longer_along: float | None
    longer_across: float | None


@dataclass(frozen=True, slots=True)
class SwatchPage:
    """All swatches, by weave, the latest first; the rings of the stock that a swatch can be of."""

    swatches: tuple[SwatchView, ...]
    rings: tuple[tuple[int, str], ...]

    @property
    def weaves(self) -> tuple[str, ...]:
        """The weaves that are measured, by name."""
        return tuple(dict.fromkeys(swatch.weave_name for swatch in self.swatches))

    @property
    def scale_nm(self) -> int:
        """The outer diameter of the largest ring, so that all are drawn to one scale."""
        return max((swatch.size.outer_nm for swatch in self.swatches), default=1)


def swatch_page(session: Session) -> SwatchPage:
    """All swatches of the shop, and the rings that a new one can be of."""
    rings = session.execute(
        columns(col(Item.id), col(Item.name))
        .where(
            col(Item.kind) == "ring",
            col(Item.retired).is_(False),
            col(Item.wire_nm).is_not(None),
            col(Item.inner_nm).is_not(None),
        )
        .order_by(col(Item.name), col(Item.id))
    ).all()
    return SwatchPage(swatches(session), tuple((row.id, row.name) for row in rings))


def swatches(session: Session) -> tuple[SwatchView, ...]:
    """All swatches, by weave in the order of the catalogue, the latest first."""
    metals = all_metals(session)
    rows = session.execute(
        _swatch_columns()
        .add_columns(col(Item.name), col(Item.metal), col(Item.colour), col(Item.tint))
        .join(Item, col(Item.id) == col(Swatch.item_id), isouter=True)
        .order_by(col(Swatch.measured_on).desc(), col(Swatch.id).desc())
    ).all()
    order = {code: place for place, code in enumerate(WEAVES)}
    views = []
    for row in rows:
        metal = metals.get(row.metal) if row.metal else None
        longer = _longer(row)
        views.append(
            SwatchView(
                id=row.id,
                weave=row.weave,
                weave_name=WEAVES[row.weave].name if row.weave in WEAVES else row.weave,
                kind=row.kind,
                size=RingSize(row.wire_nm, row.inner_nm),
                item_id=row.item_id,
                item_name=row.name or "",
                tint=row.tint or tint_of(row.colour or "", metal.tint if metal else _BARE),
                rows=row.rows,
                rings=row.rings,
                along_nm=row.along_nm,
                across_nm=row.across_nm,
                length_nm=row.length_nm,
                measured_on=row.measured_on,
                note=row.note,
                version=row.version,
                longer_along=longer[0],
                longer_across=longer[1],
            )
        )
    return tuple(sorted(views, key=lambda view: order.get(view.weave, len(order))))


def _swatch_columns() -> Any:
    return columns(
        col(Swatch.id), col(Swatch.weave), col(Swatch.kind), col(Swatch.wire_nm), col(Swatch.inner_nm),
        col(Swatch.item_id), col(Swatch.rows), col(Swatch.rings), col(Swatch.along_nm), col(Swatch.across_nm),
        col(Swatch.length_nm), col(Swatch.measured_on), col(Swatch.note), col(Swatch.version),
    )  # fmt: skip


def _longer(row: Any) -> tuple[float | None, float | None]:
    """How much longer a swatch is than computed for ideal rings, along and across, as shares."""
    size = RingSize(row.wire_nm, row.inner_nm)
    if row.kind == "chain":
        ideal = per_ring(row.weave, size)
        if isinstance(ideal, NoLength):
            return None, None
        return row.length_nm / NM_PER_MM / (row.rings * ideal.each_mm + ideal.ends_mm) - 1, None
    pitch = sizes.pitch_of(row.weave, size)
    if isinstance(pitch, sizes.NoPitch):
        return None, None
    along, across = sizes.rectangle_mm(row.weave, row.rows, row.rings, pitch)
    return row.along_nm / NM_PER_MM / along - 1, row.across_nm / NM_PER_MM / across - 1
