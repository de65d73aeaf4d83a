"""A piece as a file: the SVG in its real size, a PNG painted from the same strokes. Where rings lie is in models."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO
from math import hypot

from PIL import Image, ImageDraw

from models.errors import Conflict
from models.intake.layouts.layout import Plan
from models.layouts.drawing.drawing import Look
from models.layouts.drawing.raster import Stroke, strokes
from models.layouts.drawing.tints import safe
from models.layouts.engine.items import Items
from models.layouts.engine.links import Net
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
_FINER = 2
"""Painted so many times larger and then made smaller, which smooths the edges."""
_SMOOTH_UP_TO = 1_500
"""Above so many rings the wires are a few pixels wide, so that rounded corners of a line show no more."""


@dataclass(frozen=True, slots=True)
class _Box:
    """The edges of what is painted, in millimetres."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def longer(self) -> float:
        """The longer side."""
        return max(self.right - self.left, self.bottom - self.top)


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
    lines = list(strokes(net, items, placed, only))
    if not lines:
        raise Conflict("There are no rings to draw yet.")
    box = _box(lines, tags)
    scale = (longer_px * _FINER) / (box.longer * 1.04)
    margin = box.longer * 0.02
    wide = max(1, round((box.right - box.left + 2 * margin) * scale))
    high = max(1, round((box.bottom - box.top + 2 * margin) * scale))
    image = Image.new("RGB", (wide, high), PAPER)
    painter = ImageDraw.Draw(image)
    left, top = box.left - margin, box.top - margin
    joint = "curve" if len(net) <= _SMOOTH_UP_TO else None
    for tag in tags:
        _paint_tag(painter, tag, placed, items, (left, top, scale))
    for line in lines:
        points = [((x - left) * scale, (y - top) * scale) for x, y in line.points]
        painter.line(points, fill=line.shade, width=max(1, round(line.wide_mm * scale)), joint=joint)
    image = image.resize((max(1, wide // _FINER), max(1, high // _FINER)), Image.Resampling.LANCZOS)
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


def _box(lines: list[Stroke], tags: list[Tag]) -> _Box:
    xs, ys = [x for line in lines for x, _ in line.points], [y for line in lines for _, y in line.points]
    half = max(line.wide_mm for line in lines) / 2
    xs += [tag.x_mm for tag in tags]
    ys += [tag.y_mm for tag in tags]
    return _Box(min(xs) - half, min(ys) - half, max(xs) + half, max(ys) + half)


def _paint_tag(
    painter: ImageDraw.ImageDraw, tag: Tag, placed: Placement, items: Items, frame: tuple[float, float, float]
) -> None:
    """Paint a dot for what hangs on the piece without a place of its own, with a thin line to what it hangs on."""
    left, top, scale = frame
    x, y = (tag.x_mm - left) * scale, (tag.y_mm - top) * scale
    hosts = [host for host in tag.hosts if placed.poses[host] >= 0][:60]
    reach = 0.0
    for host in hosts:
        at = ((placed.xs[host] - left) * scale, (placed.ys[host] - top) * scale)
        reach = max(reach, hypot(at[0] - x, at[1] - y))
        painter.line([at, (x, y)], fill=INK, width=max(1, round(scale * 0.1)))
    item = items.get(tag.item)
    size = max(3.0, min(reach * 0.2, scale * 0.8))
    painter.ellipse((x - size, y - size, x + size, y + size), fill=safe(item.tint) if item else PAPER, outline=INK)
