"""A design's rows: as they were kept, what each key of them is in this shop, and the parts that follow from them.

What follows further (checks, order of work, cost) is in `layout_view`, what a change does in `layout_change`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from sqlalchemy import select as columns
from sqlmodel import Session, col

from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft
from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.parts import own_parts, parts_of_layout, plain_parts
from models.layouts.engine.items import Item
from models.layouts.engine.net import Net
from models.layouts.engine.piece import Worked, work_out, work_out_chain
from models.layouts.engine.rows import Layout
from models.layouts.places.chain_sizes import ChainSwatch
from models.layouts.places.sizes import Swatch as SheetSwatch
from models.queries.costing.inputs import typed_thing
from models.queries.designs.design import draft_of
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.queries.stock.weave import ShopWeaves, shop_weaves
from models.tables import Item as StockItem
from models.tables import Lot, Swatch
from models.trade.metals import Metal
from models.trade.rings import RingSize


@dataclass(frozen=True, slots=True)
class LayoutFacts:
    """What this shop knows of a layout: its things and what they are to the rows, lots, swatches, and fits.

    `lots` are the rings in each single lot of a colour that differs from lot to lot. Swatches are those of the weave.
    """

    items: Mapping[str, Item]
    things: Mapping[str, Material]
    lots: Mapping[str, tuple[int, ...]]
    sheet_swatches: tuple[SheetSwatch, ...]
    chain_swatches: tuple[ChainSwatch, ...]
    weaves: ShopWeaves

    def swatch_for(self, size: RingSize | None) -> SheetSwatch | None:
        """The swatch that corrects a sheet of this ring: the latest of this ring, else the one most like it."""
        if size is None or not self.sheet_swatches:
            return None
        # The latest stands last, so of equals it wins.
        return min(reversed(self.sheet_swatches), key=lambda one: abs(_ratio(one.size) - _ratio(size)))

    def connector_of(self, plan: Layout) -> RingSize | None:
        """The size of the rings that join the hubs of a hub weave, where it is known."""
        item = self.items.get(plan.connector)
        return item.size if item else None


def layout_of(session: Session, design_id: int, number: int | None = None) -> LayoutDraft | None:
    """How a design is laid out, in its latest revision or the one of this number; None for a plain list.

    Raises: Missing.
    """
    return draft_of(session, design_id, number).layout


def layout_facts(session: Session, draft: LayoutDraft) -> LayoutFacts:
    """What this shop knows of a layout, in a constant number of queries."""
    metals = all_metals(session)
    things = things_of(session, draft, metals)
    ids = {entry.item_id for entry in draft.palette if entry.item_id is not None}
    by_lot = set(
        session.execute(
            columns(col(StockItem.id)).where(col(StockItem.id).in_(ids), col(StockItem.batch_colour))
        ).scalars()
    )
    items = {
        entry.key: _item(entry.key, entry.thing, things[entry.key], by_lot=entry.item_id in by_lot)
        for entry in draft.palette
    }
    sheets, chains = _swatches(session, draft.weave)
    return LayoutFacts(items, things, _lots(session, by_lot), sheets, chains, shop_weaves(session))


def layout_items(session: Session, draft: LayoutDraft) -> dict[str, Item]:
    """What each key of a layout is to its rows: size, mass, tint, whether it opens."""
    things = things_of(session, draft, all_metals(session))
    return {entry.key: _item(entry.key, entry.thing, things[entry.key], by_lot=False) for entry in draft.palette}


def things_of(session: Session, draft: LayoutDraft, metals: Mapping[str, Metal]) -> dict[str, Material]:
    """The things of a palette by their keys; an item that the shop does not have is a thing of unknown size."""
    ids = {entry.item_id for entry in draft.palette if entry.item_id is not None}
    stock = load_materials(session, ids, metals, offers="last")
    return {
        entry.key: stock[entry.item_id]
        if entry.item_id is not None and entry.item_id in stock
        else _typed(entry.thing, metals)
        for entry in draft.palette
    }


def work_out_draft(draft: LayoutDraft, facts: LayoutFacts) -> Worked:
    """A layout worked out: every ring and link, mass, size, and what to look at."""
    band = facts.weaves.bands.get(draft.weave)
    records = facts.weaves.records
    if isinstance(draft.plan, Layout):
        swatch = facts.swatch_for(_usual_size(draft.plan, facts.items))
        return work_out(draft.plan, facts.items, swatch=swatch, lots=facts.lots, band=band, records=records)
    return work_out_chain(
        draft.plan, facts.items, swatches=facts.chain_swatches, lots=facts.lots, band=band, records=records
    )


def laid_out(session: Session, draft: DesignDraft, *, net: Net | None = None) -> DesignDraft:
    """A design with the parts that its rows make, before those of its plain list, and with the weave of its rows.

    A design without rows keeps all its parts as a plain list.
    """
    if draft.layout is None:
        return replace(draft, parts=plain_parts(draft.parts))
    made = parts_of_layout(draft.layout, layout_items(session, draft.layout), net)
    return replace(draft, weave=draft.layout.weave, parts=(*made, *own_parts(draft.parts)))


def _item(key: str, each: PartDraft, thing: Material, *, by_lot: bool) -> Item:
    mass_g = thing.mass_g
    if mass_g is not None and each.quantity_milli != 1000:
        mass_g = mass_g * each.quantity_milli / 1000
    return Item(
        key=key,
        label=thing.name,
        size=thing.size,
        density=thing.body.metal.density if thing.body.metal else None,
        mass_g=mass_g,
        tint=thing.tint.lower(),
        opens=thing.can_open,
        finding=thing.kind != "ring",
        by_lot=by_lot,
    )


def _typed(part: PartDraft, metals: Mapping[str, Metal]) -> Material:
    thing = typed_thing(part, metals)
    return thing if part.item_id is None else replace(thing, name=f"item {part.item_id}", kind="ring")


def _lots(session: Session, item_ids: Collection[int]) -> dict[str, tuple[int, ...]]:
    found: dict[str, list[int]] = {}
    if item_ids:
        rows = session.execute(
            columns(col(Lot.item_id), col(Lot.quantity_milli)).where(
                col(Lot.item_id).in_(item_ids), col(Lot.quantity_milli) > 0
            )
        )
        for item_id, milli in rows:
            found.setdefault(f"i{item_id}", []).append(milli // 1000)
    return {key: tuple(sizes) for key, sizes in found.items()}


def _swatches(session: Session, weave: str) -> tuple[tuple[SheetSwatch, ...], tuple[ChainSwatch, ...]]:
    rows = session.execute(
        columns(
            col(Swatch.wire_nm), col(Swatch.inner_nm), col(Swatch.rows), col(Swatch.rings), col(Swatch.along_nm),
            col(Swatch.across_nm), col(Swatch.length_nm),
        )
        .where(col(Swatch.weave) == weave)
        .order_by(col(Swatch.measured_on), col(Swatch.id))
    ).all()  # fmt: skip
    sheets = tuple(
        SheetSwatch(RingSize(row.wire_nm, row.inner_nm), row.rows, row.rings, row.along_nm / 1e6, row.across_nm / 1e6)
        for row in rows
        if row.rows and row.along_nm and row.across_nm
    )
    chains = tuple(
        ChainSwatch(RingSize(row.wire_nm, row.inner_nm), row.rings, row.length_nm / 1e6)
        for row in rows
        if row.length_nm
    )
    return sheets, chains


def _usual_size(layout: Layout, items: Mapping[str, Item]) -> RingSize | None:
    """The ring size of most places of the rows."""
    used: dict[RingSize, int] = {}
    for row in layout.rows:
        for key in row.items:
            size = items[key].size if key in items else None
            if size is not None:
                used[size] = used.get(size, 0) + 1
    return max(used, key=lambda size: used[size], default=None)


def _ratio(size: RingSize) -> float:
    return size.inner_nm / size.wire_nm
