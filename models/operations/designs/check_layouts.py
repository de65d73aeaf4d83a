"""Proving rows: the parts that a revision keeps from its rows are those that its rows count.

Only what is frozen is held against the rows: an item may be told later that it never opens.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any

from sqlalchemy import select
from sqlmodel import Session, col

from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.plain import from_stored
from models.layouts.engine.net import FINDING
from models.operations.shop.breach import Breach
from models.queries.designs.design import PART_COLUMNS, part_in
from models.tables import Layout, Part

RULE = "parts from rows are those that the rows count"
READABLE = "rows can be read"
BOTH = "parts from rows have rows"


def check_layouts(session: Session) -> tuple[Breach, ...]:
    """The first row that breaks each rule of rows; empty when all of them hold."""
    first: dict[str, Breach] = {}
    for breach in (*_parts(session), *_without_rows(session)):
        first.setdefault(breach.rule, breach)
    return tuple(first.values())


def _parts(session: Session) -> Iterator[Breach]:
    rows = session.execute(
        select(
            col(Layout.id), col(Layout.revision_id), col(Layout.kind), col(Layout.plan), col(Layout.palette),
            col(Layout.route), col(Layout.closed),
        ).order_by(col(Layout.id))
    )  # fmt: skip
    for row in rows:
        try:
            draft = from_stored(row.kind, row.plan, row.palette, row.route, row.closed)
        except (ValueError, TypeError, KeyError, AttributeError) as unreadable:
            yield Breach(READABLE, "layout", row.id, f"What it keeps makes no sense: {unreadable}.")
            continue
        kept = session.execute(
            select(col(Part.id), *PART_COLUMNS)
            .where(col(Part.revision_id) == row.revision_id, col(Part.layout_key) != "")
            .order_by(col(Part.position))
        ).all()
        words = _differs(draft, kept)
        if words:
            yield Breach(RULE, "layout", row.id, f"Of revision {row.revision_id}: {words}")


def _differs(draft: LayoutDraft, kept: Any) -> str:
    """What the kept parts say otherwise than the rows, for the first key where they do."""
    net = draft.net()
    counts = net.counts
    names = set(net.names)
    shut = None if draft.closed is None else {net.index(name) for name in draft.closed if name in names}
    findings = Counter(key for key, role in zip(net.items, net.roles, strict=True) if role == FINDING)
    closed = findings + Counter(net.items[index] for index in shut or ())
    seen: Counter[str] = Counter()
    for row in kept:
        part, entry = part_in(row), draft.entry(row.layout_key)
        if entry is None or part.item_id != entry.item_id:
            return f"part {row.id} is not what “{row.layout_key}” is in the rows."
        seen[row.layout_key] += 1
        wanted = counts.get(row.layout_key, 0) * entry.thing.quantity_milli
        if part.quantity_milli != wanted or seen[row.layout_key] > 1:
            return (
                f"part {row.id} keeps {part.quantity_milli} thousandths of “{row.layout_key}”, its rows take {wanted}."
            )
        if shut is not None and part.closed_milli not in {None, closed[row.layout_key] * 1000}:
            return (
                f"part {row.id} says that {part.closed_milli} thousandths of “{row.layout_key}” are closed beforehand, "
                f"and the rows name {closed[row.layout_key]} rings."
            )
    left = next((key for key in counts if key not in seen), None)
    return "" if left is None else f"the rows take {counts[left]} of “{left}”, and no part keeps them."


def _without_rows(session: Session) -> Iterator[Breach]:
    found = session.execute(
        select(col(Part.id), col(Part.layout_key))
        .join(Layout, col(Layout.revision_id) == col(Part.revision_id), isouter=True)
        .where(col(Part.layout_key) != "", col(Layout.id).is_(None))
        .order_by(col(Part.id))
        .limit(1)
    )
    for part_id, key in found:
        yield Breach(BOTH, "part", part_id, f"It is said to be “{key}” of the rows, and its revision has none.")
