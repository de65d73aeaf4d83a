"""Gaps at the ends of rows are no rings: they change no size, no count, no link, no drawing and no step of the work."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.engine import edits, patterns
from models.layouts.engine.items import Item, items_of
from models.layouts.engine.links import net_of
from models.layouts.engine.nesting import trimmed
from models.layouts.engine.piece import draw_piece, work_out
from models.layouts.engine.resize import same_size
from models.layouts.engine.rows import GAP, Layout, Row
from models.layouts.places.sizes import Finished, Pitch, pitch_of
from models.layouts.steps.route import Route
from models.layouts.steps.work import OrderOfWork, order_of_work
from models.layouts.weaves.sheets import EUROPEAN_4, SHEETS
from models.trade.rings import RingSize
from tests.layouts.layouts import ITEMS

COPPER = RingSize(1_000_000, 4_000_000)
WIDE = {key: replace(item, size=RingSize(1_000_000, 7_000_000)) for key, item in ITEMS.items()}
"""Rings that every weave can be laid in."""


def with_gaps(row: Row, before: int, after: int, per: int) -> Row:
    return Row(row.start - before * per, (GAP,) * before + row.items + (GAP,) * after)


@st.composite
def pieces(draw: st.DrawFn) -> tuple[Layout, Layout]:
    """A piece without gaps at its ends, and the same piece with some."""
    weave = draw(st.sampled_from(sorted(SHEETS)))
    per = SHEETS[weave].steps_per_ring
    bare, gappy = [], []
    for number in range(draw(st.integers(1, 5))):
        inner = draw(st.lists(st.sampled_from(("a", "b", GAP)), max_size=5))
        start = draw(st.integers(-3, 3)) * per + (number % 2 if per == 2 else 0)
        row = Row(start, ("a", *inner, "b"))
        bare.append(row)
        gappy.append(with_gaps(row, draw(st.integers(0, 4)), draw(st.integers(0, 4)), per))
    up = draw(st.sampled_from(("first row", "last row", "row starts", "row ends")))
    layout = Layout(weave, tuple(bare), up=up, connector="a")
    return layout, layout.with_rows(gappy)


def size(layout: Layout) -> Finished:
    found = work_out(layout, WIDE).size
    assert isinstance(found, Finished)
    return found


def unnamed(text: str) -> str:
    """Words without the names of rings, which count the gaps before them."""
    return re.sub(r"\b\d+\.\d+[ab]?\b", "#", text)


def box_of(layout: Layout) -> str:
    svg = draw_piece(layout, WIDE).svg
    assert svg
    found = re.search(r'viewBox="([^"]+)"', svg)
    assert found
    return found[1]


def test_gaps_at_the_ends_of_copper_rows_leave_the_size_of_the_rings() -> None:
    copper = items_of([Item("o", "copper", COPPER)])
    rings = Layout(EUROPEAN_4, (Row(2, ("o", "o")), Row(1, ("o", "o", "o"))))
    gaps = Layout(EUROPEAN_4, (Row(0, (GAP, "o", "o", GAP)), Row(-1, (GAP, "o", "o", "o", GAP))))
    for layout in (rings, gaps):
        found = work_out(layout, copper).size
        assert isinstance(found, Finished)
        assert found.width_mm == pytest.approx(13.82, abs=0.005)


@given(pieces())
def test_gaps_at_the_ends_change_no_size_count_link_box_or_step(both: tuple[Layout, Layout]) -> None:
    bare, gappy = both
    assert size(gappy) == size(bare)
    one, other = work_out(bare, WIDE), work_out(gappy, WIDE)
    assert other.totals == one.totals
    assert other.net.links == one.net.links
    assert other.net.edges == one.net.edges
    assert [replace(each, words=unnamed(each.words)) for each in other.checks] == [
        replace(each, words=unnamed(each.words)) for each in one.checks
    ]
    assert box_of(gappy) == box_of(bare)
    for method in ("single rings", "adding closed rings"):
        route = Route(method=method)  # type: ignore[arg-type]
        work, again = (order_of_work(done.net, layout, WIDE, route) for done, layout in ((one, bare), (other, gappy)))
        assert isinstance(work, OrderOfWork)
        assert isinstance(again, OrderOfWork)
        assert again.closed == work.closed
        assert [unnamed(str(step)) for step in again.steps] == [unnamed(str(step)) for step in work.steps]


@given(pieces(), st.sampled_from(("first row", "last row", "row starts", "row ends")), st.integers(1, 2))
def test_growing_and_shrinking_begin_at_the_last_ring_and_not_at_a_gap(
    both: tuple[Layout, Layout], edge: str, by: int
) -> None:
    bare, gappy = both

    def rings(found: object) -> object:
        if not isinstance(found, Layout):
            return found
        return tuple(trimmed(row, found.weave) for row in found.rows)

    assert rings(edits.grow(gappy, edge, by)) == rings(edits.grow(bare, edge, by))  # type: ignore[arg-type]
    assert rings(edits.shrink(gappy, edge, by)) == rings(edits.shrink(bare, edge, by))  # type: ignore[arg-type]


@given(pieces())
def test_colours_along_rows_and_other_rings_follow_the_rings_alone(both: tuple[Layout, Layout]) -> None:
    bare, gappy = both
    items = [net_of(each) for each in (bare, gappy)]
    assert items[0].items == items[1].items
    painted = [patterns.along_rows(each, ("a", "b", "b")) for each in (bare, gappy)]
    assert all(isinstance(each, Layout) for each in painted)
    assert net_of(painted[0]).items == net_of(painted[1]).items  # type: ignore[arg-type]
    before, after = (pitch_of(bare.weave, RingSize(1_000_000, inner)) for inner in (7_000_000, 8_500_000))
    assert isinstance(before, Pitch)
    assert isinstance(after, Pitch)
    assert same_size(gappy, before, after) == same_size(bare, before, after)
