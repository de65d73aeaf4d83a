"""Over and under in the finished SVG follow the heights at every crossing.

The drawing is read back as a browser reads it: paths are rebuilt from their arc commands by the conversion that
SVG 1.1 appendix F.6.5 gives (end points to centre), painted in the order of the document. The crossings and heights
come from the rings in space by fine polygons, with no use of the application's bands.
"""

from __future__ import annotations

import math
import re
from itertools import combinations
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from models.layouts.drawing.drawing import Look, draw
from models.layouts.engine.chain_weaves import BYZANTINE, ONE, ROPE, SPIRAL, TWO
from models.layouts.engine.chains import Chain, Stretch, chain_net
from models.layouts.engine.items import Item, items_of
from models.layouts.engine.links import net_of
from models.layouts.engine.net import Net
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import lozenge, rectangle
from models.layouts.places.chain import place_chain
from models.layouts.places.sheet import Placement, place_sheet
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, EUROPEAN_8, JAPANESE_12
from models.trade.rings import RingSize
from tests.outside.test_layout_linking import polygon

pytestmark = pytest.mark.long

FINE = 240
SPACE = "{http://www.w3.org/2000/svg}"


def of_ratio(ratio: float) -> RingSize:
    return RingSize(1_000_000, round(1_000_000 * ratio))


def arc_points(x0: float, y0: float, command: tuple[float, ...], count: int = 160) -> np.ndarray:
    """Points of one relative SVG arc. Source: SVG 1.1, F.6.5, conversion from end point to centre parameterisation."""
    rx, ry, turn, large, sweep, dx, dy = command
    x1, y1 = x0 + dx, y0 + dy
    phi = math.radians(turn)
    c, s = math.cos(phi), math.sin(phi)
    xp, yp = c * (x0 - x1) / 2 + s * (y0 - y1) / 2, -s * (x0 - x1) / 2 + c * (y0 - y1) / 2
    over = xp * xp / (rx * rx) + yp * yp / (ry * ry)
    if over > 1:
        rx, ry = rx * math.sqrt(over), ry * math.sqrt(over)
    root = max(
        0.0, (rx * rx * ry * ry - rx * rx * yp * yp - ry * ry * xp * xp) / (rx * rx * yp * yp + ry * ry * xp * xp)
    )
    sign = -1 if bool(large) == bool(sweep) else 1
    cxp, cyp = sign * math.sqrt(root) * rx * yp / ry, -sign * math.sqrt(root) * ry * xp / rx
    cx, cy = c * cxp - s * cyp + (x0 + x1) / 2, s * cxp + c * cyp + (y0 + y1) / 2
    begin = math.atan2((yp - cyp) / ry, (xp - cxp) / rx)
    end = math.atan2((-yp - cyp) / ry, (-xp - cxp) / rx)
    if sweep and end < begin:
        end += 2 * math.pi
    if not sweep and end > begin:
        end -= 2 * math.pi
    angle = np.linspace(begin, end, count)
    ex, ey = rx * np.cos(angle), ry * np.sin(angle)
    return np.stack([c * ex - s * ey + cx, s * ex + c * ey + cy], axis=1)


COMMAND = re.compile(r"([Ma])([^Maz]*)")


def lines_of(path: str) -> list[tuple[tuple[float, float], np.ndarray]]:
    """Every arc of a path with the point that its part began at."""
    found: list[tuple[tuple[float, float], np.ndarray]] = []
    x = y = 0.0
    start = (0.0, 0.0)
    for letter, numbers in COMMAND.findall(path):
        values = [float(each) for each in re.findall(r"-?[0-9.]+", numbers)]
        if letter == "M":
            x, y = values
            start = (x, y)
        else:
            if values[5] or values[6]:  # an arc that ends where it begins is left out, F.6.2
                found.append((start, arc_points(x, y, tuple(values))))
            x, y = x + values[5], y + values[6]
    return found


