"""The JSON API: the same operations as the pages, under /api.

To add calls: write `webapp/api/<noun>.py` with a `router` whose prefix begins with `/api`, import it here, and add it
to the list.
"""

from __future__ import annotations

from fastapi import APIRouter

from webapp.api import (
    builds,
    buy_plan,
    buying,
    costing,
    counts,
    designs,
    drawings,
    items,
    jobs,
    kits,
    layouts,
    lots,
    make_plan,
    makeable,
    metals,
    movements,
    order_of_work,
    outlets,
    purchases,
    receipt_cost,
    receipts,
    rings,
    rings_first,
    scrap,
    settings,
    shelf,
    suppliers,
    swatches,
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
