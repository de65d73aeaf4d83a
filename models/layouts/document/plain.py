"""Layouts as plain values for files, forms and JSON, and back: strings, whole numbers, lists and dictionaries only.

What comes in is not trusted: anything that is not understood comes back as a fault with its place. Not here: how pages
name things.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from models.layouts.engine.attach import KINDS, MAX_EACH, WHERES, Attachment, Selection
from models.layouts.engine.nesting import faults_of
from models.layouts.engine.rows import (
    EDGES,
    GAP,
    MAX_PLACES,
    MAX_RINGS,
    MAX_ROWS,
    Layout,
    Row,
    repeated,
    row_of,
    runs,
    too_many_places,
)
from models.layouts.weaves.sheets import SHEETS
from models.trade.faults import Fault
from models.trade.vocabulary.pieces import HANGINGS

MAX_STEP = 1_000_000
MAX_KEY = 64
MAX_ATTACHMENTS = 200
T = TypeVar("T")


def to_plain(layout: Layout) -> dict[str, Any]:
    """Return a layout as plain values; `from_plain` gives the equal layout back."""
    return {
        "weave": layout.weave,
        "up": layout.up,
        "connector": layout.connector,
        "rows": [
            {"start": row.start, "runs": [[item, count] for item, count in runs(row.items)]} for row in layout.rows
        ],
        "attachments": [attachment_to_plain(each) for each in layout.attachments],
    }


def attachment_to_plain(attachment: Attachment) -> dict[str, Any]:
    """Return an attachment as plain values."""
    on = attachment.on
    return {
        "name": attachment.name,
        "kind": attachment.kind,
        "ring": attachment.ring,
        "finding": attachment.finding,
        "each": attachment.each,
        "on": {
            "where": on.where,
            "item": on.item,
            "every": on.every,
            "skip": on.skip,
            "rows": list(on.rows) if on.rows else None,
            "of": on.of,
            "rings": list(on.rings),
        },
    }


class Collector:
    """Reads plain values of a mapping and gathers what is wrong with them."""

    def __init__(self, raw: Any, place: str, faults: list[Fault]) -> None:
        self.place = f"{place}." if place else ""
        self.faults = faults
        self.raw: Mapping[str, Any] = raw if isinstance(raw, Mapping) else {}
        if not isinstance(raw, Mapping):
            self.fault("", "This must be a group of named values.")

    def fault(self, field: str, message: str) -> None:
        """Note one fault at a field."""
        self.faults.append(Fault((self.place + field).strip(".") or "layout", message))

    def text(self, field: str, default: str = "", longest: int = MAX_KEY) -> str:
        """Return a text, or the default when it is missing."""
        value = self.raw.get(field)
        if value is None:
            return default
        if not isinstance(value, str) or len(value) > longest:
            self.fault(field, f"This must be a text of up to {longest} characters.")
            return default
        return value

    def number(self, field: str, default: int, least: int, most: int) -> int:
        """Return a whole number within its limits, or the default when it is missing."""
        value = self.raw.get(field)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            self.fault(field, f"This must be a whole number from {least:,} to {most:,}.")
            return default
        return value

    def choice(self, field: str, choices: Sequence[T], default: T) -> T:
        """Return one of the choices, or the default when it is missing."""
        value = self.raw.get(field)
        if value is None:
            return default
        if value not in choices:
            self.fault(field, "Choose one of: " + ", ".join(str(each) for each in choices) + ".")
            return default
        return choices[choices.index(value)]

    def sequence(self, field: str, most: int) -> Sequence[Any]:
        """Return a list of up to so many values; an empty one when it is missing."""
        value = self.raw.get(field)
        if value is None:
            return ()
        if isinstance(value, str) or not isinstance(value, Sequence) or len(value) > most:
            self.fault(field, f"This must be a list of up to {most:,} entries.")
            return ()
        return value

    def texts(self, field: str, most: int) -> tuple[str, ...]:
        """Return a list of texts."""
        found = self.sequence(field, most)
        if any(not isinstance(each, str) or len(each) > MAX_KEY for each in found):
            self.fault(field, f"Each entry must be a text of up to {MAX_KEY} characters.")
            return ()
        return tuple(found)

    def each(self, field: str, most: int, read: Callable[[Any, str], T]) -> tuple[T, ...]:
        """Read every entry of a list with its place, counted from 1."""
        return tuple(
            read(value, f"{self.place}{field}.{number}") for number, value in enumerate(self.sequence(field, most), 1)
        )


def from_plain(raw: Any) -> Layout | tuple[Fault, ...]:
    """Return the layout that plain values describe, or every fault in them.

    A row is given by `runs` ([["bronze", 5], ["green", 1]]), by `items` ring by ring, or by `rings` with `item` or
    `repeat`. "" as an item is a place without a ring.
    """
    faults: list[Fault] = []
    read = Collector(raw, "", faults)
    weave = read.choice("weave", tuple(SHEETS), "european-4-in-1")
    layout = Layout(
        weave=weave,
        rows=_rows(read, faults),
        attachments=read_attachments(read, faults),
        up=read.choice("up", EDGES, "first row"),
        connector=read.text("connector"),
    )
    if not faults:
        faults += faults_of(layout)
    return tuple(faults) if faults else layout


def read_attachments(read: Collector, faults: list[Fault]) -> tuple[Attachment, ...]:
    """Return what hangs on a piece from its plain values."""
    found = read.each("attachments", MAX_ATTACHMENTS, lambda value, place: _attachment(value, place, faults))
    faults += _attachment_faults(found)
    return found


def _rows(read: Collector, faults: list[Fault]) -> tuple[Row, ...]:
    """Return the rows, as far as they have no more places together than a piece may have."""
    places = 0

    def one(value: Any, place: str) -> Row:
        nonlocal places
        if places > MAX_PLACES:
            return Row(0, ())
        row = _row(value, place, faults)
        places += len(row.items)
        return row

    rows = read.each("rows", MAX_ROWS, one)
    if places > MAX_PLACES:
        read.fault("rows", too_many_places(places).replace("these have", "these have at least"))
    return rows


def _row(raw: Any, place: str, faults: list[Fault]) -> Row:
    read = Collector(raw, place, faults)
    start = read.number("start", 0, -MAX_STEP, MAX_STEP)
    if "runs" in read.raw:
        pairs = read.each("runs", MAX_RINGS, lambda value, inner: _run(value, inner, faults))
        total = sum(count for _, count in pairs)
        if total > MAX_RINGS:
            read.fault("runs", f"A row has up to {MAX_RINGS:,} rings here.")
            return Row(start, ())
        return row_of(start, pairs)
    if "items" in read.raw:
        return Row(start, read.texts("items", MAX_RINGS))
    rings = read.number("rings", 0, 0, MAX_RINGS)
    repeat = read.texts("repeat", MAX_RINGS) or (read.text("item"),)
    if rings and not any(repeat):
        read.fault("item", "Name the item of the rings in this row.")
        return Row(start, ())
    return repeated(start, rings, repeat)


def _run(raw: Any, place: str, faults: list[Fault]) -> tuple[str, int]:
    if (
        isinstance(raw, (list, tuple))
        and len(raw) == 2
        and isinstance(raw[0], str)
        and len(raw[0]) <= MAX_KEY
        and isinstance(raw[1], int)
        and not isinstance(raw[1], bool)
        and 0 <= raw[1] <= MAX_RINGS
    ):
        return raw[0], raw[1]
    faults.append(Fault(place, "A run is an item and how many of it, such as bronze and 5."))
    return GAP, 0


def attachment_from_plain(raw: Any, place: str = "attachment") -> Attachment | tuple[Fault, ...]:
    """Return the attachment that plain values describe, or every fault in them."""
    faults: list[Fault] = []
    found = _attachment(raw, place, faults)
    faults += [Fault(place, fault.message) for fault in _attachment_faults((found,)) if not found.on.of]
    return tuple(faults) if faults else found


def _attachment(raw: Any, place: str, faults: list[Fault]) -> Attachment:
    read = Collector(raw, place, faults)
    return Attachment(
        name=read.text("name"),
        kind=read.choice("kind", KINDS, "hang"),
        on=_selection(read.raw.get("on", {}), f"{place}.on", faults),
        ring=read.text("ring"),
        finding=read.text("finding"),
        each=read.number("each", 1, 1, MAX_EACH),
    ).as_meant()


def _selection(raw: Any, place: str, faults: list[Fault]) -> Selection:
    read = Collector(raw, place, faults)
    span = read.sequence("rows", 2)
    whole = [each for each in span if isinstance(each, int) and not isinstance(each, bool) and 1 <= each <= MAX_ROWS]
    if span and len(whole) != 2:
        read.fault("rows", "Give the first and the last row number.")
    return Selection(
        where=read.choice("where", WHERES, "every ring"),
        item=read.text("item"),
        every=read.number("every", 1, 1, MAX_RINGS),
        skip=read.number("skip", 0, 0, MAX_RINGS),
        rows=(min(whole), max(whole)) if len(whole) == 2 else None,
        of=read.text("of"),
        rings=read.texts("rings", MAX_RINGS),
    )


def _attachment_faults(attachments: Sequence[Attachment]) -> list[Fault]:
    """Return what is wrong with the attachments among themselves: names, and what each kind needs."""
    found: list[Fault] = []
    earlier: set[str] = set()
    for number, each in enumerate(attachments, 1):
        place = f"attachments.{number}"
        if not each.name or each.name in earlier:
            found.append(Fault(f"{place}.name", "Give each attachment a name of its own."))
        if HANGINGS.term(each.kind).of == "ring" and not each.ring:
            found.append(Fault(f"{place}.ring", "Choose the ring that hangs there."))
        if HANGINGS.term(each.kind).of == "finding" and not each.finding:
            what = "bail, a ring or a finding," if each.kind == "bail" else "chain or finding"
            found.append(Fault(f"{place}.finding", f"Choose the {what} that it hangs from."))
        if each.on.where == "attachment" and each.on.of not in earlier:
            found.append(Fault(f"{place}.on.of", "Name an attachment that stands before this one."))
        earlier.add(each.name)
    return found
