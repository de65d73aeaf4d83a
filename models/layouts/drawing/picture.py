"""From places in space to what lies over what: every ring cut into arcs, and the arcs sorted into bands of height.

At a crossing two wires that do not overlap are at least a wire apart in height, so a band thinner than the thinnest
wire never holds both of them, and painting band after band from the back puts the higher wire over the lower one at
every crossing. Not here: SVG (drawing), where rings are (place, chain_place, hanging).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from models.layouts.places.geometry import Ring, Vector
from models.layouts.places.sheet import Placement

_FLAT = 1e-9
_EDGE_ON = 0.02
"""A ring seen edge on is drawn with this much of its breadth, so that its ends stay round."""

MOST_BANDS = 400


@dataclass(frozen=True, slots=True)
class Arc:
    """A part of a ring within one band, relative to the ring's centre: from one angle to another (radians).

    A point at angle a is (R (cos a e1x + sin a e2x), R (cos a e1y + sin a e2y)).
    """

    start: float
    end: float


@dataclass(frozen=True, slots=True)
class Shape:
    """How a pose looks from the front: an ellipse by its half axes in mm and the angle of the first (radians)."""

    ring: Ring
    first: tuple[float, float]
    second: tuple[float, float]
    rise: float

    @property
    def half_axes(self) -> tuple[float, float]:
        """Return the half axes of the projected centre line, along `first` and `second`."""
        return math.hypot(*self.first), math.hypot(*self.second)

    @property
    def angle(self) -> float:
        """Return the direction of the first half axis."""
        return math.atan2(self.first[1], self.first[0])

    def at(self, angle: float) -> tuple[float, float]:
        """Return the point of the centre line at an angle, relative to the ring's centre."""
        c, s = math.cos(angle), math.sin(angle)
        return c * self.first[0] + s * self.second[0], c * self.first[1] + s * self.second[1]

    def height(self, angle: float) -> float:
        """Return the height of the centre line at an angle, relative to the ring's centre."""
        return -self.rise * math.cos(angle)


def shape_of(normal: Vector, ring: Ring) -> Shape:
    """Return how a ring with this normal looks from the front. Its lowest point is at angle 0, its highest at pi."""
    nx, ny, nz = normal
    tilt = math.hypot(nx, ny)
    radius = ring.radius_mm
    if tilt < _FLAT:
        return Shape(ring, (radius, 0.0), (0.0, radius), 0.0)
    ux, uy = nx / tilt, ny / tilt
    seen = abs(nz) if abs(nz) > _EDGE_ON else _EDGE_ON
    sign = 1.0 if nz >= 0 else -1.0
    return Shape(
        ring, (sign * ux * seen * radius, sign * uy * seen * radius), (-uy * radius, ux * radius), tilt * radius
    )


@dataclass(slots=True)
class Picture:
    """What is painted, band after band from the back: for each, which rings, and which arcs of each kind of ring.

    `kinds` are the distinct (pose, height) of rings, `lifts` their heights, `members` their rings; `kind_of` is the
    kind of each placed ring, `bands[k]` the arcs of each kind in band k. `edges` are the heights between bands. Rings
    without a place are not in it.
    """

    kinds: list[Shape] = field(default_factory=list)
    kind_of: dict[int, int] = field(default_factory=dict)
    members: list[list[int]] = field(default_factory=list)
    lifts: list[float] = field(default_factory=list)
    bands: list[dict[int, tuple[Arc, ...]]] = field(default_factory=list)
    edges: list[float] = field(default_factory=list)


def picture_of(placed: Placement, rings: Iterable[int] | None = None, *, finer: int = 1) -> Picture:
    """Return the bands and arcs of the placed rings (all, or some of them by index).

    Bands are no thicker than the thinnest wire over `finer`; more bands also order wires that lie side by side.
    """
    found = Picture()
    known: dict[tuple[int, float], int] = {}
    for index in range(len(placed.poses)) if rings is None else rings:
        pose = placed.poses[index]
        if pose < 0:
            continue
        key = (pose, round(placed.zs[index], 6))
        kind = known.get(key)
        if kind is None:
            kind = known[key] = len(found.kinds)
            found.kinds.append(shape_of(placed.table[pose].normal, placed.table[pose].ring))
            found.lifts.append(placed.zs[index])
            found.members.append([])
        found.kind_of[index] = kind
        found.members[kind].append(index)
    if not found.kinds:
        return found
    found.edges = _edges(found, finer)
    found.bands = [{} for _ in range(len(found.edges) - 1)]
    for kind, shape in enumerate(found.kinds):
        for band, arcs in _cut(shape, found.lifts[kind], found.edges):
            found.bands[band][kind] = arcs
    return found


def _edges(picture: Picture, finer: int) -> list[float]:
    """Return the heights between bands: evenly from the lowest to the highest centre line, no thicker than a wire."""
    low = min(lift - shape.rise for shape, lift in zip(picture.kinds, picture.lifts, strict=True))
    high = max(lift + shape.rise for shape, lift in zip(picture.kinds, picture.lifts, strict=True))
    wire = min(shape.ring.wire_mm for shape in picture.kinds)
    # A hair under the wire: wires that just touch are exactly one wire apart at their crossing.
    count = min(MOST_BANDS, max(1, math.ceil((high - low) / (wire * 0.999) * finer)))
    thick = (high - low) / count
    return [low + thick * number for number in range(count)] + [high]


def _cut(shape: Shape, lift: float, edges: list[float]) -> list[tuple[int, tuple[Arc, ...]]]:
    """Return the arcs of a ring in each band that it passes through.

    Its height is lift - rise cos a, so each band holds a mirrored pair of arcs, which are one at the lowest and the
    highest point.
    """
    last = len(edges) - 2
    if shape.rise < _FLAT:
        band = next((number for number in range(last + 1) if lift < edges[number + 1]), last)
        return [(band, (Arc(0.0, 2 * math.pi),))]
    found: list[tuple[int, tuple[Arc, ...]]] = []
    for band in range(last + 1):
        low, high = (edges[band] - lift) / shape.rise, (edges[band + 1] - lift) / shape.rise
        if high <= -1 + 1e-9 or low >= 1 - 1e-9:
            continue
        begin = 0.0 if low <= -1 + 1e-9 else math.acos(-low)
        end = math.pi if high >= 1 - 1e-9 else math.acos(-high)
        if begin <= 0.0 and end >= math.pi:
            arcs: tuple[Arc, ...] = (Arc(0.0, 2 * math.pi),)
        elif begin <= 0.0:
            arcs = (Arc(-end, end),)
        elif end >= math.pi:
            arcs = (Arc(begin, 2 * math.pi - begin),)
        else:
            arcs = (Arc(begin, end), Arc(-end, -begin))
        found.append((band, arcs))
    return found
