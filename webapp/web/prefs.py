"""How the shop likes its figures to be shown, read once a request. What they are lives in `models/queries/shop`."""

from __future__ import annotations

from contextvars import ContextVar

from fastapi import Request

from models.queries.shop.shop import UNFOUNDED, DisplayPrefs, display_prefs
from webapp.web.reading import reading

# Macros are rendered without the page's context, so the filters find the preferences here instead.
showing: ContextVar[DisplayPrefs] = ContextVar("showing", default=UNFOUNDED)


def prefs_of(request: Request) -> DisplayPrefs:
    """The preferences for this request, read from the shop at most once a request."""
    found = getattr(request.state, "prefs", None)
    if isinstance(found, DisplayPrefs):
        return found
    prefs = display_prefs(reading(request))
    request.state.prefs = prefs
    return prefs
