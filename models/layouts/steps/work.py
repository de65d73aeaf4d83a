"""The order of work of a whole piece: prepared rings, then a step for each row, then what hangs on it.

Not here: the maker's choices (route), the words for one ring (words), the printed sheet (sheet).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from models.layouts.engine.attach import Attachment
from models.layouts.engine.items import Items
from models.layouts.engine.net import FINDING, Net
from models.layouts.engine.rows import Layout
from models.layouts.steps.closing import Prepared, closed_faults, largest_closed, prepared
from models.layouts.steps.route import Leg, Progress, Route, RouteAct, closed_on_route, legs_of
from models.layouts.steps.words import (
    NO_UNIT,
    Group,
    counted,
    edge_of,
    groups_of,
    label_of,
    number,
    rings,
    side_of,
    way_of,
)
from models.trade.breaks import go_on
from models.trade.faults import Fault
from models.trade.vocabulary.pieces import TURNS


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the work: a title, its lines in a maker's words, and the rings it adds (by index, closed ones too).

    `rows` are the rows it works on, counted from 1; `extras` name rings at the row ends that are woven otherwise.
    """

    title: str
    lines: tuple[str, ...]
    added: tuple[int, ...]
    rows: tuple[int, ...] = ()
    groups: tuple[Group, ...] = ()
    extras: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class OrderOfWork:
    """The route through a piece: what is closed and opened beforehand, the steps, and the most that could be closed."""

    prepared: Prepared
    closed: frozenset[int]
    steps: tuple[Step, ...]
    most: int
    most_words: str


def order_of_work(
    net: Net, layout: Layout, items: Items, route: Route | None = None, closed: Collection[int] | None = None
) -> OrderOfWork | tuple[Fault, ...]:
    """Return the order of work of a piece of rows.

    `closed` is the maker's own set of rings closed beforehand, any set with no two linked; else the route's.
    """
    route = route or Route()
    if not 1 <= route.start_row <= len(layout.rows):
        return (Fault("start_row", f"Start with a row from 1 to {len(layout.rows)}."),)
    shut = frozenset(closed) if closed is not None else closed_on_route(net, items, route, len(layout.rows))
    faults = closed_faults(net, items, shut)
    if faults:
        return faults
    progress = Progress.start(net, shut)
    by_row: list[list[int]] = [[] for _ in layout.rows]
    for index in range(net.woven):
        by_row[net.rows[index]].append(index)
    steps: list[Step] = []
    for leg in legs_of(len(layout.rows), route):
        go_on()
        step = _first(progress, items, by_row[leg.row], leg) if not steps else _row(progress, items, by_row, leg, route)
        if step is not None:
            steps.append(step)
    steps += _held_late(progress, by_row)
    steps += hung_steps(progress, items, layout.attachments)
    best = largest_closed(net, items)
    return OrderOfWork(prepared(net, shut), shut, tuple(steps), len(best.rings), best.words)


def _first(progress: Progress, items: Items, row: Sequence[int], leg: Leg) -> Step:
    """Return the step that lays the first row: nothing of it is linked yet, or hubs are joined along it."""
    net = progress.net
    members = set(row)
    laid = [index for index in row if members.isdisjoint(net.neighbours[index])]
    shut = [index for index in laid if index in progress.closed]
    left_open = [index for index in laid if index not in progress.closed]
    lines: list[str] = []
    if shut:
        lines.append(f"Lay out the closed rings of row {leg.row + 1}: {counted(items, [net.items[i] for i in shut])}.")
    if left_open:
        lines.append(
            f"Close {counted(items, [net.items[i] for i in left_open])} and lay "
            f"{'it' if len(left_open) == 1 else 'them'} out as row {leg.row + 1}."
        )
    progress.lay(laid)
    rest = [index for index in row if not progress.present[index]]
    added = list(laid)
    groups: tuple[Group, ...] = ()
    if rest:
        progress.lay([index for index in rest if index in progress.closed])
        acts = progress.weave([index for index in rest if index not in progress.closed])
        groups = groups_of(net, items, acts)
        lines += [f"{times(items, each)}{each.words}." for each in groups]
        added += rest + [pick for act in acts for pick in act.picks]
    return Step(f"Row {leg.row + 1}", tuple(lines), tuple(dict.fromkeys(added)), (leg.row + 1,), groups)


