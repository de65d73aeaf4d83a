"""The JSON API: the same operations as the pages, under /api.

To add calls: write `webapp/api/<noun>.py` with a `router` whose prefix begins with `/api`, import it here, and add it
to the list.
"""

from __future__ import annotations

from fastapi import APIRouter

from webapp.api import builds, costing, designs, items, metals, outlets, rings, settings, suppliers, weaves

APIS: list[APIRouter] = [
    rings.router,
    items.router,
    suppliers.router,
    weaves.router,
    metals.router,
    designs.router,
    builds.router,
    costing.router,
    outlets.router,
    settings.router,
]
