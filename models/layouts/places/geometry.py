"""Ideal rings: their real size and pose, the pulled pitch of pairs, whether two are linked and how far apart they are.

Ideal rings are closed, round and rigid. All lengths in millimetres as floats: nothing here is counted or paid. Not
here: the pitches of a weave (weaves), which ring stands where (sheet, chain), finished sizes (sizes).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from models.trade.rings import RingSize

_NM_PER_MM = 1_000_000


@dataclass(frozen=True, slots=True)
class Ring:
    """One ring's real size in millimetres: the radius of its centre line and its wire."""

    radius_mm: float
    wire_mm: float

    @property
    def inner_mm(self) -> float:
        """Return the opening."""
        return 2 * self.radius_mm - self.wire_mm

    @property
    def outer_mm(self) -> float:
        """Return the outer diameter."""
        return 2 * self.radius_mm + self.wire_mm


def ring_mm(size: RingSize) -> Ring:
    """Return a ring's size in millimetres."""
    return Ring((size.inner_nm + size.wire_nm) / (2 * _NM_PER_MM), size.wire_nm / _NM_PER_MM)


@dataclass(frozen=True, slots=True)
class Flat:
    """A sheet opened flat: pitch along a row, pitch from row to row, and the sine and cosine of a ring's lean."""

    along_mm: float
    across_mm: float
    sine: float
    cosine: float


@lru_cache(maxsize=256)
def pair_pitch_mm(a: Ring, b: Ring) -> float:
    """Return the pulled distance from a pair of touching rings to the pair through it, which is turned 90 degrees.

    The least, over where the wires meet, of sqrt(Ra^2 - y^2) + sqrt(Rb^2 - z^2) - sqrt(D^2 - (y - db/2)^2 - (z -
    da/2)^2), D the mean wire: at that distance they touch, nearer they are slack. For equal rings y = z and it is the
    closed form of the 2-in-2 chain. Source: derived in this project.
    """
    mean = (a.wire_mm + b.wire_mm) / 2
    y0, z0, reach = b.wire_mm / 2, a.wire_mm / 2, mean
    best = (math.inf, y0, z0)
    for _ in range(22):
        _, y_mid, z_mid = best
        for i in range(-4, 5):
            for j in range(-4, 5):
                y, z = y_mid + reach * i / 4, z_mid + reach * j / 4
                room = mean * mean - (y - y0) ** 2 - (z - z0) ** 2
                if room < 0 or abs(y) > a.radius_mm or abs(z) > b.radius_mm:
                    continue
                apart = math.sqrt(a.radius_mm**2 - y * y) + math.sqrt(b.radius_mm**2 - z * z) - math.sqrt(room)
                if apart < best[0]:
                    best = (apart, y, z)
        reach *= 0.45
    return best[0]


Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Pose:
    """The way rings lie: the normal of their plane and their size; many rings share one."""

    normal: Vector
    ring: Ring


def axes(normal: Vector) -> tuple[Vector, Vector]:
    """Return two unit vectors in a ring's plane: the first the steepest way down (towards -z), the second level.

    A point of the ring at angle a is centre + R (cos a first + sin a second); its height is z - R m cos a, m the sine
    of the tilt.
    """
    nx, ny, nz = normal
    tilt = math.hypot(nx, ny)
    if tilt < 1e-12:
        return (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)
    ux, uy = nx / tilt, ny / tilt
    return (ux * nz, uy * nz, -tilt), (-uy, ux, 0.0)


@dataclass(frozen=True, slots=True)
class Circle:
    """The centre line of a ring in space; its normal has length 1."""

    centre: Vector
    normal: Vector
    radius_mm: float


def _dot(a: Vector, b: Vector) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _apart(a: Circle, b: Circle) -> Vector:
    """Return the way from one centre to another."""
    return (b.centre[0] - a.centre[0], b.centre[1] - a.centre[1], b.centre[2] - a.centre[2])


def linked(a: Circle, b: Circle) -> int:
    """Return the linking number of two circles, -1, 0 or 1: how often the second passes through the first one's disc.

    The second meets the plane of the first in two points at most; they are linked when just one lies in the disc.
    """
    first, second = axes(b.normal)
    way = _apart(a, b)
    across, along = b.radius_mm * _dot(first, a.normal), b.radius_mm * _dot(second, a.normal)
    off = _dot(way, a.normal)
    swing = math.hypot(across, along)
    if swing <= abs(off):
        return 0
    middle, half = math.atan2(along, across), math.acos(-off / swing)
    total = 0
    for sign, angle in ((1, middle + half), (-1, middle - half)):
        c, s = b.radius_mm * math.cos(angle), b.radius_mm * math.sin(angle)
        point = (
            way[0] + c * first[0] + s * second[0],
            way[1] + c * first[1] + s * second[1],
            way[2] + c * first[2] + s * second[2],
        )
        if _dot(point, point) - _dot(point, a.normal) ** 2 < a.radius_mm * a.radius_mm:
            total += sign
    return total


def nearest_mm(a: Circle, b: Circle, samples: int = 48) -> float:
    """Return the least distance between two circles: exact from points of the second, the best of them refined."""
    first, second = axes(b.normal)
    way = _apart(a, b)

    def at(angle: float) -> float:
        c, s = b.radius_mm * math.cos(angle), b.radius_mm * math.sin(angle)
        x = way[0] + c * first[0] + s * second[0]
        y = way[1] + c * first[1] + s * second[1]
        z = way[2] + c * first[2] + s * second[2]
        high = x * a.normal[0] + y * a.normal[1] + z * a.normal[2]
        flat = math.sqrt(max(0.0, x * x + y * y + z * z - high * high))
        return math.hypot(flat - a.radius_mm, high)

    step = 2 * math.pi / samples
    best = math.inf
    for value, start in sorted((at(place * step), place * step) for place in range(samples))[:3]:
        least, angle, width = value, start, step
        for _ in range(24):
            for trial in (angle - width / 2, angle + width / 2):
                here = at(trial)
                if here < least:
                    least, angle = here, trial
            width /= 2
        best = min(best, least)
    return best
