"""Places for what hangs on a piece: each is tried and kept only when it links just what it should and touches nothing.

Rings that find no such place, and findings, get a tag beside the piece instead. Not here: which rings they hang on
(links, choose).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from models.trade.layout.attach import Attachment
from models.trade.layout.geometry import Circle, Ring, Vector, axes, linked, nearest_mm, ring_mm
from models.trade.layout.items import Items
from models.trade.layout.links import FINDING, Net
from models.trade.layout.place import Placement, Pose, turned_point
from models.trade.layout.rows import Edge

_OUTWARD: dict[str, tuple[float, float]] = {
    "first row": (0.0, -1.0), "last row": (0.0, 1.0), "row starts": (-1.0, 0.0), "row ends": (1.0, 0.0),
}  # fmt: skip

_TURNS = (0.0, 0.4, -0.4, 0.8, -0.8, 1.2, -1.2)
"""Directions that are tried, in radians from straight outward."""

_TOUCH = 0.998
"""The least distance of two centre lines that counts as clear, in wires: a hair under touching."""

_MOST_HOSTS = 6
_MOST_TRIED = 40_000
"""How many trial places a whole piece may take, so that a drawing never waits long for its fringe."""

_ANGLES = tuple((math.cos(step * math.pi / 16), math.sin(step * math.pi / 16)) for step in range(32))


@dataclass(frozen=True, slots=True)
class Tag:
    """Rings or a finding of one attachment without a computed place, where their tag stands, and what they hang on."""

    item: str
    rings: tuple[int, ...]
    x_mm: float
    y_mm: float
    hosts: tuple[int, ...]


@dataclass(slots=True)
class _Search:
    """The rings placed so far, in squares of the plane, and places already found for equal surroundings."""

    placed: Placement
    square_mm: float
    squares: dict[tuple[int, int], list[int]] = field(default_factory=dict)
    found: dict[tuple[object, ...], tuple[Vector, Vector] | None] = field(default_factory=dict)
    tried: int = 0

    def add(self, index: int) -> None:
        key = (math.floor(self.placed.xs[index] / self.square_mm), math.floor(self.placed.ys[index] / self.square_mm))
        self.squares.setdefault(key, []).append(index)

    def near(self, x: float, y: float, reach_mm: float) -> list[int]:
        low_x, high_x = (math.floor((x + side * reach_mm) / self.square_mm) for side in (-1, 1))
        low_y, high_y = (math.floor((y + side * reach_mm) / self.square_mm) for side in (-1, 1))
        return [
            index
            for column in range(low_x, high_x + 1)
            for row in range(low_y, high_y + 1)
            for index in self.squares.get((column, row), ())
        ]


def hang(placed: Placement, net: Net, items: Items, attachments: Sequence[Attachment], up: Edge) -> list[Tag]:
    """Place what hangs on a placed piece, in its own order, and return tags for what found no place of its own."""
    if len(net) == net.woven:
        return []
    rings = [pose.ring for pose in placed.table]
    largest = max((each.outer_mm for each in rings), default=1.0)
    search = _Search(placed, largest)
    for index in range(net.woven):
        if placed.poses[index] >= 0:
            search.add(index)
    middle = _middle(placed, range(net.woven))
    loose: list[tuple[str, list[int]]] = []
    by_name = {each.name: each for each in attachments}
    for name, group in net.groups.items():
        out = _OUTWARD.get(_edge(by_name[name], attachments))
        left: list[int] = []
        for index in group:
            item = items.get(net.items[index])
            hosts = [host for host in net.neighbours[index] if host < index and net.roles[host] != FINDING]
            ring = ring_mm(item.size) if item and item.size else None
            way = turned_point(out[0], out[1], up) if out else _away(placed, hosts, middle)
            # At a side what hangs falls outward and down where it can.
            ways = [way] if abs(way[1]) > 0.7 else [(math.copysign(0.6, way[0]), 0.8), way]
            spot = next((found for each in ways if ring and (found := _spot(search, hosts, ring, each))), None)
            if spot is None or ring is None:
                left.append(index)
                continue
            _put(placed, index, spot[0], Pose(spot[1], ring))
            search.add(index)
        findings = dict.fromkeys(
            other for index in (*group, *net.hosts[name]) for other in net.neighbours[index] if _is_of(net, other, name)
        )
        loose += [(name, each) for each in (left, list(findings)) if each]
    return [_tag(placed, net, rings, middle, number) for number, (_, rings) in enumerate(loose)]


def _is_of(net: Net, index: int, name: str) -> bool:
    """Tell whether something is a finding of an attachment: it hangs on the attachment's rings or its chosen rings."""
    if net.roles[index] != FINDING:
        return False
    group, hosts = net.groups[name], net.hosts[name]
    return all(host in (group or hosts) for host in net.neighbours[index])


