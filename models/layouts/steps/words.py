"""The order of work in the words of a maker: what to prepare, then row by row what to pick up and pass through.

Not here: what follows from the route (route), the printed sheet (sheet).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from models.layouts.engine.items import Items
from models.layouts.engine.net import FINDING, Net
from models.layouts.steps.route import Leg, RouteAct

NO_UNIT = -1
"""Stands for the unit of what hangs on a chain."""

_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")


def number(count: int) -> str:
    """Return a small number as a word, a larger one in figures."""
    return _NUMBERS[count] if 0 <= count < len(_NUMBERS) else f"{count:,}"


def rings(count: int, label: str = "") -> str:
    """Return 'one ring', 'three rings', 'three rings of bronze'."""
    noun = "ring" if count == 1 else "rings"
    return f"{number(count)} {noun}" + (f" of {label}" if label else "")


def label_of(items: Items, key: str) -> str:
    """Return what an item is called."""
    item = items.get(key)
    return item.label if item else key


def counted(items: Items, keys: Sequence[str]) -> str:
    """Return '12 of bronze and 4 of blue niobium' for a list of items."""
    parts = [f"{count:,} of {label_of(items, key)}" for key, count in Counter(keys).items()]
    return parts[0] if len(parts) == 1 else ", ".join(parts[:-1]) + " and " + parts[-1] if parts else "none"


@dataclass(frozen=True, slots=True)
class Group:
    """Rings next to each other that are woven alike: how many, of which item, and the words for one of them."""

    rings: tuple[int, ...]
    item: str
    words: str


def groups_of(
    net: Net, items: Items, acts: Sequence[RouteAct], side: str = "", *, unit: int | None = None
) -> tuple[Group, ...]:
    """Return the rings of a row in groups that do the same.

    `side` is 'back' or 'front', or '' where it is not said; `unit` (from 0) makes the words those of a chain, told from
    that unit, or from outside every unit where it is `NO_UNIT`.
    """
    told = [(_does(net, items, act, side, unit), net.items[act.ring], act.ring) for act in acts]
    return tuple(
        Group(tuple(ring for _, _, ring in group), item, words)
        for (words, item), group in ((key, list(each)) for key, each in groupby(told, key=lambda one: one[:2]))
    )


def _does(net: Net, items: Items, act: RouteAct, side: str, unit: int | None) -> str:
    """Return what one open ring does, as a maker would say it."""
    parts: list[str] = []
    closed = [net.items[each] for each in act.picks if net.roles[each] != FINDING]
    if closed:
        noun = "closed ring" if len(closed) == 1 else "closed rings"
        of = f"of {label_of(items, closed[0])}" if len(set(closed)) == 1 else f"({counted(items, closed)})"
        parts.append(f"pick up {number(len(closed))} {noun} {of}")
    parts += [f"hook in {label_of(items, net.items[each])}" for each in act.picks if net.roles[each] == FINDING]
    through = [f"{rings(count)} {_of_row(row, unit, net.rows[net.woven - 1])}" for row, count in act.through]
    if act.also:
        through.append("the ring just added" if act.also == 1 else f"the {number(act.also)} rings just added")
    if through:
        way = f" from the {side}" if side and any(row >= 0 for row, _ in act.through) else ""
        parts.append(f"pass{way} through " + " and ".join(through))
    if not parts:
        return "close it and lay it beside: what comes next holds it"
    return ", ".join(parts) + ", close"


def _of_row(row: int, unit: int | None, last: int) -> str:
    """Return which row or unit is meant, of rows up to `last`; of a chain, as seen from its own unit."""
    if row < 0:
        return "hanging there"
    if unit is None:
        return f"of row {row + 1}"
    if unit == NO_UNIT:
        return {0: "where the chain begins", last: "where the chain ends"}.get(row, f"of unit {row + 1}")
    if row == unit:
        return "of this unit"
    if row == unit - 1:
        return "of the unit before"
    if row < unit:
        return f"of the unit {number(unit - row)} before"
    return "of the next unit" if row == unit + 1 else f"of unit {row + 1}"


def side_of(leg: Leg) -> str:
    """Return from which side a new ring passes through the row before, as the piece lies: 'back' or 'front'.

    Rings of even rows (counted from 0) lean so that a wire that runs towards the row ends comes up through them from
    the back; odd rows lean the other way, and so does a wire that runs back. Turning the piece over swaps both.
    """
    before = leg.row - leg.side
    from_back = (before % 2 == 0) == leg.forward
    return "back" if from_back != leg.view.through else "front"


def way_of(leg: Leg) -> str:
    """Return the way along the row as the maker sees it."""
    return "left to right" if leg.forward != leg.view.across else "right to left"


def edge_of(leg: Leg) -> str:
    """Return the edge that the row is added to, as the piece lies before the maker."""
    return "lower" if (leg.side > 0) != leg.view.down else "upper"
