"""Whether large and small rings of a Japanese sheet lie clear: its unit is placed, and every distance in it measured.

Large rings (hubs) lie flat in pairs, small rings (connectors) stand upright in pairs between them. Millimetres as
floats. Not here: the pitches themselves, and which ring of a piece stands where (weaves).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import TYPE_CHECKING

from models.layouts.places.geometry import Circle, Ring, linked, nearest_mm, ring_mm
from models.trade.measures import format_mm
from models.trade.rings import RingSize

if TYPE_CHECKING:
    from models.layouts.weaves.hubs import HubWeave

_TOUCH = 1e-5
"""Rings that just touch may come out so much (in wires) too near: the places are found numerically."""

_GRID_NM = 100_000
_TRIED_UP_TO = 2
"""Openings that might fit are tried to a tenth of a millimetre, up to so many times the larger one of the two."""


@dataclass(frozen=True, slots=True)
class Clash:
    """Why hubs and connectors do not lie as the weave wants them: which rings meet, and by how much they overlap.

    `linked` is false where rings do not even pass through each other as they should; then no overlap is told.
    """

    rings: str
    overlap_mm: float
    linked: bool = True


@dataclass(frozen=True, slots=True)
class _Placed:
    """One ring of the unit: its centre line and wire, and its places (a hub has one, a connector joins two)."""

    circle: Circle
    wire_mm: float
    places: tuple[int, ...]


def hubs_fit(weave: HubWeave, hub: RingSize, connector: RingSize) -> bool:
    """Tell whether rings of these sizes lie clear in a Japanese sheet; of equal rings the aspect ratio decides."""
    if hub == connector:
        return hub.inner_nm >= weave.clear_from * hub.wire_nm
    return clash_of(weave, ring_mm(hub), ring_mm(connector)) is None


@lru_cache(maxsize=512)
def clash_of(weave: HubWeave, hub: Ring, connector: Ring) -> Clash | None:
    """Return the worst overlap of an endless sheet of these rings, or None where all lie clear and link as they should.

    Every pair of rings of the sheet is, turned or moved, a pair with a ring of the hub in the middle or of the
    connectors beside it, so only those are measured.
    """
    if not math.isfinite(weave.flat(hub, connector).along_mm):
        return Clash("large and small rings", 0.0, linked=False)
    placed = _unit(weave, hub, connector)
    own = [each for each in placed if each.places in ((0,), (0, 1))]
    worst: Clash | None = None
    for one in own:
        for other in placed:
            if other is one:
                continue
            mean = (one.wire_mm + other.wire_mm) / 2
            reach = one.circle.radius_mm + other.circle.radius_mm + mean
            if math.dist(one.circle.centre, other.circle.centre) > reach:
                continue
            joined = len(one.places) != len(other.places) and bool(set(one.places) & set(other.places))
            if bool(linked(one.circle, other.circle)) != joined:
                return Clash(_named(one, other), 0.0, linked=False)
            overlap = mean - nearest_mm(one.circle, other.circle)
            if overlap > _TOUCH * mean and (worst is None or overlap > worst.overlap_mm):
                worst = Clash(_named(one, other), overlap)
    return worst


def _unit(weave: HubWeave, hub: Ring, connector: Ring) -> list[_Placed]:
    """Return a hub, its neighbours all round, and the connectors between all of them."""
    apart = weave.flat(hub, connector).along_mm
    spots = [(0.0, 0.0), *_around(weave, apart)]
    sides = (1, -1) if weave.rings == 2 else (0,)
    found = [
        _Placed(Circle((x, y, side * hub.wire_mm / 2), (0.0, 0.0, 1.0), hub.radius_mm), hub.wire_mm, (place,))
        for place, (x, y) in enumerate(spots)
        for side in sides
    ]
    for a, b in combinations(range(len(spots)), 2):
        (xa, ya), (xb, yb) = spots[a], spots[b]
        if math.hypot(xb - xa, yb - ya) > 1.01 * apart:
            continue
        nx, ny = -(yb - ya) / apart, (xb - xa) / apart
        for side in sides:
            aside = side * connector.wire_mm / 2
            centre = ((xa + xb) / 2 + aside * nx, (ya + yb) / 2 + aside * ny, 0.0)
            found.append(_Placed(Circle(centre, (nx, ny, 0.0), connector.radius_mm), connector.wire_mm, (a, b)))
    return found


def _around(weave: HubWeave, apart: float) -> list[tuple[float, float]]:
    """Return the places round one: its neighbours, and in squares also those at the corners."""
    turns = weave.neighbours
    found = [
        (apart * math.cos(2 * number * math.pi / turns), apart * math.sin(2 * number * math.pi / turns))
        for number in range(turns)
    ]
    corners = () if weave.staggered else ((1, 1), (-1, 1), (-1, -1), (1, -1))
    return found + [(apart * x, apart * y) for x, y in corners]


def _named(one: _Placed, other: _Placed) -> str:
    """Return which rings these are, as a maker calls them."""
    if len(one.places) == len(other.places):
        return "large rings" if len(one.places) == 1 else "small rings"
    return "large and small rings"


def why_no_room(weave: HubWeave, hub: RingSize, connector: RingSize) -> str:
    """Return in words why hubs and connectors do not lie clear, and which sizes near them do; "" where they fit."""
    found = None if hub == connector else clash_of(weave, ring_mm(hub), ring_mm(connector))
    if found is None:
        return ""
    sizes = (
        f"Large rings of {format_mm(hub.wire_nm)} wire, {format_mm(hub.inner_nm)} inside, and small ones of "
        f"{format_mm(connector.wire_nm)} wire, {format_mm(connector.inner_nm)} inside"
    )
    if not found.linked:
        said = f"{sizes} cannot be joined flat: the small rings do not go round the large ones and meet."
    else:
        said = f"{sizes} do not lie flat together: the {found.rings} would overlap by {found.overlap_mm:.2f} mm."
    return " ".join([said, *_what_fits(weave, hub, connector)])


@lru_cache(maxsize=256)
def _what_fits(weave: HubWeave, hub: RingSize, connector: RingSize) -> tuple[str, ...]:
    """Return what would lie clear with one of the two sizes kept."""
    most_nm = _TRIED_UP_TO * max(hub.inner_nm, connector.inner_nm)
    small = _least_nm(connector.inner_nm, most_nm, lambda nm: hubs_fit(weave, hub, RingSize(connector.wire_nm, nm)))
    large = _least_nm(hub.inner_nm, most_nm, lambda nm: hubs_fit(weave, RingSize(hub.wire_nm, nm), connector))
    ways: list[str] = []
    if small is not None:
        ways.append(f"these large rings with small ones from {format_mm(small)} inside")
    if large is not None:
        ways.append(f"these small rings with large ones from {format_mm(large)} inside")
    return (f"What fits: {' or '.join(ways)}.",) if ways else ("Try thinner small rings, or a larger opening of both.",)


def _least_nm(above_nm: int, most_nm: int, fits: Callable[[int], bool]) -> int | None:
    """Return the least larger opening, to a tenth of a millimetre, that fits; None when the largest tried does not.

    What fits keeps fitting as the opening grows, so halving finds it.
    """
    low, high = above_nm // _GRID_NM, most_nm // _GRID_NM
    if not fits(high * _GRID_NM):
        return None
    while high - low > 1:
        middle = (low + high) // 2
        if fits(middle * _GRID_NM):
            high = middle
        else:
            low = middle
    return high * _GRID_NM
