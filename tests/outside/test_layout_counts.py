"""Ring and link counts of pieces of European 4-in-1, worked out by hand.

Source of every figure: the derivation that stands beside it, from the weave's definition alone: rings of a row stand a
pitch apart, neighbouring rows half a pitch aside, and a ring links those of the rows above and below that stand half a
pitch to either side of it.
"""

from __future__ import annotations

from collections import Counter

import networkx as nx
import pytest

from models.layouts.engine.links import count_links, net_of
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import fan, lozenge, rectangle, triangle
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6


def worked(layout: Layout) -> tuple[int, int, dict[int, int]]:
    net = net_of(layout)
    assert count_links(layout) == len(net.links)
    return len(net), len(net.links), dict(Counter(net.degrees))


@pytest.mark.parametrize("m", [1, 2, 3, 6, 11])
@pytest.mark.parametrize("n", [1, 2, 5, 8])
def test_a_rectangle_of_m_rows_of_n_rings(m: int, n: int) -> None:
    # m n rings. Between two rows, the first row's rings stand at 0, 2, .., 2n-2 half pitches and the second's at
    # 1, 3, .., 2n-1. To its right every ring of the first finds one (n links); to its left all but the first (n - 1).
    # m - 1 pairs of rows, 2n - 1 links each.
    rings, links, _ = worked(Layout(EUROPEAN_4, rectangle(EUROPEAN_4, m, n, "a").rows))
    assert rings == m * n
    assert links == (m - 1) * (2 * n - 1)


def test_a_rectangle_of_4_by_5_ring_by_ring() -> None:
    # 20 rings and 3 x 9 = 27 links. Row 1 (at 0, 2, 4, 6, 8) over row 2 (at 1, 3, 5, 7, 9): its first ring finds only
    # the ring at 1, the other four find two. Row 4 (at 1 .. 9) under row 3 (at 0 .. 8): its last ring finds only 8, the
    # other four two. Row 2: the ring at 9 finds 8 above and 8 below, so two; the other four all four. Row 3: the ring
    # at 0 finds 1 above and 1 below; the other four all four. Degrees: 1 twice, 2 for 4 + 4 + 1 + 1 = 10, 4 for 8.
    # Check: 1 x 2 + 2 x 10 + 4 x 8 = 54 = 2 x 27.
    assert worked(Layout(EUROPEAN_4, rectangle(EUROPEAN_4, 4, 5, "a").rows)) == (20, 27, {1: 2, 2: 10, 4: 8})


@pytest.mark.parametrize("n", [1, 2, 3, 4, 9])
def test_a_lozenge_with_n_rings_in_its_middle_row(n: int) -> None:
    # Rows of 1, 2, .., n, .., 2, 1: n squared rings. A row of k stands half a pitch further out at both ends than the
    # row of k - 1 before it, so every ring of the shorter row finds two: 2 (k - 1) links. Twice the sum of 2 (k - 1)
    # for k = 2 .. n is 2 n (n - 1). It is a square grid of n by n turned by 45 degrees: 2 n (n - 1) sides.
    # Tips and side corners: 4 rings with 2 links; 4 (n - 2) rings along the edges with 3; (n - 2)^2 inside with 4.
    rings, links, degrees = worked(Layout(EUROPEAN_4, lozenge(EUROPEAN_4, n, "a").rows))
    assert rings == n * n
    assert links == 2 * n * (n - 1)
    if n >= 3:
        assert degrees == {2: 4, 3: 4 * (n - 2), 4: (n - 2) ** 2}
    grid = nx.grid_2d_graph(n, n)
    net = net_of(Layout(EUROPEAN_4, lozenge(EUROPEAN_4, n, "a").rows))
    assert nx.is_isomorphic(grid, nx.Graph(net.links) if n > 1 else nx.empty_graph(1))


@pytest.mark.parametrize("n", [1, 2, 3, 7])
def test_a_triangle_from_n_rings_to_one(n: int) -> None:
    # Rows of n, n-1, .., 1: n (n + 1) / 2 rings; each row of k under k + 1 has 2k links: n (n - 1) in all.
    rings, links, _ = worked(Layout(EUROPEAN_4, triangle(EUROPEAN_4, n, "a").rows))
    assert rings == n * (n + 1) // 2
    assert links == n * (n - 1)


@pytest.mark.parametrize("k", [1, 2, 3, 5, 8])
def test_a_fan_with_one_straight_edge(k: int) -> None:
    # 2k rows from k rings down. Row i (from 0) starts at 0 or 1 in turn and ends at 2k - 2 - i, a half pitch sooner each
    # row; the last row, i = 2k - 1, would end at -1 and start at 1: it is empty, so 2k - 1 rows are laid for k > 1.
    # Row 2j: starts 0, ends 2k - 2 - 2j: k - j rings. Row 2j + 1: starts 1, ends 2k - 3 - 2j: k - 1 - j rings.
    # Rings: sum of (k - j) for j < k, and of (k - 1 - j): k (k + 1) / 2 + k (k - 1) / 2 = k^2.
    # Links: row 2j over row 2j + 1: each of the k - 1 - j lower rings finds one at both sides: 2 (k - 1 - j). Row 2j + 1
    # over row 2j + 2, with as many rings, k - 1 - j: the lower ones stand half a pitch to the left, so the first finds
    # only one: 2 (k - 1 - j) - 1. For j = 0 .. k - 2 with m = k - 1 - j from 1 to k - 1: sum of 4m - 1
    # = 2 k (k - 1) - (k - 1) = (k - 1) (2k - 1).
    rows = max(1, 2 * k - 1)
    layout = Layout(EUROPEAN_4, fan(EUROPEAN_4, rows, k, "a").rows)
    rings, links, _ = worked(layout)
    assert [len(row.items) for row in layout.rows] == [k - j // 2 - j % 2 for j in range(rows)]
    assert rings == k * k
    assert links == (k - 1) * (2 * k - 1)
    assert fan(EUROPEAN_4, 2 * k, k, "a").faults


def test_a_fan_of_three_ring_by_ring() -> None:
    # Rows at (0, 2, 4), (1, 3), (0, 2), (1), (0): 9 rings. Links: row 1-2: 1 finds 0 and 2, 3 finds 2 and 4: four.
    # Row 2-3: 0 finds 1, 2 finds 1 and 3: three. Row 3-4: 1 finds 0 and 2: two. Row 4-5: 0 finds 1: one. Ten = 2 x 5.
    rings, links, degrees = worked(Layout(EUROPEAN_4, fan(EUROPEAN_4, 5, 3, "a").rows))
    assert (rings, links) == (9, 10)
    # Row 1: 0 has 1, 2 has 2, 4 has 1. Row 2: 1 has 2 above and 2 below, 3 has 2 and 1. Row 3: 0 has 1 and 1, 2 has 2
    # and 1. Row 4: 1 has 2 and 1. Row 5: 0 has 1.
    assert degrees == {1: 3, 2: 2, 3: 3, 4: 1}


@pytest.mark.parametrize(("m", "n"), [(2, 2), (4, 5), (7, 3)])
def test_a_rectangle_of_european_6_in_1(m: int, n: int) -> None:
    # Rows stand straight above each other and a ring finds the one above and those to its left and right: between two
    # rows n + 2 (n - 1) links.
    rings, links, _ = worked(Layout(EUROPEAN_6, rectangle(EUROPEAN_6, m, n, "a").rows))
    assert rings == m * n
    assert links == (m - 1) * (3 * n - 2)
