"""The metals that the shop knows: the catalogue and those that the person added."""

from __future__ import annotations

import json
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import select as columns
from sqlmodel import Session, col, func, select

from models.errors import Missing
from models.intake.fields import raw_of, values_in_row
from models.intake.stock.metal import MetalDraft
from models.queries.shop.gathering import gathering_in
from models.tables import Item, Layout, OwnMetal, Part
from models.trade.metals import METALS, Metal

OWN_FAMILY = "own"


@dataclass(frozen=True, slots=True)
class MetalRow:
    """One metal as the Metals page lists it; density in g/cm3. `version` is None for a metal of the catalogue."""

    code: str
    name: str
    density: Decimal
    source: str
    family: str
    tint: str
    notes: tuple[str, ...]
    precious: bool
    weigh_first: bool
    items: int
    """How many stock items are made of it."""
    version: int | None


@dataclass(frozen=True, slots=True)
class MetalsPage:
    """The Metals page: the shop's own metals, then the catalogue by family."""

    own: tuple[MetalRow, ...]
    catalogue: tuple[MetalRow, ...]

    @property
    def all(self) -> tuple[MetalRow, ...]:
        """Every metal, the shop's own first."""
        return self.own + self.catalogue


@dataclass(frozen=True, slots=True)
class OwnMetalView:
    """One metal of the shop's own, as its form edits it."""

    code: str
    name: str
    density: Decimal
    source: str
    tint: str
    note: str
    version: int
    used: bool
    """Whether an item or a design's part is made of it, so that it cannot be taken out."""

    def raw(self) -> dict[str, object]:
        """The metal as its form and the API hand it in."""
        return raw_of(MetalDraft, self)


def all_metals(session: Session) -> dict[str, Metal]:
    """Every metal by its code: the shop's own first, by name, then the catalogue."""
    if (gathering := gathering_in(session)) is not None:
        return gathering.once("metals", lambda: _all_metals(session))
    return _all_metals(session)


def _all_metals(session: Session) -> dict[str, Metal]:
    found = columns(
        col(OwnMetal.code),
        col(OwnMetal.name),
        col(OwnMetal.density),
        col(OwnMetal.source),
        col(OwnMetal.tint),
        col(OwnMetal.note),
    )
    own = {
        row.code: Metal(
            row.code, row.name, row.density, row.source, OWN_FAMILY, row.tint, (row.note,) if row.note else ()
        )
        for row in session.execute(found.order_by(col(OwnMetal.name)))
    }
    return {**own, **METALS}


def metals_page(session: Session) -> MetalsPage:
    """The Metals page."""
    counts: dict[str | None, int] = dict(session.exec(select(Item.metal, func.count()).group_by(col(Item.metal))).all())
    versions = dict(session.exec(select(OwnMetal.code, OwnMetal.version)).all())
    rows = [
        MetalRow(
            code=metal.code,
            name=metal.name,
            density=metal.density,
            source=metal.source,
            family=metal.family,
            tint=metal.tint,
            notes=metal.notes,
            precious=metal.precious,
            weigh_first=metal.weigh_first,
            items=counts.get(metal.code, 0),
            version=versions.get(metal.code),
        )
        for metal in all_metals(session).values()
    ]
    return MetalsPage(
        own=tuple(row for row in rows if row.version is not None),
        catalogue=tuple(row for row in rows if row.version is None),
    )


def own_metal(session: Session, code: str) -> OwnMetalView:
    """One metal of the shop's own. Raises: Missing, also for a metal of the catalogue."""
    row = session.get(OwnMetal, code)
    if row is None:
        raise Missing("metal of your own", code)
    return OwnMetalView(
        code=row.code, version=row.version, used=metal_in_use(session, code), **values_in_row(MetalDraft, row)
    )


def metal_in_use(session: Session, code: str) -> bool:
    """Whether a stock item, a design's part or a ring that is at hand to lay a piece out in is made of this metal."""
    item = session.exec(select(Item.id).where(Item.metal == code).limit(1)).first()
    part = session.exec(select(Part.id).where(Part.typed_metal == code).limit(1)).first()
    if item is not None or part is not None:
        return True
    # A ring that was named while laying out is no part until a row takes it.
    entry = f'"metal":{json.dumps(code)}'
    laid = session.exec(select(Layout.id).where(col(Layout.palette).contains(entry, autoescape=True)).limit(1)).first()
    return laid is not None
