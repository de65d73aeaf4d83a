"""Rows as their weave wants them: where they end, whether they nest, and what makes them impossible to work out.

Not here: rows by themselves (rows), their links (links).
"""

from __future__ import annotations

from collections.abc import Iterator

from models.layouts.engine.rows import EDGES, GAP, MAX_PLACES, MAX_RINGS, MAX_ROWS, Layout, Row, too_many_places
from models.layouts.weaves.sheets import SHEETS
from models.trade.faults import Fault


def steps_per_ring(weave: str) -> int:
    """Return the steps from one ring to the next along a row. Raises: KeyError for a weave that is not laid in rows."""
    return SHEETS[weave].steps_per_ring


def staggered(weave: str) -> bool:
    """Tell whether neighbouring rows of the weave stand half a pitch apart."""
    return SHEETS[weave].staggered


def end_of(row: Row, weave: str) -> int:
    """Return the step of the last place of a row; one place before its start when it is empty."""
    return row.start + SHEETS[weave].steps_per_ring * (len(row.items) - 1)


def nests(weave: str, above: Row, below: Row) -> bool:
    """Tell whether two neighbouring rows lie as the weave wants them: half a pitch apart where it is staggered."""
    return not SHEETS[weave].staggered or (above.start - below.start) % 2 == 1


def trimmed(row: Row, weave: str) -> Row:
    """Return the row without gaps at its ends."""
    first, last = 0, len(row.items)
    while last and row.items[last - 1] == GAP:
        last -= 1
    while first < last and row.items[first] == GAP:
        first += 1
    if last - first == len(row.items):
        return row
    return Row(row.start + first * SHEETS[weave].steps_per_ring, row.items[first:last])


def without_end_gaps(layout: Layout) -> Layout:
    """Return the piece without gaps at the ends of its rows, where they stand for nothing."""
    return layout.with_rows(trimmed(row, layout.weave) for row in layout.rows)


def faults_of(layout: Layout) -> tuple[Fault, ...]:
    """Return what makes the rows of a piece impossible to work out; a row that does not nest is a check, no fault."""
    return tuple(_faults(layout))


def _faults(layout: Layout) -> Iterator[Fault]:
    weave = SHEETS.get(layout.weave)
    if weave is None:
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
    if weave.joined and layout.rows and not layout.connector:
        yield Fault("connector", "Choose the ring that joins the hubs.")
