"""A sheet as rows: where each row starts, which rings lie along it, and which edge hangs up.

A step is half a pitch in a weave whose rows are staggered and a whole pitch in one whose rows are not, so the rings of
a row stand 2 steps or 1 step apart. Not here: what a weave makes of its rows (nesting, weaves), whole shapes (shapes),
plain values for files and forms (document).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from models.layouts.engine.attach import Attachment
from models.trade.vocabulary import pieces

GAP = ""
"""The item of a place in a row that holds no ring."""

Edge = pieces.Edge
EDGES = pieces.EDGES

MAX_ROWS = 2_000
MAX_RINGS = 60_000
MAX_PLACES = 300_000
"""So many places, rings and gaps, the rows of a piece may have together."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row: the step at which its first place stands, and the item at each place; GAP where no ring is."""

    start: int
    items: tuple[str, ...]

    @property
    def rings(self) -> int:
        """Return how many rings are in the row."""
        return len(self.items) - self.items.count(GAP)


@dataclass(frozen=True, slots=True)
class Layout:
    """A sheet of one weave. `up` names the edge that hangs up; `connector` is the item between hubs of a hub weave."""

    weave: str
    rows: tuple[Row, ...]
    attachments: tuple[Attachment, ...] = ()
    up: Edge = "first row"
    connector: str = ""

    def with_rows(self, rows: Iterable[Row]) -> Layout:
        """Return the same piece with other rows."""
        return replace(self, rows=tuple(rows))

    @property
    def rings(self) -> int:
        """Return how many places of the rows hold a ring (in a hub weave: a hub)."""
        return sum(row.rings for row in self.rows)


def row_of(start: int, runs: Iterable[tuple[str, int]]) -> Row:
    """Return a row from runs of items: ("bronze", 5), ("green", 1), ..."""
    return Row(start, tuple(item for item, count in runs for _ in range(count)))


def repeated(start: int, rings: int, repeat: Sequence[str]) -> Row:
    """Return a row of so many rings along which a repeat of items runs. Raises: ValueError for an empty repeat."""
    if not repeat:
        raise ValueError("a repeat names at least one item")
    times, rest = divmod(rings, len(repeat))
    return Row(start, tuple(repeat) * times + tuple(repeat[:rest]))


def runs(items: Iterable[str]) -> list[tuple[str, int]]:
    """Return the runs of equal items along a row."""
    return [(item, sum(1 for _ in group)) for item, group in groupby(items)]


def ring_name(row: int, place: int) -> str:
    """Return the name of a ring by its row and place, both counted from 0: '3.7' is row 3, ring 7 as people count."""
    return f"{row + 1}.{place + 1}"


def place_of(name: str) -> tuple[int, int] | None:
    """Return row and place, counted from 0, of a ring's name; None when it is no such name."""
    row, dot, place = name.partition(".")
    if not (dot and row.isascii() and row.isdigit() and place.isascii() and place.isdigit()) or len(name) > 16:
        return None
    return (int(row) - 1, int(place) - 1) if int(row) and int(place) else None


def item_at(layout: Layout, name: str) -> str | None:
    """Return the item of a ring by its name; None when no ring is there."""
    found = place_of(name)
    if found is None or found[0] >= len(layout.rows) or found[1] >= len(layout.rows[found[0]].items):
        return None
    return layout.rows[found[0]].items[found[1]] or None


def too_many_places(places: int) -> str:
    """Return that rows have too many places, with the limit and what was asked."""
    return f"Rows have up to {MAX_PLACES:,} places here, gaps among them; these have {places:,}."
