"""The rooms of the house: which routers answer pages, and which rooms the frame links to.

To add a room: write `webapp/pages/<subject>/<name>.py` with a `router`, import it here, and add it to both lists.
"""

from __future__ import annotations

from fastapi import APIRouter

from webapp.pages import bench, find
from webapp.pages.builds import builds
from webapp.pages.builds import finish as build_finish
from webapp.pages.builds import made as build_made
from webapp.pages.buying import buying, price_watch, purchases, reorder
from webapp.pages.costing import costing, outlets
from webapp.pages.designs import designs, kits, listing, variants
from webapp.pages.designs import editor as design_editor
from webapp.pages.layouts import drawings, laying_out, order_of_work, sheets, swatches
from webapp.pages.planning import make_plan, makeable
from webapp.pages.shop import files as imports
from webapp.pages.shop import settings, sign_in, welcome
from webapp.pages.stock import (
    counting,
    jobs,
    labels,
    metals,
    receipt_cost,
    receipts,
    rings,
    stand_ins,
    stock_out,
    suppliers,
    valuation,
    weaves,
)
from webapp.pages.stock import items as stock
from webapp.pages.stock import lots as stock_lots
from webapp.web.links import RoomLink

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
    stock_out.router,
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
