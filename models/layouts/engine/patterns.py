"""Colours over a piece: stripes, borders, checks, ring by ring, fill, another item for one item.

Each returns a new layout, so undo is keeping the old one; places without a ring stay empty. Not here: which items there
are, or their tints.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from models.layouts.engine.edits import extent
from models.layouts.engine.links import neighbour_places
from models.layouts.engine.nesting import steps_per_ring
from models.layouts.engine.rows import GAP, Layout, Row, place_of
from models.trade.breaks import go_on
from models.trade.faults import Fault


def each_ring(layout: Layout, choose: Callable[[int, int, str], str]) -> Layout:
    """Return the piece with every ring's item chosen from its row, place (both counted from 0) and item."""
    return layout.with_rows(
        Row(row.start, tuple(choose(number, place, item) if item else GAP for place, item in enumerate(row.items)))
        for number, row in enumerate(layout.rows)
    )


def stripes(
    layout: Layout, bands: Sequence[tuple[str, int]], *, from_row: int = 1, outward: bool = True
) -> Layout | Fault:
    """Return the piece striped by row: bands of (item, rows) repeat from a chosen row (counted from 1).

    Outward, they run from that row both ways, so that the piece is symmetric about it and the chosen row stands once;
    else they run on through all rows, the chosen row being the first of the first band.
    """
    if not bands or any(count < 1 or not item for item, count in bands):
        return Fault("bands", "Each stripe is an item and at least one row.")
    if not 1 <= from_row <= len(layout.rows):
        return Fault("from_row", f"There is no row {from_row}: this piece has {len(layout.rows)}.")
    repeat = [item for item, count in bands for _ in range(count)]
    start = from_row - 1

    def item_of(number: int) -> str:
        return repeat[(abs(number - start) if outward else number - start) % len(repeat)]

    return each_ring(layout, lambda number, _place, _item: item_of(number))


def along_rows(layout: Layout, repeat: Sequence[str]) -> Layout | Fault:
    """Return the piece with a repeat of items along every row, by where each ring stands, so that columns line up.

    In a staggered weave a row that stands half a pitch on takes the repeat of the column to its left.
    """
    if not repeat or not all(repeat):
        return Fault("repeat", "A repeat names at least one item.")
    first, _ = extent(layout)
    per = steps_per_ring(layout.weave)
    return each_ring(
        layout, lambda number, place, _item: repeat[((layout.rows[number].start - first) // per + place) % len(repeat)]
    )


def checks(layout: Layout, items: Sequence[str], *, rows: int = 1, rings: int = 1) -> Layout | Fault:
    """Return the piece in checks of so many rows by so many rings, the items taking turns."""
    if len(items) < 2 or not all(items) or rows < 1 or rings < 1:
        return Fault("items", "Checks need two items or more, and blocks of at least one ring.")
    return each_ring(layout, lambda number, place, _item: items[(number // rows + place // rings) % len(items)])


def border(layout: Layout, item: str, width: int = 1) -> Layout | Fault:
    """Return the piece with a border: the outermost rings all round, then the next, `width` times."""
    if width < 1 or not item:
        return Fault("width", "A border is at least one ring wide.")
    inside = {
        (number, place) for number, row in enumerate(layout.rows) for place, each in enumerate(row.items) if each != GAP
    }
    chosen: set[tuple[int, int]] = set()
    rim = rim_of(layout, inside)
    for _ in range(width):
        go_on()
        chosen |= rim
        inside -= rim
        # Only what lay beside the rim can be outermost now.
        beside = {other for place in rim for other in _beside(layout, *place) if other in inside}
        rim = rim_of(layout, inside, beside)
        if not rim:
            break
    return each_ring(layout, lambda number, place, each: item if (number, place) in chosen else each)


def _beside(layout: Layout, number: int, place: int) -> list[tuple[int, int]]:
    """Return the places along the row and in the rows above and below that a ring touches."""
    linked = (other for other, _ in neighbour_places(layout, number, place))
    return [(number, place - 1), (number, place + 1), *linked]


def rim_of(
    layout: Layout, inside: set[tuple[int, int]], of: Iterable[tuple[int, int]] | None = None
) -> set[tuple[int, int]]:
    """Return the outermost of some places: first or last of an unbroken run, or with no ring linked above or below.

    Where `of` is given only those are looked at.
    """
    rim: set[tuple[int, int]] = set()
    for number, place in inside if of is None else of:
        if (number, place - 1) not in inside or (number, place + 1) not in inside:
            rim.add((number, place))
            continue
        linked = [other for other, _ in neighbour_places(layout, number, place) if other in inside]
        if not any(row < number for row, _ in linked) or not any(row > number for row, _ in linked):
            rim.add((number, place))
    return rim


def paint(layout: Layout, names: Iterable[str], item: str) -> Layout | Fault:
    """Return the piece with the named rings in another item."""
    if not item:
        return Fault("item", "Choose what to paint with.")
    return paint_all(layout, dict.fromkeys(names, item))


def paint_all(layout: Layout, items: Mapping[str, str]) -> Layout | Fault:
    """Return the piece with each named ring in its own item."""
    if not all(items.values()):
        return Fault("item", "Choose what to paint with.")
    chosen: dict[tuple[int, int], str] = {}
    for name, item in items.items():
        found = place_of(name)
        if (
            found is None
            or found[0] >= len(layout.rows)
            or found[1] >= len(layout.rows[found[0]].items)
            or layout.rows[found[0]].items[found[1]] == GAP
        ):
            return Fault("ring", f"There is no ring {name[:20]} in this piece.")
        chosen[found] = item
    return each_ring(layout, lambda number, place, each: chosen.get((number, place), each))


def fill(layout: Layout, name: str, item: str) -> Layout | Fault:
    """Return the piece with the ring and all of its item that it touches, through links or along its row, painted."""
    found = place_of(name)
    rows = layout.rows
    if (
        found is None
        or found[0] >= len(rows)
        or found[1] >= len(rows[found[0]].items)
        or not rows[found[0]].items[found[1]]
    ):
        return Fault("ring", f"There is no ring {name[:20]} in this piece.")
    if not item:
        return Fault("item", "Choose what to paint with.")
    old = rows[found[0]].items[found[1]]
    reached = {found}
    waiting = [found]
    while waiting:
        for other in _beside(layout, *waiting.pop()):
            row, at = other
            if other not in reached and 0 <= at < len(rows[row].items) and rows[row].items[at] == old:
                reached.add(other)
                waiting.append(other)
    return each_ring(layout, lambda number, place, each: item if (number, place) in reached else each)


def recolour(layout: Layout, old: str, new: str) -> Layout | Fault:
    """Return the piece with every ring of one item in another."""
    if not new or old == new:
        return Fault("item", "Choose another item.")
    return each_ring(layout, lambda _number, _place, each: new if each == old else each)
