"""Every weave that is laid in rows, held to its record: links, counts, places, sizes, drawing and the order of work."""

from __future__ import annotations

import math
from itertools import combinations

import pytest

from models.layouts.document.model import document_of, read_sheet
from models.layouts.engine.items import Item, items_of
from models.layouts.engine.limits import woven_rings
from models.layouts.engine.links import count_links, net_of
from models.layouts.engine.net import CONNECTOR, Net
from models.layouts.engine.piece import draw_piece, work_out
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import by_edges, disc, lozenge, rectangle
from models.layouts.places.geometry import linked, nearest_mm
from models.layouts.places.sheet import Placement, place_sheet
from models.layouts.places.sizes import Finished
from models.layouts.steps.route import Route
from models.layouts.steps.work import OrderOfWork, order_of_work
from models.layouts.weaves.sheet_weave import SheetWeave
from models.layouts.weaves.sheets import SHEETS
from models.trade.rings import RingSize
from models.trade.weaves import WEAVES

pytestmark = pytest.mark.parametrize("weave", SHEETS.values(), ids=lambda weave: weave.code)


def laid(weave: SheetWeave, rows: int = 5, rings: int = 6) -> Layout:
    return Layout(weave.code, rectangle(weave.code, rows, rings, "a").rows, connector="a")


def of_ratio(ratio: float) -> RingSize:
    return RingSize(1_000_000, round(1_000_000 * ratio))


def placed_at(weave: SheetWeave, ratio: float) -> tuple[Net, Placement]:
    layout = laid(weave, 4, 4)
    net = net_of(layout)
    placed = place_sheet(layout, net, of_ratio(ratio))
    assert isinstance(placed, Placement)
    return net, placed


def near_pairs(placed: Placement) -> list[tuple[int, int]]:
    """Pairs of rings that are near enough to touch."""
    reach = 2 * placed.table[0].ring.outer_mm
    return [
        (one, other)
        for one, other in combinations(range(len(placed.poses)), 2)
        if math.dist(placed.centre(one), placed.centre(other)) < reach
    ]


def least_apart(placed: Placement) -> float:
    """The least distance of two centre lines, in wires."""
    return min(nearest_mm(placed.circle(one), placed.circle(other)) for one, other in near_pairs(placed))


def test_it_stands_in_the_catalogue_under_its_code(weave: SheetWeave) -> None:
    assert SHEETS[weave.code] is weave
    assert WEAVES[weave.code].family == ("hub" if weave.joined else "sheet")


def test_an_inner_ring_links_as_many_as_the_catalogue_says(weave: SheetWeave) -> None:
    net = net_of(laid(weave, 5, 9))
    most = max(len(linked) for linked, role in zip(net.neighbours, net.roles, strict=True) if role != CONNECTOR)
    assert most == WEAVES[weave.code].links


def test_the_places_link_the_rings_that_the_rule_links(weave: SheetWeave) -> None:
    net, placed = placed_at(weave, weave.clear_from + 0.2)
    found = {pair for pair in near_pairs(placed) if linked(placed.circle(pair[0]), placed.circle(pair[1]))}
    assert found == {(min(pair), max(pair)) for pair in net.links}


def test_ideal_rings_lie_clear_from_its_smallest_ratio_and_no_earlier(weave: SheetWeave) -> None:
    _, clear = placed_at(weave, weave.clear_from + 0.001)
    assert clear.clear
    assert least_apart(clear) >= 1 - 1e-4
    _, tight = placed_at(weave, weave.clear_from - 0.02)
    assert not tight.clear
    assert least_apart(tight) < 1 - 1e-4


def test_its_counts_are_those_of_the_rings_that_are_built(weave: SheetWeave) -> None:
    code = weave.code
    shapes = (
        rectangle(code, 1, 1, "a"),
        rectangle(code, 4, 5, "a"),
        lozenge(code, 4, "a"),
        by_edges(code, 5, 9, "a", first=1),
    )
    for shape in shapes:
        layout = Layout(code, shape.rows, connector="a")
        net = net_of(layout)
        assert woven_rings(layout) == len(net)
        assert count_links(layout) == len(net.links)


def test_its_size_is_that_of_the_rings_in_their_places(weave: SheetWeave) -> None:
    size = of_ratio(weave.clear_from + 0.4)
    layout = laid(weave)
    found = work_out(layout, items_of([Item("a", "ring", size)])).size
    assert isinstance(found, Finished)
    placed = place_sheet(layout, net_of(layout), size)
    assert isinstance(placed, Placement)
    for axis, mm in ((0, found.width_mm), (1, found.height_mm)):
        ends = []
        for index in range(len(placed.poses)):
            pose = placed.pose(index)
            half = pose.ring.radius_mm * math.sqrt(1 - pose.normal[axis] ** 2) + pose.ring.wire_mm / 2
            ends += [placed.centre(index)[axis] - half, placed.centre(index)[axis] + half]
        # Upright connectors at an edge stand out a hair past their hubs' circle.
        assert mm == pytest.approx(max(ends) - min(ends), rel=0.01 if weave.joined else 1e-9)


def test_it_is_drawn_without_a_word_and_every_ring_comes_on_once(weave: SheetWeave) -> None:
    items = items_of([Item("a", "ring", of_ratio(weave.clear_from + 0.2))])
    layout = Layout(weave.code, disc(weave.code, 5, "a", pitch_share=0.8).rows, connector="a")
    net = net_of(layout)
    drawn = draw_piece(layout, items)
    assert drawn.svg
    assert drawn.notes == ()
    work = order_of_work(net, layout, items, Route())
    assert isinstance(work, OrderOfWork)
    assert sorted(index for step in work.steps for index in step.added) == list(range(len(net)))


def test_a_piece_of_it_reads_back(weave: SheetWeave) -> None:
    assert read_sheet(document_of(laid(weave)).written()) == laid(weave)
