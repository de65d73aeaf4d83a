"""A sheet as rows: where each row starts, which rings lie along it, and which edge hangs up.

A step is half a pitch in a weave whose rows are staggered and a whole pitch in one whose rows are not, so the rings of
a row stand 2 steps or 1 step apart. Not here: links (links), places in space (place), whole shapes (shapes), plain
values for files and forms (plain).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
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

EUROPEAN_4 = "european-4-in-1"
EUROPEAN_6 = "european-6-in-1"
EUROPEAN_8 = "european-8-in-1"
JAPANESE_12 = "japanese-12-in-2"

# Steps from one ring of a row to the next: 2 where neighbouring rows are half a pitch apart. Source: derived for ideal
# rings in this project (European); the Japanese sheet is the triangular lattice of its hubs.
STEPS_PER_RING: dict[str, int] = {EUROPEAN_4: 2, EUROPEAN_6: 1, EUROPEAN_8: 2, JAPANESE_12: 2}


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with something that was handed in: where ('rows.3'), and what would be right, in plain words."""

    field: str
    message: str


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


def steps_per_ring(weave: str) -> int:
    """Return the steps from one ring to the next along a row. Raises: KeyError for a weave that is not laid in rows."""
    return STEPS_PER_RING[weave]


def staggered(weave: str) -> bool:
    """Tell whether neighbouring rows of the weave stand half a pitch apart."""
    return STEPS_PER_RING[weave] == 2


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


def end_of(row: Row, weave: str) -> int:
    """Return the step of the last place of a row; one place before its start when it is empty."""
    return row.start + STEPS_PER_RING[weave] * (len(row.items) - 1)


def nests(weave: str, above: Row, below: Row) -> bool:
    """Tell whether two neighbouring rows lie as the weave wants them: half a pitch apart where it is staggered."""
    return STEPS_PER_RING[weave] == 1 or (above.start - below.start) % 2 == 1


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


def trimmed(row: Row, weave: str) -> Row:
    """Return the row without gaps at its ends."""
    first, last = 0, len(row.items)
    while last and row.items[last - 1] == GAP:
        last -= 1
    while first < last and row.items[first] == GAP:
        first += 1
    return (
        Row(row.start + first * STEPS_PER_RING[weave], row.items[first:last]) if last - first < len(row.items) else row
    )


def without_end_gaps(layout: Layout) -> Layout:
    """Return the piece without gaps at the ends of its rows, where they stand for nothing."""
    return layout.with_rows(trimmed(row, layout.weave) for row in layout.rows)


def faults_of(layout: Layout) -> tuple[Fault, ...]:
    """Return what makes the rows of a piece impossible to work out; a row that does not nest is a check, no fault."""
    return tuple(_faults(layout))


def too_many_places(places: int) -> str:
    """Return that rows have too many places, with the limit and what was asked."""
    return f"Rows have up to {MAX_PLACES:,} places here, gaps among them; these have {places:,}."


def _faults(layout: Layout) -> Iterator[Fault]:
    if layout.weave not in STEPS_PER_RING:
        yield Fault("weave", f"“{layout.weave[:40]}” is not a weave that is laid in rows.")
        return
    if not layout.rows:
        yield Fault("rows", "Lay at least one row.")
    if len(layout.rows) > MAX_ROWS:
        yield Fault("rows", f"A piece has up to {MAX_ROWS:,} rows here; this one has {len(layout.rows):,}.")
    places = sum(len(row.items) for row in layout.rows)
    if places > MAX_PLACES:
        yield Fault("rows", too_many_places(places))
        return
    rings = layout.rings
    if rings > MAX_RINGS:
        yield Fault("rows", f"A piece has up to {MAX_RINGS:,} rings here; this one has {rings:,}.")
    if layout.up not in EDGES:
        yield Fault("up", "Say which edge hangs up: " + ", ".join(EDGES) + ".")
    for number, row in enumerate(layout.rows, 1):
        if not row.rings:
            yield Fault(f"rows.{number}", f"Row {number} has no rings. Lay some, or take the row away.")
    if layout.weave == JAPANESE_12 and layout.rows and not layout.connector:
        yield Fault("connector", "Choose the ring that joins the hubs.")
