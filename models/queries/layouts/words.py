"""What differs between two layouts, in words: for a stale edit, and for two revisions side by side.

What a difference costs is in `layout_change`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import zip_longest

from models.intake.costing.part import PartDraft
from models.intake.layouts.layout import LayoutDraft
from models.layouts.engine.attach import Attachment
from models.layouts.engine.rows import Layout, Row, runs
from models.layouts.steps.route import Route
from models.trade.weaves import WEAVES

Change = tuple[str, str, str]
Name = Callable[[PartDraft], str]
"""What a thing of the palette is called."""
MOST_ROWS = 12
"""So many changed rows are told one by one."""


def layout_changes(before: LayoutDraft | None, after: LayoutDraft | None, name: Name) -> tuple[Change, ...]:
    """Everything that differs in how two pieces are laid out; nothing when both say the same."""
    if before == after:
        return ()
    if before is None or after is None:
        return (("Laid out", layout_line(before), layout_line(after)),)
    old, new = _Names(before, name), _Names(after, name)
    found = [
        ("Weave of the rows", _weave(before), _weave(after)),
        ("Laid out", layout_line(before), layout_line(after)),
        *_plan_changes(before, after, old, new),
        *_hanging(before.plan.attachments, after.plan.attachments, old, new),
        ("Order of work", route_words(before.route), route_words(after.route)),
        ("Closed beforehand", _closed(before), _closed(after)),
    ]
    told = tuple(change for change in found if change[1] != change[2])
    # Whatever else is different still has to be told, or a stale edit would pass for the same.
    return told or (("Rows", "as they were", "laid out otherwise"),)


def layout_line(draft: LayoutDraft | None) -> str:
    """A layout in one line: '12 rows, 38 rings'; a design without rows has a plain list."""
    if draft is None:
        return "a plain list of parts"
    rings = f"{draft.rings:,} rings"
    if isinstance(draft.plan, Layout):
        rows = len(draft.plan.rows)
        return f"{rows:,} {'row' if rows == 1 else 'rows'}, {rings}"
    units = draft.plan.units
    loop = ", a closed loop" if draft.plan.closed else ""
    return f"{units:,} {'unit' if units == 1 else 'units'}, {rings}{loop}"


def route_words(route: Route) -> str:
    """The maker's way in one line."""
    turn = "" if route.turn == "none" else f", turned {route.turn} before {route.when}"
    return f"from row {route.start_row}, {route.sides}, {route.method}, {route.way}{turn}"


class _Names:
    """The names of one layout's keys."""

    def __init__(self, draft: LayoutDraft, name: Name) -> None:
        self._names = {entry.key: name(entry.thing) for entry in draft.palette}

    def of(self, key: str) -> str:
        """What a key is called."""
        return self._names.get(key, key) if key else "gap"

    def row(self, row: Row | None) -> str:
        """A row in one line: 'starts at 2: 5 × Bronze ring, 1 × Blue ring'."""
        if row is None:
            return ""
        found = runs(row.items)
        shown = ", ".join(f"{count} × {self.of(key)}" for key, count in found[:8])
        return f"starts at {row.start}: {shown}{' …' if len(found) > 8 else ''}"

    def attachment(self, one: Attachment | None) -> str:
        """What hangs somewhere, in one line."""
        if one is None:
            return ""
        things = " and ".join(self.of(key) for key in (one.ring, one.finding) if key)
        on = one.on
        every = f"every {on.every} from {on.skip + 1}" if on.every > 1 or on.skip else "all"
        chosen = ", ".join(on.rings[:8]) if on.rings else every
        rows = f", rows {on.rows[0]} to {on.rows[1]}" if on.rows else ""
        only = f", only {self.of(on.item)}" if on.item else ""
        return f"{one.kind}: {one.each} × {things} on {on.where} {on.of}".rstrip() + f" ({chosen}{rows}{only})"

    def stretches(self, draft: LayoutDraft) -> str:
        """The stretches of a chain in one line."""
        if isinstance(draft.plan, Layout):
            return ""
        told = [f"{one.units} of {', '.join(self.of(key) for key in one.repeat[:12])}" for one in draft.plan.stretches]
        own = f"; linked {', '.join(map(str, draft.plan.own_links))} further on" if draft.plan.own_links else ""
        return "; ".join(told) + own


def _plan_changes(before: LayoutDraft, after: LayoutDraft, old: _Names, new: _Names) -> Iterable[Change]:
    if not isinstance(before.plan, Layout) or not isinstance(after.plan, Layout):
        yield "Stretches", old.stretches(before), new.stretches(after)
        return
    yield "Hangs from", before.plan.up, after.plan.up
    if before.plan.connector or after.plan.connector:
        yield "Joined by", old.of(before.plan.connector), new.of(after.plan.connector)
    changed = [
        (f"Row {number}", old.row(one), new.row(other))
        for number, (one, other) in enumerate(zip_longest(before.plan.rows, after.plan.rows), 1)
        if one != other
    ]
    yield from changed[:MOST_ROWS]
    if len(changed) > MOST_ROWS:
        yield "More rows", "", f"{len(changed) - MOST_ROWS:,} more rows differ"


def _hanging(
    before: tuple[Attachment, ...], after: tuple[Attachment, ...], old: _Names, new: _Names
) -> Iterable[Change]:
    left, right = {one.name: one for one in before}, {one.name: one for one in after}
    for name in dict.fromkeys((*left, *right)):
        if left.get(name) != right.get(name):
            yield f"Hangs on it: {name}", old.attachment(left.get(name)), new.attachment(right.get(name))
    if list(left) != list(right) and set(left) == set(right):
        yield "Hangs on it", ", ".join(left), ", ".join(right)


def _closed(draft: LayoutDraft) -> str:
    if draft.closed is None:
        return "as the order of work has it"
    names = ", ".join(draft.closed[:12]) + (" …" if len(draft.closed) > 12 else "")
    return f"{len(draft.closed):,} of your choice: {names}" if draft.closed else "none"


def _weave(draft: LayoutDraft) -> str:
    weave = WEAVES.get(draft.weave)
    return weave.name if weave else draft.weave
