"""Large and small Japanese rings: what is told to lie clear does, measured on placed rings by other means.

Source of the linking number: as in `test_layout_linking`. The figure of 0.08 mm is derived for this project from the
same places with a separate program.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from models.layouts.engine.items import Item, items_of
from models.layouts.engine.links import net_of
from models.layouts.engine.piece import draw_piece, work_out
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import lozenge
from models.layouts.places.geometry import ring_mm
from models.layouts.places.hubs import clash_of, hubs_fit, why_no_room
from models.layouts.places.sheet import Placement, Unplaced, place_sheet
from models.layouts.places.sizes import COMPUTED, MEASURE, Finished
from models.layouts.weaves.hubs import HubWeave
from models.layouts.weaves.sheets import JAPANESE_12, SHEETS
from models.trade.rings import RingSize
from tests.outside.test_layout_linking import compare, distance

pytestmark = pytest.mark.long

WEAVE = SHEETS[JAPANESE_12]
assert isinstance(WEAVE, HubWeave)
PIECE = Layout(JAPANESE_12, lozenge(JAPANESE_12, 3, "a").rows, connector="c")


def ring(wire_mm: float, inner_mm: float) -> RingSize:
    return RingSize(round(wire_mm * 1_000_000), round(inner_mm * 1_000_000))


def size_of(hub: RingSize, connector: RingSize) -> Finished:
    found = work_out(PIECE, items_of([Item("a", "large", hub), Item("c", "small", connector)])).size
    assert isinstance(found, Finished)
    return found


def overlap_mm(hub: RingSize, connector: RingSize) -> float:
    """The worst overlap of any two rings of a placed piece, from many points of each."""
    net = net_of(PIECE)
    placed = place_sheet(PIECE, net, hub, connector)
    assert isinstance(placed, Placement)
    worst = -1.0
    for one, other in combinations(range(len(net)), 2):
        a, b = placed.pose(one).ring, placed.pose(other).ring
        mean = (a.wire_mm + b.wire_mm) / 2
        if np.linalg.norm(np.subtract(placed.centre(one), placed.centre(other))) < a.radius_mm + b.radius_mm + mean:
            worst = max(worst, mean - distance(placed, one, other))
    return worst


def test_rings_that_overlap_have_no_size_and_the_reason_says_what_fits() -> None:
    hub, connector = ring(1.6, 8.0), ring(1.6, 5.0)
    assert overlap_mm(hub, connector) == pytest.approx(0.08, abs=0.005)
    found = size_of(hub, connector)
    assert (found.width_mm, found.height_mm, found.source) == (None, None, MEASURE)
    (words,) = found.notes
    assert "the small rings would overlap by 0.08 mm" in words
    assert "small ones from 7.3 mm inside" in words
    assert "large ones from 8.2 mm inside" in words
    for large, small in ((hub, ring(1.6, 7.3)), (ring(1.6, 8.2), connector)):
        assert overlap_mm(large, small) < 1e-4
        assert size_of(large, small).source == COMPUTED
    for large, small in ((hub, ring(1.6, 7.2)), (ring(1.6, 8.1), connector)):
        assert overlap_mm(large, small) > 1e-4
        assert size_of(large, small).source == MEASURE


def test_a_drawing_of_rings_that_overlap_says_so() -> None:
    items = items_of([Item("a", "large", ring(1.6, 8.0)), Item("c", "small", ring(1.6, 5.0))])
    drawn = draw_piece(PIECE, items)
    assert drawn.svg is not None
    assert any("would overlap by 0.08 mm" in note for note in drawn.notes)


def test_small_rings_that_do_not_reach_round_the_large_ones_are_not_drawn() -> None:
    placed = place_sheet(PIECE, net_of(PIECE), ring(1.6, 8.0), ring(0.8, 1.7))
    assert isinstance(placed, Unplaced)
    assert "cannot be joined flat" in placed.reason


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in (1, 2))])
def test_what_fits_is_clear_and_linked_and_what_does_not_overlaps(seed: int) -> None:
    random = np.random.default_rng(seed)
    told = [0, 0]
    for _ in range(8):
        hub = ring(random.uniform(0.8, 1.6), random.uniform(4, 10))
        connector = ring(random.uniform(0.6, 1.6), random.uniform(2.5, 9))
        clash = clash_of(WEAVE, ring_mm(hub), ring_mm(connector))
        placed = place_sheet(PIECE, net_of(PIECE), hub, connector)
        if clash is not None and not clash.linked:
            assert isinstance(placed, Unplaced)
            continue
        told[clash is None] += 1
        if clash is None:
            assert hubs_fit(WEAVE, hub, connector)
            assert why_no_room(WEAVE, hub, connector) == ""
            assert isinstance(placed, Placement)
            compare(net_of(PIECE), placed)
        else:
            assert overlap_mm(hub, connector) == pytest.approx(clash.overlap_mm, abs=0.02)
    assert min(told) >= 1, told


def test_a_small_ring_thicker_than_the_large_opening_cannot_be_joined() -> None:
    assert "cannot be joined flat" in why_no_room(WEAVE, ring(0.5, 1.2), ring(3.0, 4.0))


def test_unequal_rings_are_not_judged_by_the_aspect_ratio_of_equal_ones() -> None:
    snug = ring(1.0, 4.0)
    assert snug.inner_nm / snug.wire_nm < WEAVE.clear_from
    assert size_of(snug, ring(0.6, 3.0)).source == COMPUTED
    assert size_of(snug, snug).source == MEASURE
