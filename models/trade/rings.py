"""One ring: opening, aspect ratio, mass, wire length, and what a bag, a spool or a saw makes of it.

Not here: which weave it fits (weaves), what it costs (costing). A ring is a torus: a round wire bent to a circle.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_FLOOR, Context, Decimal

from models.trade.measures import GRAMS_PER, format_mm, to_mm
from models.trade.metals import Metal

PI = Decimal("3.1415926535897932384626433832795028841971693993751")
"""Pi to 50 digits."""

_CONTEXT = Context(prec=50)
_RATIO = Context(prec=28)


@dataclass(frozen=True, slots=True, order=True)
class RingSize:
    """A ring's wire and inner diameter in whole nanometres, both real sizes. Raises: ValueError unless above zero."""

    wire_nm: int
    inner_nm: int

    def __post_init__(self) -> None:
        if self.wire_nm <= 0 or self.inner_nm <= 0:
            raise ValueError("a ring's wire and opening are above zero")

    @property
    def outer_nm(self) -> int:
        """Return the outer diameter: the opening and two wires."""
        return self.inner_nm + 2 * self.wire_nm

    @property
    def aspect_ratio(self) -> Decimal:
        """Return inner diameter / wire diameter to 28 digits."""
        return _RATIO.divide(Decimal(self.inner_nm), Decimal(self.wire_nm))

    @property
    def wire_length_mm(self) -> Decimal:
        """Return the length of the wire's centre line, pi (ID + d), in millimetres to 50 digits."""
        return _CONTEXT.multiply(PI, to_mm(self.inner_nm + self.wire_nm))

    @property
    def volume_mm3(self) -> Decimal:
        """Return the volume of metal, (pi^2 / 4) (ID + d) d^2, in mm3 to 50 digits."""
        return _CONTEXT.multiply(self.wire_length_mm, _area_mm2(self.wire_nm))

    def mass_g(self, density: Decimal) -> Decimal:
        """Return the mass in grams of one ring of a metal of so many g/cm3, unrounded (50 digits)."""
        return _CONTEXT.scaleb(_CONTEXT.multiply(density, self.volume_mm3), -3)


@dataclass(frozen=True, slots=True)
class RingFacts:
    """What a jeweller asks about a ring. Lengths in mm, masses in g; unrounded.

    The cut convention: a saw removes `kerf_mm` from each turn of a coil, the wire used stays the full turn, and the
    ring closes up a little smaller. `rings_per_...` are of rings as sized; `rings_per_kg_after_cut` of closed-up ones.
    """

    size: RingSize
    metal: Metal
    outer_mm: Decimal
    aspect_ratio: Decimal
    mass_g: Decimal
    wire_length_mm: Decimal
    wire_g_per_m: Decimal
    rings_per_100g: Decimal
    rings_per_ozt: Decimal
    rings_per_lb: Decimal
    rings_per_kg: Decimal
    rings_per_metre: int
    kerf_mm: Decimal
    lost_share: Decimal
    mass_after_cut_g: Decimal
    rings_per_kg_after_cut: Decimal
    closed_inner_mm: Decimal
    closed_aspect_ratio: Decimal


def _area_mm2(wire_nm: int) -> Decimal:
    """Return the cross-section of a round wire."""
    wire_mm = to_mm(wire_nm)
    return _CONTEXT.divide(_CONTEXT.multiply(PI, wire_mm * wire_mm), Decimal(4))


def wire_g_per_m(wire_nm: int, density: Decimal) -> Decimal:
    """Return the mass of one metre of wire in grams, for a density in g/cm3; unrounded."""
    return _CONTEXT.multiply(density, _area_mm2(wire_nm))


def ring_facts(size: RingSize, metal: Metal, kerf_mm: Decimal = Decimal(0)) -> RingFacts:
    """Return all facts of a ring of a metal, cut with a saw or cutter that removes so many millimetres.

    Raises: ValueError unless 0 <= kerf < the wire's length in the ring.
    """
    length_mm = size.wire_length_mm
    if not 0 <= kerf_mm < length_mm:
        raise ValueError("the cut is from zero up to less than the wire of one ring")
    mass_g = size.mass_g(metal.density)
    left_share = _CONTEXT.subtract(Decimal(1), _CONTEXT.divide(kerf_mm, length_mm))
    mass_after_cut_g = _CONTEXT.multiply(mass_g, left_share)
    closed_inner_mm = _CONTEXT.subtract(to_mm(size.inner_nm), _CONTEXT.divide(kerf_mm, PI))

    def rings_in(grams: Decimal) -> Decimal:
        return _CONTEXT.divide(grams, mass_g)

    return RingFacts(
        size=size,
        metal=metal,
        outer_mm=to_mm(size.outer_nm),
        aspect_ratio=size.aspect_ratio,
        mass_g=mass_g,
        wire_length_mm=length_mm,
        wire_g_per_m=wire_g_per_m(size.wire_nm, metal.density),
        rings_per_100g=rings_in(Decimal(100)),
        rings_per_ozt=rings_in(GRAMS_PER["ozt"]),
        rings_per_lb=rings_in(GRAMS_PER["lb"]),
        rings_per_kg=rings_in(Decimal(1000)),
        rings_per_metre=int(_CONTEXT.divide(Decimal(1000), length_mm).to_integral_value(rounding=ROUND_FLOOR)),
        kerf_mm=kerf_mm,
        lost_share=_CONTEXT.divide(kerf_mm, length_mm),
        mass_after_cut_g=mass_after_cut_g,
        rings_per_kg_after_cut=_CONTEXT.divide(Decimal(1000), mass_after_cut_g),
        closed_inner_mm=closed_inner_mm,
        closed_aspect_ratio=_RATIO.divide(closed_inner_mm, to_mm(size.wire_nm)),
    )


def near(a: RingSize, b: RingSize, tolerance_nm: int) -> bool:
    """Tell whether two rings differ by no more than a tolerance in both wire and opening."""
    return abs(a.wire_nm - b.wire_nm) <= tolerance_nm and abs(a.inner_nm - b.inner_nm) <= tolerance_nm


def absurd(size: RingSize) -> str | None:
    """Return plain words when no such ring can be meant: the wire is thicker than its opening, or far too thin."""
    wire, inner = format_mm(size.wire_nm), format_mm(size.inner_nm)
    if size.inner_nm < size.wire_nm:
        return (
            f"A wire of {wire} is thicker than its opening of {inner}: no other ring would pass through. "
            "Did you swap them, or type a gauge without AWG or SWG?"
        )
    if size.inner_nm > 100 * size.wire_nm:
        return f"An opening of {inner} is more than 100 times the wire of {wire}. Check both sizes and their units."
    return None
