"""Whole shapes as rows: rectangles, lozenges, triangles, fans, discs, halves mirrored, rows repeated.

Every shape is plain rows afterwards, so each row can still be edited. An edge's step counts outward: +1 makes each
further row one step wider at that edge, -1 narrower. 'flush' is as straight as the weave allows: in a staggered weave
alternate rows stand half a pitch apart, and the shape says so. Not here: edits of a piece (edits), colours (patterns).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from models.layouts.engine.nesting import end_of, nests, staggered, steps_per_ring, trimmed
from models.layouts.engine.rows import GAP, MAX_RINGS, Layout, Row

Step = int | Literal["flush"]
MOST_LAID = 10 * MAX_RINGS
"""So many places are laid before an outline is cut from them; more are refused at once."""
_TOO_MANY = f"A piece has up to {MAX_RINGS:,} rings here; this shape would have more than {MOST_LAID:,} places."


@dataclass(frozen=True, slots=True)
class Shape:
    """Rows of a shape; `notes` say what a person should know, `faults` why it cannot be laid (then without rows)."""

    rows: tuple[Row, ...] = ()
    notes: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()


def by_edges(
    weave: str,
    rows: int,
    rings: int,
    item: str,
    *,
    starts: Step = "flush",
    ends: Step = "flush",
    first: Step = "flush",
    last: Step = "flush",
) -> Shape:
    """Lay so many rows, the first with so many rings, each edge with its own step.

    `first` and `last` slope the first and last edge: with step k that edge goes one row deeper for every |k| steps,
    towards the row ends when k > 0, towards the row starts when k < 0.
    """
    faults = _sizes_wrong(rows, rings) + _steps_wrong(weave, (starts, ends, first, last))
    if faults:
        return Shape(faults=faults)
    per = steps_per_ring(weave)
    laid: list[Row] = []
    places = 0
    for number in range(rows):
        begin = _edge(number, starts, weave, inward=True)
        end = per * (rings - 1) - _edge(number, ends, weave, inward=False)
        if end < begin:
            return Shape(faults=(f"With these steps row {number + 1} would have no rings.",))
        places += (end - begin) // per + 1
        if places > MOST_LAID:
            return Shape(faults=(_TOO_MANY,))
        laid.append(Row(begin, (item,) * ((end - begin) // per + 1)))
    cut = _sloped(_sloped(laid, first, weave)[::-1], last, weave)[::-1]
    if not cut:
        return Shape(faults=("With these slopes no rings are left.",))
    flush = [name for name, step in (("row starts", starts), ("row ends", ends)) if step == "flush"]
    return Shape(tuple(cut), _flush_note(weave, flush, rows))


def _sizes_wrong(rows: int, rings: int) -> tuple[str, ...]:
    return ("A shape has at least one row of one ring.",) if rows < 1 or rings < 1 else ()


def _steps_wrong(weave: str, steps: Sequence[Step]) -> tuple[str, ...]:
    """Return a fault for steps that would keep staggered rows from nesting."""
    if not staggered(weave):
        return ()
    if any(step != "flush" and step % 2 == 0 for step in steps[:2]):
        return ("Rows of this weave nest only half a pitch apart: use an odd step (1, 3, -1 …) or flush.",)
    return ()


def _flush_note(weave: str, edges: Sequence[str], rows: int) -> tuple[str, ...]:
    if not edges or not staggered(weave) or rows < 2:
        return ()
    return (f"At the {' and the '.join(edges)} alternate rows stand half a pitch apart.",)


def _edge(number: int, step: Step, weave: str, *, inward: bool) -> int:
    """Return how far inward of the first row's edge a row's edge stands, in steps.

    Flush edges of a staggered weave move together: odd rows are half a pitch nearer the row ends at both edges.
    """
    if step == "flush":
        shift = number % 2 if staggered(weave) else 0
        return shift if inward else -shift
    return -step * number


def _sloped(rows: Sequence[Row], step: Step, weave: str) -> list[Row]:
    """Return the rows cut along a sloping first edge."""
    if step in ("flush", 0) or isinstance(step, str):
        return list(rows)
    left, right = rows[0].start, end_of(rows[0], weave)
    per = steps_per_ring(weave)
    cut: list[Row] = []
    for number, row in enumerate(rows):
        reach = number * abs(step)
        places = range(row.start, row.start + per * len(row.items), per)
        kept = [
            item if (place <= left + reach if step > 0 else place >= right - reach) else GAP
            for place, item in zip(places, row.items, strict=True)
        ]
        tidy = trimmed(Row(row.start, tuple(kept)), weave)
        if tidy.rings:
            cut.append(tidy)
    return cut


def rectangle(weave: str, rows: int, rings: int, item: str) -> Shape:
    """Lay a rectangle with flush edges."""
    return by_edges(weave, rows, rings, item)


def strip(
    weave: str, rings_long: int, rows_wide: int, item: str, *, along: Literal["rows", "across"] = "rows"
) -> Shape:
    """Lay a strip for a bracelet or choker: its length runs along its rows, or across them."""
    if along == "rows":
        return by_edges(weave, rows_wide, rings_long, item)
    return by_edges(weave, rings_long, rows_wide, item)


def lozenge(weave: str, middle: int, item: str, *, tips: int = 1, step: int = 1) -> Shape:
    """Lay a lozenge: rows grow from `tips` rings to `middle` rings and shrink again, by `step` steps at both edges."""
    return _grown(weave, tips, middle, item, step, back=True)


def triangle(weave: str, widest: int, item: str, *, point: Literal["first", "last"] = "last", step: int = 1) -> Shape:
    """Lay a triangle that narrows to one ring at its last (or first) row, by `step` steps at both edges."""
    return trapezium(weave, 1 if point == "first" else widest, widest if point == "first" else 1, item, step=step)


def trapezium(weave: str, first: int, last: int, item: str, *, step: int = 1) -> Shape:
    """Lay rows from `first` rings to `last` rings, by `step` steps at both edges."""
    if first <= last:
        return _grown(weave, first, last, item, step, back=False)
    shape = _grown(weave, last, first, item, step, back=False)
    return Shape(shape.rows[::-1], shape.notes, shape.faults)


def _grown(weave: str, least: int, most: int, item: str, step: int, *, back: bool) -> Shape:
    """Lay rows that grow at both edges from the least to the most rings, and back again."""
    faults = _sizes_wrong(least, most) + _steps_wrong(weave, (step, step))
    if step < 1:
        faults += ("The rows must grow: use a step of 1 or more.",)
    if most < least:
        faults += ("The widest row has at least as many rings as the narrowest.",)
    if faults:
        return Shape(faults=faults)
    per = steps_per_ring(weave)
    each_row = 2 * step // per
    reached = least + (most - least) // each_row * each_row
    counts = list(range(least, reached + 1, each_row))
    if sum(counts) > MOST_LAID:
        return Shape(faults=(_TOO_MANY,))
    grown = [Row(-step * number, (item,) * count) for number, count in enumerate(counts)]
    shift = step * (len(counts) - 1)
    laid = [Row(row.start + shift, row.items) for row in grown]
    note = (
        ()
        if reached == most
        else (f"Each row grows by {each_row} rings, so the widest row has {reached}, not {most}.",)
    )
    return Shape(tuple(laid + laid[-2::-1] if back else laid), note)


def fan(
    weave: str,
    rows: int,
    widest: int,
    item: str,
    *,
    straight: Literal["row starts", "row ends"] = "row starts",
    step: int = -1,
) -> Shape:
    """Lay a fan: one straight edge and one stepped edge, from its widest row on. `step` counts outward."""
    if straight == "row starts":
        return by_edges(weave, rows, widest, item, starts="flush", ends=step)
    return by_edges(weave, rows, widest, item, starts=step, ends="flush")


def disc(weave: str, rows: int, item: str, *, pitch_share: float) -> Shape:
    """Lay the outline of a disc of so many rows. `pitch_share` is row pitch / ring pitch, from the ring's real size.

    Each row is as wide as the circle is at its height, to the nearest place, and symmetric about the middle.
    """
    if rows < 1 or not 0.05 < pitch_share < 20:
        return Shape(faults=("A disc has at least one row, and rings of a known size.",))
    per = steps_per_ring(weave)
    # In units of a ring pitch; half a row is added so that the first and last row are not single rings.
    radius = rows * pitch_share / 2
    laid: list[Row] = []
    places = 0
    for number in range(rows):
        height = (number - (rows - 1) / 2) * pitch_share
        half_steps = math.sqrt(max(0.0, radius * radius - height * height)) * per
        parity = number % 2 if staggered(weave) else 0
        reach = max(parity, 2 * round((half_steps - parity) / 2) + parity) if per == 2 else round(half_steps)
        places += 2 * reach // per + 1
        if places > MOST_LAID:
            return Shape(faults=(_TOO_MANY,))
        laid.append(Row(-reach, (item,) * (2 * reach // per + 1)))
    return Shape(tuple(laid))


def mirrored(weave: str, half: Sequence[Row], *, about: Literal["row", "between"] = "row", shift: int = 1) -> Shape:
    """Mirror rows that are laid from the middle outward: `half[0]` is the middle row (or the row beside the middle).

    About a row, the middle row stands once. Between rows, it stands twice; in a staggered weave the mirrored half then
    moves by `shift` half pitches so that it nests, and the shape says so.
    """
    if not half:
        return Shape(faults=("Lay at least the middle row.",))
    if about == "row":
        return Shape((*half[:0:-1], *half))
    move = shift if staggered(weave) else 0
    if staggered(weave) and shift % 2 == 0:
        return Shape(faults=("The mirrored half must move by an odd number of half pitches to nest.",))
    other = tuple(Row(row.start + move, row.items) for row in reversed(half))
    way = "the row ends" if move > 0 else "the row starts"
    note = (f"The mirrored half stands half a pitch towards {way}, so that the two middle rows nest.",) if move else ()
    return Shape((*other, *half), note)


def mirrored_across(weave: str, rows: Sequence[Row], *, about: Literal["ring", "between"] = "ring") -> Shape:
    """Mirror each row at its own end: rows are given from their start to the middle.

    About a ring, the last ring of each given row stands once in the middle; between, it stands twice.
    """
    middle = 1 if about == "ring" else 0
    laid = tuple(Row(row.start, row.items + row.items[: len(row.items) - middle][::-1]) for row in rows)
    torn = [number + 2 for number, (a, b) in enumerate(pairwise(laid)) if not nests(weave, a, b)]
    return Shape(laid, tuple(f"Row {number} does not nest with the row before it." for number in torn))


def repeated_rows(weave: str, rows: Sequence[Row], first: int, last: int, times: int) -> Shape:
    """Repeat rows `first` to `last` (counted from 1) so that they stand `times` times in a row, and keep the rest.

    Each repeat moves by half a pitch towards the row ends where it would not nest otherwise, and back the next time.
    """
    if not 1 <= first <= last <= len(rows) or times < 1:
        return Shape(faults=("Choose rows of the piece, and how many times they stand.",))
    block = rows[first - 1 : last]
    laid = list(rows[: first - 1])
    notes: tuple[str, ...] = ()
    for _ in range(times):
        move = 0 if not laid or nests(weave, laid[-1], block[0]) else 1
        laid += [Row(row.start + move, row.items) for row in block]
    tail = rows[last:]
    if any(not nests(weave, a, b) for a, b in pairwise(laid)):
        notes += ("Some of these rows did not nest to begin with.",)
    if tail:
        move = 0 if nests(weave, laid[-1], tail[0]) else 1
        laid += [Row(row.start + move, row.items) for row in tail]
        if move:
            notes += ("The rows after the repeat moved by half a pitch, so that they nest.",)
    return Shape(tuple(laid), notes)


def laid_out(layout: Layout, shape: Shape) -> Layout:
    """Return the piece with the rows of a shape. Raises: ValueError for a shape with faults."""
    if shape.faults:
        raise ValueError(shape.faults[0])
    return layout.with_rows(shape.rows)
