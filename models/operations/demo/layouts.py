"""The invented studio's pieces that are laid out in rows: shapes of our own, built with the same helpers as a person's.

The parts of these designs follow from their rows; `designs` holds the others and what stands beside the rows.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from models.intake.costing.part import PartDraft
from models.intake.layouts.layout import LayoutDraft, PaletteEntry, item_key
from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chains import Chain, Stretch
from models.layouts.engine.edits import drop_rings
from models.layouts.engine.patterns import border, stripes
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import fan, lozenge
from models.layouts.steps.route import Route
from models.layouts.weaves.sheets import EUROPEAN_4
from models.trade.faults import Fault

Items = Mapping[str, int]
EDGE, FIELD, RING = "bronze-c226 1.0 3.6", "aluminium-5356 1.0 3.6 leaf green", "bronze-c226 1.6 6.5"
CHAIN = "fine chain, bronze"
SILVER, END, TOGGLE = "sterling-925 1.0 3.6", "sterling-925 1.2 5.0", "toggle clasp, sterling"
SKY, VIOLET, WIRE = "aluminium-5356 1.0 3.6 sky blue", "aluminium-5356 1.0 3.6 violet", "ear wire, bronze"


def layout_for(design: str, items: Items) -> LayoutDraft | None:
    """How a design of the demo is laid out; None for one with a plain list of parts."""
    make = LAYOUTS.get(design)
    return None if make is None else make(items)


def _saltmarsh(items: Items) -> LayoutDraft:
    """A lozenge of eleven rows with a border of one ring, gathered by a larger ring that a neck chain runs through."""
    edge, field, ring, chain = (item_key(items[name]) for name in (EDGE, FIELD, RING, CHAIN))
    piece = Layout(
        EUROPEAN_4,
        lozenge(EUROPEAN_4, 6, field).rows,
        (
            Attachment("gathering ring", "gather", Selection("first row"), ring=ring),
            Attachment("neck chain", "join", Selection("attachment", of="gathering ring"), finding=chain),
        ),
    )
    palette = (
        _entry(items[EDGE], "border"),
        _entry(items[FIELD], "field"),
        _entry(items[RING], "gathering ring"),
        _entry(items[CHAIN], "neck chain", each_milli=450),
    )
    # From the widest row outward, each row hangs on rings that are held already.
    return LayoutDraft(_sure(border(piece, edge)), palette, Route(start_row=6, method="adding closed rings"))


def _tideline(items: Items) -> LayoutDraft:
    """Byzantine to the wrist's length, a larger ring through the pair at each end, a toggle on the last."""
    end = item_key(items[END])
    chain = Chain(
        "byzantine",
        (Stretch(27, (item_key(items[SILVER]),)),),
        attachments=(
            Attachment("first end", "gather", Selection("row starts"), ring=end),
            Attachment("last end", "gather", Selection("row ends"), ring=end),
            Attachment("toggle", "clasp", Selection("attachment", of="last end"), finding=item_key(items[TOGGLE])),
        ),
    )
    return LayoutDraft(chain, (_entry(items[SILVER], "chain"), _entry(items[END], "ends"), _entry(items[TOGGLE])))


def _cockle(items: Items) -> LayoutDraft:
    """A fan of seven rows, striped outward from its widest row, hung by a ring from an ear wire."""
    sky, violet = item_key(items[SKY]), item_key(items[VIOLET])
    piece = Layout(
        EUROPEAN_4,
        fan(EUROPEAN_4, 7, 7, sky).rows,
        (
            Attachment("hanging ring", "gather", Selection("last row"), ring=item_key(items[RING])),
            Attachment("wire", "bail", Selection("attachment", of="hanging ring"), finding=item_key(items[WIRE])),
        ),
        up="last row",
    )
    palette = (
        _entry(items[SKY], "fan"),
        _entry(items[VIOLET], "stripes"),
        _entry(items[RING], "hanging ring"),
        _entry(items[WIRE]),
    )
    striped = _sure(stripes(piece, [(sky, 2), (violet, 1)]))
    # The corner rings of the widest row would hang by one ring each, so they are left out.
    return LayoutDraft(_sure(drop_rings(striped, ["1.1", "1.7"])), palette)


def _entry(item_id: int, purpose: str = "", *, each_milli: int = 1000) -> PaletteEntry:
    return PaletteEntry(item_key(item_id), PartDraft(each_milli, item_id=item_id, purpose=purpose))


def _sure(found: Layout | Fault) -> Layout:
    if isinstance(found, Fault):
        raise ValueError(f"the demo's rows no longer lay: {found.field}: {found.message}")
    return found


LAYOUTS: dict[str, Callable[[Items], LayoutDraft]] = {
    "Saltmarsh pendant": _saltmarsh,
    "Tideline bracelet": _tideline,
    "Cockle earring": _cockle,
}
