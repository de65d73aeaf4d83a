"""What many weighings teach: the real mass of an item's rings, and when a bag seems to hold something else.

Not here: the mass from one set of samples (ring_mass), the count of a bag (weighing). Masses in grams as floats.
Sources, from memory: DerSimonian and Laird 1986 for the spread between weighings; Higgins, Thompson and Spiegelhalter
2009 for the range of the next one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from models.trade.chances import t_cdf
from models.trade.ring_mass import DEFAULT_SCATTER, Grams, RingMass, Sample, Unweighable, grams

DEFAULT_BETWEEN = 0.01
"""Standard deviation of the mean mass from lot to lot, as a share. [common practice, no source]"""


@dataclass(frozen=True, slots=True)
class LearnedMass:
    """What many weighings say about the mass of one ring of an item, in grams.

    `u_g` is the uncertainty of the mean; `between_g` the deviation from weighing to weighing that their own errors do
    not explain (lots differ). `dof` are the degrees of freedom of the next weighing's range.
    """

    mass_g: float
    u_g: float
    between_g: float
    dof: float
    weighings: int
    scatter: float = DEFAULT_SCATTER

    @property
    def next_sd_g(self) -> float:
        """Return the standard uncertainty of the mean mass in the next bag."""
        return math.hypot(self.u_g, self.between_g)

    def ring_mass(self) -> RingMass:
        """Return the mass to expect in the next bag."""
        times = "1 weighing" if self.weighings == 1 else f"{self.weighings} weighings"
        return RingMass(
            self.mass_g, self.scatter * self.mass_g, self.next_sd_g, self.dof, (), f"learned from your {times}"
        )


def learn_mass(
    weighings: Sequence[Sample],
    *,
    step_g: Grams | Sequence[Grams],
    scatter: float = DEFAULT_SCATTER,
    default_between: float = DEFAULT_BETWEEN,
) -> LearnedMass:
    """Return the mass of one ring from weighings of counted rings, the sure ones counting more.

    `step_g` is the step of the scale, or one for each weighing where scales differ.
    Each weighing i gives m_i with u_i^2 = (step / sqrt(12) / k)^2 + (scatter m)^2 / k. With weights w = 1 / u_i^2,
    their mean and Q = sum w (m_i - mean)^2, the variance between weighings is
    tau^2 = max(0, (Q - (J - 1)) / (sum w - sum w^2 / sum w)), and the mean is taken again with 1 / (u_i^2 + tau^2).
    Up to three weighings say too little: tau is then at least the default share of the mass. From four on the range of
    the next one is Student's t with J - 2 degrees of freedom.
    Raises: ValueError for no weighings, Unweighable when the scale showed nothing.
    """
    if not weighings:
        raise ValueError("weigh at least once")
    given = step_g if isinstance(step_g, Sequence) else [step_g] * len(weighings)
    steps = [grams(each, "the scale's step") for each in given]
    masses = [float(each.mass_g) / each.rings for each in weighings]
    rough = sum(float(each.mass_g) for each in weighings) / sum(each.rings for each in weighings)
    if rough <= 0:
        raise Unweighable("The scale showed nothing for these rings. Weigh more at once, or use a finer scale.")
    # A floor keeps an error-free weighing from outweighing all others without end.
    floor = (1e-6 * rough) ** 2
    variances = [
        max(floor, (step / each.rings) ** 2 / 12 + (scatter * rough) ** 2 / each.rings)
        for each, step in zip(weighings, steps, strict=True)
    ]
    between = _between(masses, variances)
    few = len(weighings) < 4
    if few:
        between = max(between, (default_between * rough) ** 2)
    weights = [1 / (variance + between) for variance in variances]
    mean = sum(weight * mass for weight, mass in zip(weights, masses, strict=True)) / sum(weights)
    return LearnedMass(
        mass_g=mean,
        u_g=1 / math.sqrt(sum(weights)),
        between_g=math.sqrt(between),
        dof=math.inf if few else len(weighings) - 2.0,
        weighings=len(weighings),
        scatter=scatter,
    )


def _between(masses: Sequence[float], variances: Sequence[float]) -> float:
    """Return the variance between weighings beyond their own errors."""
    weights = [1 / variance for variance in variances]
    whole = sum(weights)
    mean = sum(weight * mass for weight, mass in zip(weights, masses, strict=True)) / whole
    excess = sum(weight * (mass - mean) ** 2 for weight, mass in zip(weights, masses, strict=True)) - len(masses) + 1
    freedom = whole - sum(weight**2 for weight in weights) / whole
    return max(0.0, excess / freedom) if freedom > 0 else 0.0


@dataclass(frozen=True, slots=True)
class OddBag:
    """A bag whose rings do not weigh what this item's rings do.

    `deviations` is how far off in standard uncertainties, `chance` how often a right bag would be as far off. `likely`
    is the item whose rings weigh that much, if one near item does.
    """

    seen_g: float
    expected_g: float
    deviations: float
    chance: float
    likely: str | None


def seems_other(
    weighed: Sample,
    learned: LearnedMass,
    *,
    step_g: Grams,
    others: Mapping[str, RingMass] | None = None,
    alarm_chance: float = 0.003,
) -> OddBag | None:
    """Return why a bag seems to hold something else than this item, or None when it may well be right.

    A two-sided test of the weighed mass of one ring against the learned one, with the errors of both. The likely item
    is the nearest of `others` in its own uncertainties, if within two. Of right bags a share of `alarm_chance` is
    called odd.
    """
    step = grams(step_g, "the scale's step")
    seen = float(weighed.mass_g) / weighed.rings
    own = (step / weighed.rings) ** 2 / 12 + (learned.scatter * learned.mass_g) ** 2 / weighed.rings
    deviations = (seen - learned.mass_g) / math.sqrt(own + learned.next_sd_g**2)
    chance = 2 * t_cdf(-abs(deviations), learned.dof)
    if chance >= alarm_chance:
        return None
    distances = {
        name: abs(seen - other.mass_g) / math.sqrt(own + other.u_g**2 + (DEFAULT_BETWEEN * other.mass_g) ** 2)
        for name, other in (others or {}).items()
    }
    nearest = min(distances, key=lambda name: distances[name], default=None)
    likely = nearest if nearest is not None and distances[nearest] <= 2 else None
    return OddBag(seen, learned.mass_g, deviations, chance, likely)
