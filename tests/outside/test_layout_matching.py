"""The set closed beforehand against an exact search on small layouts and against networkx on large ones.

Sources: trying every set (brute force); networkx's Hopcroft-Karp matching with König's theorem (all nodes less a largest
matching) on graphs with two sides; networkx's largest clique of the complement on others.
"""

from __future__ import annotations

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chain_weaves import BYZANTINE, ONE, ROPE, SPIRAL, TWO
from models.layouts.engine.chains import Chain, Stretch, chain_net
from models.layouts.engine.links import net_of
from models.layouts.engine.net import Net
from models.layouts.engine.rows import Layout, Row
from models.layouts.engine.shapes import disc, fan, lozenge, rectangle
from models.layouts.steps.closing import largest_closed
from models.layouts.steps.matching import largest_set, matched, two_sides
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, EUROPEAN_8, JAPANESE_12
from tests.layouts.layouts import EUROPEAN, ITEMS, rect, sheet


def independent(net: Net, rings: frozenset[int]) -> bool:
    return not any(a in rings and b in rings for a, b in net.links)


def best_by_trying(net: Net, nodes: list[int]) -> int:
    """The size of a largest set by trying, ring by ring, to leave it out or take it: every set of up to 24 rings."""
    masks = [0] * len(net)
    for a, b in net.links:
        masks[a] |= 1 << b
        masks[b] |= 1 << a

    def best(left: list[int], barred: int) -> int:
        while left and barred >> left[-1] & 1:
            left = left[:-1]
        if not left:
            return 0
        ring, rest = left[-1], left[:-1]
        return max(best(rest, barred), 1 + best(rest, barred | masks[ring]))

    return best(nodes, 0)


small_rows = st.lists(
    st.builds(Row, st.integers(-3, 3), st.integers(1, 5).map(lambda n: ("a",) * n)), min_size=1, max_size=5
)


@given(st.sampled_from(EUROPEAN), small_rows)
def test_on_small_sheets_the_set_is_as_large_as_any(weave: str, rows: list[Row]) -> None:
    layout = Layout(weave, tuple(rows))
    net = net_of(layout)
    if len(net) > 24:
        return
    found = largest_closed(net, ITEMS)
    assert independent(net, found.rings)
    assert found.exact
    assert len(found.rings) == best_by_trying(net, list(range(len(net))))


@given(st.integers(1, 6), st.integers(0, 3), st.integers(1, 3), st.booleans())
def test_with_what_hangs_there_it_is_as_large_as_any_too(rings: int, rows: int, every: int, gather: bool) -> None:
    hung = [Attachment("h", "hang", Selection("last row", every=every), ring="b")]
    if gather:
        # A gathering ring through rings of neighbouring rows makes odd rounds of links.
        hung.append(Attachment("g", "gather", Selection("outline"), ring="c"))
    layout = Layout(EUROPEAN_4, rect(rows + 1, min(rings, 4)).rows, tuple(hung))
    net = net_of(layout)
    if len(net) > 24:
        return
    found = largest_closed(net, ITEMS)
    assert independent(net, found.rings)
    assert found.exact
    assert len(found.rings) == best_by_trying(net, [i for i, role in enumerate(net.roles) if role != "finding"])


@pytest.mark.parametrize("code", [ONE, TWO, BYZANTINE, ROPE, SPIRAL])
@pytest.mark.parametrize("closed", [False, True])
def test_on_short_chains_it_is_as_large_as_any(code: str, closed: bool) -> None:
    for units in (5, 7, 11):
        chain = Chain(code, (Stretch(units if code != BYZANTINE else 3, ("a",)),), closed)
        net = chain_net(chain)
        found = largest_closed(net, ITEMS)
        assert independent(net, found.rings)
        assert len(found.rings) == best_by_trying(net, list(range(len(net)))) <= found.bound
        assert found.exact


@pytest.mark.parametrize(
    "layout",
    [
        rect(40, 50), rect(31, 33, EUROPEAN_6), rect(25, 30, EUROPEAN_8), sheet(lozenge(EUROPEAN_4, 40, "a")),
        sheet(fan(EUROPEAN_4, 60, 40, "a")), sheet(disc(EUROPEAN_4, 45, "a", pitch_share=0.7)),
        sheet(rectangle(JAPANESE_12, 8, 9, "a"), JAPANESE_12),
    ],
    ids=["rectangle", "6-in-1", "8-in-1", "lozenge", "fan", "disc", "japanese"],
)  # fmt: skip
def test_on_large_sheets_it_is_all_less_a_largest_matching(layout: Layout) -> None:
    net = net_of(layout)
    found = largest_closed(net, ITEMS)
    assert independent(net, found.rings)
    graph = nx.Graph(net.links)
    graph.add_nodes_from(range(len(net)))
    matching = 0
    for piece in nx.connected_components(graph):
        part = graph.subgraph(piece)
        top = nx.bipartite.sets(part)[0] if len(piece) > 1 else piece
        matching += len(nx.bipartite.hopcroft_karp_matching(part, top)) // 2 if len(piece) > 1 else 0
    assert len(found.rings) == len(net) - matching == found.bound


@given(st.integers(2, 18), st.lists(st.tuples(st.integers(0, 17), st.integers(0, 17)), max_size=50))
def test_on_any_small_graph_the_set_is_a_largest_clique_of_the_complement(
    size: int, pairs: list[tuple[int, int]]
) -> None:
    graph = nx.Graph()
    graph.add_nodes_from(range(size))
    graph.add_edges_from((a % size, b % size) for a, b in pairs if a % size != b % size)
    neighbours = [list(graph[node]) for node in range(size)]
    found = largest_set(neighbours, range(size))
    assert not any(graph.has_edge(a, b) for a in found.nodes for b in found.nodes)
    best, _ = nx.max_weight_clique(nx.complement(graph), weight=None)
    assert len(found.nodes) == len(best)
    assert found.exact


@pytest.mark.parametrize("seed", range(4))
def test_on_large_graphs_with_odd_rounds_the_bound_holds(seed: int) -> None:
    graph = nx.random_regular_graph(4, 120, seed=seed)
    neighbours = [list(graph[node]) for node in range(120)]
    found = largest_set(neighbours, range(120))
    assert not any(graph.has_edge(a, b) for a in found.nodes for b in found.nodes)
    assert len(found.nodes) <= found.bound <= 60
    assert len(found.nodes) >= 120 / 5  # each ring taken bars at most four others
    assert not found.two_sided


@given(st.integers(1, 9), st.integers(1, 9), st.lists(st.tuples(st.integers(0, 8), st.integers(0, 8)), max_size=40))
def test_matchings_are_as_large_as_networkx_finds(left: int, right: int, pairs: list[tuple[int, int]]) -> None:
    graph = nx.Graph()
    graph.add_nodes_from(range(left + right))
    graph.add_edges_from((a % left, left + b % right) for a, b in pairs)
    neighbours = [list(graph[node]) for node in range(left)] + [[] for _ in range(right)]
    partner = matched(range(left), neighbours, left + right)
    assert all(partner[partner[node]] == node for node in range(left + right) if partner[node] >= 0)
    assert sum(each >= 0 for each in partner[:left]) == len(nx.bipartite.maximum_matching(graph, range(left))) // 2
    side = two_sides([list(graph[node]) for node in range(left + right)], range(left + right))
    assert side is not None
    assert all(side[a] != side[b] for a, b in graph.edges)
