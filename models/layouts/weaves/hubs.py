"""Japanese sheets: hubs that lie flat at the places of the rows, joined by connectors that stand upright between them.

Places form triangles where the rows are staggered, else squares. Source: derived in this project; the rings per area of
12-in-2 agree with those solved numerically there (AR 6 2.389, 7 2.366, 8 2.351, 10 2.335 in units of ID^2).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, ClassVar

from models.layouts.engine.net import CONNECTOR, HUB, Net
from models.layouts.engine.rows import GAP, Layout, Row, ring_name
from models.layouts.places import hubs
from models.layouts.places.geometry import Flat, Pose, Ring, pair_pitch_mm, ring_mm
from models.layouts.weaves.sheet_weave import Ids, SheetWeave
from models.trade.breaks import go_on
from models.trade.rings import RingSize

if TYPE_CHECKING:
    from models.layouts.places.sheet import Placement


@dataclass(frozen=True, slots=True)
class HubWeave(SheetWeave):
    """A Japanese sheet: `rings` (1 or 2) at each place, and as many connectors between two neighbouring places."""

    rings: int = 2
    joined: ClassVar[bool] = True

    @property
    def letters(self) -> tuple[str, ...]:
        """Return what the names of the rings at one place end in: nothing where there is one ring only."""
        return ("a", "b") if self.rings == 2 else ("",)

    @property
    def neighbours(self) -> int:
        """Return how many neighbouring places a place has all round: one along its row each way, and those across."""
        return 2 * (1 + len(self.reach))

    def add_rings(self, net: Net, layout: Layout) -> Ids:
        """Add the hubs of every place, then the connectors between every two neighbouring places."""
        ids: Ids = []
        for number, row in enumerate(layout.rows):
            go_on()
            ids.append([self._add_hub(net, number, place, row) for place in range(len(row.items))])
        between: list[tuple[int, int]] = []
        for number, at_places in enumerate(ids):
            go_on()
            between += [(a, b) for a, b in pairwise(at_places) if a >= 0 and b >= 0]
            if number + 1 < len(ids):
                for step in self.reach:
                    between += self.pairs(layout, ids, number, step)
        for a, b in between:
            self._join(net, a, b, layout.connector)
        return ids

    def _add_hub(self, net: Net, number: int, place: int, row: Row) -> int:
        """Add the rings of one place; return the first of them, -1 for a gap."""
        item = row.items[place]
        if item == GAP:
            return -1
        name, step = ring_name(number, place), row.start + self.steps_per_ring * place
        first = len(net)
        for letter in self.letters:
            net.add(f"{name}{letter}", item, HUB, row=number, place=place, step=step)
        return first

    def _join(self, net: Net, a: int, b: int, item: str) -> None:
        """Add the connectors between the places whose first rings are a and b."""
        letters = self.letters
        name = f"{net.names[a].removesuffix(letters[0])}-{net.names[b].removesuffix(letters[0])}"
        row, place, step = net.rows[a], net.places[a], net.steps[a]
        hubs_of_both = (*range(a, a + self.rings), *range(b, b + self.rings))
        for letter in letters:
            ring = net.add(f"{name}{letter}", item, CONNECTOR, row=row, place=place, step=step)
            for hub in hubs_of_both:
                net.link(ring, hub)

    def is_bare(self, net: Net, layout: Layout, index: int) -> bool:
        """Tell whether a place has no neighbour above or none below."""
        number = net.rows[index]
        linked = {other for (other, _), _ in self.linked_places(layout, number, net.places[index])}
        return linked != {number - 1, number + 1}

    def ring_count(self, layout: Layout) -> int:
        """Return the rings of all places and of the pairs of neighbours, of which a place has so many of its own."""
        along = sum(max(0, row.rings - 1) for row in layout.rows)
        joints = min(along + self.across_rows(layout.rows), self.neighbours // 2 * layout.rings)
        return self.rings * (layout.rings + joints)

    def link_count(self, rows: Sequence[Row]) -> int:
        """Return the links: every connector links the rings of both its places."""
        along = sum(len(row.items) - 1 for row in rows)
        return (self.across_rows(rows) + along) * self.rings * self.rings * 2

    def flat(self, ring: Ring, connector: Ring) -> Flat:
        """Return the pitches, pulled flat: from hub to connector as in a chain of pairs, or of single rings."""
        apart = 2 * pair_pitch_mm(ring, connector) if self.rings == 2 else ring.inner_mm + connector.inner_mm
        return Flat(apart, apart * math.sqrt(3) / 2 if self.staggered else apart, 0.0, 1.0)

    def ends_mm(self, ring: Ring, _flat: Flat) -> tuple[float, float]:
        """Return a flat hub's outer diameter."""
        return ring.outer_mm, ring.outer_mm

    def place(self, placed: Placement, net: Net, ring: Ring, connector: Ring) -> None:
        """Place hubs flat, touching where there are two, and connectors upright between neighbouring hubs."""
        flat = self.flat(ring, connector)
        step_mm = flat.along_mm / self.steps_per_ring
        turns = self.neighbours // 2
        placed.table = [Pose((0.0, 0.0, 1.0), ring)]
        for direction in range(turns):
            angle = direction * math.pi / turns
            placed.table.append(Pose((-math.sin(angle), math.cos(angle), 0.0), connector))
        for index in range(net.woven):
            if net.roles[index] != CONNECTOR:
                placed.xs.append(net.steps[index] * step_mm)
                placed.ys.append(net.rows[index] * flat.across_mm)
                placed.zs.append(self._aside(net, index) * ring.wire_mm)
                placed.poses.append(0)
                continue
            ends = net.neighbours[index][:: self.rings]
            (xa, ya), (xb, yb) = ((placed.xs[end], placed.ys[end]) for end in ends)
            direction = round(math.atan2(yb - ya, xb - xa) / (math.pi / turns)) % turns
            nx, ny, _ = placed.table[1 + direction].normal
            side = self._aside(net, index) * connector.wire_mm
            placed.xs.append((xa + xb) / 2 + side * nx)
            placed.ys.append((ya + yb) / 2 + side * ny)
            placed.zs.append(0.0)
            placed.poses.append(1 + direction)

    def _aside(self, net: Net, index: int) -> float:
        """Return how many wires a ring lies to one side of the middle of its pair; 0 for a single ring."""
        if self.rings == 1:
            return 0.0
        return 0.5 if net.names[index].endswith("a") else -0.5

    def can_join(self, ring: RingSize, connector: RingSize) -> bool:
        """Tell whether connectors pass through their hubs and through nothing else."""
        clash = None if connector == ring else hubs.clash_of(self, ring_mm(ring), ring_mm(connector))
        return clash is None or clash.linked

    def why_no_room(self, ring: RingSize, connector: RingSize) -> str:
        """Return in words why hubs and connectors do not lie clear, and which sizes near them do."""
        return hubs.why_no_room(self, ring, connector)
