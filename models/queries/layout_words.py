"""What differs between two layouts, in words: for a stale edit, and for two revisions side by side.

What a difference costs is in `layout_change`.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import zip_longest

from models.intake.layout import LayoutDraft
from models.trade.layout.attach import Attachment
from models.trade.layout.route import Route
from models.trade.layout.rows import Layout, Row, runs
from models.trade.weaves import WEAVES

Change = tuple[str, str, str]
MOST_ROWS = 12
"""So many changed rows are told one by one."""


def layout_changes(before: LayoutDraft | None, after: LayoutDraft | None) -> tuple[Change, ...]:
    """Everything that differs in how two pieces are laid out; nothing when both say the same."""
    if before == after:
        return ()
    if before is None or after is None:
        return (("Laid out", layout_line(before), layout_line(after)),)
    found = [
        ("Weave of the rows", _weave(before), _weave(after)),
        ("Laid out", layout_line(before), layout_line(after)),
        *_plan_changes(before, after),
        *_hanging(before.plan.attachments, after.plan.attachments),
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


def row_words(row: Row | None) -> str:
    """A row in one line: 'starts at 2: 5 × i12, 1 × t1'."""
    if row is None:
        return ""
    shown = ", ".join(f"{count} × {key or 'gap'}" for key, count in runs(row.items)[:8])
    more = " …" if len(runs(row.items)) > 8 else ""
    return f"starts at {row.start}: {shown}{more}"


def _plan_changes(before: LayoutDraft, after: LayoutDraft) -> Iterable[Change]:
    if not isinstance(before.plan, Layout) or not isinstance(after.plan, Layout):
        yield "Stretches", _stretches(before), _stretches(after)
        return
    yield "Hangs from", before.plan.up, after.plan.up
    yield "Joined by", before.plan.connector, after.plan.connector
    changed = [
        (number, old, new)
        for number, (old, new) in enumerate(zip_longest(before.plan.rows, after.plan.rows), 1)
        if old != new
    ]
    for number, old, new in changed[:MOST_ROWS]:
        yield f"Row {number}", row_words(old), row_words(new)
    if len(changed) > MOST_ROWS:
        yield "More rows", "", f"{len(changed) - MOST_ROWS:,} more rows differ"


def _hanging(before: tuple[Attachment, ...], after: tuple[Attachment, ...]) -> Iterable[Change]:
    old, new = {one.name: one for one in before}, {one.name: one for one in after}
    for name in dict.fromkeys((*old, *new)):
        if old.get(name) != new.get(name):
            yield f"Hangs on it: {name}", _attachment(old.get(name)), _attachment(new.get(name))
    if list(old) != list(new) and set(old) == set(new):
        yield "Hangs on it", ", ".join(old), ", ".join(new)


def _attachment(one: Attachment | None) -> str:
    if one is None:
        return ""
    things = " and ".join(word for word in (one.ring, one.finding) if word)
    on = one.on
    chosen = ", ".join(on.rings[:8]) if on.rings else f"every {on.every} from {on.skip + 1}" if on.every > 1 else "all"
    where = f"{on.where} {on.of}".strip()
    rows = f", rows {on.rows[0]} to {on.rows[1]}" if on.rows else ""
    only = f", only {on.item}" if on.item else ""
    return f"{one.kind}: {one.each} × {things} on {where} ({chosen}{rows}{only})"


def _stretches(draft: LayoutDraft) -> str:
    if isinstance(draft.plan, Layout):
        return ""
    told = [f"{one.units} of {' '.join(one.repeat[:12])}" for one in draft.plan.stretches]
    own = f"; linked {', '.join(map(str, draft.plan.own_links))} further on" if draft.plan.own_links else ""
    return ", ".join(told) + own


def _closed(draft: LayoutDraft) -> str:
    if draft.closed is None:
        return "as the order of work has it"
    names = ", ".join(draft.closed[:12]) + (" …" if len(draft.closed) > 12 else "")
    return f"{len(draft.closed):,} of your choice: {names}" if draft.closed else "none"


def _weave(draft: LayoutDraft) -> str:
    weave = WEAVES.get(draft.weave)
    return weave.name if weave else draft.weave
