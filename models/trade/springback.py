"""Springback: how wide a coil opens once it leaves its mandrel, and which mandrel gives the size that is wanted.

Not here: how much wire a batch takes (coils). An estimate, in floats: wire of one name differs fivefold in its yield
strength with its temper, so a shop's own test coils always come first.

A wire bent to the radius Ri of its centre line opens to Rf with Ri / Rf = 1 - q. For an elastic, perfectly plastic
round wire, with k = Ri Y / (E r) < 1, the bending moment is
M = 4 [ (Y / (k r)) (r^4 / 8) (asin k - k sqrt(1 - k^2) (1 - 2 k^2)) + (Y r^3 / 3) (1 - k^2)^(3/2) ]
and q = Ri M / (E pi d^4 / 64); nearly, q = 32 / (3 pi) x Ri Y / (E d). Derived by integrating the stress over the
section.
For a sheet the book has Ri / Rf = 4 x^3 - 3 x + 1 with x = Ri Y / (E T). Source: Kalpakjian and Schmid, Manufacturing
Processes for Engineering Materials, chapter on bending (from memory).
Neither knows work hardening, the tension of winding, or tight radii.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from models.trade.chances import t_quantile

_SHORT = 32 / (3 * math.pi)
_STARTING = "from memory of handbooks; it swings fivefold with temper, so measure a test coil"
# Yield strength of one alloy spans about fivefold from soft to hard: this factor either way.
_TEMPER_SWING = math.sqrt(5)
# One test coil alone says nothing about how coils differ. [common practice, no source]
_ONE_COIL = 0.25
# Coils of wire as thick as this one to within so much count as the same wire. [common practice, no source]
_SAME_WIRE = 0.02
_READING_NM = 10_000


class NoSet(ValueError):
    """The wire would not stay bent at this radius: it springs back straight. `k` is 1 or more."""

    def __init__(self, k: float) -> None:
        super().__init__("this wire springs back straight from so wide a bend")
        self.k = k


@dataclass(frozen=True, slots=True)
class Temper:
    """Starting values for one temper of a metal: yield strength in MPa, modulus of elasticity in GPa."""

    code: str
    metal: str
    name: str
    yield_mpa: float
    modulus_gpa: float
    source: str = _STARTING


# Source: mid-range handbook values, from memory; starting values only.
TEMPERS: Mapping[str, Temper] = MappingProxyType(
    {
        temper.code: temper
        for temper in (
            Temper("copper-soft", "copper", "copper, soft", 70, 115),
            Temper("copper-hard", "copper", "copper, hard", 310, 115),
            Temper("brass-c260-hard", "brass-c260", "brass C260, hard", 430, 110),
            Temper("phosphor-bronze-c510-hard", "phosphor-bronze-c510", "phosphor bronze C510, hard", 550, 110),
            Temper("aluminium-1100-hard", "aluminium-1100", "aluminium 1100-H18", 150, 69),
            Temper("aluminium-5356-hard", "aluminium-5356", "aluminium 5356, hard drawn", 280, 70),
            Temper("stainless-304-quarter-hard", "stainless-304", "stainless 304, quarter hard", 520, 193),
            Temper("stainless-304-spring", "stainless-304", "stainless 304, spring-like", 1100, 193),
            Temper("sterling-925-soft", "sterling-925", "sterling, annealed", 125, 75),
            Temper("sterling-925-hard", "sterling-925", "sterling, hard", 350, 75),
            Temper("titanium-grade-1", "titanium", "titanium grade 1", 240, 105),
            Temper("titanium-grade-2", "titanium", "titanium grade 2", 345, 105),
            Temper("niobium-soft", "niobium", "niobium, annealed", 105, 105),
        )
    }
)


def tempers_of(metal: str) -> tuple[Temper, ...]:
    """Return the starting values known for a metal, softest first."""
    return tuple(sorted((each for each in TEMPERS.values() if each.metal == metal), key=lambda each: each.yield_mpa))


def sheet_ratio(bend_radius: float, thickness: float, yield_strength: float, modulus: float) -> float:
    """Return Ri / Rf of a bent sheet, all lengths in one unit and both strengths in one unit. Raises: NoSet."""
    x = bend_radius * yield_strength / (modulus * thickness)
    if x >= 0.5:
        raise NoSet(2 * x)
    return 4 * x**3 - 3 * x + 1


def wire_ratio(bend_radius_mm: float, wire_mm: float, yield_mpa: float, modulus_gpa: float) -> float:
    """Return Ri / Rf of a bent round wire, exact for an elastic, perfectly plastic metal. Raises: NoSet."""
    radius = wire_mm / 2
    k = bend_radius_mm * yield_mpa / (1000 * modulus_gpa * radius)
    if k >= 1:
        raise NoSet(k)
    root = math.sqrt(1 - k * k)
    core = yield_mpa / (k * radius) * radius**4 / 8 * (math.asin(k) - k * root * (1 - 2 * k * k))
    moment = 4 * (core + yield_mpa * radius**3 / 3 * root**3)
    return 1 - bend_radius_mm * moment / (1000 * modulus_gpa * math.pi * wire_mm**4 / 64)


def wire_ratio_short(bend_radius_mm: float, wire_mm: float, yield_mpa: float, modulus_gpa: float) -> float:
    """Return Ri / Rf of a bent round wire by the short form, good to 0.85 k^3. Raises: NoSet."""
    ratio = 1 - _SHORT * bend_radius_mm * yield_mpa / (1000 * modulus_gpa * wire_mm)
    if ratio <= 0:
        raise NoSet(2 * bend_radius_mm * yield_mpa / (1000 * modulus_gpa * wire_mm))
    return ratio


def bend_radius_mm(mandrel_nm: int, wire_nm: int) -> float:
    """Return the radius of the wire's centre line on a mandrel: half of the mandrel and the wire together."""
    return (mandrel_nm + wire_nm) / 2e6


