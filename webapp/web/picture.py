"""A piece as a file: the SVG in its real size, a PNG painted from the same strokes. Where rings lie is in models."""

from __future__ import annotations

from io import BytesIO
from math import hypot

from PIL import Image, ImageDraw

from models.errors import Conflict
from models.intake.layouts.layout import Plan
from models.layouts.drawing.drawing import Look
from models.layouts.drawing.raster import Frame, edges_of, patches
from models.layouts.drawing.tints import safe
from models.layouts.engine.items import Items
from models.layouts.engine.net import Net
from models.layouts.engine.piece import MOST_CHAIN_DRAWN, draw_chain, draw_piece, hung_piece
from models.layouts.engine.rows import Layout
from models.layouts.places.chain import place_chain
from models.layouts.places.hanging import Tag, hang
from models.layouts.places.sheet import Placement, Unplaced

PNG_SIZES = (600, 1200, 2400)
"""How many pixels the longer side of a PNG may have."""
USUAL_PNG = 1200
PAPER = "#ffffff"
INK = "#2a2420"
_MOST_LINES = 1_500
"""So many lines to what hangs without a place are painted in all, and of one tag no more than 60."""
_FINER = 2
"""Painted so many times larger and then made smaller, which smooths the edges."""


def svg_file(plan: Plan, items: Items, net: Net, title: str) -> str:
    """The drawing as a file of its own, in the real size of the piece. Raises: Conflict where it cannot be drawn."""
    look = Look(title=title, standalone=True)
    drawn = draw_piece(plan, items, look, net) if isinstance(plan, Layout) else draw_chain(plan, items, look, net)
    if drawn.svg is None:
        raise Conflict(f"This piece cannot be drawn. {' '.join(drawn.notes)}")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{drawn.svg}\n'


def png_file(plan: Plan, items: Items, net: Net, longer_px: int) -> bytes:
    """The drawing as a PNG, its longer side so many pixels. Raises: Conflict where it cannot be drawn."""
    placed, tags, only = _placed(plan, items, net)
    frame = _frame(edges_of(placed, only), tags, longer_px)
    wide = max(1, round((frame.right_mm - frame.left_mm) * frame.px_per_mm))
    high = max(1, round((frame.bottom_mm - frame.top_mm) * frame.px_per_mm))
    image = Image.new("RGB", (wide, high), PAPER)
    painter = ImageDraw.Draw(image)
    for tag in tags:
        _paint_tag(painter, tag, placed, items, frame, lines=min(60, _MOST_LINES // len(tags)))
    for patch in patches(net, items, placed, frame, only):
        painter.polygon(patch.points, fill=patch.shade)
    image = image.reduce(_FINER)
    out = BytesIO()
    image.save(out, "PNG", optimize=False)
    return out.getvalue()


def _placed(plan: Plan, items: Items, net: Net) -> tuple[Placement, list[Tag], frozenset[int] | None]:
    """Where everything lies, and for a long chain the rings at its beginning that are drawn."""
    if isinstance(plan, Layout):
        hung = hung_piece(plan, net, items)
        if isinstance(hung, Unplaced):
            raise Conflict(f"This piece cannot be drawn. {hung.reason}")
        return hung[0], hung[1], None
    placed = place_chain(plan, net, items)
    if isinstance(placed, Unplaced):
        raise Conflict(f"This piece cannot be drawn. {placed.reason}")
    if net.woven > MOST_CHAIN_DRAWN:
        return placed, [], frozenset(range(MOST_CHAIN_DRAWN))
    return placed, hang(placed, net, items, plan.attachments, "first row"), None


def _frame(edges: Frame | None, tags: list[Tag], longer_px: int) -> Frame:
    """What is painted with a margin round it, so that its longer side has as many pixels as wished for."""
    if edges is None:
        raise Conflict("There are no rings to draw yet.")
    left = min([edges.left_mm, *(tag.x_mm for tag in tags)])
    right = max([edges.right_mm, *(tag.x_mm for tag in tags)])
    top = min([edges.top_mm, *(tag.y_mm for tag in tags)])
    bottom = max([edges.bottom_mm, *(tag.y_mm for tag in tags)])
    longer = max(right - left, bottom - top)
    margin = longer * 0.02
    px_per_mm = longer_px * _FINER / (longer + 2 * margin)
    return Frame(left - margin, top - margin, right + margin, bottom + margin, px_per_mm)


def _paint_tag(
    painter: ImageDraw.ImageDraw, tag: Tag, placed: Placement, items: Items, frame: Frame, *, lines: int
) -> None:
    """Paint a dot for what hangs on the piece without a place of its own, with thin lines to what it hangs on."""
    left, top, scale = frame.left_mm, frame.top_mm, frame.px_per_mm
    x, y = (tag.x_mm - left) * scale, (tag.y_mm - top) * scale
    hosts = [host for host in tag.hosts if placed.poses[host] >= 0][: max(1, lines)]
    reach = 0.0
    for host in hosts:
        at = ((placed.xs[host] - left) * scale, (placed.ys[host] - top) * scale)
        reach = max(reach, hypot(at[0] - x, at[1] - y))
        painter.line([at, (x, y)], fill=INK, width=max(1, round(scale * 0.1)))
    item = items.get(tag.item)
    size = max(3.0, min(reach * 0.2, scale * 0.8))
    painter.ellipse((x - size, y - size, x + size, y + size), fill=safe(item.tint) if item else PAPER, outline=INK)
