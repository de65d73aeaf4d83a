"""The drawing of a design's rows under /api: the same files as on its page."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import Response

from webapp.pages.layouts.drawings import Number, Pixels, png_answer, svg_answer
from webapp.web.json_api import problems

router = APIRouter(prefix="/api", tags=["designs"])


def _file(kind: str, says: str) -> dict[int | str, dict[str, Any]]:
    schema = {"type": "string", "format": "binary"}
    return {200: {"description": says, "content": {kind: {"schema": schema}}}, **problems(404, 409, 422)}


@router.get(
    "/designs/{design_id}/layout.svg",
    response_class=Response,
    responses=_file("image/svg+xml", "The drawing in the real size of the piece."),
)
def layout_svg(request: Request, design_id: int, revision: Number = None) -> Response:
    """The drawing of a design's rows as SVG, from its latest revision or an earlier one."""
    return svg_answer(request, design_id, revision)


@router.get(
    "/designs/{design_id}/layout.png",
    response_class=Response,
    responses=_file("image/png", "The drawing; its longer side has `size` pixels."),
)
def layout_png(request: Request, design_id: int, revision: Number = None, size: Pixels = "1200") -> Response:
    """The drawing of a design's rows as PNG."""
    return png_answer(request, design_id, revision, int(size))
