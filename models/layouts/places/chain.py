"""Where the rings of a chain lie in space, pulled taut: only for the weaves whose places were verified.

The chain runs along x, and its rings lean 45 degrees to either side of the person's view. Not here: lengths
(chain_sizes).
"""

from __future__ import annotations

import math

from models.layouts.engine.chain_weaves import BYZANTINE, ONE, ROPE, SPIRAL, TWO
from models.layouts.engine.chains import Chain
from models.layouts.engine.items import Items
from models.layouts.engine.net import Net
from models.layouts.places.chain_states import STATES, state_at
from models.layouts.places.geometry import Pose, Ring, Vector, pair_pitch_mm, ring_mm
from models.layouts.places.sheet import Placement, Unplaced, with_hung

DRAWN = (ONE, TWO, BYZANTINE, ROPE, SPIRAL)
"""The chain weaves that are drawn; the others have no verified places."""

SMALLEST = {ONE: 2.0, TWO: 2.6213}
"""The smallest aspect ratio of ideal rings. Source: derived for ideal rings in this project."""

_LEAN = math.sqrt(0.5)
Known = dict[tuple[int, Ring], int]


def place_chain(chain: Chain, net: Net, items: Items) -> Placement | Unplaced:
    """Return the place of every ring of a pulled chain, or why it has none.

    A closed chain is laid out as it would run open. What hangs on it has no place yet (pose -1).
    """
    if chain.weave not in DRAWN:
        return Unplaced("The places of the rings in this weave are not verified, so it is not drawn.")
    rings = _rings(chain.weave, net, items)
    if isinstance(rings, Unplaced):
        return rings
    if chain.weave in STATES:
        placed = _solved(chain.weave, rings)
    else:
        placed = _ones(rings) if chain.weave == ONE else _pairs(rings)
    if isinstance(placed, Unplaced):
        return placed
    if chain.closed:
        placed.notes.append("Drawn as it runs; the last ring joins the first.")
    return with_hung(placed, net)


def _rings(weave: str, net: Net, items: Items) -> list[Ring] | Unplaced:
    """Return the size of every ring of a chain, or why it has no places."""
    rings: list[Ring] = []
    for index in range(net.woven):
        item = items.get(net.items[index])
        if item is None or item.size is None:
            label = item.label if item else net.items[index]
            return Unplaced(f"The size of {label} is not known, so nothing can be drawn.")
        if item.size.inner_nm < SMALLEST.get(weave, 0.0) * item.size.wire_nm:
            return Unplaced(
                f"Ideal rings of this weave need an AR of at least {SMALLEST[weave]:.2f}: "
                f"{item.label} has {item.size.aspect_ratio:.2f}."
            )
        rings.append(ring_mm(item.size))
    return rings


def _solved(weave: str, rings: list[Ring]) -> Placement | Unplaced:
    """Place the rings of a weave whose state was solved: all of one size, within the aspect ratios of the table."""
    ring = rings[0]
    if any(other != ring for other in rings):
        return Unplaced("Rings of several sizes in this weave have no verified places, so it is not drawn.")
    state = state_at(weave, ring.inner_mm / ring.wire_mm)
    if state is None:
        low, high = STATES[weave][0][0], STATES[weave][-1][0]
        return Unplaced(f"This weave is drawn for rings of AR {low:g} to {high:g}, where its places are verified.")
    _, first, second, third, fourth = state
    if weave == BYZANTINE:
        return _byzantine(ring, len(rings), (first, second, third, fourth))
    return _turning(ring, len(rings), (first, second, third, fourth))


def _turning(ring: Ring, count: int, state: tuple[float, float, float, float]) -> Placement:
    """Place single rings, each the one before turned and moved along the line."""
    pitch, off, twist, tilt = state
    placed = Placement()
    for number in range(count):
        c, s = math.cos(number * twist), math.sin(number * twist)
        placed.xs.append(number * pitch * ring.radius_mm)
        placed.ys.append(off * c * ring.radius_mm)
        placed.zs.append(off * s * ring.radius_mm)
        placed.poses.append(number)
        placed.table.append(Pose((math.cos(tilt), math.sin(tilt) * s, -math.sin(tilt) * c), ring))
    return placed


def _byzantine(ring: Ring, count: int, state: tuple[float, float, float, float]) -> Placement:
    """Place units of a connecting pair and a knot of two pairs folded past each other, turned by 90 degrees a unit.

    The whole is seen turned by 45 degrees about its line, so that every pair shows.
    """
    unit, half, off, tilt = (state[0] * ring.radius_mm, state[1] * ring.radius_mm, state[2] * ring.radius_mm, state[3])
    sine, cosine = math.sin(tilt), math.cos(tilt)
    placed = Placement()
    poses: dict[Vector, int] = {}
    for number in range(count):
        at, role = divmod(number, 6)
        side = 1 if role % 2 == 0 else -1
        x = at * unit
        if role < 2:
            spot, normal = (x, side * ring.wire_mm / 2, 0.0), (0.0, 1.0, 0.0)
        elif role < 4:
            spot, normal = (x + unit / 2 - half, 0.0, side * off), (side * sine, 0.0, cosine)
        else:
            spot, normal = (x + unit / 2 + half, side * off, 0.0), (-side * sine, cosine, 0.0)
        if at % 2:
            spot, normal = (spot[0], spot[2], spot[1]), (normal[0], normal[2], normal[1])
        spot, normal = _turned(spot), _turned(normal)
        if normal not in poses:
            poses[normal] = len(placed.table)
            placed.table.append(Pose(normal, ring))
        placed.xs.append(spot[0])
        placed.ys.append(spot[1])
        placed.zs.append(spot[2])
        placed.poses.append(poses[normal])
    return placed


def _turned(v: Vector) -> Vector:
    """Return a point or direction turned by 45 degrees about the line of the chain."""
    return (v[0], _LEAN * (v[1] - v[2]), _LEAN * (v[1] + v[2]))


def _add(placed: Placement, known: Known, ring: Ring, *, x: float, side: int, off: float = 0.0) -> None:
    """Add a ring on the line whose normal leans to one side, moved along that normal by `off`."""
    normal = (0.0, side * _LEAN, _LEAN)
    if (side, ring) not in known:
        known[side, ring] = len(placed.table)
        placed.table.append(Pose(normal, ring))
    placed.xs.append(x)
    placed.ys.append(off * normal[1])
    placed.zs.append(off * normal[2])
    placed.poses.append(known[side, ring])


def _ones(rings: list[Ring]) -> Placement:
    """Place single rings: from centre to centre the mean of the two openings, each turned against the one before."""
    placed = Placement()
    known: Known = {}
    x = 0.0
    for number, ring in enumerate(rings):
        if number:
            x += (rings[number - 1].inner_mm + ring.inner_mm) / 2
        _add(placed, known, ring, x=x, side=1 if number % 2 else -1)
    return placed


def _pairs(rings: list[Ring]) -> Placement | Unplaced:
    """Place pairs of touching rings, each pair turned against the one before."""
    placed = Placement()
    known: Known = {}
    x = 0.0
    for number in range(0, len(rings) - 1, 2):
        ring = rings[number]
        if rings[number + 1] != ring:
            return Unplaced("The two rings of a pair differ in size, so the chain is not drawn.")
        if number:
            x += pair_pitch_mm(rings[number - 2], ring)
        side = 1 if number // 2 % 2 else -1
        for off in (ring.wire_mm / 2, -ring.wire_mm / 2):
            _add(placed, known, ring, x=x, side=side, off=off)
    return placed
