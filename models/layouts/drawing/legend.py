"""What stands under a drawing: a size bar, the items with their counts, and notes.

Not here: the drawing itself (drawing).
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from models.layouts.drawing.tints import body_of, edge_of, safe
from models.layouts.engine.items import PLAIN_TINT, Items

Box = tuple[float, float, float, float]
"""Left, top, width and height in the drawing's units."""

LETTER = 0.56
"""How wide a letter is at most on the average, as a share of the size of the words."""

_NICE_MM = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)


def text_units(box: Box) -> float:
    """Return how large the words of a drawing are, in its units, so that they can be read on a phone.

    A drawing much wider than high takes the whole breadth of its page, where the same words would tower over its rings.
    """
    return max(box[2], box[3] * 0.6) / (34 if box[2] > 3 * box[3] else 26)


def under(
    box: Box, scale: float, *, size_bar: bool, counts: dict[str, int], items: Items, notes: Sequence[str]
) -> tuple[list[str], Box]:
    """Return the size bar, legend and notes under a drawing of so many units per millimetre, and the box with them."""
    if not (size_bar or counts or notes):
        return [], box
    left, top, wide, high = box
    text = text_units(box)
    line = text * 1.7
    y = top + high + line
    widest = 0.0
    found = [f'<g class="legend" font-family="system-ui, sans-serif" font-size="{text:.0f}" fill="currentColor">']
    if size_bar:
        bar_mm = max((each for each in _NICE_MM if each * scale <= wide * 0.5), default=_NICE_MM[0])
        bar, tick = bar_mm * scale, text * 0.35
        found.append(
            f'<path class="size-bar" fill="none" stroke="currentColor" stroke-width="{text * 0.12:.1f}" '
            f'd="M{left:.0f} {y - tick:.0f}v{2 * tick:.0f}m0 -{tick:.0f}h{bar:.0f}m0 -{tick:.0f}v{2 * tick:.0f}"/>'
            f'<text x="{left + bar + text * 0.6:.0f}" y="{y + text * 0.35:.0f}">{bar_mm} mm</text>'
        )
        widest = bar + text * 5
        y += line
    for key, count in counts.items():
        item = items.get(key)
        words = f"{item.label if item else key}: {count:,}"
        found.append(_small_ring(item.tint if item else PLAIN_TINT, left + text * 0.6, y, text))
        found.append(f'<text x="{left + text * 1.8:.0f}" y="{y + text * 0.35:.0f}">{escape(words)}</text>')
        widest = max(widest, text * (2.2 + LETTER * len(words)))
        y += line
    for note in notes:
        found.append(
            f'<text x="{left:.0f}" y="{y + text * 0.3:.0f}" font-size="{text * 0.85:.0f}">{escape(note)}</text>'
        )
        widest = max(widest, text * 0.48 * len(note))
        y += line
    return [*found, "</g>"], (left, top, max(wide, widest), y - line * 0.3 - top)


def _small_ring(tint: str, x: float, y: float, text: float) -> str:
    """Return a small ring of a tint."""
    clean = safe(tint)
    return "".join(
        f'<circle cx="{x:.0f}" cy="{y:.0f}" r="{text * 0.42:.1f}" fill="none" stroke="{shade}" '
        f'stroke-width="{wide:.1f}"/>'
        for shade, wide in ((edge_of(clean), text * 0.3), (body_of(clean), text * 0.2))
    )