def painted(svg: str, net: Net) -> list[tuple[str, np.ndarray, float]]:
    """(ring, points, breadth) of every edge stroke in painting order; of a light drawing the ring is not named."""
    root = ET.fromstring(f'<x xmlns="http://www.w3.org/2000/svg">{svg}</x>')  # noqa: S314 - our own drawing
    by_id = {each.get("id"): each for each in root.iter() if each.get("id")}
    woven = next(each for each in root.iter(f"{SPACE}g") if each.get("class") == "woven")
    found: list[tuple[str, np.ndarray, float]] = []
    for use in woven.iter(f"{SPACE}use"):
        target = by_id[(use.get("href") or "")[1:]]
        if target.tag == f"{SPACE}path":
            if use.get("x") is None:
                breadth = float(use.get("stroke-width") or 0)
                found += [("", points, breadth) for _, points in lines_of(target.get("d") or "")]
            continue
        move = np.array([float(use.get("x") or 0), float(use.get("y") or 0)])
        for path in target.iter(f"{SPACE}path"):
            if "a" in (path.get("d") or ""):
                breadth = float(path.get("stroke-width") or 0)
                found += [
                    (use.get("data-of") or "", points + move, breadth) for _, points in lines_of(path.get("d") or "")
                ]
    return found


def crossings(placed: Placement, one: int, other: int) -> list[tuple[float, float, float, float]]:
    """(x, y, height of one, height of the other) where the centre lines of two rings cross as seen from the front."""
    a, b = polygon(placed, one, FINE), polygon(placed, other, FINE)
    a2, b2 = np.roll(a, -1, axis=0), np.roll(b, -1, axis=0)
    d, e = (a2 - a)[:, None, :2], (b2 - b)[None, :, :2]
    way = b[None, :, :2] - a[:, None, :2]
    cross = d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        t = (way[..., 0] * e[..., 1] - way[..., 1] * e[..., 0]) / cross
        u = (way[..., 0] * d[..., 1] - way[..., 1] * d[..., 0]) / cross
    hit = np.argwhere((t >= 0) & (t < 1) & (u >= 0) & (u < 1))
    found = []
    for i, j in hit:
        point = a[i] + t[i, j] * (a2[i] - a[i])
        height = b[j][2] + u[i, j] * (b2[j][2] - b[j][2])
        found.append((point[0], point[1], point[2], height))
    return found


def check_drawing(net: Net, placed: Placement, svg: str, *, named: bool) -> int:
    """At every crossing the stroke painted last there belongs to the higher ring; returns how many were looked at."""
    scale = float(re.search(r'data-units-per-mm="([0-9.]+)"', svg).group(1))
    strokes = painted(svg, net)
    looked = 0
    for one, other in combinations(range(len(net)), 2):
        reach = placed.pose(one).ring.outer_mm
        if abs(placed.xs[one] - placed.xs[other]) > reach or abs(placed.ys[one] - placed.ys[other]) > reach:
            continue
        found = crossings(placed, one, other)
        for x, y, high, low in found:
            upper = one if high > low else other
            # Of a ring seen nearly edge on both halves cross at one spot, one over and one under: no wire to tell by.
            wire = placed.pose(one).ring.wire_mm
            if any(math.hypot(x - x2, y - y2) < wire and (a > b) != (high > low) for x2, y2, a, b in found):
                continue
            # A third ring may lie over both, and then this crossing is hidden.
            top = last_over(strokes, np.array([x, y]) * scale, {one, other}, placed, scale, net, named=named)
            if top is None:
                continue
            looked += 1
            assert top == upper, (net.names[one], net.names[other], x, y, high, low)
    return looked


Strokes = list[tuple[str, np.ndarray, float]]


def last_over(  # noqa: PLR0917
    strokes: Strokes, point: np.ndarray, pair: set[int], placed: Placement, scale: float, net: Net, *, named: bool
) -> int | None:
    """Which of two rings is painted last at a point; a light drawing is told apart by the nearer centre line."""
    for name, points, breadth in reversed(strokes):
        away = np.hypot(points[:, 0] - point[0], points[:, 1] - point[1])
        at = int(away.argmin())
        if away[at] > breadth * 0.3:
            continue
        if named:
            index = net.index(name)
            return index if index in pair else last_over_pair(strokes, point, pair, net)
        for index in pair:
            line = polygon(placed, index, FINE)[:, :2] * scale
            # A stroke of this ring runs along the ring's centre line on both sides of the crossing.
            ahead = points[max(0, at - 12) : at + 13]
            gap = np.sqrt(((ahead[:, None, :] - line[None, :, :]) ** 2).sum(axis=2)).min(axis=1).max()
            if gap < breadth * 0.12:
                return index
    return None


