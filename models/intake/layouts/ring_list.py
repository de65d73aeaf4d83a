"""A set of rings of a piece as words that can be typed: '1, 3, 5.2-5.9' for whole rows and rings in a row.

Of a chain the rings are numbered through: '1-2, 5-6'. Whether they may be closed together is said in the trade room.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable

from models.intake.faults import Faults
from models.layouts.engine.net import CONNECTOR, FINDING, Net

_RANGE = re.compile(r"(?P<row>(?:[0-9]{1,6}|a[0-9]{1,4})\.)?(?P<first>[0-9]{1,6})\s*-\s*(?P<last>[0-9]{1,6})")
MOST_TEXT = 20_000


def read_rings(text: str, net: Net, field: str = "closed") -> tuple[str, ...] | Faults:
    """Read a set of rings in the order of the piece; every part that names no ring of it is told."""
    if len(text) > MOST_TEXT:
        return Faults.of(field, "This names more rings than can be read at once. Name whole rows where you can.")
    named = {name for name, role in zip(net.names, net.roles, strict=True) if role != FINDING}
    rows = _rows(net)
    chosen: set[str] = set()
    for part in (one.strip() for one in text.replace(";", ",").split(",")):
        if not part:
            continue
        found = _named(part, named, rows)
        if not found:
            return Faults.of(field, f"'{part[:40]}' names no ring of this piece. {_how(rows)}")
        chosen |= found
    return tuple(name for name in net.names if name in chosen)


def ring_words(net: Net, rings: Collection[int]) -> str:
    """A set of rings, by index, as the shortest words that `read_rings` reads back."""
    chosen = {net.names[index] for index in rings}
    rows = _rows(net)
    words: list[str] = []
    for number, names in rows.items():
        if chosen.issuperset(names):
            words.append(number)
            chosen.difference_update(names)
    # Rows in their order, then the single rings in theirs.
    words.sort(key=int)
    return ", ".join([*words, *_runs(name for name in net.names if name in chosen)])


def _named(part: str, named: Collection[str], rows: dict[str, set[str]]) -> set[str]:
    """The rings that one part of the words names; none where it names nothing."""
    if part in rows:
        return set(rows[part])
    if part in named:
        return {part}
    match = _RANGE.fullmatch(part)
    if match is None:
        return set()
    row, first, last = match["row"] or "", int(match["first"]), int(match["last"])
    if not row and rows:
        numbers = [number for number in rows if first <= int(number) <= last]
        return {name for number in numbers for name in rows[number]}
    if last - first > MOST_TEXT:
        return set()
    return {name for place in range(first, last + 1) if (name := f"{row}{place}") in named}


def _rows(net: Net) -> dict[str, set[str]]:
    """The rings (or hubs) of each row of a sheet by its number; none of a chain, whose rings are numbered through."""
    if not any("." in name for name in net.names[: net.woven]):
        return {}
    rows: dict[str, set[str]] = {}
    for name, role in zip(net.names[: net.woven], net.roles, strict=False):
        if role != CONNECTOR:
            rows.setdefault(name.partition(".")[0], set()).add(name)
    return {number: names for number, names in rows.items() if number.isdigit()}


def _runs(names: Iterable[str]) -> list[str]:
    """Single rings, neighbours drawn together: '3.1-4'."""
    words: list[str] = []
    row, first, last = "", -1, -1

    def close() -> None:
        if first >= 0:
            words.append(f"{row}{first}" if first == last else f"{row}{first}-{last}")

    for name in names:
        head, dot, place = name.rpartition(".")
        here = head + dot
        if not place.isdigit():
            close()
            row, first, last = "", -1, -1
            words.append(name)
        elif here == row and int(place) == last + 1:
            last += 1
        else:
            close()
            row, first, last = here, int(place), int(place)
    close()
    return words


def _how(rows: dict[str, set[str]]) -> str:
    if rows:
        return "Write a row as 3, a ring as 3.7, and rings side by side as 3.7-12."
    return "Write a ring as 7, and rings side by side as 7-12."
