"""What a maker should look at before starting, each with its reason and, where there is one, an offer to mend it.

Every check is a warning or a note, never a refusal. Not here: faults that make a piece impossible to work out (rows).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from models.layouts.engine.items import Items
from models.layouts.engine.nesting import nests
from models.layouts.engine.net import CONNECTOR, FINDING, GATHERING, HUNG, TIE, Net
from models.layouts.engine.rows import Layout
from models.layouts.engine.through import Squeeze, squeezed
from models.trade.breaks import go_on
from models.trade.rings import RingSize
from models.trade.weaves import WEAVES, Band, FitNote, fit

Kind = Literal["few links", "loose row", "never opens", "does not nest", "too small", "ratio", "one lot"]


@dataclass(frozen=True, slots=True)
class Check:
    """One finding of a check: its kind, how much it matters, words, the rings (by index), and what can be offered.

    `offer` is 'drop' (take the rings away) or 'nest' (move the row, `row` counted from 1, by half a pitch), or "".
    """

    kind: Kind
    level: Literal["warning", "note"]
    words: str
    rings: tuple[int, ...] = ()
    item: str = ""
    row: int = 0
    offer: str = ""


def check(
    net: Net,
    items: Items,
    *,
    layout: Layout | None = None,
    weave: str = "",
    lots: Mapping[str, Sequence[int]] | None = None,
    band: Band | None = None,
    records: Sequence[FitNote] = (),
    links_known: bool = True,
) -> tuple[Check, ...]:
    """Return all that is worth a look in a piece of rows (`layout`) or of chain (`weave`).

    `lots` holds how many rings each single lot of an item has; `band` and `records` are the shop's own window and what
    fitted before. Where links are not sure (`links_known` false) nothing is said about them.
    """
    code = layout.weave if layout is not None else weave
    found: list[Check] = []
    if layout is not None:
        found += _not_nested(layout, net)
    if links_known:
        for look in (_few_links(net, chain=layout is None), _never_open(net, items), _too_small(net, items)):
            go_on()
            found += look
    go_on()
    found += _ratios(net, items, code, band, records)
    found += _single_lots(net, items, lots or {})
    return tuple(found)


def _not_nested(layout: Layout, net: Net) -> Iterator[Check]:
    """Yield the rows that do not nest with the row before, and those that no ring of the row before links."""
    rows: dict[int, list[int]] = {}
    for index in range(net.woven):
        rows.setdefault(net.rows[index], []).append(index)
    for number, (above, below) in enumerate(pairwise(layout.rows), 1):
        go_on()
        rings = tuple(rows.get(number, ()))
        if not nests(layout.weave, above, below):
            yield Check(
                "does not nest",
                "warning",
                f"Row {number + 1} does not nest with row {number}: it must stand half a pitch to one side, so that "
                "its rings pass through the rings of that row.",
                rings,
                row=number + 1,
                offer="nest",
            )
        elif not any(net.rows[other] == number - 1 for index in rings for other in net.neighbours[index]):
            yield Check(
                "loose row",
                "warning",
                f"No ring of row {number + 1} passes through row {number}: the piece would fall apart there.",
                rings,
                row=number + 1,
            )


def _few_links(net: Net, *, chain: bool = False) -> Iterator[Check]:
    """Yield rings with fewer than two links; findings count as links, ties are exempt, hung rings are only noted."""
    few: dict[int, list[int]] = {}
    hung: list[int] = []
    gathered = {group[0]: name for name, group in net.groups.items() if group and net.roles[group[0]] == GATHERING}
    for index, (linked, role) in enumerate(zip(net.neighbours, net.roles, strict=True)):
        if len(linked) >= 2 or role in (FINDING, TIE):
            continue
        if role == HUNG:
            hung.append(index)
        elif role == GATHERING:
            yield _gathers_little(net, index, gathered.get(index, net.names[index]))
        else:
            few.setdefault(len(linked), []).append(index)
    for links, rings in sorted(few.items()):
        them = "it" if len(rings) == 1 else "them"
        passes = "no other ring" if links == 0 else "only one other ring"
        mend = f"Add a clasp, or what else holds {them}." if chain else f"Drop {them}, or add what holds {them}."
        words = f"{_named(net, rings)} through {passes}. {mend}"
        yield Check("few links", "warning", words, tuple(rings), offer="" if chain else "drop")
    if hung:
        count = len(hung)
        words = "A ring hangs" if count == 1 else f"{count:,} rings hang"
        yield Check("few links", "note", f"{words} by one link, as hung rings do.", tuple(hung))


def _gathers_little(net: Net, index: int, name: str) -> Check:
    """Return the check of a gathering ring that has fewer than two rings or findings in it."""
    passes = "no ring" if not net.neighbours[index] else "only one ring"
    words = f"“{name}” goes through {passes}. Take it away, or hang something on it."
    return Check("few links", "warning", words, (index,), offer="drop")


def _named(net: Net, rings: Sequence[int]) -> str:
    """Return 'Ring 1.1 passes', 'Rings 1.1, 1.6 pass' or '120 rings pass'."""
    if len(rings) == 1:
        return f"Ring {net.names[rings[0]]} passes"
    if len(rings) <= 6:
        return f"Rings {', '.join(net.names[index] for index in rings)} pass"
    return f"{len(rings):,} rings pass"


def _never_open(net: Net, items: Items) -> Iterator[Check]:
    """Yield linked pairs of which neither ever opens, grouped by their items."""
    shut = {key for key, item in items.items() if not item.opens}
    if not shut:
        return
    pairs: dict[tuple[str, str], list[tuple[int, int]]] = {}
    for a, b in net.links:
        if net.items[a] in shut and net.items[b] in shut:
            pairs.setdefault((net.items[a], net.items[b]), []).append((a, b))
    for (first, second), found in pairs.items():
        rings = tuple(dict.fromkeys(index for pair in found for index in pair))
        if first == second:
            words = f"Two rings of {items[first].label} are linked, and neither ever opens"
        else:
            words = f"{items[first].label} and {items[second].label} are linked, and neither ever opens"
        times = "" if len(found) == 1 else f" ({len(found):,} times)"
        yield Check("never opens", "warning", f"{words}{times}: one of them must be a ring that opens.", rings)


def _too_small(net: Net, items: Items) -> Iterator[Check]:
    """Yield rings too small for the wires, rings and chains that pass through them, grouped by what passes."""
    groups: dict[tuple[str, bool, tuple[tuple[str, int], ...]], list[int]] = {}
    keys, roles = net.items, net.roles
    for index, linked in enumerate(net.neighbours):
        if roles[index] == FINDING or not linked:
            continue
        # Most rings are linked by one item only, and need no sorting of what passes through them.
        first = keys[linked[0]]
        if all(keys[other] == first for other in linked):
            through: tuple[tuple[str, int], ...] = ((first, len(linked)),)
        else:
            through = tuple(sorted(Counter(keys[other] for other in linked).items()))
        groups.setdefault((keys[index], roles[index] == GATHERING, through), []).append(index)
    said: dict[Squeeze, tuple[str, list[int]]] = {}
    for (key, gathers, through), rings in groups.items():
        item = items.get(key)
        if item is None or item.size is None:
            continue
        passing = [(items[other], count) for other, count in through if other in items]
        for found in squeezed(item, item.size, passing, gathers=gathers):
            said.setdefault(found, (key, []))[1].extend(rings)
    for found, (key, rings) in said.items():
        yield Check("too small", found.level, found.words, tuple(sorted(rings)), key)


def _ratios(net: Net, items: Items, weave: str, band: Band | None, records: Sequence[FitNote]) -> Iterator[Check]:
    """Yield the woven items whose aspect ratio does not suit the weave."""
    window = WEAVES.get(weave)
    if window is None:
        return
    used: dict[str, list[int]] = {}
    for index in range(net.woven):
        if net.roles[index] != CONNECTOR:
            used.setdefault(net.items[index], []).append(index)
    for key, rings in used.items():
        item = items.get(key)
        if item is None or item.size is None:
            continue
        size = item.size
        if window.family == "hub":
            # Of a hub weave the window is the hub's opening over the connecting ring's wire.
            joined = [net.items[other] for other in net.neighbours[rings[0]]]
            other = items.get(joined[0]) if joined else None
            if other is not None and other.size is not None:
                size = RingSize(other.size.wire_nm, size.inner_nm)
        found = fit(window, size, band=band, records=records)
        if found.verdict == "comfortable":
            continue
        level: Literal["warning", "note"] = "note"
        if found.verdict == "too small" or (found.verdict == "loose" and size.aspect_ratio > window.largest_ar):
            level = "warning"
        yield Check(
            "ratio", level, f"{item.label} is {found.verdict} for {window.name}. {found.reason}", tuple(rings), key
        )


def _single_lots(net: Net, items: Items, lots: Mapping[str, Sequence[int]]) -> Iterator[Check]:
    """Yield colours of which no single lot is large enough: anodised and dyed colours differ from lot to lot."""
    counts = net.counts
    for key, count in counts.items():
        item = items.get(key)
        if item is None or not item.by_lot or key not in lots:
            continue
        largest = max(lots[key], default=0)
        if largest < count:
            total = sum(lots[key])
            enough = (
                f"All lots together hold {total:,}." if total >= count else f"All lots together hold {total:,} only."
            )
            rings = tuple(index for index, each in enumerate(net.items) if each == key)
            yield Check(
                "one lot",
                "warning",
                f"The piece takes {count:,} of {item.label}, and the largest single lot holds {largest:,}. {enough} "
                "This colour differs from lot to lot.",
                rings,
                key,
            )
