"""A piece of rows as a net: the weave's own rings and links, the edges by name, and what hangs on them.

A weave's rule (weaves) is written apart from where its rings lie in space, and the tests hold the two together. Not
here: chains (chains), which rings an attachment means (choose).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from models.layouts.engine.attach import Attachment
from models.layouts.engine.choose import chosen
from models.layouts.engine.net import FINDING, GATHERING, HUNG, TIE, Net
from models.layouts.engine.rows import GAP, Layout, Row
from models.layouts.weaves.sheets import SHEETS
from models.trade.breaks import go_on


def net_of(layout: Layout) -> Net:
    """Return every ring and link of a piece of rows, with what hangs on it.

    Raises: KeyError for a weave that is not laid in rows.
    """
    net = Net()
    ids = SHEETS[layout.weave].add_rings(net, layout)
    net.woven = len(net)
    _name_edges(net, layout, ids)
    attach_all(net, layout.attachments)
    return net


def row_links(weave: str, a: Row, b: Row) -> int:
    """Return how many links two neighbouring rows without gaps have; for a hub weave pairs of neighbouring places."""
    return SHEETS[weave].row_links(a, b)


def count_links(layout: Layout) -> int:
    """Return the number of links of the rows by the row formula, without building them; nothing that hangs is counted.

    Raises: ValueError for rows with gaps, which the formula does not cover.
    """
    if any(GAP in row.items for row in layout.rows):
        raise ValueError("the row formula needs rows without gaps")
    return SHEETS[layout.weave].link_count(layout.rows)


def neighbour_places(layout: Layout, number: int, place: int) -> list[tuple[tuple[int, int], int]]:
    """Return the places (row, place) in the rows above and below that a ring links, with their steps from it."""
    return list(SHEETS[layout.weave].linked_places(layout, number, place))


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
    is_bare = SHEETS[layout.weave].is_bare
    found: list[int] = []
    for row in ids:
        go_on()
        last = len(row) - 1
        for place, index in enumerate(row):
            if index < 0:
                continue
            if place in (0, last) or row[place - 1] < 0 or row[place + 1] < 0:
                found.append(index)
                continue
            if is_bare(net, layout, index):
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
