"""Find anything: one box over stock items, designs, weaves, outlets and purchases. The rooms' lists narrow further."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import Response

from models.errors import fit_or
from models.intake.stock.item_find import read_item_filter
from models.queries.buying.purchase_find import FoundPurchase, find_purchases
from models.queries.costing.outlet import outlets_page
from models.queries.designs.list import DesignFilter, DesignRow, design_list
from models.queries.stock.item_find import find_items
from models.queries.stock.material import Material
from models.queries.stock.supplier import list_suppliers
from models.trade.weaves import WEAVES, Weave
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()

MOST_WORDS = 100
MOST_EACH = 12
"""How many of each kind are shown; the room's own list has the rest."""


@dataclass(frozen=True, slots=True)
class Found:
    """What the words found, a few of each kind, with how many there are in all."""

    words: str
    items: tuple[Material, ...]
    items_total: int
    designs: tuple[DesignRow, ...]
    designs_total: int
    weaves: tuple[Weave, ...]
    outlets: tuple[tuple[int, str], ...]
    suppliers: tuple[tuple[int, str], ...]
    purchases: tuple[FoundPurchase, ...]
    purchases_total: int
    scale_nm: int

    @property
    def total(self) -> int:
        """How many things were found in all."""
        named = len(self.weaves) + len(self.outlets) + len(self.suppliers)
        return self.items_total + self.designs_total + self.purchases_total + named


@router.get("/find")
def find_page(request: Request, q: str = "") -> Response:
    """Show what the words find."""
    words = " ".join(q.split())[:MOST_WORDS]
    return render(request, "find/find.html", _find(request, words))


def _find(request: Request, words: str) -> Found:
    if not words:
        return Found("", (), 0, (), 0, (), (), (), (), 0, 0)
    low = words.casefold()
    wanted, _ = fit_or(read_item_filter({"find": words}, length_unit=prefs_of(request).length_unit), None)
    session = reading(request)
    items = find_items(session, wanted, per_page=MOST_EACH) if wanted else None
    designs = design_list(session, DesignFilter(text=words)).rows
    outlets = outlets_page(session).outlets
    suppliers = list_suppliers(session)
    purchases, purchases_total = find_purchases(session, words, MOST_EACH)
    return Found(
        words=words,
        items=tuple(items.items) if items else (),
        items_total=items.total if items else 0,
        designs=tuple(designs[:MOST_EACH]),
        designs_total=len(designs),
        weaves=tuple(weave for weave in WEAVES.values() if low in weave.name.casefold()),
        outlets=tuple((outlet.id, outlet.draft.name) for outlet in outlets if low in outlet.draft.name.casefold()),
        suppliers=tuple((each.id, each.name) for each in suppliers if low in f"{each.name} {each.note}".casefold()),
        purchases=purchases,
        purchases_total=purchases_total,
        scale_nm=items.scale_nm if items else 0,
    )