def _row(progress: Progress, items: Items, by_row: Sequence[Sequence[int]], leg: Leg, route: Route) -> Step | None:
    """Return the step of one further row, or None when all its rings were added with the row before."""
    net = progress.net
    row = by_row[leg.row] if leg.forward else by_row[leg.row][::-1]
    open_rings = [index for index in row if not progress.present[index] and index not in progress.closed]
    if not open_rings:
        return None
    # What has something to hang on goes first: rings that stick out past the row before are held by their neighbours.
    held = [index for index in open_rings if any(progress.present[other] for other in net.neighbours[index])]
    holding = set(held)
    loose = [index for index in open_rings if index not in holding]
    acts = progress.weave([*held, *loose])
    side = side_of(leg)
    groups = groups_of(net, items, acts, side)
    added = list(dict.fromkeys(index for act in acts for index in (act.ring, *act.picks)))
    rows = sorted({net.rows[index] for index in added if net.rows[index] >= 0} | {leg.row})
    named = [str(each + 1) for each in rows]
    title = f"Row {named[0]}" if len(named) == 1 else f"Rows {' and '.join(named)}"
    lines = [TURNS.term(route.turn).order] if leg.turned else []
    lines.append(f"Work along the {edge_of(leg)} edge from {way_of(leg)}.")
    lines += [f"{times(items, each)}{each.words}." for each in groups]
    return Step(title, tuple(lines), tuple(added), tuple(each + 1 for each in rows), groups, _extras(net, acts, leg))


def times(items: Items, group: Group) -> str:
    """Return how many rings of a group there are, before the words for one of them."""
    count = len(group.rings)
    label = label_of(items, group.item)
    return f"One ring of {label}: " if count == 1 else f"{number(count).capitalize()} rings of {label}, each: "


def _extras(net: Net, acts: Sequence[RouteAct], leg: Leg) -> tuple[str, ...]:
    """Name the rings at the ends of a row that pass through fewer rings of the row before than the rest."""
    full = max((sum(count for row, count in act.through if row >= 0) for act in acts), default=0)
    found: list[str] = []
    for place, act in enumerate(acts):
        passes = sum(count for row, count in act.through if row >= 0)
        if passes >= full or full == 0:
            continue
        where = net.names[act.ring]
        if passes:
            found.append(
                f"Ring {where}, at the edge, passes through only {rings(passes)} of row {leg.row - leg.side + 1}."
            )
        else:
            found.append(
                f"Ring {where} stands out past row {leg.row - leg.side + 1}: the next row or its neighbours hold it."
            )
        if place > 40:
            break
    return tuple(found)


def _held_late(progress: Progress, by_row: Sequence[Sequence[int]]) -> list[Step]:
    """Return a step for closed rings that no open ring picked up: nothing links them."""
    left = [index for row in by_row for index in row if not progress.present[index]]
    if not left:
        return []
    progress.lay(left)
    names = ", ".join(progress.net.names[index] for index in left[:12]) + (" …" if len(left) > 12 else "")
    return [Step("Left over", (f"Nothing holds these rings: {names}. Check the layout.",), tuple(left))]


def hung_steps(
    progress: Progress, items: Items, attachments: Sequence[Attachment], *, chain: bool = False
) -> list[Step]:
    """Return a step for each attachment of a piece whose rows, or units where it is a chain, are woven."""
    net = progress.net
    steps: list[Step] = []
    carried: dict[int, list[int]] = {}
    for finding in range(net.woven, len(net)):
        if net.roles[finding] == FINDING and not progress.present[finding]:
            for host in net.neighbours[finding]:
                carried.setdefault(host, []).append(finding)
    for attachment in attachments:
        go_on()
        group = net.groups.get(attachment.name, [])
        hosts = net.hosts.get(attachment.name, [])
        open_rings = [index for index in group if not progress.present[index] and index not in progress.closed]
        acts = progress.weave(open_rings)
        groups = groups_of(net, items, acts, unit=NO_UNIT if chain else None)
        lines = [f"{times(items, each)}{each.words}." for each in groups]
        picked = [pick for act in acts for pick in act.picks]
        direct = list(dict.fromkeys(other for host in (group or hosts) for other in carried.get(host, ())))
        for finding in direct:
            if progress.present[finding]:
                continue
            progress.lay([finding])
            for host in net.neighbours[finding]:
                carried[host].remove(finding)
            picked.append(finding)
            holders = [net.names[host] for host in net.neighbours[finding]]
            where = f"ring {holders[0]}" if len(holders) == 1 else f"{number(len(holders))} rings"
            lines.append(f"Hang {label_of(items, net.items[finding])} on {where}, opening what opens.")
        opened = set(open_rings)
        already = [index for index in group if index not in opened]
        if already:
            lines.append(f"{rings(len(already)).capitalize()} of it came on with the {'units' if chain else 'rows'}.")
        if lines:
            title = attachment.name[:1].upper() + attachment.name[1:]
            steps.append(Step(title, tuple(lines), tuple(dict.fromkeys([*open_rings, *picked])), (), groups))
    return steps
