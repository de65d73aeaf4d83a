"""Lengths of chain: pulled length from ring sizes or from the shop's swatches, and the units for a wanted length.

Millimetres as floats: measured, never paid. Not here: sheets (sizes).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from models.layouts.engine.chain_weaves import CHAINS, ONE, TWO, ChainWeave
from models.layouts.engine.chains import Chain
from models.layouts.engine.items import Items
from models.layouts.places.chain_states import STATES, state_at
from models.layouts.places.geometry import pair_pitch_mm, ring_mm
from models.layouts.places.sizes import MEASURE, SWATCH
from models.trade.rings import RingSize

PULLED = "computed for ideal rings pulled taut"


@dataclass(frozen=True, slots=True)
class ChainSwatch:
    """A measured piece of chain: so many rings of one size, pulled taut, from outer edge to outer edge."""

    size: RingSize
    rings: int
    length_mm: float


@dataclass(frozen=True, slots=True)
class PerRing:
    """How a chain of one ring measures: length = rings x each_mm + ends_mm; where that comes from."""

    each_mm: float
    ends_mm: float
    source: str


@dataclass(frozen=True, slots=True)
class NoLength:
    """Why no length can be computed: it says 'measure', with this reason."""

    reason: str


def per_ring(weave: str, size: RingSize, swatches: Sequence[ChainSwatch] = ()) -> PerRing | NoLength:
    """Return how a chain of this ring measures; the shop's own swatches of this ring win.

    One swatch gives the pitch, the ends taken as ideal; two or more of different lengths give both by least squares.
    """
    kind = CHAINS[weave]
    own = [each for each in swatches if each.size == size and each.rings > kind.abreast and each.length_mm > 0]
    if len({each.rings for each in own}) >= 2:
        return _fitted(own)
    outer = ring_mm(size).outer_mm
    if own:
        mean = sum((each.length_mm - outer) / (each.rings - kind.abreast) for each in own) / len(own)
        if mean > 0:
            return PerRing(mean, outer - kind.abreast * mean, SWATCH)
    share = pulled_share(weave, size)
    if share is None:
        return NoLength(_why_not(kind, size))
    each_mm = share * ring_mm(size).inner_mm
    return PerRing(each_mm, outer - kind.abreast * each_mm, PULLED)


def _fitted(swatches: Sequence[ChainSwatch]) -> PerRing | NoLength:
    """Return the least-squares line through length against rings."""
    count = len(swatches)
    mean_rings = sum(each.rings for each in swatches) / count
    mean_mm = sum(each.length_mm for each in swatches) / count
    spread = sum((each.rings - mean_rings) ** 2 for each in swatches)
    slope = sum((each.rings - mean_rings) * (each.length_mm - mean_mm) for each in swatches) / spread
    if slope <= 0:
        return NoLength("Your swatches contradict each other: more rings came out no longer. Measure them again.")
    return PerRing(slope, mean_mm - slope * mean_rings, SWATCH)


def _why_not(kind: ChainWeave, size: RingSize) -> str:
    states = STATES.get(kind.code)
    if not states:
        return "The length of this weave is not computed for this ring: measure a swatch of it."
    ratio = size.inner_nm / size.wire_nm
    known = [row[0] for row in (*states, *kind.pulled)]
    low, high = min(known), max(known)
    return (
        f"The length of this weave is computed from AR {low:g} to {high:g} only, and this ring has {ratio:.2f}: "
        "measure a swatch."
    )


def pulled_share(weave: str, size: RingSize) -> float | None:
    """Return the pulled pitch per ring over the inner diameter, or None where it is not computed.

    1-in-1 is exactly 1; 2-in-2 a closed form; the others are read between the aspect ratios that were solved, never
    past them.
    """
    ring = ring_mm(size)
    ratio = size.inner_nm / size.wire_nm
    if weave == ONE:
        return 1.0 if ratio >= 2 else None
    if weave == TWO:
        return pair_pitch_mm(ring, ring) / (2 * ring.inner_mm) if ratio >= 2.6213 else None
    state = state_at(weave, ratio)
    if state is not None:
        return state[0]
    table = CHAINS[weave].pulled
    for (low, at_low), (high, at_high) in pairwise(table):
        if low <= ratio <= high:
            part = (1 / low - 1 / ratio) / (1 / low - 1 / high)
            return at_low + part * (at_high - at_low)
    return None


@dataclass(frozen=True, slots=True)
class Length:
    """The pulled length of a chain in millimetres, or None where it must be measured, with the reason."""

    mm: float | None
    source: str
    notes: tuple[str, ...] = ()


def length_of(chain: Chain, items: Items, swatches: Sequence[ChainSwatch] = ()) -> Length:
    """Return the pulled length of a chain from outer edge to outer edge; of a closed one, once round.

    Each ring brings the pitch of its own size, which is exact for 1-in-1 and near for the others where sizes meet.
    """
    measured: dict[str, PerRing] = {}
    for key in dict.fromkeys(key for each in chain.stretches for key in each.repeat):
        item = items.get(key)
        if item is None or item.size is None:
            return Length(None, MEASURE, (f"The size of {item.label if item else key} is not known.",))
        found = per_ring(chain.weave, item.size, swatches)
        if isinstance(found, NoLength):
            return Length(None, MEASURE, (found.reason,))
        measured[key] = found
    rings = chain.items
    sources = {measured[key].source for key in rings}
    source = SWATCH if sources == {SWATCH} else PULLED if sources == {PULLED} else "partly " + SWATCH
    total = sum(measured[key].each_mm for key in rings)
    notes: tuple[str, ...] = ()
    if len({items[key].size for key in rings}) > 1:
        notes = ("Rings of several sizes: where they meet, the length is a close estimate.",)
    if chain.closed:
        return Length(total, source, (*notes, "Once round the closed loop, at the middle of its rings."))
    return Length(total + (measured[rings[0]].ends_mm + measured[rings[-1]].ends_mm) / 2, source, notes)


@dataclass(frozen=True, slots=True)
class Choice:
    """A chain that can be made: its units and rings, and its length with the clasp, in millimetres."""

    units: int
    rings: int
    mm: float


@dataclass(frozen=True, slots=True)
class Choices:
    """The nearest chain to a wanted length, and the next ones down and up that can be made."""

    nearest: Choice
    below: Choice | None
    above: Choice
    source: str


def for_length(
    weave: str,
    size: RingSize,
    wanted_mm: float,
    *,
    clasp_mm: float = 0.0,
    closed: bool = False,
    even: bool = False,
    swatches: Sequence[ChainSwatch] = (),
) -> Choices | NoLength:
    """Return how many units come nearest a wanted length, the clasp taken off first, and the next both ways.

    `even` keeps to even numbers of units, so that a closed loop of turned units meets itself without a twist.
    """
    found = per_ring(weave, size, swatches)
    if isinstance(found, NoLength):
        return found
    kind = CHAINS[weave]
    step = 2 if even else 1
    least = kind.least_loop if closed else 1
    least += least % 2 if even else 0

    def made(units: int) -> Choice:
        rings = units * kind.unit_rings + (0 if closed else len(kind.finish))
        return Choice(units, rings, rings * found.each_mm + (0 if closed else found.ends_mm) + clasp_mm)

    base = made(0).mm
    each_mm = kind.unit_rings * found.each_mm
    units = math.floor((wanted_mm - base) / each_mm + 1e-9)
    units -= units % step
    below = made(units) if units >= least else None
    above = made(max(least, units + step))
    if below is not None and abs(below.mm - wanted_mm) < 1e-6:
        return Choices(below, below if units - step < least else made(units - step), above, found.source)
    nearest = above if below is None or above.mm - wanted_mm < wanted_mm - below.mm else below
    return Choices(nearest, below, above, found.source)


def graduated_units(
    weave: str,
    small: RingSize,
    large: RingSize,
    wanted_mm: float,
    *,
    large_share: float,
    clasp_mm: float = 0.0,
    swatches: Sequence[ChainSwatch] = (),
) -> tuple[int, int] | NoLength:
    """Return the units of each small end and of the large middle of a graduated chain nearest a wanted length.

    `large_share` is the part of the length, from 0 to 1, that the large rings take.
    """
    of_small, of_large = per_ring(weave, small, swatches), per_ring(weave, large, swatches)
    if isinstance(of_small, NoLength):
        return of_small
    if isinstance(of_large, NoLength):
        return of_large
    kind = CHAINS[weave]
    unit_small, unit_large = kind.unit_rings * of_small.each_mm, kind.unit_rings * of_large.each_mm
    room = wanted_mm - clasp_mm - of_small.ends_mm - len(kind.finish) * of_small.each_mm
    middle = max(1, round(room * large_share / unit_large))
    end = max(1, round((room - middle * unit_large) / (2 * unit_small)))
    middle = max(1, round((room - 2 * end * unit_small) / unit_large))
    return end, middle
