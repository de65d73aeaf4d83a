"""Where the rings of a chain lie in space, pulled taut: only for the weaves whose places were verified.

The chain runs along x, and its rings lean 45 degrees to either side of the person's view. Not here: lengths
(chain_sizes).
"""

from __future__ import annotations

import math

from models.trade.layout.chain_weaves import ONE, TWO
from models.trade.layout.chains import Chain
from models.trade.layout.geometry import Ring, pair_pitch_mm, ring_mm
from models.trade.layout.items import Items
from models.trade.layout.links import Net
from models.trade.layout.place import Placement, Pose, Unplaced

DRAWN = (ONE, TWO)
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
    rings: list[Ring] = []
    for index in range(net.woven):
        item = items.get(net.items[index])
        if item is None or item.size is None:
            return Unplaced(
                f"The size of {item.label if item else net.items[index]} is not known, so nothing can be drawn."
            )
        if item.size.inner_nm < SMALLEST[chain.weave] * item.size.wire_nm:
            return Unplaced(
                f"Ideal rings of this weave need an AR of at least {SMALLEST[chain.weave]:.2f}: "
                f"{item.label} has {item.size.aspect_ratio:.2f}."
            )
        rings.append(ring_mm(item.size))
    placed = _ones(rings) if chain.weave == ONE else _pairs(rings)
    if isinstance(placed, Unplaced):
        return placed
    if chain.closed:
        placed.notes.append("Drawn as it runs; the last ring joins the first.")
    left = len(net) - net.woven
    placed.xs += [math.nan] * left
    placed.ys += [math.nan] * left
    placed.zs += [0.0] * left
    placed.poses += [-1] * left
    return placed


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
