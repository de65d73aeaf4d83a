"""The parts that follow from a layout: how many of each item it takes, and how many of them are closed beforehand.

What an item is comes in from outside; reading a layout is in `layout`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping
from dataclasses import replace

from models.intake.costing.part import PartDraft
from models.intake.layouts.layout import LayoutDraft
from models.layouts.engine.items import Item
from models.layouts.engine.net import FINDING, Net
from models.layouts.engine.rows import Layout
from models.layouts.steps.chain_work import best_closed
from models.layouts.steps.route import closed_on_route


def closed_rings(draft: LayoutDraft, net: Net, items: Mapping[str, Item]) -> frozenset[int]:
    """The rings closed beforehand, by index: the maker's own choice, else what the route (a chain: its weave) gives."""
    if draft.closed is not None:
        return frozenset(net.index(name) for name in draft.closed)
    if isinstance(draft.plan, Layout):
        return closed_on_route(net, items, draft.route, len(draft.plan.rows))
    return best_closed(net, items, draft.plan).rings


def parts_of_layout(draft: LayoutDraft, items: Mapping[str, Item], net: Net | None = None) -> tuple[PartDraft, ...]:
    """The parts that the rows make, in the order of the palette: each key once, with what it takes of it.

    Of rings, `closed_milli` says how many are closed beforehand; a ring that hangs as a finding is never opened.
    """
    net = net or draft.net()
    counts = net.counts
    shut = closed_rings(draft, net, items)
    closed = Counter(
        key
        for index, (key, role) in enumerate(zip(net.items, net.roles, strict=True))
        if index in shut or role == FINDING
    )
    return tuple(
        replace(
            entry.thing,
            quantity_milli=counts[entry.key] * entry.thing.quantity_milli,
            optional=False,
            choice_group="",
            choice_name="",
            joined=True,
            layout_key=entry.key,
            closed_milli=closed[entry.key] * 1000 if _is_ring(items.get(entry.key)) else None,
        )
        for entry in draft.palette
        if counts.get(entry.key)
    )


def plain_parts(parts: Collection[PartDraft]) -> tuple[PartDraft, ...]:
    """Parts as a plain list without rows: of a part with both kinds of ring, those closed beforehand stand apart."""
    found: list[PartDraft] = []
    for part in parts:
        bare = replace(part, layout_key="", closed_milli=None)
        closed_milli = part.closed_milli or 0
        if not closed_milli:
            found.append(bare)
            continue
        if closed_milli < part.quantity_milli:
            found.append(replace(bare, quantity_milli=part.quantity_milli - closed_milli))
        found.append(replace(bare, quantity_milli=closed_milli, joined=False))
    return tuple(found)


def own_parts(parts: Collection[PartDraft]) -> tuple[PartDraft, ...]:
    """The parts of the plain list, those that the rows make left out."""
    return tuple(part for part in parts if not part.layout_key)


def _is_ring(item: Item | None) -> bool:
    return item is not None and not item.finding
