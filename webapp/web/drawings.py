"""Where the strokes of the small drawings go: rings in true proportion, cost bars, price lines, ranges.

Plain geometry for the macros in `templates/_drawings.html`. Floats are fine here: nothing drawn is counted or paid.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

Figure = Decimal | int | float

TONES = 6
"""As many tones as the style sheet has for the segments of a bar."""


@dataclass(frozen=True, slots=True)
class RingStrokes:
    """A ring inside a square: all in px of that square. `cut` is the short line where the wire's ends meet."""

    side: float
    centre: float
    middle_radius: float
    wire: float
    inner_radius: float
    outer_radius: float
    cut: tuple[float, float, float, float]
    gleam: str
    gleam_width: float


def ring(wire_nm: int, inner_nm: int, size_px: int = 40, scale_nm: int | None = None) -> RingStrokes:
    """Draw a ring of this wire and opening; `scale_nm` is the outer diameter that would fill the square.

    Rings drawn with one `scale_nm` can be compared by eye. A ring larger than the scale fills the square.
    """
    outer_nm = max(inner_nm + 2 * wire_nm, 1)
    full_nm = max(scale_nm or outer_nm, outer_nm)
    edge = 1.0  # keeps the outline inside the square
    px_per_nm = (size_px - 2 * edge) / full_nm
    wire = wire_nm * px_per_nm
    inner = inner_nm * px_per_nm / 2
    middle = inner + wire / 2
    centre = size_px / 2
    angle = math.radians(-58)
    cut = (
        centre + inner * math.cos(angle),
        centre + inner * math.sin(angle),
        centre + (inner + wire) * math.cos(angle),
        centre + (inner + wire) * math.sin(angle),
    )
    gleam_radius = inner + wire * 0.66
    start, end = math.radians(192), math.radians(262)
    gleam = (
        f"M{centre + gleam_radius * math.cos(start):.2f} {centre + gleam_radius * math.sin(start):.2f}"
        f"A{gleam_radius:.2f} {gleam_radius:.2f} 0 0 1 "
        f"{centre + gleam_radius * math.cos(end):.2f} {centre + gleam_radius * math.sin(end):.2f}"
    )
    rounded = tuple(round(value, 2) for value in cut)
    return RingStrokes(
        side=size_px,
        centre=centre,
        middle_radius=round(middle, 2),
        wire=round(wire, 2),
        inner_radius=round(inner, 2),
        outer_radius=round(inner + wire, 2),
        cut=(rounded[0], rounded[1], rounded[2], rounded[3]),
        gleam=gleam,
        gleam_width=round(wire * 0.16, 2),
    )


@dataclass(frozen=True, slots=True)
class Segment:
    """One segment of a bar: its place and width in percent of the bar, its tone, and the line it stands for."""

    line: Any
    at: float
    width: float
    share: Decimal
    tone: int


def cost_bar(lines: Iterable[Any]) -> tuple[Segment, ...]:
    """Lay lines (each with `label` and `amount`) end to end in proportion; those of nothing or less take no room."""
    shown = tuple(lines)
    total = sum((Decimal(line.amount) for line in shown if line.amount > 0), Decimal(0))
    found: list[Segment] = []
    at = 0.0
    for place, line in enumerate(shown):
        share = Decimal(line.amount) / total if total > 0 and line.amount > 0 else Decimal(0)
        width = float(share) * 100
        found.append(Segment(line, round(at, 3), round(width, 3), share, place % TONES + 1))
        at += width
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Tick:
    """A named price on the scale: its place in percent, the side of it that its words stand on, and their row."""

    kind: str
    word: str
    value: Decimal
    at: float
    anchor: str
    row: int


@dataclass(frozen=True, slots=True)
class PriceScale:
    """All ticks on one scale, and how far the losing part below break-even reaches, in percent."""

    ticks: tuple[Tick, ...]
    loss_to: float
    target_from: float | None


PRICE_ROWS = (
    ("suggested", "suggested", 0),
    ("listed", "listed", 1),
    ("break_even", "breaks even", 2),
    ("target", "target", 3),
)


def price_line(
    break_even: Decimal | None = None,
    target: Decimal | None = None,
    suggested: Decimal | None = None,
    listed: Decimal | None = None,
) -> PriceScale:
    """Put the prices that are known on one scale. Every word has a row of its own, so none can cover another."""
    given = {"break_even": break_even, "target": target, "suggested": suggested, "listed": listed}
    known = {kind: Decimal(value) for kind, value in given.items() if value is not None}
    if not known:
        return PriceScale((), 0.0, None)
    least, most = min(known.values()), max(known.values())
    # One single price stands in the middle of a scale that has some width.
    pad = (most - least) * Decimal("0.14") or max(abs(most) * Decimal("0.2"), Decimal(1))
    low, high = least - pad, most + pad

    def place(value: Decimal) -> float:
        return round(float((value - low) / (high - low)) * 100, 2)

    ticks = tuple(
        Tick(kind, word, known[kind], place(known[kind]), _anchor(place(known[kind])), row)
        for kind, word, row in PRICE_ROWS
        if kind in known
    )
    loss_to = place(known["break_even"]) if "break_even" in known else 0.0
    return PriceScale(ticks, loss_to, place(known["target"]) if "target" in known else None)


@dataclass(frozen=True, slots=True)
class Range:
    """A likely value inside its range, in percent of a scale that begins at nothing."""

    low: float
    likely: float
    high: float


def range_bar(low: Figure, likely: Figure, high: Figure) -> Range:
    """Place a range on a scale from nothing to a little past its high end."""
    values: Sequence[float] = [float(low), float(likely), float(high)]
    full = max(*values, 0.0) * 1.1 or 1.0
    placed = [round(max(value, 0.0) / full * 100, 2) for value in values]
    return Range(*placed)


def _anchor(at: float) -> str:
    return "start" if at < 30 else "end" if at > 70 else "middle"