def _edge(attachment: Attachment, attachments: Sequence[Attachment]) -> str:
    """Return the edge that an attachment hangs on, through the attachments that it hangs on."""
    by_name = {each.name: each for each in attachments}
    for _ in range(len(attachments)):
        if attachment.on.where != "attachment" or attachment.on.of not in by_name:
            break
        attachment = by_name[attachment.on.of]
    return attachment.on.where


def _middle(placed: Placement, rings: Iterable[int]) -> tuple[float, float]:
    known = [index for index in rings if placed.poses[index] >= 0]
    count = max(1, len(known))
    return sum(placed.xs[index] for index in known) / count, sum(placed.ys[index] for index in known) / count


def _away(placed: Placement, hosts: Sequence[int], middle: tuple[float, float]) -> tuple[float, float]:
    """Return the direction from the middle of the piece to some rings; straight down for the middle itself."""
    x, y = _middle(placed, hosts)
    dx, dy = x - middle[0], y - middle[1]
    length = math.hypot(dx, dy)
    return (dx / length, dy / length) if length > 1e-9 else (0.0, 1.0)


def _put(placed: Placement, index: int, centre: Vector, pose: Pose) -> None:
    placed.xs[index], placed.ys[index], placed.zs[index] = centre
    if pose not in placed.table:
        placed.table.append(pose)
    placed.poses[index] = placed.table.index(pose)


def _spot(search: _Search, hosts: Sequence[int], ring: Ring, way: tuple[float, float]) -> tuple[Vector, Vector] | None:
    """Return a centre and normal for a ring through some hosts, or None when none is found."""
    placed = search.placed
    if not hosts or len(hosts) > _MOST_HOSTS or any(placed.poses[host] < 0 for host in hosts):
        return None
    x, y = _middle(placed, hosts)
    z = sum(placed.zs[host] for host in hosts) / len(hosts)
    host_ring = placed.pose(hosts[0]).ring
    reach = 1.05 * (host_ring.outer_mm + ring.outer_mm)
    around = [i for i in search.near(x, y, reach) if math.hypot(placed.xs[i] - x, placed.ys[i] - y) < reach]
    key = (
        ring,
        tuple(round(each, 6) for each in way),
        frozenset(
            (
                placed.poses[i],
                i in hosts,
                *(round(v, 4) for v in (placed.xs[i] - x, placed.ys[i] - y, placed.zs[i] - z)),
            )
            for i in around
        ),
    )
    if key not in search.found:
        if search.tried >= _MOST_TRIED:
            return None
        search.found[key] = _best(search, hosts, ring, way, around)
    best = search.found[key]
    if best is None:
        return None
    (dx, dy, dz), normal = best
    return (x + dx, y + dy, z + dz), normal


def _best(
    search: _Search, hosts: Sequence[int], ring: Ring, way: tuple[float, float], around: Sequence[int]
) -> tuple[Vector, Vector] | None:
    """Try directions, distances and leans, straight out first; return the first clear place, relative to the hosts."""
    placed = search.placed
    x, y = _middle(placed, hosts)
    z = sum(placed.zs[host] for host in hosts) / len(hosts)
    host_ring = placed.pose(hosts[0]).ring
    full = host_ring.radius_mm + ring.radius_mm
    others = [(placed.circle(index), index in hosts, placed.pose(index).ring.wire_mm) for index in around]
    others.sort(key=lambda each: math.dist(each[0].centre[:2], (x + way[0] * full, y + way[1] * full)))
    for turn in _TURNS if len(hosts) == 1 else _TURNS[:1]:
        cos_t, sin_t = math.cos(turn), math.sin(turn)
        ox, oy = way[0] * cos_t - way[1] * sin_t, way[0] * sin_t + way[1] * cos_t

        def at(trial: Vector, ox: float = ox, oy: float = oy) -> Circle:
            apart, lean, lift = trial
            normal = (math.sin(lean) * oy, -math.sin(lean) * ox, math.cos(lean))
            return Circle((x + ox * apart, y + oy * apart, z + lift), normal, ring.radius_mm)

        def room(trial: Vector, least: float) -> float | None:
            search.tried += 1
            return _room(at(trial), ring.wire_mm, others, least)

        found = _climbed(room, full, min(host_ring.wire_mm, ring.wire_mm))
        if found is not None:
            circle = at(found)
            cx, cy, cz = circle.centre
            return (cx - x, cy - y, cz - z), circle.normal
    return None


