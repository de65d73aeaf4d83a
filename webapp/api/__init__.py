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
    items,
    make_plan,
    makeable,
    metals,
    movements,
    outlets,
    purchases,
    receipts,
    rings,
    scrap,
    settings,
    suppliers,
    weaves,
    weigh,
)

APIS: list[APIRouter] = [
    rings.router,
    items.router,
    movements.router,
    receipts.router,
    counts.router,
    scrap.router,
    weigh.router,
    suppliers.router,
    purchases.router,
    buy_plan.router,
    buying.router,
    weaves.router,
    metals.router,
    designs.router,
    builds.router,
    makeable.router,
    make_plan.router,
    costing.router,
    outlets.router,
    settings.router,
]
