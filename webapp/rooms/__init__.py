"""The rooms of the house: which routers answer pages, and which rooms the frame links to.

To add a room: write `webapp/rooms/<name>.py` with a `router`, import it here, and add it to both lists.
"""

from __future__ import annotations

from fastapi import APIRouter

from webapp.frame.links import RoomLink
from webapp.rooms import (
    bench,
    build_finish,
    build_made,
    builds,
    buying,
    costing,
    counting,
    design_editor,
    designs,
    drawings,
    find,
    imports,
    jobs,
    kits,
    labels,
    laying_out,
    leaving,
    listing,
    make_plan,
    makeable,
    metals,
    order_of_work,
    outlets,
    price_watch,
    purchases,
    receipt_cost,
    receipts,
    reorder,
    rings,
    settings,
    sheets,
    sign_in,
    stand_ins,
    stock,
    stock_lots,
    suppliers,
    swatches,
    valuation,
    variants,
    weaves,
    welcome,
)

__all__ = ["FINDER_PATH", "ROOMS", "ROOM_LINKS", "RoomLink"]

ROOMS: list[APIRouter] = [
    bench.router,
    costing.router,
    listing.router,
    variants.router,
    drawings.router,
    kits.router,
    sheets.router,
    order_of_work.router,
    laying_out.router,
    design_editor.router,
    designs.router,
    build_made.router,
    builds.router,
    make_plan.router,
    makeable.router,
    build_finish.router,
    labels.router,
    stock.router,
    stock_lots.router,
    stand_ins.router,
    receipts.router,
    receipt_cost.router,
    counting.router,
    leaving.router,
    jobs.router,
    rings.router,
    weaves.router,
    metals.router,
    swatches.router,
    suppliers.router,
    buying.router,
    purchases.router,
    reorder.router,
    price_watch.router,
    outlets.router,
    settings.router,
    valuation.router,
    sign_in.router,
    find.router,
    imports.router,
    welcome.router,
]

# In this order: Bench, Stock, Designs, Builds, Orders, Buying, Outlets, Books, Settings. A room that does not
# exist yet has no line.
ROOM_LINKS: list[RoomLink] = [
    RoomLink("Bench", "/", "bench"),
    RoomLink("Stock", "/stock", "stock"),
    RoomLink("Designs", "/designs", "designs"),
    RoomLink("Builds", "/builds", "builds"),
    RoomLink("Buying", "/buying", "buying"),
    RoomLink("Outlets", "/outlets", "outlets"),
    RoomLink("Settings", "/settings", "settings"),
]

FINDER_PATH: str | None = "/find"
"""Where the finder in the frame sends its words as `q`; without it the frame shows no finder."""
