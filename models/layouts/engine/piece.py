"""A piece of rows or of chain worked out in one go: net, counts, totals, size, checks, and its drawing.

A thin thread through the other modules, for whoever shows a piece. Not here: any rule of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Context, Decimal

from models.layouts.drawing.drawing import MOST_MARKED, Look, draw
from models.layouts.engine.chains import Chain, chain_net, links_known
from models.layouts.engine.checks import Check, check
from models.layouts.engine.items import Items, Totals, totals
from models.layouts.engine.links import net_of
from models.layouts.engine.net import CONNECTOR, Net
from models.layouts.engine.rows import Layout
from models.layouts.places.chain import place_chain
from models.layouts.places.chain_sizes import ChainSwatch, Length, length_of
from models.layouts.places.hanging import Tag, hang
from models.layouts.places.sheet import Placement, Unplaced, one_size, place_sheet
from models.layouts.places.sizes import MEASURE, Finished, Swatch, finished, pitch_of
from models.trade.rings import RingSize
from models.trade.weaves import Band, FitNote

_CONTEXT = Context(prec=50)
MOST_CHAIN_DRAWN = 48
"""Up to so many rings of a chain are drawn, from its beginning."""


@dataclass(frozen=True, slots=True)
class Worked:
    """A piece worked out: every ring and link, mass and wire, finished size or length, and what to look at."""

    net: Net
    totals: Totals
    size: Finished | Length
    checks: tuple[Check, ...]


def work_out(
    layout: Layout,
    items: Items,
    *,
    swatch: Swatch | None = None,
    lots: Mapping[str, Sequence[int]] | None = None,
    band: Band | None = None,
    records: Sequence[FitNote] = (),
) -> Worked:
    """Return a piece of rows worked out. Raises: KeyError for a weave that is not laid in rows."""
    net = net_of(layout)
    size = one_size(net, items)
    if isinstance(size, Unplaced):
        measured = Finished(None, None, MEASURE, (size.reason,))
    else:
        measured = finished(layout, pitch_of(layout.weave, size, swatch, connector_size(net, items)))
    found = check(net, items, layout=layout, lots=lots, band=band, records=records)
    return Worked(net, totals(net.counts, items), measured, found)


def work_out_chain(
    chain: Chain,
    items: Items,
    *,
    swatches: Sequence[ChainSwatch] = (),
    lots: Mapping[str, Sequence[int]] | None = None,
    band: Band | None = None,
    records: Sequence[FitNote] = (),
) -> Worked:
    """Return a chain worked out. Raises: KeyError for an unknown weave."""
    net = chain_net(chain)
    known = links_known(chain)
    found = check(net, items, weave=chain.weave, lots=lots, band=band, records=records, links_known=known)
    return Worked(net, totals(net.counts, items), length_of(chain, items, swatches), found)


def connector_size(net: Net, items: Items) -> RingSize | None:
    """Return the ring size of the connectors of a hub weave, where it is known."""
    for index in range(net.woven):
        if net.roles[index] == CONNECTOR:
            item = items.get(net.items[index])
            return item.size if item else None
    return None


@dataclass(frozen=True, slots=True)
class Drawn:
    """A drawing, or None with the reason why there is none; `notes` say what to know about it."""

    svg: str | None
    notes: tuple[str, ...] = ()


def placed_piece(layout: Layout, net: Net, items: Items) -> Placement | Unplaced:
    """Return the places of the woven rings of a piece; of several sizes they are placed as the most used one."""
    size = one_size(net, items)
    if isinstance(size, Unplaced):
        if size.drawn_as is None:
            return size
        placed = place_sheet(layout, net, size.drawn_as, connector_size(net, items))
        if isinstance(placed, Placement):
            placed.notes.append("Drawn as if all rings had the size of most of them.")
        return placed
    return place_sheet(layout, net, size, connector_size(net, items))


Hung = tuple[Placement, list[Tag]]
"""The places of a piece, and tags for what found none."""


def hung_piece(layout: Layout, net: Net, items: Items) -> Hung | Unplaced:
    """Return the places of a piece of rows and of what hangs on it, and tags for what found no place."""
    placed = placed_piece(layout, net, items)
    if isinstance(placed, Unplaced):
        return placed
    return placed, hang(placed, net, items, layout.attachments, layout.up)


def draw_piece(layout: Layout, items: Items, look: Look | None = None, net: Net | None = None) -> Drawn:
    """Return the drawing of a piece of rows with what hangs on it."""
    net = net or net_of(layout)
    return draw_hung(hung_piece(layout, net, items), net, items, look or Look())


def draw_hung(hung: Hung | Unplaced, net: Net, items: Items, look: Look) -> Drawn:
    """Return one drawing of a piece whose places are known, so that several drawings need them found but once."""
    if isinstance(hung, Unplaced):
        return Drawn(None, (hung.reason,))
    placed, tags = hung
    notes = (*placed.notes, *_marked_notes(look))
    return Drawn(draw(net, items, placed, replace(look, tags=_shown_tags(tags, look))), notes)


def _marked_notes(look: Look) -> tuple[str, ...]:
    """Return that only some of the rings are marked, where there are too many."""
    if len(look.marks) <= MOST_MARKED:
        return ()
    return (f"Of {len(look.marks):,} rings to look at the first {MOST_MARKED:,} are marked.",)


def _shown_tags(tags: Sequence[Tag], look: Look) -> list[Tag]:
    """Return the tags of what is drawn; of some of the rings only, what stands for them."""
    if look.only is None:
        return list(tags)
    shown = set(look.only)
    return [replace(tag, rings=rest) for tag in tags if (rest := tuple(ring for ring in tag.rings if ring in shown))]


def draw_chain(chain: Chain, items: Items, look: Look | None = None, net: Net | None = None) -> Drawn:
    """Return the drawing of a chain, of a long one its beginning, where its places are verified."""
    net = net or chain_net(chain)
    placed = place_chain(chain, net, items)
    if isinstance(placed, Unplaced):
        return Drawn(None, (placed.reason,))
    look = look or Look()
    notes = list(placed.notes)
    if net.woven > MOST_CHAIN_DRAWN and look.only is None:
        look = replace(look, only=frozenset(range(MOST_CHAIN_DRAWN)))
        notes.append(f"The first {MOST_CHAIN_DRAWN} of {net.woven:,} rings.")
        return Drawn(draw(net, items, placed, look), tuple(notes))
    tags = hang(placed, net, items, chain.attachments, "first row")
    return Drawn(draw(net, items, placed, replace(look, tags=_shown_tags(tags, look))), tuple(notes))


@dataclass(frozen=True, slots=True)
class Changed:
    """What a change of a piece makes of one item: its rings before and after."""

    key: str
    label: str
    before: int
    after: int


@dataclass(frozen=True, slots=True)
class Difference:
    """What a change of a piece makes: by item, and in mass (g) and wire (mm), unrounded."""

    items: tuple[Changed, ...]
    mass_g: Decimal
    wire_mm: Decimal


def difference(before: Worked, after: Worked, items: Items) -> Difference:
    """Return what differs between two versions of a piece; items that take as many as before are left out."""
    old, new = before.net.counts, after.net.counts
    changed = tuple(
        Changed(key, items[key].label if key in items else key, old.get(key, 0), new.get(key, 0))
        for key in dict.fromkeys((*old, *new))
        if old.get(key, 0) != new.get(key, 0)
    )
    mass_g = _CONTEXT.subtract(after.totals.mass_g, before.totals.mass_g)
    return Difference(changed, mass_g, _CONTEXT.subtract(after.totals.wire_mm, before.totals.wire_mm))
