"""One Jinja environment and the one way to answer with a page or a part of it.

A page's data comes as a frozen view from a query; the frame around it (rooms, done message, preferences) is added here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from jinja2_fragments import render_block

from models.queries.shop.idempotency import done_with
from models.queries.shop.shop import UNFOUNDED, DisplayPrefs
from webapp.web import drawings
from webapp.web import filters as show
from webapp.web.forms import Form, fresh_token
from webapp.web.links import RoomLink
from webapp.web.prefs import prefs_of, showing
from webapp.web.reading import end_reading, reading
from webapp.web.vocabularies import VOCABULARIES

PHONE_ROOMS = 5
"""As many rooms as fit a thumb along the bottom of a phone; the others are under 'More'."""


@dataclass(frozen=True, slots=True)
class Said:
    """What was just done, in words, and how to take it back: a path to post to, or none."""

    text: str
    undo_path: str = ""
    undo_label: str = ""
    undo_token: str = ""


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands around a page: the rooms (and the one we are in), the finder, the done message, the preferences."""

    rooms: tuple[RoomLink, ...]
    room: RoomLink | None
    path: str
    finder_path: str | None
    prefs: DisplayPrefs
    said: Said | None

    @property
    def on_phone(self) -> tuple[RoomLink, ...]:
        """The rooms along the bottom of a phone."""
        return self.rooms[:PHONE_ROOMS]

    @property
    def under_more(self) -> tuple[RoomLink, ...]:
        """The rooms that a phone shows under 'More'."""
        return self.rooms[PHONE_ROOMS:]


def template_folder() -> Path:
    """Where the templates are: inside the package when installed from a wheel, else at the top of the source tree."""
    packaged = Path(__file__).parent.parent / "_templates"
    return packaged if packaged.is_dir() else Path(__file__).parent.parent.parent / "templates"


@lru_cache(maxsize=1)
def environment() -> Environment:
    """The Jinja environment, with our filters and with the shared macros as `forms`, `draw` and `icons`."""
    built = Environment(
        loader=FileSystemLoader(template_folder()),
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
        cache_size=-1,
    )
    show.register(built)
    built.globals.update(
        price_line_geometry=drawings.price_line,
        cost_bar_geometry=drawings.cost_bar,
        range_bar_geometry=drawings.range_bar,
        ring_geometry=drawings.ring,
        fresh_token=fresh_token,
        vocabulary=VOCABULARIES,
    )
    # As globals the macros are there in a block that is rendered alone, where a page's own imports are not run.
    # Each finds those before it.
    for name in ("icons", "forms", "draw", "labels"):
        file = "_drawings.html" if name == "draw" else f"_{name}.html"
        built.globals[name] = built.get_template(file).module
    return built


def render(
    request: Request,
    name: str,
    view: object = None,
    *,
    block: str | None = None,
    status: int | None = None,
    form: Form | None = None,
    **more: object,
) -> HTMLResponse:
    """Answer with a page, or with one named block of it when htmx asked and a block is given.

    The template finds `view`, `form`, `frame` and whatever is given by name. A form brings its own status (422 with
    faults), which an explicit `status` overrides.
    """
    alone = block if is_htmx(request) else None
    prefs = prefs_of(request)
    frame = frame_of(request, prefs)
    context = {"view": view, "form": form, "frame": frame, **more}
    code = status if status is not None else form.status if form else 200
    return HTMLResponse(
        html(name, context, prefs, block=alone),
        status_code=code,
        headers={"Vary": "HX-Request", "Cache-Control": "private, no-cache"},
    )


def html(name: str, context: Mapping[str, Any], prefs: DisplayPrefs, *, block: str | None = None) -> str:
    """Render a template, or one block of it, with figures shown by these preferences."""
    kept = showing.set(prefs)
    try:
        if block is not None:
            return render_block(environment(), name, block, **context)
        return environment().get_template(name).render(context)
    finally:
        showing.reset(kept)


def is_htmx(request: Request) -> bool:
    """Whether htmx asks for a part of a page; a restored page from its history needs the whole."""
    return request.headers.get("hx-request") == "true" and request.headers.get("hx-history-restore-request") != "true"


def frame_of(request: Request, prefs: DisplayPrefs) -> Frame:
    """The frame of a page: only rooms that exist."""
    state = request.app.state
    rooms: tuple[RoomLink, ...] = state.room_links
    path = request.url.path
    return Frame(
        rooms=rooms,
        room=next((room for room in rooms if room.holds(path)), None),
        path=path,
        finder_path=state.finder_path,
        prefs=prefs,
        said=_said_here(request),
    )


def bare_frame(path: str = "/", rooms: tuple[RoomLink, ...] = ()) -> Frame:
    """A frame for answers given before the shop is asked: refusals and breakdowns."""
    return Frame(rooms=rooms, room=None, path=path, finder_path=None, prefs=UNFOUNDED, said=None)


def let_go(request: Request) -> None:
    """Read what stands around the page, then hold nothing of the shop open while something long is worked out."""
    prefs_of(request)
    _said_here(request)
    end_reading(request)


def _said_here(request: Request) -> Said | None:
    if not hasattr(request.state, "said"):
        request.state.said = _said(request)
    found: Said | None = request.state.said
    return found


def _said(request: Request) -> Said | None:
    key = request.query_params.get("said")
    if not key or request.method not in {"GET", "HEAD"}:
        return None
    result = done_with(reading(request), key)
    if not result or not result.get("said"):
        return None
    undo = str(result.get("undo_path") or "")
    return Said(
        text=str(result["said"]),
        undo_path=undo,
        undo_label=str(result.get("undo_label") or "Undo"),
        undo_token=fresh_token() if undo else "",
    )
