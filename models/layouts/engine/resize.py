"""The same design from another ring: as many rings (another finished size), or as large (other row numbers).

Not here: prices of the change, pages that compare.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from models.layouts.engine.items import Item, Items
from models.layouts.engine.nesting import end_of, staggered, steps_per_ring, trimmed, without_end_gaps
from models.layouts.engine.rows import GAP, Layout, Row
from models.layouts.places.sizes import Pitch
from models.trade.rings import RingSize
from models.trade.weaves import WEAVES, Band, Fit, FitNote, fit


def with_ring(items: Items, key: str, other: Item) -> dict[str, Item]:
    """Return the items with another ring in place of one: the layout stays, its sizes and mass follow.

    Raises: KeyError for an item that is not there.
    """
    if key not in items:
        raise KeyError(key)
    return {**items, key: replace(other, key=key)}


def suits(layout: Layout, size: RingSize, *, band: Band | None = None, records: Sequence[FitNote] = ()) -> Fit:
    """Return how a ring suits the weave of a piece, with the reason. Raises: KeyError for an unknown weave."""
    return fit(WEAVES[layout.weave], size, band=band, records=records)


@dataclass(frozen=True, slots=True)
class Resized:
    """The piece with other row numbers, and what could not be carried over."""

    layout: Layout
    notes: tuple[str, ...]


def same_size(layout: Layout, before: Pitch, after: Pitch) -> Resized:
    """Return the piece laid again for rings that measure otherwise, as near its finished size as whole rows come.

    The outline is followed row by row and each new ring takes the item of the old ring at its place, so stripes,
    borders and checks keep their share of the piece.
    """
    rows = without_end_gaps(layout).rows
    per = steps_per_ring(layout.weave)
    across = (len(rows) - 1) * before.across_mm + before.end_across_mm - after.end_across_mm
    count = max(1, round(across / after.across_mm) + 1)
    starts = _smooth([row.start for row in rows])
    ends = _smooth([end_of(row, layout.weave) for row in rows])
    step_before, step_after = before.along_mm / per, after.along_mm / per
    grown = (after.end_along_mm - before.end_along_mm) / 2
    laid: list[Row] = []
    for number in range(count):
        at = (number / (count - 1) if count > 1 else 0.5) * (len(rows) - 1)
        parity = number % 2 if staggered(layout.weave) else 0
        start = _nearest((_between(starts, at) * step_before + grown) / step_after, parity, per)
        end = max(start, _nearest((_between(ends, at) * step_before - grown) / step_after, parity, per))
        laid.append(Row(start, _sampled(rows[round(at)], (end - start) // per + 1)))
    kept = tuple(trimmed(row, layout.weave) for row in laid)
    notes: list[str] = []
    attachments = []
    for each in layout.attachments:
        if each.on.rings:
            notes.append(f"{each.name} hung on single rings: choose them again.")
            continue
        on = each.on
        if on.rows:
            share = count / len(rows)
            first = max(1, round((on.rows[0] - 1) * share) + 1)
            on = replace(on, rows=(first, max(first, round(on.rows[1] * share))))
        attachments.append(replace(each, on=on))
    return Resized(replace(layout, rows=kept, attachments=tuple(attachments)), tuple(notes))


def _smooth(edge: Sequence[int]) -> list[float]:
    """Return an edge without the half pitch that flush rows swing by, so that other rows can follow it."""
    if len(edge) < 2:
        return [float(each) for each in edge]
    inside = [(edge[n - 1] + 2 * edge[n] + edge[n + 1]) / 4 for n in range(1, len(edge) - 1)]
    return [(edge[0] + edge[1]) / 2, *inside, (edge[-2] + edge[-1]) / 2]


def _between(edge: Sequence[float], at: float) -> float:
    low = min(int(at), len(edge) - 1)
    high = min(low + 1, len(edge) - 1)
    return edge[low] + (edge[high] - edge[low]) * (at - low)


def _nearest(step: float, parity: int, per: int) -> int:
    """Return the nearest step on which a row of this parity may start."""
    return per * round((step - parity) / per) + parity


def _sampled(row: Row, count: int) -> tuple[str, ...]:
    """Return so many items spread over those of a row."""
    last = len(row.items) - 1
    if count == 1:
        return (row.items[last // 2] or next(item for item in row.items if item != GAP),)
    return tuple(row.items[round(place * last / (count - 1))] for place in range(count))
