"""Whether what passes through a ring fits: wires side by side, a chain's end link, rings that hang on a gathering ring.

Necessary conditions of plane geometry: what fails them cannot be done, what passes may still be tight. Not here: which
ring links which (links).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from models.layouts.engine.items import Item
from models.trade.measures import format_mm
from models.trade.rings import RingSize
from models.trade.weaves import hung_on, packing_bound

MOST_WIRES = 13
"""Up to so many wires through one opening there is a proven least opening."""

Passing = Sequence[tuple[Item, int]]
"""What passes through a ring, and how many of each."""


@dataclass(frozen=True, slots=True)
class Squeeze:
    """Why what passes through a ring is too much ('warning') or may be ('note')."""

    level: Literal["warning", "note"]
    words: str


def least_opening_nm(count: int, wire_nm: int) -> int:
    """Return the opening that so many equal wires need at least: the packing of circles, or their area past 13."""
    if count <= MOST_WIRES:
        return int(packing_bound(count) * wire_nm)
    return int(wire_nm * Decimal(count).sqrt())


def how_many_hang(gathering: RingSize, hung: RingSize) -> int:
    """Return how many rings of a size hang side by side on a gathering ring; 0 when they do not go round its wire."""
    return hung_on(hung.wire_nm, gathering.inner_nm, gathering.wire_nm, hung.inner_nm)


def squeezed(item: Item, size: RingSize, passing: Passing, *, gathers: bool = False) -> Iterator[Squeeze]:
    """Yield why what passes through a ring is too much for its opening; nothing where it fits.

    `gathers` is for a gathering ring, on which rings hang side by side.
    """
    opening = format_mm(size.inner_nm)
    for other, _ in passing:
        if other.width_nm is not None and other.width_nm >= size.inner_nm:
            yield Squeeze(
                "warning",
                f"{other.label} does not pass through {item.label}: it is {format_mm(other.width_nm)} wide at its "
                f"widest and the opening is {opening}.",
            )
        if other.size is not None and other.size.inner_nm <= size.wire_nm:
            yield Squeeze(
                "warning",
                f"{other.label} does not go round the wire of {item.label}: its opening is "
                f"{format_mm(other.size.inner_nm)} and that wire is {format_mm(size.wire_nm)}.",
            )
    wires = [(thick, count) for other, count in passing if (thick := _thick_nm(other)) is not None]
    total = sum(count for _, count in wires)
    if not total:
        return
    thinnest, thickest = min(thick for thick, _ in wires), max(thick for thick, _ in wires)
    if thickest >= size.inner_nm:
        yield Squeeze(
            "warning", f"A wire of {format_mm(thickest)} does not pass through {item.label}: its opening is {opening}."
        )
        return
    least = least_opening_nm(total, thinnest)
    if least > size.inner_nm:
        yield Squeeze(
            "warning",
            f"{total} wires do not pass through {item.label}: they need an opening of at least {format_mm(least)}, "
            f"and it has {opening}.",
        )
        return
    side_by_side = hung_on(thickest, size.inner_nm, size.wire_nm)
    if least_opening_nm(total, thickest) > size.inner_nm:
        yield Squeeze(
            "note", f"{total} wires may be too many for {item.label} with its opening of {opening}: try it first."
        )
    elif gathers and total > side_by_side:
        yield Squeeze(
            "note",
            f"{side_by_side} rings hang side by side on {item.label}, and {total} hang there: the others lie over "
            "them.",
        )


def _thick_nm(other: Item) -> int | None:
    """Return the thickness of what passes through: the wire of a ring, the thickness of a chain."""
    if other.thick_nm is not None:
        return other.thick_nm
    return other.size.wire_nm if other.size else None
