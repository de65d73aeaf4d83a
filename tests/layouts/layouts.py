"""Small layouts and items that the layout tests share, and the slow but plain way to list their links."""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations

from models.layouts.engine.items import Item, items_of
from models.layouts.engine.rows import GAP, Layout, Row, ring_name
from models.layouts.engine.shapes import Shape, rectangle
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, EUROPEAN_8, SHEETS
from models.trade.rings import RingSize

SIZE = RingSize(1_000_000, 4_000_000)
BRONZE = Item("a", "bronze", SIZE, Decimal("8.80"), tint="#b97b48")
BLUE = Item("b", "blue niobium", SIZE, Decimal("8.57"), tint="#3f6ea6", by_lot=True)
LARGE = Item("c", "large steel", RingSize(1_200_000, 6_000_000), Decimal("8.0"), tint="#b8bcc0")
CHAIN = Item("f", "trace chain", finding=True, thick_nm=800_000, width_nm=2_500_000, mass_g=Decimal(3))
ITEMS = items_of([BRONZE, BLUE, LARGE, CHAIN])

EUROPEAN = (EUROPEAN_4, EUROPEAN_6, EUROPEAN_8)


def sheet(shape: Shape, weave: str = EUROPEAN_4) -> Layout:
    """A piece with the rows of a shape; hub weaves join with large rings."""
    assert not shape.faults
    return Layout(weave, shape.rows, connector="c" if SHEETS[weave].joined else "")


def rect(rows: int, rings: int, weave: str = EUROPEAN_4) -> Layout:
    """A flush rectangle in bronze."""
    return sheet(rectangle(weave, rows, rings, "a"), weave)


def rows_of(*rows: tuple[int, int]) -> tuple[Row, ...]:
    """Bronze rows of (start, rings)."""
    return tuple(Row(start, ("a",) * rings) for start, rings in rows)


def brute_links(layout: Layout) -> set[frozenset[str]]:
    """Every linked pair of a European sheet from the weave's definition alone: all pairs of rings are tried.

    In half pitches of European 4-in-1 (a quarter of a pitch of it, so that 6-in-1 is whole as well): rings in
    neighbouring rows link when their sideways distance is one that the weave names.
    """
    pitch, apart = {EUROPEAN_4: (2, {1}), EUROPEAN_6: (1, {0, 1}), EUROPEAN_8: (2, {1, 3})}[layout.weave]
    spots = [
        (row, start.start + pitch * place, ring_name(row, place))
        for row, start in enumerate(layout.rows)
        for place, item in enumerate(start.items)
        if item != GAP
    ]
    return {
        frozenset((one[2], other[2]))
        for one, other in combinations(spots, 2)
        if abs(one[0] - other[0]) == 1 and abs(one[1] - other[1]) in apart
    }
