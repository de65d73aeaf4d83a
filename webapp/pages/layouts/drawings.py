"""A design's drawing to download: as SVG in its real size, or as a PNG."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from models.queries.designs.drawing import piece_drawing
from webapp.web.picture import USUAL_PNG, png_file, svg_file
from webapp.web.reading import reading

router = APIRouter()
Number = Annotated[int | None, Query(ge=1, le=2**31 - 1)]
Pixels = Annotated[Literal["600", "1200", "2400"], Query()]

SVG_POLICY = "default-src 'none'; sandbox"
"""A drawing opened by its own address runs and loads nothing."""


@router.get("/designs/{design_id}/drawing.svg")
def svg_page(request: Request, design_id: int, revision: Number = None) -> Response:
    """The drawing as SVG."""
    return svg_answer(request, design_id, revision)


@router.get("/designs/{design_id}/drawing.png")
def png_page(request: Request, design_id: int, revision: Number = None, size: Pixels = "1200") -> Response:
    """The drawing as PNG; `size` is the longer side in pixels."""
    return png_answer(request, design_id, revision, int(size))


def svg_answer(request: Request, design_id: int, revision: int | None) -> Response:
    """The SVG of a design's rows as an answer. Raises: Missing, Conflict."""
    piece = piece_drawing(reading(request), design_id, revision)
    content = svg_file(piece.layout.plan, piece.items, piece.net, piece.title)
    return Response(content, media_type="image/svg+xml", headers=_headers(piece.title, "svg"))


def png_answer(request: Request, design_id: int, revision: int | None, pixels: int = USUAL_PNG) -> Response:
    """The PNG of a design's rows as an answer. Raises: Missing, Conflict."""
    piece = piece_drawing(reading(request), design_id, revision)
    content = png_file(piece.layout.plan, piece.items, piece.net, pixels)
    return Response(content, media_type="image/png", headers=_headers(piece.title, "png"))


def _headers(title: str, ending: str) -> dict[str, str]:
    """The headers of a drawing; its file is called after the design, in letters that every system takes."""
    plain = re.sub(r"[^A-Za-z0-9]+", "-", title).strip("-").lower() or "drawing"
    return {
        "Content-Disposition": f'inline; filename="{plain[:80]}.{ending}"',
        "Content-Security-Policy": SVG_POLICY,
        "X-Content-Type-Options": "nosniff",
        "Cache-Control": "private, no-cache",
    }
