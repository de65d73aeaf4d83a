"""Largest matchings and largest sets of rings with no two linked, on plain lists; no recursion, so any size will do.

Not here: what a ring is, or which may be closed beforehand (closing).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from models.trade.breaks import go_on

Graph = Sequence[Sequence[int]]

EXACT_UP_TO = 40
"""Pieces of a graph with odd rounds are searched in full up to so many rings."""

_MOST_STEPS = 60_000


def two_sides(graph: Graph, chosen: Iterable[int]) -> list[int] | None:
    """Return a side, 0 or 1, for each of some nodes so that links only cross (-1 elsewhere); None with an odd round."""
    side = [-1] * len(graph)
    inside = [False] * len(graph)
    nodes = list(chosen)
    for node in nodes:
        inside[node] = True
    for first in nodes:
        if side[first] >= 0:
            continue
        side[first] = 0
        waiting = [first]
        while waiting:
            node = waiting.pop()
            for other in graph[node]:
                if not inside[other]:
                    continue
                if side[other] < 0:
                    side[other] = 1 - side[node]
                    waiting.append(other)
                elif side[other] == side[node]:
                    return None
    return side


def matched(left: Sequence[int], neighbours: Graph, size: int) -> list[int]:
    """Return a largest matching of a two-sided graph by Hopcroft and Karp's method: the partner of each node, or -1.

    `left` are the nodes of one side, `neighbours` their links into the other; nodes are numbered below `size`.
    Source: Hopcroft and Karp, An n^(5/2) algorithm for maximum matchings in bipartite graphs, SIAM J. Comput. 2 (1973).
    """
    partner = [-1] * size
    for node in left:
        for other in neighbours[node]:
            if partner[other] < 0:
                partner[node], partner[other] = other, node
                break
    far = size + 1
    while True:
        go_on()
        layer = [far] * size
        waiting = deque(node for node in left if partner[node] < 0)
        for node in waiting:
            layer[node] = 0
        reachable = False
        while waiting:
            node = waiting.popleft()
            for other in neighbours[node]:
                then = partner[other]
                if then < 0:
                    reachable = True
                elif layer[then] == far:
                    layer[then] = layer[node] + 1
                    waiting.append(then)
        if not reachable:
            return partner
        position = [0] * size
        for root in left:
            if partner[root] < 0:
                _augment(root, neighbours, partner, layer, position)


def _augment(root: int, neighbours: Graph, partner: list[int], layer: list[int], position: list[int]) -> None:
    """Follow one shortest alternating path from an unmatched node and turn it over, when there is one."""
    path = [root]
    while path:
        node = path[-1]
        links = neighbours[node]
        moved = False
        while position[node] < len(links):
            other = links[position[node]]
            position[node] += 1
            then = partner[other]
            if then < 0:
                # Turn the path over: each node on it takes the partner it last looked at.
                for step in reversed(path):
                    taken = neighbours[step][position[step] - 1]
                    partner[step], partner[taken] = taken, step
                return
            if layer[then] == layer[node] + 1:
                path.append(then)
                moved = True
                break
        if not moved:
            layer[node] = len(partner) + 2
            path.pop()


def _cover(left: Sequence[int], neighbours: Graph, partner: Sequence[int]) -> tuple[list[bool], list[bool]]:
    """Return which nodes an alternating path reaches from the unmatched left ones: those of the left, of the right.

    By König's theorem the left nodes not reached and the right nodes reached are a smallest cover.
    """
    seen_left = [False] * len(partner)
    seen_right = [False] * len(partner)
    waiting = [node for node in left if partner[node] < 0]
    for node in waiting:
        seen_left[node] = True
    while waiting:
        node = waiting.pop()
        for other in neighbours[node]:
            if not seen_right[other]:
                seen_right[other] = True
                then = partner[other]
                if then >= 0 and not seen_left[then]:
                    seen_left[then] = True
                    waiting.append(then)
    return seen_left, seen_right


def two_sided_set(graph: Graph, side: Sequence[int], chosen: Iterable[int]) -> set[int]:
    """Return a largest set of some nodes with no two linked, for a graph whose links only cross between two sides.

    All nodes less a largest matching, by König's theorem.
    """
    nodes = list(chosen)
    inside = set(nodes)
    left = [node for node in nodes if side[node] == 0]
    neighbours: list[list[int]] = [[] for _ in graph]
    for node in left:
        neighbours[node] = [other for other in graph[node] if other in inside]
    partner = matched(left, neighbours, len(graph))
    seen_left, seen_right = _cover(left, neighbours, partner)
    return {node for node in nodes if (seen_left[node] if side[node] == 0 else not seen_right[node])}


@dataclass(frozen=True, slots=True)
class Found:
    """A set of nodes with no two linked, a number that no such set can exceed, and whether all links had two sides."""

    nodes: frozenset[int]
    bound: int
    two_sided: bool

    @property
    def exact(self) -> bool:
        """Tell whether the set is proven to be a largest one."""
        return len(self.nodes) == self.bound


def largest_set(graph: Graph, chosen: Iterable[int]) -> Found:
    """Return a largest set of some nodes with no two linked, piece by piece of the graph.

    A piece without odd rounds is solved exactly by matching. Of one with odd rounds, what half-whole solutions settle
    is settled exactly (Nemhauser and Trotter, Vertex packings, Math. Programming 8, 1975); a rest of up to 40 nodes is
    searched in full, a larger one is filled from the fewest links up. The bound is the smaller of the half-whole
    optimum and a cover by groups that are all linked to each other.
    """
    taken: set[int] = set()
    bound = 0
    two_sided = True
    for piece in _pieces(graph, chosen):
        go_on()
        # Each piece is numbered by itself, so that many small ones cost no more than one large one.
        number = {node: place for place, node in enumerate(piece)}
        own = [[number[other] for other in graph[node] if other in number] for node in piece]
        nodes = range(len(piece))
        side = two_sides(own, nodes)
        if side is not None:
            best = two_sided_set(own, side, nodes)
            bound += len(best)
        else:
            two_sided = False
            best, most = _odd_piece(own, nodes)
            bound += most
        taken.update(piece[node] for node in best)
    return Found(frozenset(taken), bound, two_sided)


def _pieces(graph: Graph, chosen: Iterable[int]) -> list[list[int]]:
    """Return the connected pieces of some nodes, each in order."""
    inside = [False] * len(graph)
    nodes = sorted(chosen)
    for node in nodes:
        inside[node] = True
    pieces: list[list[int]] = []
    for first in nodes:
        if not inside[first]:
            continue
        inside[first] = False
        piece = [first]
        for node in piece:
            for other in graph[node]:
                if inside[other]:
                    inside[other] = False
                    piece.append(other)
        pieces.append(sorted(piece))
    return pieces


def _odd_piece(graph: Graph, piece: Sequence[int]) -> tuple[set[int], int]:
    """Return a set for a piece with odd rounds, and what no set of it can exceed."""
    settled, rest, doubled = _half_whole(graph, piece)
    if not rest:
        return settled, len(settled)
    if len(rest) <= EXACT_UP_TO:
        best = _searched(graph, rest)
        if best is not None:
            return settled | best, len(settled) + len(best)
    filled = _filled(graph, rest)
    bound = min(doubled // 2, len(settled) + _groups(graph, rest))
    return settled | filled, max(bound, len(settled) + len(filled))


def _half_whole(graph: Graph, piece: Sequence[int]) -> tuple[set[int], list[int], int]:
    """Return the nodes that some largest set holds, the nodes left open, and twice the half-whole optimum.

    Each node is doubled into a left and a right one and the two-sided graph between them is solved.
    """
    number = {node: place for place, node in enumerate(piece)}
    size = len(piece)
    neighbours: list[list[int]] = [[size + number[other] for other in graph[node] if other in number] for node in piece]
    neighbours += [[] for _ in piece]
    left = list(range(size))
    partner = matched(left, neighbours, 2 * size)
    seen_left, seen_right = _cover(left, neighbours, partner)
    settled: set[int] = set()
    rest: list[int] = []
    doubled = 0
    for place, node in enumerate(piece):
        value = int(seen_left[place]) + int(not seen_right[size + place])
        doubled += value
        if value == 2:
            settled.add(node)
        elif value == 1:
            rest.append(node)
    return settled, rest, doubled


def _searched(graph: Graph, nodes: Sequence[int]) -> set[int] | None:
    """Return a largest set by full search, or None when it takes too many steps.

    Nodes without more than one link are always taken; else the node with the most links is tried out and in.
    """
    number = {node: place for place, node in enumerate(nodes)}
    masks = [sum(1 << number[other] for other in graph[node] if other in number) for node in nodes]
    best, best_count = 0, -1
    stack = [((1 << len(nodes)) - 1, 0, 0)]
    steps = 0
    while stack:
        left, taken, count = stack.pop()
        steps += 1
        if steps > _MOST_STEPS:
            return None
        if not steps % 1_000:
            go_on()
        at = -1
        while left:
            most, at, forced = -1, -1, -1
            scan = left
            while scan:
                low = scan & -scan
                place = low.bit_length() - 1
                degree = (masks[place] & left).bit_count()
                if degree <= 1:
                    forced = place
                    break
                if degree > most:
                    most, at = degree, place
                scan ^= low
            if forced < 0:
                break
            taken |= 1 << forced
            count += 1
            left &= ~(masks[forced] | 1 << forced)
        if not left:
            if count > best_count:
                best, best_count = taken, count
            continue
        if count + _at_most(masks, left) <= best_count:
            continue
        stack.append((left & ~(1 << at), taken, count))
        stack.append((left & ~(masks[at] | 1 << at), taken | 1 << at, count + 1))
    return {node for place, node in enumerate(nodes) if best >> place & 1}


def _at_most(masks: Sequence[int], left: int) -> int:
    """Return a number that no set of the left nodes exceeds: how many groups of mutually linked nodes cover them."""
    groups = 0
    while left:
        place = (left & -left).bit_length() - 1
        common = masks[place] & left
        left &= ~(1 << place)
        while common:
            other = (common & -common).bit_length() - 1
            left &= ~(1 << other)
            common &= masks[other]
        groups += 1
    return groups


def _filled(graph: Graph, nodes: Sequence[int]) -> set[int]:
    """Return a set by taking, again and again, the node with the fewest links left (the earliest of several)."""
    left = set(nodes)
    degree = {node: sum(1 for other in graph[node] if other in left) for node in nodes}
    buckets: dict[int, list[int]] = {}
    for node in reversed(nodes):
        buckets.setdefault(degree[node], []).append(node)
    taken: set[int] = set()
    low = 0
    while left:
        while not buckets.get(low):
            low += 1
        node = buckets[low].pop()
        if node not in left or degree[node] != low:
            continue
        taken.add(node)
        left.discard(node)
        for other in graph[node]:
            if other not in left:
                continue
            left.discard(other)
            for beyond in graph[other]:
                if beyond in left:
                    degree[beyond] -= 1
                    buckets.setdefault(degree[beyond], []).append(beyond)
                    low = min(low, degree[beyond])
    return taken


def _groups(graph: Graph, nodes: Sequence[int]) -> int:
    """Return how many groups of mutually linked nodes cover all nodes, taken in order."""
    left = set(nodes)
    groups = 0
    for node in nodes:
        if node not in left:
            continue
        left.discard(node)
        groups += 1
        common = [other for other in sorted(graph[node]) if other in left]
        while common:
            other = common[0]
            left.discard(other)
            linked = set(graph[other])
            common = [each for each in common[1:] if each in linked]
    return groups
