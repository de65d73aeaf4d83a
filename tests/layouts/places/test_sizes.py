"""Sizes: swatches that win, counts nearest a wanted size, edges that must be measured, the same design in another ring."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.items import Item
from models.layouts.engine.links import net_of
from models.layouts.engine.nesting import nests
from models.layouts.engine.patterns import border, stripes
from models.layouts.engine.piece import work_out
from models.layouts.engine.resize import same_size, suits, with_ring
from models.layouts.engine.rows import Layout, Row
from models.layouts.engine.shapes import lozenge, rectangle
from models.layouts.places.sheet import Placement, Unplaced, one_size, place_sheet
from models.layouts.places.sizes import (
    MEASURE,
    SWATCH,
    NoPitch,
    Pitch,
    Swatch,
    finished,
    pitch_of,
    rectangle_mm,
    rings_for,
    rows_for,
)
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, JAPANESE_12
from models.trade.rings import RingSize
from tests.layouts.layouts import BLUE, BRONZE, ITEMS, SIZE, rect, sheet


def pitch(weave: str = EUROPEAN_4, size: RingSize = SIZE, swatch: Swatch | None = None) -> Pitch:
    found = pitch_of(weave, size, swatch)
    assert isinstance(found, Pitch)
    return found


def test_a_measured_swatch_wins_and_gives_back_its_own_size() -> None:
    swatch = Swatch(SIZE, 8, 10, 44.0, 26.0)
    found = pitch(swatch=swatch)
    assert found.source == SWATCH
    assert rectangle_mm(EUROPEAN_4, 8, 10, found) == pytest.approx((44.0, 26.0))
    ideal = pitch()
    assert found.along_mm / ideal.along_mm == pytest.approx(44.0 / rectangle_mm(EUROPEAN_4, 8, 10, ideal)[0])


def test_a_swatch_of_another_ring_corrects_by_the_same_share_and_says_so() -> None:
    other = RingSize(1_000_000, 3_500_000)
    ideal = rectangle_mm(EUROPEAN_4, 8, 10, pitch(size=other))
    swatch = Swatch(other, 8, 10, ideal[0] * 1.04, ideal[1] * 0.97)
    found = pitch(swatch=swatch)
    assert "another ring size" in found.note
    assert found.along_mm == pytest.approx(pitch().along_mm * 1.04)
    assert found.across_mm == pytest.approx(pitch().across_mm * 0.97)


def test_where_nothing_is_computed_a_swatch_of_the_same_ring_is_enough() -> None:
    tight = RingSize(1_000_000, 4_100_000)
    assert isinstance(pitch_of(EUROPEAN_6, tight), NoPitch)
    found = pitch(EUROPEAN_6, tight, Swatch(tight, 6, 10, 26.0, 21.0))
    assert rectangle_mm(EUROPEAN_6, 6, 10, found) == pytest.approx((26.0, 21.0))
    assert isinstance(pitch_of(EUROPEAN_6, tight, Swatch(RingSize(1_000_000, 4_000_000), 6, 10, 26.0, 21.0)), NoPitch)
    assert isinstance(pitch_of(EUROPEAN_6, tight, Swatch(tight, 1, 10, 26.0, 6.0)), NoPitch)
    assert isinstance(pitch_of("box-chain", tight), NoPitch)


def test_a_size_that_cannot_be_computed_says_measure_and_why() -> None:
    found = finished(rect(3, 4, EUROPEAN_6), pitch_of(EUROPEAN_6, RingSize(1_000_000, 4_100_000)))
    assert (found.width_mm, found.height_mm, found.source) == (None, None, MEASURE)
    assert "AR 4.44" in found.notes[0]


def test_the_one_ring_at_a_tip_gathers_nothing() -> None:
    gather = Attachment("g", "gather", Selection("first row"), ring="c")
    bare = Layout(EUROPEAN_4, lozenge(EUROPEAN_4, 5, BRONZE).rows)
    hung = Layout(EUROPEAN_4, bare.rows, (gather,))
    assert finished(hung, pitch()) == finished(bare, pitch())
    assert finished(hung, pitch()).width_mm is not None


def test_a_gathered_edge_says_measure() -> None:
    gather = Attachment("g", "gather", Selection("first row"), ring="c")
    layout = Layout(EUROPEAN_4, rect(4, 5).rows, (gather,))
    found = finished(layout, pitch())
    assert found.width_mm is None
    assert found.height_mm is not None
    assert "first row is gathered" in found.notes[0]
    through = Layout(
        EUROPEAN_4,
        rect(4, 5).rows,
        (
            Attachment("h", "hang", Selection("row ends"), ring="b"),
            Attachment("g", "gather", Selection("attachment", of="h"), ring="c"),
        ),
    )
    assert finished(through, pitch()).height_mm is None


def test_a_turned_piece_swaps_width_and_height() -> None:
    flat = finished(rect(4, 9), pitch())
    turned = finished(Layout(EUROPEAN_4, rect(4, 9).rows, up="row starts"), pitch())
    assert (turned.width_mm, turned.height_mm) == (flat.height_mm, flat.width_mm)


@given(st.floats(5, 400), st.sampled_from([EUROPEAN_4, EUROPEAN_6]))
def test_the_nearest_counts_surround_a_wanted_size(wanted_mm: float, weave: str) -> None:
    measure = pitch(weave, RingSize(1_000_000, 5_000_000))
    for found in (rows_for(wanted_mm, measure), rings_for(wanted_mm, weave, measure)):
        assert found.above.mm >= wanted_mm - 1e-6 or found.above.count == 1
        if found.below is not None:
            assert found.below.mm <= wanted_mm + 1e-6
            assert found.above.count - found.below.count in (0, 1)
            assert (
                abs(found.nearest.mm - wanted_mm)
                <= min(abs(found.below.mm - wanted_mm), abs(found.above.mm - wanted_mm)) + 1e-9
            )


def test_the_nearest_counts_of_a_made_size_are_its_own() -> None:
    wide, high = rectangle_mm(EUROPEAN_4, 12, 9, pitch())
    assert rows_for(high, pitch()).nearest.count == 12
    assert rings_for(wide, EUROPEAN_4, pitch()).nearest.count == 9
    assert rings_for(wide, EUROPEAN_4, pitch()).above.count == 9


def test_rings_of_one_sheet_may_differ_by_a_hair_only() -> None:
    near_blue = Item("b", "blue", RingSize(1_010_000, 4_000_000))
    layout = Layout(EUROPEAN_4, (*rect(2, 3).rows[:1], Row(1, ("b", "b"))))
    net = net_of(layout)
    assert one_size(net, {"a": BRONZE, "b": near_blue}) == SIZE
    mixed = one_size(net, {"a": BRONZE, "b": Item("b", "blue", RingSize(1_000_000, 4_200_000))})
    assert isinstance(mixed, Unplaced)
    assert mixed.drawn_as == SIZE
    unknown = one_size(net, {"a": BRONZE})
    assert isinstance(unknown, Unplaced)
    assert "not known" in unknown.reason


def test_too_small_rings_have_no_places_and_tight_ones_say_that_they_overlap() -> None:
    layout = rect(3, 3)
    assert isinstance(place_sheet(layout, net_of(layout), RingSize(1_000_000, 1_900_000)), Unplaced)
    tight = place_sheet(layout, net_of(layout), RingSize(1_000_000, 2_800_000))
    assert isinstance(tight, Placement)
    assert not tight.clear
    assert "overlap a little" in tight.notes[0]


def test_another_ring_keeps_the_layout_and_changes_size_and_mass() -> None:
    smaller = Item("x", "silver", RingSize(800_000, 3_200_000), Decimal("10.36"))
    items = with_ring(ITEMS, "a", smaller)
    assert items["a"].key == "a"
    before, after = work_out(rect(6, 6), ITEMS), work_out(rect(6, 6), items)
    assert after.net.counts == before.net.counts
    assert after.size.width_mm == pytest.approx(0.8 * before.size.width_mm)  # type: ignore[union-attr]
    with pytest.raises(KeyError):
        with_ring(ITEMS, "nothing", smaller)
    assert suits(rect(6, 6), smaller.size or SIZE).verdict == "comfortable"
    assert suits(rect(6, 6), RingSize(1_000_000, 2_900_000)).verdict == "too small"


@given(st.integers(2, 14), st.integers(2, 14), st.sampled_from([3_000_000, 3_600_000, 5_000_000, 6_500_000]))
def test_the_same_finished_size_from_another_ring_comes_within_half_a_row(rows: int, rings: int, inner_nm: int) -> None:
    layout = rect(rows, rings)
    before, after = pitch(), pitch(size=RingSize(1_000_000, inner_nm))
    resized = same_size(layout, before, after).layout
    assert all(nests(EUROPEAN_4, a, b) for a, b in zip(resized.rows, resized.rows[1:], strict=False))
    old, new = finished(layout, before), finished(resized, after)
    assert abs((old.height_mm or 0) - (new.height_mm or 0)) <= after.across_mm / 2 + 1e-6 or len(resized.rows) == 1
    assert (
        abs((old.width_mm or 0) - (new.width_mm or 0)) <= after.along_mm * 0.76
        or min(len(r.items) for r in resized.rows) == 1
    )


def test_a_resized_piece_keeps_its_shape_and_its_colours() -> None:
    layout = sheet(lozenge(EUROPEAN_4, 9, "a"))
    bordered = border(layout, "b", 2)
    assert isinstance(bordered, Layout)
    small = RingSize(600_000, 2_400_000)
    resized = same_size(bordered, pitch(), pitch(size=small)).layout
    counts = [len(row.items) for row in resized.rows]
    middle = len(counts) // 2
    assert counts[: middle + 1] == sorted(counts[: middle + 1])
    assert counts[middle:] == sorted(counts[middle:], reverse=True)
    share = net_of(bordered).counts["b"] / bordered.rings
    assert net_of(resized).counts["b"] / resized.rings == pytest.approx(share, abs=0.08)
    striped = stripes(rect(12, 6), [("a", 3), ("b", 3)])
    assert isinstance(striped, Layout)
    again = same_size(striped, pitch(), pitch(size=RingSize(500_000, 2_000_000))).layout
    assert [row.items[0] for row in again.rows][:6] == ["a"] * 6


def test_the_same_ring_gives_the_same_rectangle_back() -> None:
    for rows, rings in ((5, 6), (8, 3), (1, 4), (2, 2)):
        assert same_size(rect(rows, rings), pitch(), pitch()).layout == rect(rows, rings)


def test_attachments_are_carried_over_by_edge_and_not_by_single_rings() -> None:
    layout = Layout(
        EUROPEAN_4,
        rect(10, 6).rows,
        (
            Attachment("fringe", "hang", Selection("row ends", rows=(6, 10)), ring="b"),
            Attachment("bail", "hang", Selection("every ring", rings=("1.1",)), ring="b"),
        ),
    )
    found = same_size(layout, pitch(), pitch(size=RingSize(500_000, 2_000_000)))
    assert [each.name for each in found.layout.attachments] == ["fringe"]
    rows = found.layout.attachments[0].on.rows
    assert rows is not None
    assert rows[1] == len(found.layout.rows)
    assert "bail" in found.notes[0]


def test_a_japanese_sheet_is_sized_with_its_connectors() -> None:
    layout = sheet(rectangle(JAPANESE_12, 3, 3, "a"), JAPANESE_12)
    items = {
        "a": Item("a", "hub", RingSize(1_000_000, 6_000_000)),
        "c": Item("c", "joiner", RingSize(1_000_000, 6_000_000)),
    }
    same = work_out(layout, items).size
    smaller = work_out(layout, {**items, "c": Item("c", "joiner", RingSize(1_000_000, 5_000_000))}).size
    assert smaller.width_mm < same.width_mm  # type: ignore[union-attr, operator]
    assert BLUE.size == SIZE
