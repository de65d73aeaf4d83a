"""Places for what hangs on a piece: each is tried and kept only when it links just what it should and touches nothing.

Rings that find no such place, and findings, get a tag beside the piece instead. Not here: which rings they hang on
(links, choose).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from models.layouts.engine.attach import Attachment
from models.layouts.engine.items import Items
from models.layouts.engine.net import FINDING, Net
from models.layouts.engine.rows import Edge
from models.layouts.places.geometry import Circle, Pose, Ring, Vector, axes, linked, nearest_mm, ring_mm
from models.layouts.places.sheet import Placement, turned_point
from models.trade.breaks import go_on

_OUTWARD: dict[str, tuple[float, float]] = {
    "first row": (0.0, -1.0), "last row": (0.0, 1.0), "row starts": (-1.0, 0.0), "row ends": (1.0, 0.0),
}  # fmt: skip

_TURNS = (0.0, 0.4, -0.4, 0.8, -0.8, 1.2, -1.2)
"""Directions that are tried, in radians from straight outward."""

_TOUCH = 0.998
"""The least distance of two centre lines that counts as clear, in wires: a hair under touching."""

_MOST_HOSTS = 6
_MOST_TRIED = 12_000
_MOST_AGAIN = 4_000
_MOST_SEATS = 3_000
"""How many trial places a whole piece may take, how often found ones are tried again, and for how many rings, so that a
drawing never waits long for its fringe: the rings beyond stand in tags."""

_MOST_MISSED = 3
_MOST_KEPT = 24
"""How many vain searches for rings on hosts of one pose there may be, and how many found places are tried again."""

_ANGLES = tuple((math.cos(step * math.pi / 16), math.sin(step * math.pi / 16)) for step in range(32))


@dataclass(frozen=True, slots=True)
class Tag:
    """Rings or a finding of one attachment without a computed place, where their tag stands, and what they hang on."""

    item: str
    rings: tuple[int, ...]
    x_mm: float
    y_mm: float
    hosts: tuple[int, ...]


Place = tuple[Vector, Vector]
"""A centre, relative to the middle of the hosts, and a normal."""


@dataclass(slots=True)
class _Search:
    """The rings placed so far, in squares of the plane, and the places found for rings on hosts of each pose."""

    placed: Placement
    square_mm: float
    squares: dict[tuple[int, int], list[int]] = field(default_factory=dict)
    kept: dict[tuple[object, ...], list[Place]] = field(default_factory=dict)
    missed: dict[tuple[object, ...], int] = field(default_factory=dict)
    poses: dict[Pose, int] = field(default_factory=dict)
    tried: int = 0
    again: int = 0
    seats: int = 0

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
    loose: list[list[int]] = []
    held = {
        index: frozenset(net.neighbours[index])
        for index in range(net.woven, len(net))
        if net.roles[index] == FINDING and net.neighbours[index]
    }
    untagged = list(held)
    tag_of: dict[int, list[int]] = {}
    by_name = {each.name: each for each in attachments}
    for name, group in net.groups.items():
        out = _OUTWARD.get(_edge(by_name[name], attachments))
        left: list[int] = []
        for index in group:
            go_on()
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
            _put(search, index, spot[0], Pose(spot[1], ring))
        # A finding that a later attachment hangs on these rings is carried by both, and has one tag.
        carriers = {index: place for place, index in enumerate(group or net.hosts[name])}
        findings = [each for each in untagged if carriers.keys() >= held[each]]
        untagged = untagged if not findings else [each for each in untagged if not carriers.keys() >= held[each]]
        findings.sort(key=lambda each: min(carriers[index] for index in held[each]))
        loose += _together(net, left, findings, tag_of)
    return [_tag(placed, net, rings, middle, number) for number, rings in enumerate(loose)]


def _together(net: Net, left: list[int], findings: list[int], tag_of: dict[int, list[int]]) -> list[list[int]]:
    """Return what needs tags of its own: a finding on rings that stand in a tag themselves joins that tag.

    `tag_of` is the tag of each ring or finding so far.
    """
    new = [left] if left else []
    tag_of |= dict.fromkeys(left, left)
    apart: list[int] = []
    for finding in findings:
        first, *others = net.neighbours[finding]
        tag = tag_of.get(first)
        if tag is None or any(tag_of.get(other) is not tag for other in others):
            tag = apart
        tag.append(finding)
        tag_of[finding] = tag
    return [*new, apart] if apart else new


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


def _put(search: _Search, index: int, centre: Vector, pose: Pose) -> None:
    """Place a ring and note it among the placed ones."""
    placed = search.placed
    placed.xs[index], placed.ys[index], placed.zs[index] = centre
    if pose not in search.poses:
        search.poses[pose] = len(placed.table)
        placed.table.append(pose)
    placed.poses[index] = search.poses[pose]
    search.add(index)


@dataclass(slots=True)
class _Seat:
    """Where one ring is to hang: the middle of its hosts, the way outward, and the rings around it."""

    ring: Ring
    middle: Vector
    way: tuple[float, float]
    host: Ring
    several: bool
    others: list[tuple[Circle, bool, float]]

    def room(self, place: Place, least: float) -> float | None:
        """Return how clear a place is, in wires, when it is clearer than `least` and links just the hosts."""
        (dx, dy, dz), normal = place
        x, y, z = self.middle
        return _room(
            Circle((x + dx, y + dy, z + dz), normal, self.ring.radius_mm), self.ring.wire_mm, self.others, least
        )


def _spot(search: _Search, hosts: Sequence[int], ring: Ring, way: tuple[float, float]) -> Place | None:
    """Return a centre and normal for a ring through some hosts, or None when none is found."""
    placed = search.placed
    if not hosts or len(hosts) > _MOST_HOSTS or any(placed.poses[host] < 0 for host in hosts):
        return None
    if search.seats >= _MOST_SEATS:
        return None
    search.seats += 1
    seat = _seat(search, hosts, ring, way)
    x, y, z = seat.middle
    kind = (ring, tuple(placed.poses[host] for host in hosts))
    kept = search.kept.setdefault(kind, [])
    best = None
    for place in kept:
        # What was found elsewhere is tried again as long as it lies on the wanted side.
        (dx, dy, _), _ = place
        if search.again >= _MOST_AGAIN:
            break
        search.again += 1
        if dx * way[0] + dy * way[1] > 0.3 * math.hypot(dx, dy) and seat.room(place, _TOUCH) is not None:
            best = place
            break
    if best is None and search.tried < _MOST_TRIED and search.missed.get(kind, 0) < _MOST_MISSED:
        best = _best(search, seat)
        if best is None:
            search.missed[kind] = search.missed.get(kind, 0) + 1
        elif len(kept) < _MOST_KEPT:
            kept.append(best)
    if best is None:
        return None
    (dx, dy, dz), normal = best
    return (x + dx, y + dy, z + dz), normal


def _seat(search: _Search, hosts: Sequence[int], ring: Ring, way: tuple[float, float]) -> _Seat:
    """Return where a ring is to hang, with the rings that it could touch, the nearest to its likely place first."""
    placed = search.placed
    x, y = _middle(placed, hosts)
    z = sum(placed.zs[host] for host in hosts) / len(hosts)
    host = placed.pose(hosts[0]).ring
    reach = 1.05 * (host.outer_mm + ring.outer_mm)
    around = [i for i in search.near(x, y, reach) if math.hypot(placed.xs[i] - x, placed.ys[i] - y) < reach]
    full = host.radius_mm + ring.radius_mm
    others = [(placed.circle(index), index in hosts, placed.pose(index).ring.wire_mm) for index in around]
    others.sort(key=lambda each: math.dist(each[0].centre[:2], (x + way[0] * full, y + way[1] * full)))
    return _Seat(ring, (x, y, z), way, host, len(hosts) > 1, others)


def _best(search: _Search, seat: _Seat) -> Place | None:
    """Try directions, distances and leans, straight out first; return the first place that is clear."""
    full = seat.host.radius_mm + seat.ring.radius_mm
    for turn in _TURNS[:1] if seat.several else _TURNS:
        cos_t, sin_t = math.cos(turn), math.sin(turn)
        ox, oy = seat.way[0] * cos_t - seat.way[1] * sin_t, seat.way[0] * sin_t + seat.way[1] * cos_t

        def at(trial: Vector, ox: float = ox, oy: float = oy) -> Place:
            apart, lean, lift = trial
            return (ox * apart, oy * apart, lift), (math.sin(lean) * oy, -math.sin(lean) * ox, math.cos(lean))

        def room(trial: Vector, least: float) -> float | None:
            search.tried += 1
            return seat.room(at(trial), least)

        found = _climbed(room, full, min(seat.host.wire_mm, seat.ring.wire_mm))
        if found is not None:
            return at(found)
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
    (x, y, z), radius = trial.centre, trial.radius_mm
    (ax, ay, az), (bx, by, bz) = axes(trial.normal)
    points: list[tuple[float, float, float]] = []
    close: list[tuple[Circle, float]] = []
    for circle, host, wire in others:
        mean = (wire + wire_mm) / 2
        if math.dist(circle.centre, trial.centre) > circle.radius_mm + radius + 1.5 * mean:
            continue
        if not host and linked(circle, trial):
            return None
        points = points or [
            (x + radius * (c * ax + s * bx), y + radius * (c * ay + s * by), z + radius * (c * az + s * bz))
            for c, s in _ANGLES
        ]
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