def inner_from_ratio(mandrel_nm: int, wire_nm: int, ratio: float) -> int:
    """Return the inner diameter after springback in whole nanometres: 2 Rf - d."""
    return round((mandrel_nm + wire_nm) / ratio) - wire_nm


def skin_strain(mandrel_nm: int, wire_nm: int) -> float:
    """Return how far the outside of the wire is stretched, as a share: d / (mandrel + d)."""
    return wire_nm / (mandrel_nm + wire_nm)


@dataclass(frozen=True, slots=True)
class TestCoil:
    """One coil that the shop wound and measured, all in nanometres. Raises: ValueError unless above zero."""

    __test__ = False

    wire_nm: int
    mandrel_nm: int
    inner_nm: int

    def __post_init__(self) -> None:
        if min(self.wire_nm, self.mandrel_nm, self.inner_nm) <= 0:
            raise ValueError("wire, mandrel and opening are above zero")

    @property
    def q(self) -> float:
        """Return 1 - Ri / Rf, the share by which the coil's curvature fell."""
        return 1 - (self.mandrel_nm + self.wire_nm) / (self.inner_nm + self.wire_nm)

    @property
    def slope(self) -> float:
        """Return q d / Ri, which is the same for every mandrel and, nearly, every thickness of one metal and temper."""
        return self.q * self.wire_nm / 1e6 / bend_radius_mm(self.mandrel_nm, self.wire_nm)


@dataclass(frozen=True, slots=True)
class Opening:
    """The inner diameter to expect of a coil, with its range, and what that rests on.

    `ratio` is Ri / Rf, by which the number of turns falls too. `low_nm` to `high_nm` is about a 95 % range from test
    coils, and the span of tempers from starting values. `coils` are the shop's own that it rests on.
    """

    inner_nm: int
    low_nm: int
    high_nm: int
    ratio: float
    coils: int
    basis: str


