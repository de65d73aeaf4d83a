"""Settling a design before it is kept: everything that it names is known to the shop, and its rows make their parts.

Keeping it is in `design`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from sqlmodel import Session, col, select

from models.errors import Unfit
from models.intake.costing.part import COUNTED_KINDS, PartDraft
from models.intake.designs.design import DesignDraft
from models.intake.faults import Fault, Faults
from models.intake.layouts.layout import LayoutDraft, PaletteEntry
from models.layouts.engine.net import FINDING, Net
from models.layouts.steps.closing import closed_faults
from models.queries.designs.design import design_named, in_order
from models.queries.designs.layout import laid_out, layout_items
from models.queries.shop.gathering import gathering_in
from models.queries.stock.metal import all_metals
from models.tables import Item
from models.trade.metals import Metal
from models.trade.vocabulary.things import ITEM_KINDS

NO_ITEM = "This is no stock item of this shop. Choose another one."
WHOLE = "These are counted one by one. Give a whole number, such as 48."
ONE_EACH = "These are counted one by one: leave this empty."
NO_RING = "Rows are made of rings. Choose a ring for this, or take it out of the rows."
NOTHING_HANGS = "Only rings, findings, beads, scales, chain and wire can hang on a piece."
HANGING = ITEM_KINDS.those(lambda kind: kind.worn)

Kinds = Mapping[int | None, str]


def resolve_draft(session: Session, draft: DesignDraft, *, design_id: int | None) -> DesignDraft:
    """The draft with its metals as codes and the parts of its rows counted anew. Raises: Unfit.

    Faults of parts have their places in the draft, those of rows begin with 'rows.'.
    """
    faults: list[Fault] = []
    taken = design_named(session, draft.name)
    if taken is not None and taken != design_id:
        faults.append(Fault("name", f"There is already a design called {draft.name}. Give this one another name."))
    metals = all_metals(session)
    kinds = _kinds(session, draft)
    parts = []
    for place, part in enumerate(draft.parts):
        # What the rows made before is counted anew below.
        counted = draft.layout is not None and bool(part.layout_key)
        parts.append(part if counted else _part(part, f"parts.{place}", kinds, metals, faults))
    layout = draft.layout
    net = None
    if layout is not None:
        net = layout.net()
        layout = _layout(layout, net, kinds, metals, faults)
    draft = replace(draft, parts=tuple(parts), work=in_order(draft.work), layout=layout)
    if layout is not None and net is not None and not faults:
        faults += _never_closed(session, layout, net)
    if faults:
        raise Unfit(Faults(tuple(faults)))
    return laid_out(session, draft, net=net)


def _kinds(session: Session, draft: DesignDraft) -> Kinds:
    """The kinds of the stock items that a draft names, by their id."""
    ids = {part.item_id for part in draft.parts if part.item_id is not None}
    if draft.layout is not None:
        ids |= {entry.item_id for entry in draft.layout.palette if entry.item_id is not None}
    if (gathering := gathering_in(session)) is not None:
        held = gathering.held(Item)
        return {item_id: held[item_id].kind for item_id in ids if item_id in held}
    return dict(session.exec(select(Item.id, Item.kind).where(col(Item.id).in_(ids))).all()) if ids else {}


def _part(part: PartDraft, field: str, kinds: Kinds, metals: Mapping[str, Metal], faults: list[Fault]) -> PartDraft:
    """A part with its metal as a code."""
    if part.item_id is not None:
        kind = kinds.get(part.item_id)
        if kind is None:
            faults.append(Fault(f"{field}.item_id", NO_ITEM))
        elif kind in COUNTED_KINDS and part.quantity_milli % 1000:
            faults.append(Fault(f"{field}.quantity", WHOLE))
        return part
    if not part.typed_metal or part.typed_metal in metals:
        return part
    code = _metal_called(part.typed_metal, metals)
    if code is None:
        words = f"'{part.typed_metal}' is not one metal of this shop. Choose one of the list, or add your own."
        faults.append(Fault(f"{field}.metal", words))
        return part
    return replace(part, typed_metal=code)


def _layout(
    layout: LayoutDraft, net: Net, kinds: Kinds, metals: Mapping[str, Metal], faults: list[Fault]
) -> LayoutDraft:
    """A layout whose palette is known: rings where rows and hung rings are, other things only where they hang."""
    hanging = {key for key, role in zip(net.items, net.roles, strict=True) if role == FINDING}
    woven = {key for key, role in zip(net.items, net.roles, strict=True) if role != FINDING}
    palette: list[PaletteEntry] = []
    for place, entry in enumerate(layout.palette):
        field = f"rows.palette.{place}"
        found: list[Fault] = []
        thing = _part(entry.thing, field, kinds, metals, found)
        faults += [replace(one, field=one.field.replace(".quantity", ".each")) for one in found]
        kind = kinds.get(thing.item_id) if thing.item_id is not None else thing.typed_kind
        beside = f"{field}.{'kind' if thing.item_id is None else 'item_id'}"
        if kind is not None and entry.key in woven and kind != "ring":
            faults.append(Fault(beside, NO_RING))
        elif kind is not None and entry.key in hanging and kind not in HANGING:
            faults.append(Fault(beside, NOTHING_HANGS))
        elif kind in COUNTED_KINDS and thing.quantity_milli != 1000 and not found:
            faults.append(Fault(f"{field}.each", ONE_EACH))
        palette.append(replace(entry, thing=thing))
    return replace(layout, palette=tuple(palette))


def _never_closed(session: Session, layout: LayoutDraft, net: Net) -> list[Fault]:
    """What speaks against the maker's own set of rings closed beforehand, now that it is known what opens."""
    if layout.closed is None:
        return []
    wrong = closed_faults(net, layout_items(session, layout), [net.index(name) for name in layout.closed])
    return [Fault("rows.closed_beforehand", fault.message) for fault in wrong[:5]]


def _metal_called(words: str, metals: Mapping[str, Metal]) -> str | None:
    wanted = words.strip().casefold()
    found = [code for code, metal in metals.items() if wanted in {code.casefold(), metal.name.casefold()}]
    return found[0] if len(found) == 1 else None
