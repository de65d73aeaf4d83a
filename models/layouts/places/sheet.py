"""Where every ring of a sheet lies in space, opened flat, and the way it leans.

x runs to the right, y down the page, z towards the person who looks. Written apart from the link rule: the tests
compute linking numbers from these places and hold them against it. Not here: how the rings of each weave lie (weaves),
chains (chain), what hangs on a sheet (hanging), finished sizes (sizes).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from models.layouts.engine.items import Items
from models.layouts.engine.net import Net
from models.layouts.engine.rows import Edge, Layout
from models.layouts.places.geometry import Circle, Pose, Vector, ring_mm
from models.layouts.weaves.sheets import SHEETS
from models.trade.measures import format_mm
from models.trade.rings import RingSize, near

NEAR_NM = 30_000
"""How far rings of one sheet may differ in wire and opening and still be computed as one size: 0.03 mm."""


@dataclass(slots=True)
class Placement:
    """The place of every ring, by its index in the net: centre and pose (-1 where a ring has no computed place).

    `clear` is false where ideal rings would overlap in these places; `notes` say so, and what else to know.
    """

    xs: list[float] = field(default_factory=list)
    ys: list[float] = field(default_factory=list)
    zs: list[float] = field(default_factory=list)
    poses: list[int] = field(default_factory=list)
    table: list[Pose] = field(default_factory=list)
    clear: bool = True
    notes: list[str] = field(default_factory=list)

    def centre(self, index: int) -> Vector:
        """Return the centre of a ring."""
        return (self.xs[index], self.ys[index], self.zs[index])

    def circle(self, index: int) -> Circle:
        """Return the centre line of a ring."""
        pose = self.table[self.poses[index]]
        return Circle((self.xs[index], self.ys[index], self.zs[index]), pose.normal, pose.ring.radius_mm)

    def pose(self, index: int) -> Pose:
        """Return the pose of a ring."""
        return self.table[self.poses[index]]


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Why no place can be computed, in plain words; `drawn_as` is the size to draw with all the same, if any."""

    reason: str
    drawn_as: RingSize | None = None


def one_size(net: Net, items: Items, *, role_of: Sequence[str] = ("ring", "hub")) -> RingSize | Unplaced:
    """Return the one ring size of the woven rings, the most used where they differ by no more than 0.03 mm."""
    used: dict[RingSize, int] = {}
    for index in range(net.woven):
        if net.roles[index] in role_of:
            item = items.get(net.items[index])
            if item is None or item.size is None:
                label = item.label if item else net.items[index]
                return Unplaced(f"The size of {label} is not known, so nothing can be drawn or measured.")
            used[item.size] = used.get(item.size, 0) + 1
    if not used:
        return Unplaced("There are no rings yet.")
    most = max(used, key=lambda size: used[size])
    other = next((size for size in used if not near(size, most, NEAR_NM)), None)
    if other is not None:
        return Unplaced(
            f"This sheet mixes rings of {_named(most)} and {_named(other)}. "
            "Sizes are computed for one ring size only: measure a swatch.",
            most,
        )
    return most


def _named(size: RingSize) -> str:
    return f"{format_mm(size.wire_nm)} wire, {format_mm(size.inner_nm)} inside"


def place_sheet(layout: Layout, net: Net, size: RingSize, connector: RingSize | None = None) -> Placement | Unplaced:
    """Return the place of every woven ring of a piece of rows, turned so that the chosen edge hangs up.

    What hangs on it has no place yet (pose -1). An impossible size comes back with its reason.
    """
    ring = ring_mm(size)
    ratio = size.inner_nm / size.wire_nm
    if ratio <= 2:
        return Unplaced("This ring is too small: four rings cannot pass through it.")
    joined = size if connector is None else connector
    weave = SHEETS[layout.weave]
    if not weave.can_join(size, joined):
        return Unplaced(weave.why_no_room(size, joined))
    placed = Placement()
    weave.place(placed, net, ring, ring_mm(joined))
    if weave.joined and joined != size:
        reason = weave.why_no_room(size, joined)
        if reason:
            placed.clear = False
            placed.notes.append(f"{reason} They are drawn overlapping; the size comes from your swatch.")
        elif not near(joined, size, NEAR_NM):
            placed.notes.append("Hubs and connectors differ in size: check the size against your swatch.")
    elif ratio < weave.clear_from:
        placed.clear = False
        placed.notes.append(
            f"Ideal rings lie flat in this weave only from AR {weave.clear_from:.2f}: in the drawing they "
            "overlap a little, and the size comes from your swatch."
        )
    _turn(placed, layout.up)
    return with_hung(placed, net)


def with_hung(placed: Placement, net: Net) -> Placement:
    """Return the places of the woven rings with those of what hangs on them, which have none before `hang`."""
    left = len(net) - net.woven
    placed.xs += [math.nan] * left
    placed.ys += [math.nan] * left
    placed.zs += [0.0] * left
    placed.poses += [-1] * left
    return placed


def turned_point(x: float, y: float, up: Edge) -> tuple[float, float]:
    """Return a point of the piece as it hangs from an edge."""
    if up == "last row":
        return -x, -y
    if up == "row ends":
        return y, -x
    if up == "row starts":
        return -y, x
    return x, y


def _turn(placed: Placement, up: Edge) -> None:
    """Turn all places and poses so that the chosen edge is at the top."""
    if up == "first row":
        return
    points = [turned_point(x, y, up) for x, y in zip(placed.xs, placed.ys, strict=True)]
    placed.xs = [x for x, _ in points]
    placed.ys = [y for _, y in points]
    turned = []
    for pose in placed.table:
        nx, ny = turned_point(pose.normal[0], pose.normal[1], up)
        turned.append(Pose((nx, ny, pose.normal[2]), pose.ring))
    placed.table = turned
