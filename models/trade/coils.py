"""Making rings from wire: how much wire a batch takes, in how many coils, and what size the rings end up with.

Not here: one ring's own geometry (rings), how a coil springs back (springback), what the wire costs (costing), the
cautions for cutting and sawing (pages). Lengths are exact Decimals in millimetres.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_FLOOR, Context, Decimal

from models.trade.measures import from_mm, to_mm
from models.trade.rings import PI, RingSize
from models.trade.springback import last_before

_CONTEXT = Context(prec=50)


@dataclass(frozen=True, slots=True)
class WirePlan:
    """What a batch of rings takes. Lengths in millimetres, exact.

    `wire_mm` = `in_rings_mm` + `sawn_mm` + `ends_mm`. `turn_mm` is the wire of one turn of the coil, `coil_mm` the
    length of the longest coil on its mandrel. `finished` is the size of the rings once cut and closed.
    """

    rings: int
    coils: int
    rings_per_coil: int
    turn_mm: Decimal
    wire_mm: Decimal
    in_rings_mm: Decimal
    sawn_mm: Decimal
    ends_mm: Decimal
    coil_mm: Decimal
    coil_inner_nm: int
    finished: RingSize


@dataclass(frozen=True, slots=True)
class Winding:
    """How a shop winds and cuts. Lengths in millimetres.

    `kerf_mm` is what a cut removes (a saw; 0 for a cutter). `mandrel_length_mm` is its usable length, None for no
    limit. `end_turns` are the turns of each coil that give no whole ring, `end_waste_mm` the straight wire that each
    coil costs. `pitch_mm` is the distance of turns, None for close-wound. `spare` is the share of rings made on top.
    `keeps_opening`: the coil is wound wider, so that the ring has its size after the cut is closed; otherwise each turn
    is as long as the ring's size says, and the cut makes the ring a little smaller.
    """

    kerf_mm: Decimal = Decimal(0)
    mandrel_length_mm: Decimal | None = None
    end_turns: Decimal = Decimal(1)
    end_waste_mm: Decimal = Decimal(0)
    pitch_mm: Decimal | None = None
    spare: Decimal = Decimal(0)
    keeps_opening: bool = False

    def __post_init__(self) -> None:
        for value in (self.kerf_mm, self.end_turns, self.end_waste_mm, self.spare):
            if not value.is_finite() or value < 0:
                raise ValueError("cuts, ends and spare are zero or more")


def wire_for_rings(size: RingSize, rings: int, winding: Winding, *, ratio: float = 1.0) -> WirePlan:
    """Return the wire, the coils and the finished size for a batch of rings.

    One turn of a coil takes sqrt(L^2 + pitch^2) with L = pi (ID + d) of the coil; n whole rings need n turns between
    two cuts. `ratio` is Ri / Rf of the springback: so many of the turns that are wound are left.
    Raises: ValueError for no rings, a cut as long as a ring, turns closer than the wire, a mandrel too short for one.
    """
    if rings < 1:
        raise ValueError("at least one ring is made")
    if not 0 < ratio <= 1.5:
        raise ValueError("a coil keeps some of its turns")
    made = int(_CONTEXT.multiply(Decimal(rings), 1 + winding.spare).to_integral_value(rounding=ROUND_CEILING))
    turn_mm = _turn_mm(size, winding)
    pitch_mm = to_mm(size.wire_nm) if winding.pitch_mm is None else winding.pitch_mm
    per_coil = _rings_per_coil(winding, pitch_mm, ratio, made)
    coils = -(-made // per_coil)
    sawn_mm = _CONTEXT.multiply(Decimal(made), winding.kerf_mm)
    turns_mm = _CONTEXT.multiply(Decimal(made), turn_mm)
    ends_mm = _CONTEXT.multiply(Decimal(coils), _CONTEXT.fma(winding.end_turns, turn_mm, winding.end_waste_mm))
    kerf_nm = from_mm(_CONTEXT.divide(winding.kerf_mm, PI))
    wider_nm = kerf_nm if winding.keeps_opening else 0
    wound = _CONTEXT.divide(min(per_coil, made) + winding.end_turns, Decimal(str(ratio)))
    return WirePlan(
        rings=made,
        coils=coils,
        rings_per_coil=min(per_coil, made),
        turn_mm=turn_mm,
        wire_mm=_CONTEXT.add(turns_mm, ends_mm),
        in_rings_mm=_CONTEXT.subtract(turns_mm, sawn_mm),
        sawn_mm=sawn_mm,
        ends_mm=ends_mm,
        coil_mm=_CONTEXT.multiply(wound, pitch_mm),
        coil_inner_nm=size.inner_nm + wider_nm,
        finished=RingSize(size.wire_nm, size.inner_nm + wider_nm - kerf_nm),
    )


def _turn_mm(size: RingSize, winding: Winding) -> Decimal:
    """Return the wire of one turn along the helix."""
    if winding.kerf_mm >= size.wire_length_mm:
        raise ValueError("the cut is shorter than the wire of one ring")
    wire_mm = to_mm(size.wire_nm)
    pitch_mm = wire_mm if winding.pitch_mm is None else winding.pitch_mm
    if pitch_mm < wire_mm:
        raise ValueError("turns cannot lie closer than the wire is thick")
    line_mm = size.wire_length_mm
    if winding.keeps_opening:
        line_mm = _CONTEXT.add(line_mm, winding.kerf_mm)
    square = _CONTEXT.add(_CONTEXT.multiply(line_mm, line_mm), _CONTEXT.multiply(pitch_mm, pitch_mm))
    return square.sqrt(_CONTEXT)


def _rings_per_coil(winding: Winding, pitch_mm: Decimal, ratio: float, made: int) -> int:
    """Return how many whole rings one coil gives."""
    if winding.mandrel_length_mm is None:
        return made
    wound = _CONTEXT.divide(winding.mandrel_length_mm, pitch_mm).to_integral_value(rounding=ROUND_FLOOR)
    left = _CONTEXT.subtract(_CONTEXT.multiply(wound, Decimal(str(ratio))), winding.end_turns)
    whole = int(left.to_integral_value(rounding=ROUND_FLOOR))
    if whole < 1:
        raise ValueError("this mandrel is too short for one ring")
    return whole


def rings_from_wire(size: RingSize, wire_mm: Decimal, winding: Winding, *, ratio: float = 1.0) -> int:
    """Return the most rings that a length of wire gives, without counting any as spare; 0 when it is too short for one.

    Raises: ValueError as in `wire_for_rings`.
    """
    plain = replace(winding, spare=Decimal(0))

    def too_many(rings: int) -> bool:
        return wire_for_rings(size, rings, plain, ratio=ratio).wire_mm > wire_mm

    if too_many(1):
        return 0
    high = 2
    while not too_many(high):
        high *= 2
    return last_before(high // 2, high, too_many)
