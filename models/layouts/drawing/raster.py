"""The strokes of a drawing as plain points, in the order they are painted, for whoever makes a picture of pixels.

Not here: SVG (drawing), a library that paints.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Literal

from models.layouts.drawing.picture import picture_of
from models.layouts.drawing.strokes import GLEAM, UNDER, line_of, tucked
from models.layouts.drawing.tints import body_of, edge_of, gleam_of, safe
from models.layouts.engine.items import PLAIN_TINT, Items
from models.layouts.engine.links import Net
from models.layouts.places.sheet import Placement

Point = tuple[float, float]
Layer = Literal["edge", "body", "gleam"]
_LAYERS: tuple[Layer, ...] = ("edge", "body", "gleam")


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points, in millimetres of the piece, with its breadth in millimetres and its shade."""

    points: tuple[Point, ...]
    wide_mm: float
    shade: str


def strokes(net: Net, items: Items, placed: Placement, only: Collection[int] | None = None) -> Iterator[Stroke]:
    """Yield the strokes of all placed rings from the back to the front: edge, body and gleam of every arc."""
    picture = picture_of(placed, only)
    last = max(1, len(picture.bands) - 1)
    for band, arcs_of in enumerate(picture.bands):
        for layer in _LAYERS:
            for kind, arcs in arcs_of.items():
                shape = picture.kinds[kind]
                to = GLEAM if layer == "gleam" else (0.0, 0.0)
                # The body runs on further than its edge, so that no dark end shows across the wire.
                more = UNDER if layer == "edge" else 2.5 * UNDER
                lines = [line_of(shape, tucked(shape, arc, more), to) for arc in arcs]
                for index in picture.members[kind]:
                    x, y = placed.xs[index], placed.ys[index]
                    item = items.get(net.items[index])
                    shade, wide = _shade(safe(item.tint) if item else PLAIN_TINT, 1 - band / last, layer)
                    for line in lines:
                        points = tuple((x + dx, y + dy) for dx, dy in line)
                        yield Stroke(points, shape.ring.wire_mm * wide, shade)


def _shade(tint: str, depth: float, layer: Layer) -> tuple[str, float]:
    """Return the shade and the breadth, in wires, of one layer of a stroke."""
    if layer == "edge":
        return edge_of(tint, depth), 1.0
    return (body_of(tint, depth), 0.8) if layer == "body" else (gleam_of(tint, depth), 0.16)