def last_over_pair(strokes: Strokes, point: np.ndarray, pair: set[int], net: Net) -> int | None:
    """Which of two rings is painted last at a point that a third ring covers."""
    for name, points, breadth in reversed(strokes):
        if (
            net.index(name) in pair
            and np.hypot(points[:, 0] - point[0], points[:, 1] - point[1]).min() <= breadth * 0.3
        ):
            return net.index(name)
    return None


CASES = [
    (EUROPEAN_4, 3.1), (EUROPEAN_4, 3.5), (EUROPEAN_4, 4.0), (EUROPEAN_4, 5.0), (EUROPEAN_4, 5.5),
    (EUROPEAN_6, 4.55), (EUROPEAN_6, 5.0), (EUROPEAN_6, 6.0), (EUROPEAN_8, 6.04), (EUROPEAN_8, 6.5),
]  # fmt: skip


@pytest.mark.parametrize("detail", ["full", "light"])
@pytest.mark.parametrize(("weave", "ratio"), CASES)
def test_the_higher_wire_is_painted_last_at_every_crossing(weave: str, ratio: float, detail: str) -> None:
    layout = Layout(weave, rectangle(weave, 4, 4, "a").rows)
    net = net_of(layout)
    placed = place_sheet(layout, net, of_ratio(ratio))
    assert isinstance(placed, Placement)
    items = items_of([Item("a", "ring", of_ratio(ratio))])
    svg = draw(net, items, placed, Look(detail=detail))
    looked = check_drawing(net, placed, svg, named=detail == "full")
    # Each of the links crosses twice, and rings of a row that overlap cross as well.
    assert looked >= 2 * len(net.links)


def test_hubs_and_connectors_are_painted_by_height_too() -> None:
    layout = Layout(JAPANESE_12, lozenge(JAPANESE_12, 2, "a").rows, connector="a")
    net = net_of(layout)
    placed = place_sheet(layout, net, of_ratio(6))
    assert isinstance(placed, Placement)
    svg = draw(net, items_of([Item("a", "ring", of_ratio(6))]), placed)
    # Both rings of a hub have the name of their place: tell them apart again, in the order they are painted.
    strokes = painted(svg, net)
    connectors = {name for name in net.names if "-" in name}
    for hub in [index for index, role in enumerate(net.roles) if role == "hub"]:
        for other in net.neighbours[hub]:
            for x, y, high, low in crossings(placed, hub, other):
                point = np.array([x, y]) * float(re.search(r'data-units-per-mm="([0-9.]+)"', svg).group(1))
                over = [
                    name
                    for name, points, breadth in strokes
                    if np.hypot(points[:, 0] - point[0], points[:, 1] - point[1]).min() <= breadth * 0.25
                ]
                # The upper half of an upright connector lies over both rings of the hub, so it is painted last there.
                assert over[-1] in connectors
                assert high != low


@pytest.mark.parametrize(("weave", "ratio"), [(ONE, 3.5), (TWO, 3.5), (BYZANTINE, 3.6), (ROPE, 2.9), (SPIRAL, 4.0)])
def test_chains_are_painted_by_height_too(weave: str, ratio: float) -> None:
    items = items_of([Item("a", "ring", of_ratio(ratio))])
    chain = Chain(weave, (Stretch(2 if weave == BYZANTINE else 6, ("a",)),))
    net = chain_net(chain)
    placed = place_chain(chain, net, items)
    assert isinstance(placed, Placement)
    looked = check_drawing(net, placed, draw(net, items, placed), named=True)
    assert looked >= len(net.links)  # some crossings of a thick chain lie hidden under a third ring


def halves_right(ratio: float) -> bool:
    """Whether painting high halves over low halves is right at every crossing of linked rings."""
    layout = Layout(EUROPEAN_4, rectangle(EUROPEAN_4, 4, 4, "a").rows)
    net = net_of(layout)
    placed = place_sheet(layout, net, of_ratio(ratio))
    assert isinstance(placed, Placement)
    for one, other in net.links:
        for _, _, a, b in crossings(placed, one, other):
            if (a > 0) == (b > 0):
                return False
    return True


def test_painting_halves_would_be_right_at_3_5_and_wrong_at_4_and_5() -> None:
    # Source: derived for ideal rings in this project; it shows that the test above can fail.
    assert halves_right(3.5)
    assert not halves_right(4.0)
    assert not halves_right(5.0)
