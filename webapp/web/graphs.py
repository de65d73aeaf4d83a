"""Where the strokes of a graph over time go, in percent of its plane: what was on hand, and the levels that are wished.

Plain geometry for templates. Floats are fine here: nothing drawn is counted or paid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

_TICKS = 3


@dataclass(frozen=True, slots=True)
class Mark:
    """A tick on an axis: its place in percent, and what stands there."""

    at: float
    value: Any
    anchor: str = "middle"


@dataclass(frozen=True, slots=True)
class StockGraph:
    """A stepped line of stock over time. `path` and `area` are in a plane of 1000 x 1000, upside down as SVG draws.

    `reorder` and `target` are places in percent, None where no level is set.
    """

    path: str
    area: str
    times: tuple[Mark, ...]
    amounts: tuple[Mark, ...]
    reorder: float | None
    target: float | None


def stock_graph(
    points: Sequence[tuple[datetime, int]],
    since: datetime,
    until: datetime,
    *,
    reorder_milli: int | None = None,
    target_milli: int | None = None,
) -> StockGraph:
    """Draw what was on hand, as (moment, thousandths) in order; it holds until the next moment, and to the end."""
    span = (until - since) / timedelta(seconds=1) or 1.0
    top = _round_up(max([1, *(milli for _, milli in points), reorder_milli or 0, target_milli or 0]))

    def across(at: datetime) -> float:
        return round(min(max((at - since) / timedelta(seconds=1) / span, 0.0), 1.0) * 1000, 1)

    def down(milli: int) -> float:
        return round(1000 - milli / top * 1000, 1)

    steps: list[str] = []
    for place, (at, milli) in enumerate(points):
        steps.append(f"M{across(at)} {down(milli)}" if place == 0 else f"H{across(at)}V{down(milli)}")
    path = "".join(steps) + ("H1000" if steps else "")
    area = f"{path}V1000H{across(points[0][0])}Z" if points else ""
    anchors = ("start", *(["middle"] * (_TICKS - 2)), "end")
    return StockGraph(
        path=path,
        area=area,
        times=tuple(
            Mark(100 * step / (_TICKS - 1), since + (until - since) * step / (_TICKS - 1), anchors[step])
            for step in range(_TICKS)
        ),
        amounts=tuple(Mark(100 - 50 * step, top * step // 2) for step in range(3)),
        reorder=None if reorder_milli is None else down(reorder_milli) / 10,
        target=None if target_milli is None else down(target_milli) / 10,
    )


def _round_up(milli: int) -> int:
    """The next amount with one or two digits that halves well: 412 becomes 500, 61 becomes 80."""
    size = 1
    while size * 10 <= milli:
        size *= 10
    for factor in (1, 2, 4, 5, 6, 8, 10):
        if size * factor >= milli:
            return size * factor
    return size * 10
