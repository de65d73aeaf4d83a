"""Small changes to a piece: a row set, added, moved or taken away, an edge grown or shrunk, a ring dropped.

Each returns a new layout, so undo is keeping the old one. Not here: colours (patterns), whole shapes (shapes).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from models.layouts.engine.nesting import end_of, nests, staggered, steps_per_ring, trimmed, without_end_gaps
from models.layouts.engine.rows import GAP, Edge, Layout, Row, place_of
from models.trade.faults import Fault
from models.trade.vocabulary import pieces


def set_row(layout: Layout, number: int, row: Row) -> Layout | Fault:
    """Return the piece with one row (counted from 1) replaced."""
    if not 1 <= number <= len(layout.rows):
        return _no_such_row(layout, number)
    return layout.with_rows((*layout.rows[: number - 1], row, *layout.rows[number:]))


def insert_row(layout: Layout, number: int, row: Row) -> Layout | Fault:
    """Return the piece with a row added so that it becomes row `number`; the rest move on."""
    if not 1 <= number <= len(layout.rows) + 1:
        return _no_such_row(layout, number)
    return layout.with_rows((*layout.rows[: number - 1], row, *layout.rows[number - 1 :]))


def remove_row(layout: Layout, number: int) -> Layout | Fault:
    """Return the piece without a row (counted from 1)."""
    if not 1 <= number <= len(layout.rows):
        return _no_such_row(layout, number)
    if len(layout.rows) == 1:
        return Fault("rows", "A piece keeps at least one row.")
    return layout.with_rows((*layout.rows[: number - 1], *layout.rows[number:]))


def move_row(layout: Layout, number: int, steps: int) -> Layout | Fault:
    """Return the piece with one row moved by so many steps towards the row ends (towards the starts below zero)."""
    if not 1 <= number <= len(layout.rows):
        return _no_such_row(layout, number)
    row = layout.rows[number - 1]
    return set_row(layout, number, Row(row.start + steps, row.items))


def _no_such_row(layout: Layout, number: int) -> Fault:
    return Fault("rows", f"There is no row {number}: this piece has {len(layout.rows)}.")


def grow(layout: Layout, edge: Edge, by: int = 1, item: str = "") -> Layout | Fault:
    """Return the piece grown at an edge: rows get `by` rings more there, or `by` rows are added.

    A new ring takes the item of its neighbour at the edge unless one is named; an added row copies its neighbour and
    stands half a pitch towards the row ends, or back, in turn, where the weave is staggered.
    """
    if by < 1:
        return Fault("by", "Grow by at least 1.")
    per = steps_per_ring(layout.weave)
    layout = without_end_gaps(layout)
    if edge == "row starts":
        return layout.with_rows(
            Row(row.start - per * by, (item or row.items[0],) * by + row.items) for row in layout.rows
        )
    if edge == "row ends":
        return layout.with_rows(Row(row.start, row.items + (item or row.items[-1],) * by) for row in layout.rows)
    rows = list(layout.rows)
    for _ in range(by):
        if edge == "last row":
            rows.append(_beside(layout.weave, rows[-1], rows[-2] if len(rows) > 1 else None, item))
        else:
            rows.insert(0, _beside(layout.weave, rows[0], rows[1] if len(rows) > 1 else None, item))
    return layout.with_rows(rows)


def _beside(weave: str, edge: Row, behind: Row | None, item: str) -> Row:
    """Return a new row beside the edge row: as wide, where it keeps the edges flush."""
    move = 0
    if staggered(weave):
        move = -1 if behind is not None and behind.start < edge.start else 1
    items = tuple((item if each != GAP else GAP) for each in edge.items) if item else edge.items
    return Row(edge.start + move, items)


def shrink(layout: Layout, edge: Edge, by: int = 1) -> Layout | Fault:
    """Return the piece shrunk at an edge by so many rings of each row, or so many rows; emptied rows go."""
    if by < 1:
        return Fault("by", "Shrink by at least 1.")
    per = steps_per_ring(layout.weave)
    layout = without_end_gaps(layout)
    kept: Iterable[Row]
    if edge == "row starts":
        kept = (Row(row.start + per * by, row.items[by:]) for row in layout.rows)
    elif edge == "row ends":
        kept = (Row(row.start, row.items[:-by]) for row in layout.rows)
    elif edge == "first row":
        kept = layout.rows[by:]
    else:
        kept = layout.rows[:-by]
    left = tuple(trimmed(row, layout.weave) for row in kept)
    if not any(row.rings for row in left):
        return Fault("by", "Nothing would be left of the piece.")
    first = next(place for place, row in enumerate(left) if row.rings)
    last = next(place for place, row in enumerate(reversed(left)) if row.rings)
    middle = left[first : len(left) - last]
    if any(not row.rings for row in middle):
        return Fault("by", "The piece would fall in two: a row in its middle would have no rings.")
    return layout.with_rows(middle)


def drop_rings(layout: Layout, names: Iterable[str]) -> Layout | Fault:
    """Return the piece without some rings: at the end of a row the row gets shorter, inside it a gap is left.

    A row that loses its last ring goes too when it is the first or the last row of the piece.
    """
    gone: dict[int, set[int]] = {}
    for name in names:
        found = place_of(name)
        if found is None or found[0] >= len(layout.rows) or found[1] >= len(layout.rows[found[0]].items):
            return Fault("ring", f"There is no ring {name[:20]} in this piece.")
        gone.setdefault(found[0], set()).add(found[1])
    rows: list[Row] = []
    for number, row in enumerate(layout.rows):
        lost = gone.get(number)
        if lost:
            items = tuple(GAP if place in lost else item for place, item in enumerate(row.items))
            rows.append(trimmed(Row(row.start, items), layout.weave))
        else:
            rows.append(row)
    while rows and not rows[0].rings:
        rows.pop(0)
    while rows and not rows[-1].rings:
        rows.pop()
    if not rows:
        return Fault("ring", "Nothing would be left of the piece.")
    if any(not row.rings for row in rows):
        return Fault("ring", "The piece would fall in two: a row in its middle would have no rings.")
    return layout.with_rows(rows)


def nest(layout: Layout, number: int, steps: int = 1) -> Layout | Fault:
    """Return the piece with row `number` and all after it moved, so that it nests with the row before."""
    if not 2 <= number <= len(layout.rows):
        return _no_such_row(layout, number)
    rows = layout.rows
    moved = tuple(Row(row.start + steps, row.items) for row in rows[number - 1 :])
    if not nests(layout.weave, rows[number - 2], moved[0]):
        return Fault("steps", "Rows of this weave nest half a pitch apart: move by an odd number of steps.")
    return layout.with_rows((*rows[: number - 1], *moved))


def turned(layout: Layout, up: Edge) -> Layout:
    """Return the same piece hanging from another edge."""
    return replace(layout, up=up)


SIDES = pieces.SIDES


def edge_at(up: Edge, side: str) -> Edge:
    """Return which edge of the rows is at the 'top', 'right', 'bottom' or 'left' as the piece hangs.

    Raises: ValueError for another side.
    """
    return pieces.ROUND[(pieces.ROUND.index(up) + SIDES.index(side)) % 4]


def extent(layout: Layout) -> tuple[int, int]:
    """Return the first and the last step at which a ring of any row stands; gaps at the ends of rows are no rings."""
    rows = [trimmed(row, layout.weave) for row in layout.rows]
    return min(row.start for row in rows), max(end_of(row, layout.weave) for row in rows)
