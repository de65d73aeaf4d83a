"""Rings as they are placed for drawings really link as the weave's rule says, and no wires overlap.

Source of the linking number: the Gauss integral of two closed polygons as a sum of signed solid angles over pairs of
edges (Klenin and Langowski, Computation of writhe in modeling of supercoiled DNA, Biopolymers 54 (2000), method 1a;
the same sum for two curves gives their linking number). It shares no formula with the application's own test of discs.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Any

import numpy as np
import pytest

from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chain_weaves import BYZANTINE, ONE, ROPE, SPIRAL, TWO
from models.layouts.engine.chains import Chain, Stretch, chain_net
from models.layouts.engine.items import Item, Items, items_of
from models.layouts.engine.links import net_of
from models.layouts.engine.net import Net
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import lozenge, rectangle, trapezium
from models.layouts.places.chain import SMALLEST, place_chain
from models.layouts.places.geometry import Circle, linked, nearest_mm
from models.layouts.places.hanging import hang
from models.layouts.places.sheet import Placement, place_sheet
from models.layouts.weaves.sheets import EUROPEAN_4, SHEETS
from models.trade.rings import RingSize
from models.trade.weaves import WEAVES
from tests.layouts.layouts import ITEMS

pytestmark = pytest.mark.long

EDGES = 48
WIRE = 1_000_000


def polygon(placed: Placement, index: int, edges: int = EDGES) -> np.ndarray:
    """Corners on the centre line of a placed ring, from its normal by a frame of the test's own."""
    pose = placed.pose(index)
    normal = np.array(pose.normal)
    helper = np.array([0.0, 0.0, 1.0]) if abs(normal[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    first = np.cross(normal, helper)
    first /= np.linalg.norm(first)
    second = np.cross(normal, first)
    angle = np.arange(edges) * 2 * np.pi / edges
    circle = np.cos(angle)[:, None] * first + np.sin(angle)[:, None] * second
    return np.array(placed.centre(index)) + pose.ring.radius_mm * circle


def gauss(one: np.ndarray, other: np.ndarray) -> float:
    """The linking number of two closed polygons: signed solid angles of all pairs of edges over 4 pi."""
    p1, p2 = one[:, None, :], np.roll(one, -1, axis=0)[:, None, :]
    q1, q2 = other[None, :, :], np.roll(other, -1, axis=0)[None, :, :]
    r13, r14, r24, r23 = q1 - p1, q2 - p1, q2 - p2, q1 - p2
    sides = [np.cross(r13, r14), np.cross(r14, r24), np.cross(r24, r23), np.cross(r23, r13)]
    units = [each / np.maximum(np.linalg.norm(each, axis=2, keepdims=True), 1e-300) for each in sides]
    angle = sum(np.arcsin(np.clip((units[n] * units[(n + 1) % 4]).sum(axis=2), -1, 1)) for n in range(4))
    sign = np.sign((np.cross(q2 - q1, p2 - p1) * r13).sum(axis=2))
    return float((angle * sign).sum() / (4 * np.pi))


def distance(placed: Placement, one: int, other: int, points: int = 720) -> float:
    """The least distance from many points of one ring to the other ring: exact from each point."""
    pose = placed.pose(other)
    away = polygon(placed, one, points) - np.array(placed.centre(other))
    high = away @ np.array(pose.normal)
    flat = np.sqrt(np.maximum((away * away).sum(axis=1) - high * high, 0))
    return float(np.sqrt((flat - pose.ring.radius_mm) ** 2 + high * high).min())


def compare(net: Net, placed: Placement) -> None:
    """Every pair of placed rings links just when the net says so, and their wires keep apart."""
    rule = {frozenset(pair) for pair in net.links}
    rings = [index for index in range(len(net)) if placed.poses[index] >= 0]
    found = set()
    for one, other in combinations(rings, 2):
        a, b = placed.pose(one).ring, placed.pose(other).ring
        mean = (a.wire_mm + b.wire_mm) / 2
        if np.linalg.norm(np.subtract(placed.centre(one), placed.centre(other))) > a.radius_mm + b.radius_mm + mean:
            continue  # too far apart to link or touch
        number = gauss(polygon(placed, one), polygon(placed, other))
        assert number == pytest.approx(round(number), abs=1e-6)
        assert abs(round(number)) <= 1
        if round(number):
            found.add(frozenset((one, other)))
        assert distance(placed, one, other) >= mean * (1 - 2e-4), (net.names[one], net.names[other])
    assert found == {pair for pair in rule if all(index in rings for index in pair)}


def ratios(smallest: float, weave: str) -> list[float]:
    """From the smallest aspect ratio of the places + 0.1 to the largest of the weave's range."""
    largest = float(WEAVES[weave].largest_ar)
    return [round(each, 4) for each in np.linspace(smallest + 0.1, largest, 5)]


CASES = [(weave, ratio) for weave in SHEETS for ratio in ratios(SHEETS[weave].clear_from, weave)]


def of_ratio(ratio: float) -> RingSize:
    return RingSize(WIRE, round(WIRE * ratio))


def at_the_ends(cases: Sequence[tuple[str, float]]) -> list[Any]:
    """The smallest, the middle and the largest ratio of each weave as they are; those between only in the long run."""
    found: list[Any] = []
    for weave in dict.fromkeys(weave for weave, _ in cases):
        own = sorted(ratio for name, ratio in cases if name == weave)
        kept = {own[0], own[len(own) // 2], own[-1]}
        found += [pytest.param(weave, ratio, marks=() if ratio in kept else pytest.mark.long) for ratio in own]
    return found


@pytest.mark.parametrize(("weave", "ratio"), at_the_ends(CASES))
def test_a_sheet_links_as_its_rule_says_and_no_wires_overlap(weave: str, ratio: float) -> None:
    shape = lozenge(weave, 3, "a") if SHEETS[weave].joined else rectangle(weave, 5, 7, "a")
    layout = Layout(weave, shape.rows, connector="a")
    net = net_of(layout)
    placed = place_sheet(layout, net, of_ratio(ratio))
    assert isinstance(placed, Placement)
    assert placed.clear
    compare(net, placed)


@pytest.mark.parametrize("up", ["last row", "row starts", "row ends"])
def test_a_turned_sheet_links_the_same(up: str) -> None:
    layout = Layout(EUROPEAN_4, trapezium(EUROPEAN_4, 3, 6, "a").rows, up=up)
    net = net_of(layout)
    placed = place_sheet(layout, net, of_ratio(4))
    assert isinstance(placed, Placement)
    compare(net, placed)


# The solved states start at the smallest aspect ratio that was found; half of these lie between two rows of their table.
SOLVED = [
    (weave, round(ratio, 4))
    for weave, smallest in ((BYZANTINE, 3.340), (ROPE, 2.734), (SPIRAL, 3.44))
    for ratio in np.linspace(smallest + 0.1, float(WEAVES[weave].largest_ar), 9)
]


@pytest.mark.parametrize(
    ("weave", "ratio"), at_the_ends([*((w, r) for w in (ONE, TWO) for r in ratios(SMALLEST[w], w)), *SOLVED])
)
def test_a_chain_links_as_its_rule_says_and_no_wires_overlap(weave: str, ratio: float) -> None:
    items = items_of([Item("a", "ring", of_ratio(ratio))])
    chain = Chain(weave, (Stretch(3 if weave == BYZANTINE else 8, ("a",)),))
    net = chain_net(chain)
    placed = place_chain(chain, net, items)
    assert isinstance(placed, Placement)
    compare(net, placed)


def test_a_chain_of_two_ring_sizes_links_as_its_rule_says() -> None:
    items = items_of(
        [Item("a", "small", RingSize(900_000, 3_200_000)), Item("b", "large", RingSize(1_200_000, 5_000_000))]
    )
    for weave, unit in ((ONE, ("a", "a", "b")), (TWO, ("a", "a", "b", "b"))):
        chain = Chain(weave, (Stretch(6, unit),))
        net = chain_net(chain)
        placed = place_chain(chain, net, items)
        assert isinstance(placed, Placement)
        compare(net, placed)


HUNG = (
    Attachment("bail ring", "hang", Selection("first row"), ring="c"),
    Attachment("tie", "join", Selection("attachment", of="bail ring"), ring="b", finding="f"),
    Attachment("left fringe", "hang", Selection("row starts", rows=(5, 8)), ring="b", each=2),
    Attachment("right fringe", "hang", Selection("row ends", rows=(6, 8)), ring="b"),
)


def test_what_hangs_on_a_piece_is_drawn_where_it_links_just_its_hosts() -> None:
    layout = Layout(EUROPEAN_4, lozenge(EUROPEAN_4, 5, "a").rows, HUNG)
    placed, net = hung(layout, ITEMS)
    assert sum(placed.poses[index] >= 0 for index in range(net.woven, len(net))) >= 10
    compare(net, placed)


def test_a_gathering_ring_through_two_rings_is_drawn_through_both() -> None:
    layout = Layout(
        EUROPEAN_4,
        trapezium(EUROPEAN_4, 2, 5, "a").rows,
        (Attachment("g", "gather", Selection("first row"), ring="c"),),
    )
    placed, net = hung(layout, ITEMS)
    assert placed.poses[net.woven] >= 0
    compare(net, placed)


def hung(layout: Layout, items: Items) -> tuple[Placement, Net]:
    net = net_of(layout)
    placed = place_sheet(layout, net, items["a"].size or of_ratio(4))
    assert isinstance(placed, Placement)
    hang(placed, net, items, layout.attachments, layout.up)
    return placed, net


@pytest.mark.parametrize("seed", range(3))
def test_the_quick_disc_test_agrees_with_the_gauss_sum_on_random_circles(seed: int) -> None:
    random = np.random.default_rng(seed)
    both = [0, 0]
    for _ in range(120):
        circles = []
        for _ in range(2):
            normal = random.normal(size=3)
            normal /= np.linalg.norm(normal)
            circles.append(
                Circle(tuple(random.normal(scale=0.8, size=3)), tuple(normal), float(random.uniform(0.5, 1.5)))
            )
        if nearest_mm(*circles) < 0.02:
            continue  # the polygons stand in for circles only when they keep apart
        corners = []
        for each in circles:
            helper = np.cross(each.normal, [0.3, -0.5, 0.81])
            helper /= np.linalg.norm(helper)
            side = np.cross(each.normal, helper)
            angle = np.arange(64) * 2 * np.pi / 64
            corners.append(
                np.array(each.centre)
                + each.radius_mm * (np.cos(angle)[:, None] * helper + np.sin(angle)[:, None] * side)
            )
        number = round(gauss(*corners))
        assert abs(number) == abs(linked(*circles))
        both[abs(number)] += 1
    assert min(both) > 10
