"""The JSON API: the same operations as the pages, under /api.

To add calls: write `webapp/api/<subject>/<noun>.py` with a `router` whose prefix begins with `/api`, import it here,
and add it to the list.
"""

from __future__ import annotations

from fastapi import APIRouter

from webapp.api.builds import builds, rings_first
from webapp.api.buying import buy_plan, buying, purchases
from webapp.api.costing import costing, outlets
from webapp.api.designs import designs, kits
from webapp.api.layouts import drawings, layouts, order_of_work, swatches
from webapp.api.planning import make_plan, makeable
from webapp.api.shop import settings
from webapp.api.stock import (
    counts,
    items,
    jobs,
    lots,
    metals,
    movements,
    receipt_cost,
    receipts,
    rings,
    scrap,
    shelf,
    suppliers,
    weaves,
    weigh,
)

APIS: list[APIRouter] = [
    rings.router,
    items.router,
    shelf.router,
    lots.router,
    movements.router,
    receipts.router,
    receipt_cost.router,
    counts.router,
    scrap.router,
    jobs.router,
    weigh.router,
    suppliers.router,
    swatches.router,
    purchases.router,
    buy_plan.router,
    buying.router,
    weaves.router,
    metals.router,
    designs.router,
    rings_first.router,
    builds.router,
    makeable.router,
    make_plan.router,
    costing.router,
    layouts.router,
    drawings.router,
    kits.router,
    order_of_work.router,
    outlets.router,
    settings.router,
]
