"""European sheets: single rings that lean along their row, neighbouring rows against each other.

Source: pitches and lean derived for ideal rings in this project, and compared there with linking numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from models.layouts.engine.net import RING, Net
from models.layouts.engine.rows import GAP, Layout, Row
from models.layouts.places.geometry import Flat, Pose, Ring
from models.layouts.weaves.sheet_weave import Ids, SheetWeave
from models.trade.breaks import go_on

if TYPE_CHECKING:
    from models.layouts.places.sheet import Placement

_SPREADS_FROM = 4.0


@dataclass(frozen=True, slots=True)
class EuropeanWeave(SheetWeave):
    """A European sheet. The ring pitch of 4-in-1 is `share` times its own, with the same lean and row pitch."""

    share: int = 1

    def add_rings(self, net: Net, layout: Layout) -> Ids:
        """Add a ring at every place, and its links with the next row."""
        ids = [self._add_row(net, number, row) for number, row in enumerate(layout.rows)]
        links = net.links
        for number in range(len(layout.rows) - 1):
            go_on()
            for step in self.reach:
                links += self.pairs(layout, ids, number, step)
        net.neighbours = [[] for _ in net.names]
        for a, b in links:
            net.neighbours[a].append(b)
            net.neighbours[b].append(a)
        return ids

    def _add_row(self, net: Net, number: int, row: Row) -> list[int]:
        """Add the rings of one row in one go; return the index at each place."""
        go_on()
        before = len(net.names)
        kept = [place for place, item in enumerate(row.items) if item != GAP]
        head = f"{number + 1}."
        net.names += [f"{head}{place + 1}" for place in kept]
        net.items += [row.items[place] for place in kept]
        net.roles += [RING] * len(kept)
        net.rows += [number] * len(kept)
        net.places += kept
        net.steps += [row.start + self.steps_per_ring * place for place in kept]
        if len(kept) == len(row.items):
            return list(range(before, before + len(kept)))
        found = [-1] * len(row.items)
        for index, place in enumerate(kept, before):
            found[place] = index
        return found

    def is_bare(self, net: Net, _layout: Layout, index: int) -> bool:
        """Tell whether a ring links none above or none below.

        Its neighbours stand in the order of the rows, so those above come first and those below last.
        """
        around = net.neighbours[index]
        return not around or around[0] > index or around[-1] < index

    def ring_count(self, layout: Layout) -> int:
        """Return how many rings the rows have."""
        return layout.rings

    def link_count(self, rows: Sequence[Row]) -> int:
        """Return the links between the rows; none lie along one."""
        return self.across_rows(rows)

    def flat(self, ring: Ring, _connector: Ring) -> Flat:
        """Return the pitches and the lean.

        p = ID sqrt(3 (AR^2 - 4) / (AR (AR + 4))) over the weave's share, row pitch OD / 2, sin^2 t = 2 / (AR + 4).
        Raises: ValueError for an aspect ratio of 2 or less, where four rings cannot pass through one.
        """
        ratio = ring.inner_mm / ring.wire_mm
        if ratio <= 2:
            raise ValueError("an aspect ratio of 2 or less has no such sheet")
        pitch = ring.inner_mm * math.sqrt(3 * (ratio * ratio - 4) / (ratio * (ratio + 4)))
        return Flat(
            pitch / self.share,
            ring.outer_mm / 2,
            math.sqrt(2 / (ratio + 4)),
            math.sqrt((ratio + 2) / (ratio + 4)),
        )

    def ends_mm(self, ring: Ring, flat: Flat) -> tuple[float, float]:
        """Return a leaning ring's breadth along its row, and its outer diameter across the rows."""
        return 2 * ring.radius_mm * flat.cosine + ring.wire_mm, ring.outer_mm

    def size_note(self, ratio: float) -> str:
        """Return that wide rings spread: up to AR 4 the sheet is the largest that was found, beyond it is not."""
        return "Pulled along its rows; across them it can be spread a little further." if ratio > _SPREADS_FROM else ""

    def place(self, placed: Placement, net: Net, ring: Ring, connector: Ring) -> None:
        """Place rings leaning along their row, the next row leaning against it."""
        flat = self.flat(ring, connector)
        step_mm = flat.along_mm / self.steps_per_ring
        placed.table = [Pose((flat.sine, 0.0, flat.cosine), ring), Pose((-flat.sine, 0.0, flat.cosine), ring)]
        placed.xs = [step * step_mm for step in net.steps[: net.woven]]
        placed.ys = [row * flat.across_mm for row in net.rows[: net.woven]]
        placed.zs = [0.0] * net.woven
        placed.poses = [row % 2 for row in net.rows[: net.woven]]
