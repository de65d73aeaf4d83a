"""Which bag a page is about when its address names only a lot; with several, the page of the lot lets one be chosen."""

from __future__ import annotations

from urllib.parse import urlencode

from fastapi import Request
from fastapi.responses import RedirectResponse

from models.queries.stock.bag_choice import bags_meant, only_place
from models.queries.stock.lot import lot_view
from webapp.web.reading import reading


def place_named(request: Request, lot_id: int, place: str | None) -> str | None:
    """The place that the address names, else the lot's only one; None where it lies in several. Raises: Missing."""
    session = reading(request)
    if place is not None:
        return bags_meant(lot_view(session, lot_id), place)[0].place
    return only_place(session, lot_id)


def is_emptied(request: Request, lot_id: int, place: str) -> bool:
    """Whether some of a lot lay in a place and nothing does any more. Raises: Missing."""
    return lot_view(reading(request), lot_id).is_emptied(place)


def choose_bag(lot_id: int, *, emptied: str | None = None) -> RedirectResponse:
    """The page of a lot, where its bags stand side by side with what can be done with each.

    It says of a bag that was `emptied` that nothing lies there any more.
    """
    said = "" if emptied is None else f"?{urlencode({'emptied': emptied})}"
    return RedirectResponse(f"/stock/lots/{lot_id}{said}", status_code=303)