def expected_inner(
    mandrel_nm: int, wire_nm: int, *, temper: Temper | None = None, coils: Sequence[TestCoil] = ()
) -> Opening:
    """Return the inner diameter to expect after springback.

    The shop's own coils of this metal and temper come first: q is proportional to Ri / d, fitted through zero; those of
    the same wire only, if there are any. Without any, the closed form with the temper's starting values.
    Raises: NoSet when the wire springs back straight; ValueError without coils and temper, or for sizes of zero.
    """
    if mandrel_nm <= 0 or wire_nm <= 0:
        raise ValueError("wire and mandrel are above zero")
    if coils:
        return _from_coils(mandrel_nm, wire_nm, coils)
    if temper is None:
        raise ValueError("springback needs a test coil or a temper")
    radius, wire_mm = bend_radius_mm(mandrel_nm, wire_nm), wire_nm / 1e6
    ratio = wire_ratio(radius, wire_mm, temper.yield_mpa, temper.modulus_gpa)
    soft = wire_ratio(radius, wire_mm, temper.yield_mpa / _TEMPER_SWING, temper.modulus_gpa)
    try:
        hard = wire_ratio(radius, wire_mm, temper.yield_mpa * _TEMPER_SWING, temper.modulus_gpa)
    except NoSet:
        # The hardest temper would spring straight; ten times as wide stands for that.
        hard = ratio / 10
    return Opening(
        inner_nm=inner_from_ratio(mandrel_nm, wire_nm, ratio),
        low_nm=inner_from_ratio(mandrel_nm, wire_nm, soft),
        high_nm=inner_from_ratio(mandrel_nm, wire_nm, hard),
        ratio=ratio,
        coils=0,
        basis=f"starting values for {temper.name}: {temper.source}",
    )


def _from_coils(mandrel_nm: int, wire_nm: int, coils: Sequence[TestCoil]) -> Opening:
    same = [coil for coil in coils if abs(coil.wire_nm - wire_nm) <= _SAME_WIRE * wire_nm]
    used = same or list(coils)
    slope = math.fsum(coil.slope for coil in used) / len(used)
    if len(used) > 1:
        deviation = math.sqrt(math.fsum((coil.slope - slope) ** 2 for coil in used) / (len(used) - 1))
        off = t_quantile(0.975, len(used) - 1) * deviation * math.sqrt(1 + 1 / len(used))
    else:
        off = _ONE_COIL * abs(slope)
    if not same:
        off += _ONE_COIL * abs(slope)
    reach = bend_radius_mm(mandrel_nm, wire_nm) / (wire_nm / 1e6)
    q = slope * reach
    if q >= 1:
        raise NoSet(q)
    # Even coils that agree are only measured to a hundredth of a millimetre.
    low, inner, high = (
        inner_from_ratio(mandrel_nm, wire_nm, 1 - min(share, 0.9)) for share in (q - off * reach, q, q + off * reach)
    )
    own = f"{len(used)} of your own coils" if len(used) > 1 else "your own coil"
    return Opening(
        inner_nm=inner,
        low_nm=min(low, inner - _READING_NM),
        high_nm=max(high, inner + _READING_NM),
        ratio=1 - q,
        coils=len(used),
        basis=f"{own} of this wire" if same else f"{own} of this metal in other thicknesses",
    )


def mandrel_for(inner_nm: int, wire_nm: int, *, temper: Temper | None = None, coils: Sequence[TestCoil] = ()) -> int:
    """Return the mandrel in nanometres whose coil opens to an inner diameter; the nearest one at hand is then compared.

    Raises: NoSet when no mandrel down to a tenth of the opening does; ValueError as in `expected_inner`.
    """
    if inner_nm <= 0:
        raise ValueError("the opening is above zero")

    def too_wide(mandrel: int) -> bool:
        try:
            return expected_inner(mandrel, wire_nm, temper=temper, coils=coils).inner_nm > inner_nm
        except NoSet:
            return True

    low, high = inner_nm // 10, inner_nm
    if low < 1 or too_wide(low):
        raise NoSet(1.0)
    while not too_wide(high):
        # Coils measured tighter than their mandrel: the mandrel is then the wider one.
        low, high = high, 2 * high
    return last_before(low, high, too_wide)


def last_before(low: int, high: int, too_much: Callable[[int], bool]) -> int:
    """Return the largest whole number that is not too much, by halving; `low` is not, `high` is."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if too_much(middle) else (middle, high)
    return low