def _climbed(room: Callable[[Vector, float], float | None], full: float, wire: float) -> Vector | None:
    """Return distance, lean and lift of a clear place: the best of a coarse grid, moved to where it is clearest."""
    best: Vector | None = None
    clear = 0.8
    for step in range(14):
        for lean in range(-80, 81, 10):
            trial = (full * (1 - 0.045 * step) - wire, math.radians(lean), 0.0)
            here = room(trial, clear)
            if here is not None:
                best, clear = trial, here
    if best is None:
        return None
    moves = [0.022 * full, 0.09, 0.2 * wire]
    for _ in range(7):
        for axis, move in enumerate(moves):
            for way in (move, -move):
                moved = list(best)
                moved[axis] += way
                trial = (moved[0], moved[1], moved[2])
                here = room(trial, clear)
                if here is not None:
                    best, clear = trial, here
        moves = [each * 0.6 for each in moves]
    return best if clear >= _TOUCH else None


def _room(trial: Circle, wire_mm: float, others: Sequence[tuple[Circle, bool, float]], least: float) -> float | None:
    """Return how clear a trial ring lies, in wires, when it links just its hosts and is clearer than `least`."""
    if any(linked(circle, trial) == 0 for circle, host, _ in others if host):
        return None
    first, second = axes(trial.normal)
    points = [
        tuple(trial.centre[k] + trial.radius_mm * (c * first[k] + s * second[k]) for k in range(3)) for c, s in _ANGLES
    ]
    close: list[tuple[Circle, float]] = []
    for circle, host, wire in others:
        mean = (wire + wire_mm) / 2
        if math.dist(circle.centre, trial.centre) > circle.radius_mm + trial.radius_mm + 1.5 * mean:
            continue
        if not host and linked(circle, trial):
            return None
        if _too_near(circle, points, least * mean):
            return None
        close.append((circle, mean))
    found = math.inf
    for circle, mean in close:
        found = min(found, nearest_mm(circle, trial, 32) / mean)
        if found <= least:
            return None
    return found


def _too_near(circle: Circle, points: Sequence[Sequence[float]], limit: float) -> bool:
    """Tell whether any of some points is nearer to a circle than a limit."""
    (cx, cy, cz), (nx, ny, nz), radius = circle.centre, circle.normal, circle.radius_mm
    for px, py, pz in points:
        x, y, z = px - cx, py - cy, pz - cz
        high = x * nx + y * ny + z * nz
        flat = math.sqrt(max(0.0, x * x + y * y + z * z - high * high)) - radius
        if flat * flat + high * high < limit * limit:
            return True
    return False


def _tag(placed: Placement, net: Net, rings: Sequence[int], middle: tuple[float, float], number: int) -> Tag:
    """Return a tag beyond the rings that something hangs on, later ones further out so that they do not cover."""
    around = dict.fromkeys(other for index in rings for other in net.neighbours[index])
    hosts = tuple(host for host in around if placed.poses[host] >= 0)
    x, y = _middle(placed, hosts) if hosts else middle
    dx, dy = _away(placed, hosts, middle) if hosts else (0.0, 1.0)
    size = max((pose.ring.outer_mm for pose in placed.table), default=1.0)
    far = size * (1.8 + 0.9 * (number % 3))
    return Tag(net.items[rings[0]], tuple(rings), x + dx * far, y + dy * far, hosts)
