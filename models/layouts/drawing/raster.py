"""The strokes of a drawing as filled outlines, in the order they are painted, for whoever makes a picture of pixels.

Not here: SVG (drawing), a library that paints.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from math import hypot, pi, sqrt
from typing import Literal

from models.layouts.drawing.picture import Arc, Picture, Shape, picture_of
from models.layouts.drawing.strokes import GLEAM, UNDER, patch_of, tucked
from models.layouts.drawing.tints import body_of, edge_of, gleam_of, safe
from models.layouts.engine.items import PLAIN_TINT, Items
from models.layouts.engine.net import Net
from models.layouts.places.sheet import Placement
from models.trade.breaks import go_on

Layer = Literal["edge", "body", "gleam"]
_LAYERS: tuple[Layer, ...] = ("edge", "body", "gleam")

MOST_PATCHES = 160_000
"""So many patches are painted: of a piece that takes more the gleam is left out, then the dark edge, then what lies
over what."""

# A wire thinner than this in pixels shows no gleam, no dark edge, nothing of what lies over what.
_GLEAM_PX, _EDGE_PX, _OVER_PX = 4.0, 2.0, 1.2
# An arc may miss its circle by this much of a pixel.
_MISSED_PX = 0.2
_COARSEST_STEP = 0.7


@dataclass(frozen=True, slots=True)
class Frame:
    """The edges of what is painted, in millimetres, and how many pixels one of them is."""

    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float
    px_per_mm: float = 1.0


@dataclass(frozen=True, slots=True)
class Patch:
    """One outline to be filled: its points, x and y in turn, in pixels from the frame's left and top edge."""

    points: list[float]
    shade: str
    layer: Layer


def edges_of(placed: Placement, only: Collection[int] | None = None) -> Frame | None:
    """Return the edges of all placed rings, or of some of them; None where none has a place."""
    picture = picture_of(placed, only)
    if not picture.kinds:
        return None
    lefts, tops, rights, bottoms = [], [], [], []
    for shape, members in zip(picture.kinds, picture.members, strict=True):
        wide = hypot(shape.first[0], shape.second[0]) + shape.ring.wire_mm / 2
        high = hypot(shape.first[1], shape.second[1]) + shape.ring.wire_mm / 2
        xs, ys = [placed.xs[index] for index in members], [placed.ys[index] for index in members]
        lefts.append(min(xs) - wide)
        rights.append(max(xs) + wide)
        tops.append(min(ys) - high)
        bottoms.append(max(ys) + high)
    return Frame(min(lefts), min(tops), max(rights), max(bottoms))


def patches(
    net: Net, items: Items, placed: Placement, frame: Frame, only: Collection[int] | None = None
) -> Iterator[Patch]:
    """Yield the patches of all placed rings from the back to the front: edge, body and gleam of every arc.

    What is too small to be told apart in the frame's pixels is left out, so that a picture of many rings does not take
    longer than its pixels are worth.
    """
    picture = picture_of(placed, only)
    bands, layers = _shown(picture, frame)
    tints = {key: safe(item.tint) for key, item in items.items()}
    last = max(1, len(bands) - 1)
    for band, arcs_of in enumerate(bands):
        for layer in layers:
            for kind, arcs in arcs_of.items():
                outlines = _outlines(picture.kinds[kind], arcs, layer, frame)
                shades: dict[str, str] = {}
                for number, index in enumerate(picture.members[kind]):
                    if not number % 500:
                        go_on()
                    key = net.items[index]
                    if key not in shades:
                        shades[key] = _SHADES[layer](tints.get(key, PLAIN_TINT), 1 - band / last)
                    x = (placed.xs[index] - frame.left_mm) * frame.px_per_mm
                    y = (placed.ys[index] - frame.top_mm) * frame.px_per_mm
                    for xs, ys in outlines:
                        points = [0.0] * (2 * len(xs))
                        points[::2] = [x + dx for dx in xs]
                        points[1::2] = [y + dy for dy in ys]
                        yield Patch(points, shades[key], layer)


def _shown(picture: Picture, frame: Frame) -> tuple[list[dict[int, tuple[Arc, ...]]], tuple[Layer, ...]]:
    """Return the bands and layers that are painted: those that can be told apart, and no more patches than may be."""
    thick_px = max((shape.ring.wire_mm for shape in picture.kinds), default=0.0) * frame.px_per_mm
    each = sum(len(arcs) * len(picture.members[kind]) for band in picture.bands for kind, arcs in band.items())
    for layers, least_px in ((_LAYERS, _GLEAM_PX), (_LAYERS[:2], _EDGE_PX), (_LAYERS[1:2], _OVER_PX)):
        if thick_px >= least_px and each * len(layers) <= MOST_PATCHES:
            return picture.bands, layers
    return [{kind: (Arc(0.0, 2 * pi),) for kind in range(len(picture.kinds))}], _LAYERS[1:2]


def _outlines(shape: Shape, arcs: tuple[Arc, ...], layer: Layer, frame: Frame) -> list[tuple[list[float], list[float]]]:
    """Return the outline of each arc of one kind of ring in pixels from its centre, x and y apart."""
    radius_px = shape.ring.radius_mm * frame.px_per_mm
    step = min(_COARSEST_STEP, sqrt(8 * _MISSED_PX / max(radius_px, 1e-6)))
    thin = shape.ring.wire_mm * frame.px_per_mm < _EDGE_PX
    wide = 1.0 if thin else _WIDE[layer]
    to = GLEAM if layer == "gleam" else (0.0, 0.0)
    # The body runs on further than its edge, so that no dark end shows across the wire.
    more = UNDER if layer == "edge" else 2.5 * UNDER
    found = []
    for arc in arcs:
        points = patch_of(shape, tucked(shape, arc, more), wide, to, step)
        found.append(([x * frame.px_per_mm for x, _ in points], [y * frame.px_per_mm for _, y in points]))
    return found


_SHADES = {"edge": edge_of, "body": body_of, "gleam": gleam_of}
_WIDE = {"edge": 1.0, "body": 0.8, "gleam": 0.16}
"""The breadth of each layer, in wires."""
