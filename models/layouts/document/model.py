"""Rows and chains as documents: how they are kept in a database, sent to a page or a program, and read back.

A document is written by its model, with the number of its format; one without a number is of the first. What comes in
is not trusted: whatever is not understood comes back as a fault with its place. Not here: a piece's palette and route
(models/intake/layouts/plain), how pages name things.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Final

from pydantic import BaseModel, ConfigDict, PlainSerializer

from models.layouts.document.collector import MAX_KEY, Collector
from models.layouts.engine.attach import KINDS, MAX_EACH, WHERES, Attachment, Selection
from models.layouts.engine.chain_weaves import CHAINS
from models.layouts.engine.chains import MAX_OFFSET, Chain, Stretch, chain_faults
from models.layouts.engine.nesting import faults_of
from models.layouts.engine.rows import (
    EDGES,
    GAP,
    MAX_PLACES,
    MAX_RINGS,
    MAX_ROWS,
    Edge,
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

FORMAT: Final = 1
"""Counted up when a document can no longer be read as it was before; `read_…` then says how the older one reads."""

MAX_STEP = 1_000_000
MAX_ATTACHMENTS = 200
MAX_STRETCHES = 200
MAX_REPEAT = 1_000


def _written_row(row: Row) -> dict[str, Any]:
    return {"start": row.start, "runs": [[item, count] for item, count in runs(row.items)]}


class PlanDocument(BaseModel):
    """What rows and chains have in common as documents."""

    model_config = ConfigDict(frozen=True, from_attributes=True)

    format: int = FORMAT
    weave: str
    attachments: tuple[Attachment, ...] = ()

    def written(self) -> dict[str, Any]:
        """Return strings, whole numbers, lists and dictionaries only; `read_sheet` or `read_chain` reads them back."""
        return self.model_dump(mode="json")


class SheetDocument(PlanDocument):
    """A piece of rows; a row is written as its start and runs of items."""

    up: Edge = "first row"
    connector: str = ""
    rows: tuple[Annotated[Row, PlainSerializer(_written_row)], ...]


class ChainDocument(PlanDocument):
    """A length of chain."""

    stretches: tuple[Stretch, ...]
    closed: bool = False
    own_links: tuple[int, ...] = ()


def document_of(plan: Layout | Chain) -> SheetDocument | ChainDocument:
    """Return rows or a chain as a document of the format of today."""
    model = SheetDocument if isinstance(plan, Layout) else ChainDocument
    return model.model_validate(plan)


def read_sheet(raw: Any) -> Layout | tuple[Fault, ...]:
    """Return the layout that plain values describe, or every fault in them.

    A row is given by `runs` ([["bronze", 5], ["green", 1]]), by `items` ring by ring, or by `rings` with `item` or
    `repeat`. "" as an item is a place without a ring.
    """
    faults: list[Fault] = []
    read = _opened(raw, faults)
    layout = Layout(
        weave=read.choice("weave", tuple(SHEETS), "european-4-in-1"),
        rows=_rows(read, faults),
        attachments=_attachments(read, faults),
        up=read.choice("up", EDGES, "first row"),
        connector=read.text("connector"),
    )
    return tuple(faults or faults_of(layout)) or layout


def read_chain(raw: Any) -> Chain | tuple[Fault, ...]:
    """Return the chain that plain values describe, or every fault in them."""
    faults: list[Fault] = []
    read = _opened(raw, faults)
    closed = read.raw.get("closed", False)
    if not isinstance(closed, bool):
        read.fault("closed", "Say true for a closed loop, false for an open chain.")
        closed = False
    chain = Chain(
        weave=read.choice("weave", tuple(CHAINS), "chain-1-in-1"),
        stretches=read.each("stretches", MAX_STRETCHES, lambda value, place: _stretch(value, place, faults)),
        closed=closed,
        attachments=_attachments(read, faults),
        own_links=read.each("own_links", MAX_OFFSET, lambda value, place: _offset(value, place, faults)),
    )
    return tuple(faults or chain_faults(chain)) or chain


def _opened(raw: Any, faults: list[Fault]) -> Collector:
    """Return a reader of a document; one of a newer format than this program writes is a fault."""
    read = Collector(raw, "", faults)
    number = read.raw.get("format")
    if isinstance(number, int) and number > FORMAT:
        read.fault("format", f"This layout is of format {number}, and those up to {FORMAT} are read here.")
    return read


def _attachments(read: Collector, faults: list[Fault]) -> tuple[Attachment, ...]:
    """Read what hangs on a piece."""
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


def read_attachment(raw: Any, place: str = "attachment") -> Attachment | tuple[Fault, ...]:
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


def _stretch(raw: Any, place: str, faults: list[Fault]) -> Stretch:
    read = Collector(raw, place, faults)
    return Stretch(read.number("units", 0, 1, MAX_RINGS), read.texts("repeat", MAX_REPEAT))


def _offset(raw: Any, place: str, faults: list[Fault]) -> int:
    if isinstance(raw, int) and not isinstance(raw, bool) and 1 <= raw <= MAX_OFFSET:
        return raw
    faults.append(Fault(place, f"Each ring links rings from 1 to {MAX_OFFSET} further on."))
    return 1
