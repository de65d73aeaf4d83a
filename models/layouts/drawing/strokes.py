"""The strokes that make a band of a ring look like round wire: cast shadow, edge, body, shade, light, gleam.

Not here: which arcs are in which band (picture), the whole drawing (drawing).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import degrees, hypot, pi

from models.layouts.drawing.picture import Arc, Shape
from models.layouts.drawing.tints import body_of, edge_of, gleam_of, light_of, shade_of

UNDER = 0.05
"""How far (radians) an arc runs on into its own ring's next band, so that no seam shows."""


def arc_path(shape: Shape, arc: Arc, scale: float) -> tuple[tuple[int, int], str]:
    """Return where an arc begins, relative to its ring's centre in units, and its path from there (relative)."""
    begin, end = arc.start, arc.end
    rx, ry = (round(half * scale) for half in shape.half_axes)
    turn = round(degrees(shape.angle), 1)
    x0, y0 = (round(value * scale) for value in shape.at(begin))
    sweep = 1 if shape.first[0] * shape.second[1] - shape.first[1] * shape.second[0] > 0 else 0
    # Seen edge on, an arc round the tip would end where it began, and such an arc is not painted: it goes in parts.
    edge_on = 10 * min(rx, ry) < max(rx, ry)
    steps = 4 if edge_on else 2 if end - begin > pi * 0.98 else 1
    path = ""
    x, y = x0, y0
    for step in range(1, steps + 1):
        x1, y1 = (round(value * scale) for value in shape.at(begin + (end - begin) * step / steps))
        path += f"a{rx} {ry} {turn:g} 0 {sweep} {x1 - x} {y1 - y}"
        x, y = x1, y1
    return (x0, y0), path


def tucked(shape: Shape, arc: Arc, more: float = UNDER) -> Arc:
    """Return the arc run on a little at both ends, unless it is the whole ring.

    Where it rises it runs on under the higher part of its own ring; where it falls, over the lower part, which has the
    same strokes there.
    """
    if arc.end - arc.start >= 2 * pi - 1e-9 or shape.rise <= 0:
        return arc
    return Arc(arc.start - more, arc.end + more)


@dataclass(frozen=True, slots=True)
class Ways:
    """The paths of one band of one kind of ring, in units: as it lies, and moved towards and away from the light."""

    wire: float
    edge: str
    body: str
    shadow: str
    shade: str
    light: str
    gleam: str

    @classmethod
    def of(cls, shape: Shape, arcs: Sequence[Arc], scale: float) -> Ways:
        def path(more: float) -> str:
            found = ""
            for arc in arcs:
                (x, y), way = arc_path(shape, tucked(shape, arc, more), scale)
                found += f"M{x} {y}{way}"
            return found

        def moved(to: tuple[float, float], more: float) -> str:
            return "".join(_moved(shape, tucked(shape, arc, more), scale, to) for arc in arcs)

        # The edge ends first and the cast shadow does not run on at all, so that no dark end shows across the wire.
        return cls(
            shape.ring.wire_mm * scale,
            path(UNDER),
            path(UNDER * 1.6),
            moved(_CAST, 0.0),
            moved(_SHADE, UNDER * 2.2),
            moved(_LIGHT, UNDER * 2.2),
            moved(GLEAM, UNDER * 2.2),
        )


# How far each stroke moves from the middle of the wire, in wires, towards the lower right; the light is
# at the upper left.
_CAST, _SHADE, _LIGHT, GLEAM = (0.07, 0.09), (0.19, 0.2), (-0.1, -0.11), (-0.14, -0.155)
_STEP = 0.07


def line_of(shape: Shape, arc: Arc, to: tuple[float, float] = (0.0, 0.0)) -> list[tuple[float, float]]:
    """Return points along an arc in millimetres from its ring's centre, moved sideways across its wire by `to` (wires).

    Light falls on a round wire that way: it moves the line across the wire, never along it.
    """
    line, _ = _sides(shape, arc, to, 0.0, _STEP)
    return line


def patch_of(
    shape: Shape, arc: Arc, wide: float, to: tuple[float, float] = (0.0, 0.0), step: float = _STEP
) -> list[tuple[float, float]]:
    """Return the outline of an arc that is so many wires wide, in millimetres from its ring's centre, moved by `to`.

    Its points are so many radians apart.
    """
    left, right = _sides(shape, arc, to, wide / 2, step)
    return left + right[::-1]


def _sides(
    shape: Shape, arc: Arc, to: tuple[float, float], half: float, step: float
) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Return the two sides of an arc, each half its breadth (in wires) from its middle, which is moved by `to`."""
    steps = max(2, round((arc.end - arc.start) / step))
    wire = shape.ring.wire_mm
    area = shape.first[0] * shape.second[1] - shape.first[1] * shape.second[0]
    left: list[tuple[float, float]] = []
    right: list[tuple[float, float]] = []
    for number in range(steps + 1):
        angle = arc.start + (arc.end - arc.start) * number / steps
        x, y = shape.at(angle)
        along_x, along_y = shape.at(angle + pi / 2)
        length = hypot(along_x, along_y) or 1.0
        across_x, across_y = -along_y / length, along_x / length
        off = (to[0] * across_x + to[1] * across_y) * wire
        # Moved inward past the centre of a tight bend, as at the tip of a ring seen edge on, the line would curl.
        most = 0.7 * length**3 / abs(area)
        for side, each in ((left, off + half * wire), (right, off - half * wire)):
            kept = min(each, most) if area > 0 else max(each, -most)
            side.append((x + kept * across_x, y + kept * across_y))
    return left, right


def _moved(shape: Shape, arc: Arc, scale: float, to: tuple[float, float]) -> str:
    """Return the path, in units, of an arc moved across its wire."""
    first, *rest = (f"{x * scale:.1f} {y * scale:.1f}" for x, y in line_of(shape, arc, to))
    return f"M{first}L{' '.join(rest)}"


def symbol(ways: Ways, tint: str, depth: float, name: str) -> str:
    """Return the strokes of one band of one kind of ring in one tint: cast shadow, edge, body, shade, light, gleam."""
    wire = ways.wire
    strokes = (
        (ways.edge, edge_of(tint, depth), 1.0),
        (ways.body, body_of(tint, depth), 0.83),
        (ways.shade, shade_of(tint, depth), 0.3),
        (ways.light, light_of(tint, depth), 0.42),
        (ways.gleam, gleam_of(tint, depth), 0.12),
    )
    painted = "".join(
        f'<path d="{way}" stroke="{shade}" stroke-width="{wire * wide:.1f}"/>' for way, shade, wide in strokes
    )
    cast = f'<path d="{ways.shadow}" stroke="#140f0a" stroke-opacity=".28" stroke-width="{wire * 1.04:.1f}"/>'
    return f'<g id="{name}">{cast}{painted}</g>'
