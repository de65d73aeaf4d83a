"""Which ring links which: the weave's own rule over the rows, and what hangs on them.

The rule is written apart from where rings lie in space (place), and the tests hold the two together. Not here: chains
(chains), which rings an attachment means (choose).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from models.layouts.engine.attach import Attachment
from models.layouts.engine.choose import chosen
from models.layouts.engine.rows import (
    EUROPEAN_4,
    EUROPEAN_6,
    EUROPEAN_8,
    GAP,
    JAPANESE_12,
    STEPS_PER_RING,
    Layout,
    Row,
    ring_name,
)
from models.trade.breaks import go_on

# Steps from a ring to the rings of a neighbouring row that it links. Source: derived for ideal rings in this project
# and compared there with linking numbers.
REACH: dict[str, tuple[int, ...]] = {
    EUROPEAN_4: (-1, 1),
    EUROPEAN_6: (-1, 0, 1),
    EUROPEAN_8: (-3, -1, 1, 3),
    JAPANESE_12: (-1, 1),
}

HUB_RINGS = 2
"""Rings at each place of a Japanese 12-in-2 sheet, and connectors between two neighbouring places."""

RING, HUB, CONNECTOR, HUNG, GATHERING, TIE, FINDING = "ring", "hub", "connector", "hung", "gathering", "tie", "finding"


@dataclass(slots=True)
class Net:
    """Every ring and finding of a piece, in order, and every link; the index of a ring is its place in these lists.

    `rows` and `places` count from 0, -1 for what hangs on the piece; `steps` is where a ring stands along its row.
    `edges` names the rings along each edge, `groups` the rings of each attachment, `hosts` what those hang on.
    """

    names: list[str] = field(default_factory=list)
    items: list[str] = field(default_factory=list)
    roles: list[str] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    places: list[int] = field(default_factory=list)
    steps: list[int] = field(default_factory=list)
    links: list[tuple[int, int]] = field(default_factory=list)
    neighbours: list[list[int]] = field(default_factory=list)
    edges: dict[str, list[int]] = field(default_factory=dict)
    groups: dict[str, list[int]] = field(default_factory=dict)
    hosts: dict[str, list[int]] = field(default_factory=dict)
    woven: int = 0
    _index: dict[str, int] = field(default_factory=dict)

    def add(self, name: str, item: str, role: str, *, row: int = -1, place: int = -1, step: int = 0) -> int:
        """Add one ring or finding and return its index."""
        self.names.append(name)
        self.items.append(item)
        self.roles.append(role)
        self.rows.append(row)
        self.places.append(place)
        self.steps.append(step)
        self.neighbours.append([])
        return len(self.names) - 1

    def link(self, a: int, b: int) -> None:
        """Add one link."""
        self.links.append((a, b))
        self.neighbours[a].append(b)
        self.neighbours[b].append(a)

    def __len__(self) -> int:
        return len(self.names)

    @property
    def degrees(self) -> list[int]:
        """Return how many links each ring has."""
        return [len(each) for each in self.neighbours]

    @property
    def counts(self) -> dict[str, int]:
        """Return how many of each item the piece takes."""
        return dict(Counter(self.items))

    @property
    def links_of_rings(self) -> dict[int, int]:
        """Return how many rings have how many links, findings left out."""
        found = Counter(len(each) for each, role in zip(self.neighbours, self.roles, strict=True) if role != FINDING)
        return dict(sorted(found.items()))

    def index(self, name: str) -> int:
        """Return the index of a ring by its name. Raises: KeyError for an unknown one."""
        if len(self._index) != len(self.names):
            self._index = {each: place for place, each in enumerate(self.names)}
        return self._index[name]


def net_of(layout: Layout) -> Net:
    """Return every ring and link of a piece of rows, with what hangs on it.

    Raises: KeyError for a weave that is not laid in rows.
    """
    net = Net()
    ids = _add_hubs(net, layout) if layout.weave == JAPANESE_12 else _add_rings(net, layout)
    net.woven = len(net)
    _name_edges(net, layout, ids)
    attach_all(net, layout.attachments)
    return net


def _add_rings(net: Net, layout: Layout) -> list[list[int]]:
    """Add the rings of every row and their links; return the index at each place, -1 for a gap."""
    per = STEPS_PER_RING[layout.weave]
    reach = REACH[layout.weave]
    ids: list[list[int]] = []
    for number, row in enumerate(layout.rows):
        go_on()
        before = len(net.names)
        kept = [place for place, item in enumerate(row.items) if item != GAP]
        head = f"{number + 1}."
        net.names += [f"{head}{place + 1}" for place in kept]
        net.items += [row.items[place] for place in kept]
        net.roles += [RING] * len(kept)
        net.rows += [number] * len(kept)
        net.places += kept
        net.steps += [row.start + per * place for place in kept]
        if len(kept) == len(row.items):
            ids.append(list(range(before, before + len(kept))))
        else:
            found = [-1] * len(row.items)
            for index, place in enumerate(kept, before):
                found[place] = index
            ids.append(found)
    links = net.links
    for number in range(len(layout.rows) - 1):
        go_on()
        for step in reach:
            links += _pairs(layout, ids, number, number + 1, step)
    net.neighbours = [[] for _ in net.names]
    for a, b in links:
        net.neighbours[a].append(b)
        net.neighbours[b].append(a)
    return ids


def _pairs(layout: Layout, ids: Sequence[list[int]], a: int, b: int, step: int) -> list[tuple[int, int]]:
    """Return the pairs of rings of rows a and b whose steps differ by this much."""
    low, high, shift = _overlap(layout.weave, layout.rows[a], layout.rows[b], step)
    first, second = ids[a][low:high], ids[b][low + shift : high + shift]
    if -1 in first or -1 in second:
        return [(x, y) for x, y in zip(first, second, strict=True) if x >= 0 and y >= 0]
    return list(zip(first, second, strict=True))


def _overlap(weave: str, a: Row, b: Row, step: int) -> tuple[int, int, int]:
    """Return which places of row a have a place of row b so many steps on, and how far the places are apart."""
    per = STEPS_PER_RING[weave]
    shift, off = divmod(a.start + step - b.start, per)
    low, high = max(0, -shift), min(len(a.items), len(b.items) - shift)
    return (0, 0, 0) if off or low >= high else (low, high, shift)


def row_links(weave: str, a: Row, b: Row) -> int:
    """Return how many links two neighbouring rows without gaps have: the overlap of their spans, for each reach.

    For a hub weave this counts pairs of neighbouring places. A row that does not nest has none.
    """
    total = 0
    for step in REACH[weave]:
        low, high, _ = _overlap(weave, a, b, step)
        total += high - low
    return total


def count_links(layout: Layout) -> int:
    """Return the number of links of the rows by the row formula, without building them; nothing that hangs is counted.

    Raises: ValueError for rows with gaps, which the formula does not cover.
    """
    if any(GAP in row.items for row in layout.rows):
        raise ValueError("the row formula needs rows without gaps")
    between = sum(row_links(layout.weave, a, b) for a, b in pairwise(layout.rows))
    if layout.weave != JAPANESE_12:
        return between
    along = sum(len(row.items) - 1 for row in layout.rows)
    return (between + along) * HUB_RINGS * HUB_RINGS * 2


def neighbour_places(layout: Layout, number: int, place: int) -> list[tuple[tuple[int, int], int]]:
    """Return the places (row, place) in the rows above and below that a ring links, with their steps from it."""
    rows = layout.rows
    per = STEPS_PER_RING[layout.weave]
    step = rows[number].start + per * place
    found: list[tuple[tuple[int, int], int]] = []
    for other in (number - 1, number + 1):
        if not 0 <= other < len(rows):
            continue
        row = rows[other]
        for reach in REACH[layout.weave]:
            at, off = divmod(step + reach - row.start, per)
            if not off and 0 <= at < len(row.items) and row.items[at] != GAP:
                found.append(((other, at), reach))
    return found


def _add_hubs(net: Net, layout: Layout) -> list[list[int]]:
    """Add two hub rings at every place, then two connectors between every two neighbouring places."""
    per = STEPS_PER_RING[layout.weave]
    ids: list[list[int]] = []
    for number, row in enumerate(layout.rows):
        go_on()
        at_places: list[int] = []
        for place, item in enumerate(row.items):
            if item == GAP:
                at_places.append(-1)
                continue
            name, step = ring_name(number, place), row.start + per * place
            at_places.append(net.add(f"{name}a", item, HUB, row=number, place=place, step=step))
            net.add(f"{name}b", item, HUB, row=number, place=place, step=step)
        ids.append(at_places)
    between: list[tuple[int, int]] = []
    for number, at_places in enumerate(ids):
        go_on()
        between += [(a, b) for a, b in pairwise(at_places) if a >= 0 and b >= 0]
        if number + 1 < len(ids):
            for step in REACH[layout.weave]:
                between += _pairs(layout, ids, number, number + 1, step)
    for a, b in between:
        label = f"{net.names[a][:-1]}-{net.names[b][:-1]}"
        for letter in "ab":
            ring = net.add(
                f"{label}{letter}",
                layout.connector,
                CONNECTOR,
                row=net.rows[a],
                place=net.places[a],
                step=net.steps[a],
            )
            for hub in (a, a + 1, b, b + 1):
                net.link(ring, hub)
    return ids


def _name_edges(net: Net, layout: Layout, ids: Sequence[Sequence[int]]) -> None:
    """Name the rings along each edge and the outline; of a hub, its first ring stands for both."""
    held = [[index for index in row if index >= 0] for row in ids]
    held = [row for row in held if row]
    if not held:
        return
    net.edges = {
        "first row": list(held[0]),
        "last row": list(held[-1]),
        "row starts": [row[0] for row in held],
        "row ends": [row[-1] for row in held],
        "every ring": [index for row in held for index in row],
        "outline": _outline(net, layout, ids),
    }


def _outline(net: Net, layout: Layout, ids: Sequence[Sequence[int]]) -> list[int]:
    """Return the rings with a bare side: at the end of an unbroken run, or with none linked above or none below."""
    found: list[int] = []
    for number, row in enumerate(ids):
        go_on()
        last = len(row) - 1
        for place, index in enumerate(row):
            if index < 0:
                continue
            if place in (0, last) or row[place - 1] < 0 or row[place + 1] < 0:
                found.append(index)
                continue
            if layout.weave == JAPANESE_12:
                linked = [other for (other, _), _ in neighbour_places(layout, number, place)]
                bare = number - 1 not in linked or number + 1 not in linked
            else:
                # Its neighbours stand in the order of the rows, so those above come first and those below last.
                around = net.neighbours[index]
                bare = not around or around[0] > index or around[-1] < index
            if bare:
                found.append(index)
    return found


def attach_all(net: Net, attachments: Iterable[Attachment]) -> None:
    """Add what hangs on a piece, in order, so that a later attachment may hang on an earlier one."""
    for number, attachment in enumerate(attachments, 1):
        _attach(net, attachment, number)


def _attach(net: Net, attachment: Attachment, number: int) -> None:
    go_on()
    hosts = chosen(net, attachment.on)
    group: list[int] = []
    net.groups[attachment.name] = group
    net.hosts[attachment.name] = hosts
    if not hosts:
        return
    if attachment.kind == "gather":
        ring = net.add(f"a{number}.1", attachment.ring, GATHERING)
        group.append(ring)
        for host in hosts:
            net.link(host, ring)
        return
    if attachment.kind == "hang":
        for host in hosts:
            for _ in range(attachment.each):
                ring = net.add(f"a{number}.{len(group) + 1}", attachment.ring, HUNG)
                group.append(ring)
                net.link(host, ring)
        if attachment.finding:
            for count, ring in enumerate(group, 1):
                net.link(ring, net.add(f"a{number}.f{count}", attachment.finding, FINDING))
        return
    finding = net.add(f"a{number}.f", attachment.finding, FINDING)
    for host in hosts:
        if not attachment.ring:
            net.link(host, finding)
            continue
        for _ in range(attachment.each):
            tie = net.add(f"a{number}.{len(group) + 1}", attachment.ring, TIE)
            group.append(tie)
            net.link(host, tie)
            net.link(tie, finding)


@dataclass(frozen=True, slots=True)
class Preview:
    """Which rings an attachment chooses and what it would add, to be shown before it is applied."""

    chosen: tuple[str, ...]
    rings: int
    findings: int


def preview(layout: Layout, attachment: Attachment) -> Preview:
    """Return which rings would be chosen on the piece as it is, and what would be added."""
    net = net_of(layout)
    before = len(net)
    _attach(net, attachment, len(layout.attachments) + 1)
    added = net.roles[before:]
    findings = added.count(FINDING)
    return Preview(tuple(net.names[host] for host in net.hosts[attachment.name]), len(added) - findings, findings)
