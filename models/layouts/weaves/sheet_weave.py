"""What a sheet weave is: how its rows stand, which rings link, how many there are, and where each lies in space.

A kind of sheet (european, hubs) fills in what differs; a weave is one record of its kind. Not here: the weaves
themselves (sheets), what hangs on a sheet (links), finished sizes (sizes).
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, ClassVar

from models.layouts.engine.net import Net
from models.layouts.engine.rows import GAP, Layout, Row
from models.layouts.places.geometry import Flat, Ring
from models.trade.rings import RingSize

if TYPE_CHECKING:
    from models.layouts.places.sheet import Placement

Ids = list[list[int]]
"""The index of the ring at each place of each row, -1 for a gap; of several rings at a place the first."""


@dataclass(frozen=True, slots=True)
class SheetWeave(ABC):
    """One sheet weave.

    A step is half a pitch where neighbouring rows stand half a pitch apart, so a ring of a row stands
    `steps_per_ring` (2, else 1) from the next; `reach` are the steps from a ring to those of a neighbouring row that
    it links. From the aspect ratio `clear_from` on ideal rings of one size lie clear in their places. `joined` tells
    whether its rows are hubs, which rings of their own join.
    """

    code: str
    steps_per_ring: int
    reach: tuple[int, ...]
    clear_from: float
    joined: ClassVar[bool] = False

    @property
    def staggered(self) -> bool:
        """Tell whether neighbouring rows stand half a pitch apart."""
        return self.steps_per_ring == 2

    def overlap(self, a: Row, b: Row, step: int) -> tuple[int, int, int]:
        """Return which places of row a have a place of row b so many steps on, and how far the places are apart."""
        shift, off = divmod(a.start + step - b.start, self.steps_per_ring)
        low, high = max(0, -shift), min(len(a.items), len(b.items) - shift)
        return (0, 0, 0) if off or low >= high else (low, high, shift)

    def row_links(self, a: Row, b: Row) -> int:
        """Return how many pairs of linked places two neighbouring rows without gaps have.

        It is the overlap of their spans, for each reach. A row that does not nest has none.
        """
        spans = (self.overlap(a, b, step) for step in self.reach)
        return sum(high - low for low, high, _ in spans)

    def across_rows(self, rows: Sequence[Row]) -> int:
        """Return the pairs of linked places of all neighbouring rows, as if without gaps."""
        return sum(self.row_links(a, b) for a, b in pairwise(rows))

    def linked_places(self, layout: Layout, number: int, place: int) -> Iterator[tuple[tuple[int, int], int]]:
        """Yield the places (row, place) in the rows above and below that a ring links, with their steps from it."""
        rows = layout.rows
        step = rows[number].start + self.steps_per_ring * place
        for other in (number - 1, number + 1):
            if not 0 <= other < len(rows):
                continue
            row = rows[other]
            for reach in self.reach:
                at, off = divmod(step + reach - row.start, self.steps_per_ring)
                if not off and 0 <= at < len(row.items) and row.items[at] != GAP:
                    yield (other, at), reach

    def pairs(self, layout: Layout, ids: Ids, number: int, step: int) -> list[tuple[int, int]]:
        """Return the pairs of rings of a row and the next whose steps differ by this much."""
        low, high, shift = self.overlap(layout.rows[number], layout.rows[number + 1], step)
        first, second = ids[number][low:high], ids[number + 1][low + shift : high + shift]
        if -1 in first or -1 in second:
            return [(x, y) for x, y in zip(first, second, strict=True) if x >= 0 and y >= 0]
        return list(zip(first, second, strict=True))

    # --- rings and links ---

    @abstractmethod
    def add_rings(self, net: Net, layout: Layout) -> Ids:
        """Add the rings of every row and their links; return the index at each place."""

    @abstractmethod
    def is_bare(self, net: Net, layout: Layout, index: int) -> bool:
        """Tell whether a ring inside an unbroken run of its row links none above or none below."""

    @abstractmethod
    def ring_count(self, layout: Layout) -> int:
        """Return how many rings the rows take, without building them; of connectors as many as without gaps."""

    @abstractmethod
    def link_count(self, rows: Sequence[Row]) -> int:
        """Return the number of links of rows without gaps, without building them."""

    # --- places and sizes ---

    @abstractmethod
    def flat(self, ring: Ring, connector: Ring) -> Flat:
        """Return the pitches and the lean of the sheet opened flat."""

    @abstractmethod
    def ends_mm(self, ring: Ring, flat: Flat) -> tuple[float, float]:
        """Return what the outermost rings add to the size along a row and across the rows."""

    @abstractmethod
    def place(self, placed: Placement, net: Net, ring: Ring, connector: Ring) -> None:
        """Place every woven ring, the first row up."""

    def size_note(self, _ratio: float) -> str:
        """Return what to know of a computed size at this aspect ratio; empty where there is nothing."""
        return ""

    def can_join(self, _ring: RingSize, _connector: RingSize) -> bool:
        """Tell whether the rings link as they should, be it with some overlap; of one size they do."""
        return True

    def why_no_room(self, _ring: RingSize, _connector: RingSize) -> str:
        """Return in words why rings of two sizes do not lie clear; empty where they do, and for rings of one size."""
        return ""
